package snapshot_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// How far a sheet has come after each act on it. What is done again does not move it back, but a fixing after the wash does.
func TestHowFarASheetHasCome(t *testing.T) {
	acts := []struct{ kind, data, state string }{
		{"sheet.exposed", `"picture":"2026-001","box":"box-1","f":8,"time_s":4`, "exposed"},
		{"sheet.developed", `"sheet":"2026-001n","bath":"dev-1","time_s":60`, "developed"},
		{"sheet.rinsed", `"sheet":"2026-001n","time_s":15`, "rinsed"},
		{"sheet.developed", `"sheet":"2026-001n","bath":"dev-1","time_s":60`, "rinsed"},
		{"sheet.fixed", `"sheet":"2026-001n","bath":"fix-1","time_s":60`, "fixed"},
		{"sheet.judged", `"sheet":"2026-001n","verdict":"keep"`, "fixed"},
		{"sheet.washed", `"sheet":"2026-001n","changes":4`, "washed"},
		{"sheet.dried", `"sheet":"2026-001n"`, "dried"},
		{"sheet.fixed", `"sheet":"2026-001n","bath":"fix-1","time_s":60`, "fixed"},
		{"sheet.washed", `"sheet":"2026-001n","changes":4`, "washed"},
		{"sheet.dried", `"sheet":"2026-001n"`, "dried"},
		{"sheet.toned", `"sheet":"2026-001n","bath":"toner-1"`, "toned"},
		{"sheet.washed", `"sheet":"2026-001n","changes":4`, "toned"},
		{"sheet.delivered", `"sheet":"2026-001n"`, "delivered"},
		{"sheet.fixed", `"sheet":"2026-001n","bath":"fix-1","time_s":60`, "delivered"},
	}
	b := booktest.FromActs(t, booktest.Harbour+`
bath.mixed 2026-05-02T09:03:00 "bath":"toner-1","role":"toner","name":"brown","volume_ml":500,"session":"mole"`)
	for i, a := range acts {
		booktest.AddActs(t, b, fmt.Sprintf("%s 2026-05-02T10:%02d:00 %s", a.kind, i, a.data))
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			_, s, err := snap.SheetByName("2026-001n")
			require.NoError(t, err)
			assert.Equal(t, a.state, s.State, "after %d acts", i+1)
		})
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		_, s, err := snap.SheetByName("2026-001n")
		require.NoError(t, err)
		assert.Equal(t, []int{1, 2, 1, 3, 3, 1, 15}, []int{len(s.Exposures), len(s.Developed), len(s.Rinsed), len(s.Fixed), len(s.Washed), len(s.Judged), len(s.Entries)})
		assert.Empty(t, s.WashedSince(), "none after the last fixing")
		assert.True(t, s.FixedAgain())
		minute := func(m int) events.Entry {
			for _, e := range s.Entries {
				if e.At.Minute() == m {
					return e
				}
			}
			t.Fatal("no such minute")
			return events.Entry{}
		}
		for m, want := range map[int][3]int{3: {0, 0, 0}, 4: {1, 0, 0}, 5: {1, 0, 0}, 6: {1, 1, 1}, 8: {2, 1, 0}, 9: {2, 2, 1}, 12: {2, 3, 2}} { // fixings, washes, washes since the last fixing
			u := s.UpTo(minute(m))
			assert.Equal(t, want, [3]int{len(u.Fixed), len(u.Washed), len(u.WashedSince())}, "up to minute %d", m)
			assert.Equal(t, m == 8, u.FixedAgain(), "up to minute %d", m)
		}
	})
}

// A sheet waits for its developer when it is exposed, not developed, and not thrown away; the last verdict counts.
func TestWhichSheetsWait(t *testing.T) {
	const shot = `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`
	for name, c := range map[string]struct {
		acts          string
		waits, thrown bool
	}{
		"exposed":          {shot, true, false},
		"developed":        {shot + "\n" + `sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60`, false, false},
		"rejected":         {shot + "\n" + `sheet.judged 2026-05-02T10:01:00 "sheet":"2026-001n","verdict":"reject"`, false, true},
		"to be done again": {shot + "\n" + `sheet.judged 2026-05-02T10:01:00 "sheet":"2026-001n","verdict":"redo"`, true, false},
		"kept after all":   {shot + "\n" + `sheet.judged 2026-05-02T10:01:00 "sheet":"2026-001n","verdict":"reject"` + "\n" + `sheet.judged 2026-05-02T10:02:00 "sheet":"2026-001n","verdict":"keep"`, true, false},
		"never exposed":    {"\n" + `sheet.developed 2026-05-02T10:00:00 "sheet":"2026-001n","bath":"dev-1","time_s":60`, false, false},
	} {
		booktest.Look(t, booktest.FromActs(t, booktest.Harbour+c.acts), func(snap *snapshot.Snapshot) {
			p, err := snap.Picture("2026-001")
			require.NoError(t, err, name)
			s := p.NegativeSheet()
			assert.Equal(t, []bool{c.waits, c.thrown}, []bool{s.Waits(), s.Thrown()}, name)
			v, ok, err := snap.R.View(p.Entity)
			require.NoError(t, err)
			require.True(t, ok)
			assert.Equal(t, c.waits, v.Open, name)
		})
	}
}

// A sheet of which only a remark is left, its exposure taken back, waits for nothing.
func TestASheetWithoutItsExposureDoesNotWait(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4
note.written 2026-05-02T10:01:00 "about":"2026-001n","text":"shaken in the wind"`)
	var exposed events.Entry
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		_, s, err := snap.SheetByName("2026-001n")
		require.NoError(t, err)
		assert.True(t, s.Waits())
		exposed = *s.Exposure()
	})
	booktest.AddActs(t, b, `entry.voided 2026-05-02T10:02:00 "entry":"`+exposed.ID.String()+`"`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		_, s, err := snap.SheetByName("2026-001n")
		require.NoError(t, err)
		assert.False(t, s.Waits())
	})
}

// A picture's sheets stand with the negative first and the prints by number; what belongs to none stands apart.
func TestTheSheetsOfAPicture(t *testing.T) {
	acts := booktest.Harbour + `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole","sitter":"Ane of the mole"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4,"session":"mole","subject":"ferry mate"
sheet.exposed 2026-05-02T10:02:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4,"session":"mole","subject":"another"
light.metered 2026-05-02T10:03:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"picture":"2026-001"
note.written 2026-05-02T10:04:00 "about":"2026-001","text":"of the picture"
note.written 2026-05-02T10:05:00 "about":"2026-001n","text":"of the negative"`
	for _, n := range []int{10, 2, 1, 9} {
		acts += fmt.Sprintf("\n"+`sheet.reprinted 2026-05-02T11:%02d:00 "picture":"2026-001","sheet":"2026-001p%d","box":"box-1","f":8,"time_s":4`, n, n)
	}
	booktest.Look(t, booktest.FromActs(t, acts), func(snap *snapshot.Snapshot) {
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		var names []string
		for _, s := range p.Sheets {
			names = append(names, s.Part+" "+s.Generation)
		}
		assert.Equal(t, []string{"n negative", "p1 positive", "p2 positive", "p9 positive", "p10 positive"}, names)
		assert.Equal(t, []string{"mole", "quay-box", "ferry mate", "sitter-1"}, []string{p.Session, p.Camera, p.Subject, p.Sitter})
		assert.Equal(t, "10:00 11:10", p.First.Format("15:04 ")+p.Last.Format("15:04"))
		assert.Equal(t, []int{2, 10, 1, 0}, []int{len(p.Entries), len(p.All), len(p.Readings["negative"]), len(p.Readings["scene"])})
		assert.Equal(t, "box-1", p.Sheet("p10").Box)
		assert.Nil(t, p.Sheet("p3"))
		assert.Same(t, p.Sheets[0], p.NegativeSheet())
		_, _, err = snap.SheetByName("2026-001p3")
		assert.EqualError(t, err, "there is no sheet 2026-001p3; `traybook history 2026-001` shows what there is")
		_, _, err = snap.SheetByName("2026-001")
		assert.EqualError(t, err, `"2026-001" is no sheet; a sheet is called 2026-014n or 2026-014p1`)
		_, _, err = snap.SheetByName("2026-009n")
		assert.EqualError(t, err, "there is no picture \"2026-009\"; `traybook pictures` lists the pictures")
		var numbers []int
		for _, e := range p.All {
			numbers = append(numbers, snapshot.PrintNumber(e.Data))
		}
		assert.Equal(t, []int{0, 0, 0, 0, 0, 0, 1, 2, 9, 10}, numbers)
	})
}

// What lists show of a thing without folding it, as JSON, with its rank, its last act, whether it waits, and its stock.
func TestKeptViews(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing+`
paper.received 2026-05-03T09:20:00 "box":"last","name":"one sheet","base":"rc","width_mm":100,"height_mm":125,"sheets":1,"index":3
sheet.exposed 2026-05-03T09:21:00 "picture":"2026-005","box":"last","f":8,"time_s":6,"session":"lighthouse","text":"into the sun"`)
	at := func(text string) int64 { return booktest.Oslo(t, text).UnixMicro() }
	us := func(text string) string { return fmt.Sprint(at(text)) }
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for name, want := range map[string]struct {
			rank, last int64
			open       bool
			stock      int64
			state      string
		}{
			"mole":       {at("2026-05-02T09:00:00"), at("2026-05-02T12:00:00"), false, 0, `{"place":"the mole","entries":6,"since":` + us("2026-05-02T09:00:00") + `,"until":` + us("2026-05-02T12:00:00") + `}`},
			"lighthouse": {at("2026-05-03T09:00:00"), at("2026-05-03T09:10:00"), true, 0, `{"entries":2,"since":` + us("2026-05-03T09:00:00") + `}`},
			"dev-1":      {at("2026-05-02T09:01:00"), at("2026-05-02T09:08:00"), true, 0, `{"name":"print developer","role":"developer","entries":2,"since":` + us("2026-05-02T09:01:00") + `}`},
			"toner-1":    {at("2026-05-02T09:07:00"), at("2026-05-02T11:00:00"), false, 0, `{"name":"brown toner","role":"toner","entries":2,"since":` + us("2026-05-02T09:07:00") + `,"until":` + us("2026-05-02T11:00:00") + `}`},
			"s3":         {at("2026-05-02T10:10:00"), at("2026-05-02T10:12:00"), false, 0, `{"entries":2,"since":` + us("2026-05-02T10:10:00") + `,"box":"box-1"}`},
			"left":       {at("2026-05-02T09:06:00"), at("2026-05-02T09:06:00"), false, 0, `{"entries":1,"since":` + us("2026-05-02T09:06:00") + `,"box":"box-1"}`},
			"box-1":      {at("2026-05-01T08:02:00"), at("2026-05-02T09:05:00"), true, 95, `{"name":"quay paper","entries":3,"since":` + us("2026-05-01T08:02:00") + `}`},
			"small":      {at("2026-05-02T09:05:00"), at("2026-05-02T09:05:00"), true, 20, `{"entries":0,"since":` + us("2026-05-02T09:05:00") + `}`},
			"last":       {at("2026-05-03T09:20:00"), at("2026-05-03T09:21:00"), false, 1, `{"name":"one sheet","entries":1,"since":` + us("2026-05-03T09:20:00") + `}`}, // empty: with its last use
			"2026-005":   {2026000000005, at("2026-05-03T09:21:00"), true, 0, `{"session":"lighthouse","camera":"quay-box","at":"2026-05-03T09:21:00+02:00","sheets":[{"part":"n","box":"last","state":"exposed","f":8,"time_s":6,"at":` + us("2026-05-03T09:21:00") + `}],"words":"into the sun\n"}`},
			"2026-002": {2026000000002, at("2026-05-02T10:34:00"), true, 0, `{"session":"mole","camera":"quay-box","at":"2026-05-02T10:30:00+02:00","sheets":[` +
				`{"part":"n","box":"box-1","state":"fixed","verdict":"redo","symptoms":["too-dark"],"f":8,"time_s":9,"at":` + us("2026-05-02T10:30:00") + `},` +
				`{"part":"p1","box":"box-1","state":"exposed","f":11,"time_s":20,"at":` + us("2026-05-02T10:34:00") + `}]}`},
		} {
			entity, ok, err := snap.R.Entity(name)
			require.NoError(t, err)
			require.True(t, ok, name)
			v, err := snapshot.Folder{}.Fold(entity, snap.R)
			require.NoError(t, err)
			assert.Equal(t, want.state, string(v.State), name)
			assert.Equal(t, []any{want.rank, want.last, want.open, want.stock}, []any{v.Rank, v.Last, v.Open, v.Stock}, name)
			kept, ok, err := snap.R.View(entity)
			require.NoError(t, err)
			require.True(t, ok)
			assert.Equal(t, v, kept, name)
		}
		v, ok, err := snap.R.View(entityOf(t, snap, "dev-1"))
		require.NoError(t, err)
		require.True(t, ok)
		assert.Equal(t, []bool{true, false}, []bool{snapshot.RoleInView(v, "developer"), snapshot.RoleInView(v, "fixer")})
		v.State = []byte("{")
		assert.False(t, snapshot.RoleInView(v, ""))
		_, err = snapshot.ReadStream(v)
		assert.ErrorIs(t, err, events.ErrDamaged)
		v.Entity = entityOf(t, snap, "2026-002")
		_, _, err = snap.PictureState(v)
		assert.ErrorIs(t, err, events.ErrDamaged)
	})
	var all []events.Entity
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for _, kind := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Strip, events.Holder} {
			entities, err := snap.R.Entities(kind)
			require.NoError(t, err)
			require.NotEmpty(t, entities)
			all = append(all, entities...)
		}
	})
	for _, e := range all {
		booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
			_, err := snapshot.Folder{}.Fold(e, snap.R)
			return err
		})
	}
}

func entityOf(t *testing.T, snap *snapshot.Snapshot, name string) events.Entity {
	t.Helper()
	e, ok, err := snap.R.Entity(name)
	require.NoError(t, err)
	require.True(t, ok, name)
	return e
}

func TestAValueOrItsDefault(t *testing.T) {
	assert.Equal(t, []float64{2, 5}, []float64{snapshot.ValueOr(new(2.0), 5), snapshot.ValueOr(nil, 5)})
}

// What nothing is written of is refused with where to look.
func TestWhatIsNotThere(t *testing.T) {
	for kind, hint := range map[events.EntityKind]string{events.Box: "stock", events.Bath: "baths", events.Session: "sessions", events.Picture: "pictures", events.Camera: "camera describe", events.Holder: "load", events.Strip: "strip"} {
		assert.True(t, strings.HasPrefix(snapshot.NoSuch(kind, "any").Hint(), "`traybook "+hint), kind)
	}
	assert.Empty(t, snapshot.NoSuch(events.Sitter, "any").Hint())
	b := booktest.FromActs(t, booktest.Harbour, `sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"again":"2026-001"`)
	var exposed events.Entry
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}})
		require.NoError(t, err)
		exposed = found[0]
	})
	booktest.LookAt(t, b, "2026-05-02T09:30:00", func(snap *snapshot.Snapshot) {
		err := snap.NothingOf(entityOf(t, snap, "2026-001"))
		assert.EqualError(t, err, "nothing was written of 2026-001 by 2026-05-02 09:30; give a later --as-of, or leave it out")
	})
	booktest.AddActs(t, b, `entry.voided 2026-05-02T10:05:00 "entry":"`+exposed.ID.String()+`"`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		assert.EqualError(t, snap.NothingOf(entityOf(t, snap, "2026-001")), "every entry of 2026-001 was voided; `traybook history 2026-001 --all` shows them")
		all, err := snap.StreamAll(entityOf(t, snap, "2026-001"))
		require.NoError(t, err)
		assert.Len(t, all, 1)
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		assert.Empty(t, p.Sheets)
		assert.Nil(t, p.NegativeSheet())
	})
	booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
		e, _, err := snap.R.Entity("2026-001")
		if err != nil {
			return err
		}
		if err := snap.NothingOf(e); err == nil || !strings.HasPrefix(err.Error(), "every entry") {
			return err
		}
		return nil
	})
}

// A print is a positive, and of what came out of the camera what lies on direct-positive paper or had its second exposure.
func TestWhichSheetsArePositives(t *testing.T) {
	direct := &snapshot.Box{Received: &events.PaperReceivedData{Works: "direct-positive"}}
	reversed := []events.Entry{{Data: &events.SheetReversedData{Stage: "bleach"}}, {Data: &events.SheetReversedData{Stage: "expose"}}}
	for _, c := range []struct {
		s    snapshot.Sheet
		b    *snapshot.Box
		want bool
	}{
		{snapshot.Sheet{Generation: snapshot.Negative}, nil, false},
		{snapshot.Sheet{Generation: snapshot.Negative}, &snapshot.Box{Received: &events.PaperReceivedData{}}, false},
		{snapshot.Sheet{Generation: snapshot.Negative, Reversals: reversed[:1]}, nil, false},
		{snapshot.Sheet{Generation: snapshot.Negative, Reversals: reversed}, nil, true},
		{snapshot.Sheet{Generation: snapshot.Negative}, direct, true},
		{snapshot.Sheet{Generation: snapshot.Positive}, nil, true},
	} {
		assert.Equal(t, c.want, c.s.Positive(c.b))
	}
}
