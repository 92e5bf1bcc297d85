package snapshot_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	writing "traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

func names[T any](all []T, name func(T) string) []string {
	out := []string{}
	for _, v := range all {
		out = append(out, name(v))
	}
	return out
}

func sessionName(s *snapshot.Session) string   { return s.Entity.Name }
func entityName(e events.Entity) string        { return e.Name }
func minuteOf(e events.Entry) string           { return e.At.Format("15:04") }
func kindAndMinute(e events.Entry) string      { return string(e.Kind) + " " + minuteOf(e) }
func day(t *testing.T, clock string) time.Time { return booktest.Oslo(t, "2026-05-02T"+clock+":00") }

// comings are sessions, baths and boxes that come and go within one day.
const comings = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":1,"index":3
paper.received 2026-05-02T08:30:00 "box":"box-2","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":9,"index":3
session.opened 2026-05-02T09:00:00 "session":"early","camera":"skiff"
bath.mixed 2026-05-02T09:05:00 "bath":"dev-1","role":"developer","name":"Amber","volume_ml":1000
session.closed 2026-05-02T10:00:00 "session":"early"
session.opened 2026-05-02T10:30:00 "session":"late","camera":"skiff"
session.opened 2026-05-02T10:40:00 "session":"later","camera":"skiff"
sheet.exposed 2026-05-02T10:50:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"late"
session.closed 2026-05-02T11:00:00 "session":"later"
sheet.developed 2026-05-02T11:10:00 "sheet":"2026-001n","bath":"dev-1","time_s":60
bath.discarded 2026-05-02T11:20:00 "bath":"dev-1"
camera.checked 2026-05-02T11:30:00 "camera":"skiff","what":"rail","result":"good"`

// What is open at a moment, the latest first, whatever came or went after it.
func TestWhatIsOpenAtAMoment(t *testing.T) {
	b := booktest.FromActs(t, comings)
	for _, c := range []struct {
		clock           string
		sessions        []string
		last            string
		boxes, baths    []string // that may be open
		waits, pictures int
	}{
		{"08:59", []string{}, "", []string{"box-2", "box-1"}, []string{}, 0, 0},
		{"09:00", []string{"early"}, "early", []string{"box-2", "box-1"}, []string{}, 0, 0},
		{"09:59", []string{"early"}, "early", []string{"box-2", "box-1"}, []string{"dev-1"}, 0, 0},
		{"10:00", []string{}, "", []string{"box-2", "box-1"}, []string{"dev-1"}, 0, 0},
		{"10:45", []string{"later", "late"}, "later", []string{"box-2", "box-1"}, []string{"dev-1"}, 0, 0},
		{"10:55", []string{"later", "late"}, "later", []string{"box-2"}, []string{"dev-1"}, 1, 1},
		{"11:00", []string{"late"}, "late", []string{"box-2"}, []string{"dev-1"}, 1, 1},
		{"11:15", []string{"late"}, "late", []string{"box-2"}, []string{"dev-1"}, 0, 1},
		{"11:25", []string{"late"}, "late", []string{"box-2"}, []string{}, 0, 1},
		{"11:35", []string{"late"}, "late", []string{"box-2"}, []string{}, 0, 1},
	} {
		t.Run(c.clock, func(t *testing.T) {
			at := day(t, c.clock)
			booktest.LookAt(t, b, "2026-05-02T"+c.clock+":00", func(snap *snapshot.Snapshot) {
				m, err := snap.Moment()
				require.NoError(t, err)
				assert.Equal(t, at, m)
				ahead, err := snap.Ahead()
				require.NoError(t, err)
				assert.Equal(t, c.clock < "11:30", ahead)
				open, err := snap.SessionsAt(at)
				require.NoError(t, err)
				assert.Equal(t, c.sessions, names(open, sessionName))
				last, err := snap.LastOpened(at)
				require.NoError(t, err)
				if c.last == "" {
					assert.Nil(t, last)
				} else if assert.NotNil(t, last) {
					assert.Equal(t, c.last, last.Entity.Name)
				}
				for kind, want := range map[events.EntityKind][]string{events.Box: c.boxes, events.Bath: c.baths} {
					found, err := snap.OpenEntities(kind)
					require.NoError(t, err)
					open := []string{}
					for _, e := range found {
						if kind == events.Bath {
							b, err := snap.Bath(e.Name)
							require.NoError(t, err)
							if b.Discarded != nil {
								continue
							}
						} else {
							box, err := snap.Box(e.Name)
							require.NoError(t, err)
							s, err := snap.StockOf(box)
							require.NoError(t, err)
							if s.Left <= 0 {
								continue
							}
						}
						open = append(open, e.Name)
					}
					assert.Equal(t, want, open, kind)
				}
				views, err := snap.R.Views(events.ViewQuery{Kind: events.Picture})
				require.NoError(t, err)
				begun, waits := 0, 0
				for _, v := range views {
					st, ok, err := snap.PictureState(v)
					require.NoError(t, err)
					if ok {
						begun++
						for _, s := range st.Sheets {
							if s.State == snapshot.Exposed {
								waits++
							}
						}
					}
				}
				assert.Equal(t, []int{c.pictures, c.waits}, []int{begun, waits})
				st, err := snap.StateOf("2026-001")
				require.NoError(t, err)
				assert.Len(t, st.Sheets, c.pictures)
				st, err = snap.StateOf("2026-009")
				require.NoError(t, err)
				assert.Empty(t, st.At)
			})
			booktest.Tear(t, b, at, func(snap *snapshot.Snapshot) error {
				if _, err := snap.SessionsAt(at); err != nil {
					return err
				}
				if _, err := snap.OpenEntities(events.Bath); err != nil {
					return err
				}
				if _, err := snap.LastOpened(at); err != nil {
					return err
				}
				_, err := snap.StateOf("2026-001")
				return err
			})
		})
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		m, err := snap.Moment()
		require.NoError(t, err)
		assert.True(t, day(t, "11:30").Equal(m), m)
		ahead, err := snap.Ahead()
		require.NoError(t, err)
		assert.False(t, ahead)
		found, err := snap.OpenEntities(events.Box)
		require.NoError(t, err)
		assert.Equal(t, []string{"box-2"}, names(found, entityName))
		found, err = snap.OpenEntities(events.Picture)
		require.NoError(t, err)
		assert.Empty(t, found)
	})
	booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error { _, err := snap.Moment(); return err })
	booktest.Look(t, booktest.NewBook(t), func(snap *snapshot.Snapshot) {
		m, err := snap.Moment()
		require.NoError(t, err)
		assert.True(t, m.IsZero())
	})
}

// As of a moment nothing counts that came later, an amendment or a void neither; for an act of that moment they do.
func TestAmendmentsThenAndNow(t *testing.T) {
	b := booktest.FromActs(t, comings)
	var exposed events.Entry
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}})
		require.NoError(t, err)
		exposed = found[0]
	})
	booktest.AddActs(t, b, `entry.amended 2026-05-02T12:00:00 "entry":"`+exposed.ID.String()+`","set":{"time_s":9}`)
	timeOf := func(snap *snapshot.Snapshot) float64 {
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		return p.NegativeSheet().Exposure().Data.(*events.SheetExposedData).TimeS
	}
	booktest.LookAt(t, b, "2026-05-02T11:59:00", func(snap *snapshot.Snapshot) {
		assert.Equal(t, 4.0, timeOf(snap))
		assert.Equal(t, 9.0, timeOf(snapshot.NewForAct(snap.R, snap.AsOf)))
		whole, err := snap.OfWhole()
		require.NoError(t, err)
		assert.Equal(t, 9.0, timeOf(whole))
		assert.True(t, whole.AsOf.IsZero())
		assert.Equal(t, 4.0, timeOf(snapshot.New(snap.R, day(t, "11:59"))))
	})
	booktest.LookAt(t, b, "2026-05-02T12:00:00", func(snap *snapshot.Snapshot) { assert.Equal(t, 9.0, timeOf(snap)) })
	booktest.AddActs(t, b, `entry.voided 2026-05-02T12:10:00 "entry":"`+exposed.ID.String()+`"`)
	booktest.LookAt(t, b, "2026-05-02T12:09:00", func(snap *snapshot.Snapshot) { assert.Equal(t, 9.0, timeOf(snap)) })
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		assert.Nil(t, p.NegativeSheet().Exposure())
	})
}

// A reading is found by its id wherever it was taken: in a session, for a picture, in no session; not once it is voided, and
// nothing else goes for one.
func TestReadingsAreFoundByTheirId(t *testing.T) {
	b := booktest.FromActs(t, comings+`
light.metered 2026-05-02T08:40:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":1
light.metered 2026-05-02T10:45:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":2,"session":"late"
light.metered 2026-05-02T11:40:00 "on":"negative","mode":"reflected","index":3,"f":8,"time_s":3,"picture":"2026-001","session":"late"`)
	var readings []events.Entry
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.LightMetered}})
		require.NoError(t, err)
		readings = found
		require.Len(t, readings, 3)
		for _, laid := range []bool{false, true} { // looked for, and lying open with its stream
			fresh := snapshot.New(snap.R, time.Time{})
			if laid {
				_, err := fresh.Picture("2026-001")
				require.NoError(t, err)
				_, err = fresh.Session("late")
				require.NoError(t, err)
			}
			for i, e := range readings {
				r, err := fresh.Reading(e.ID.String())
				require.NoError(t, err)
				require.NotNil(t, r)
				assert.Equal(t, float64(i+1), *snapshot.Metered(r).TimeS)
			}
			none, err := fresh.Reading("")
			require.NoError(t, err)
			assert.Nil(t, none)
			mixed, err := fresh.Entries(events.Query{Kinds: []events.Kind{events.BathMixed}})
			require.NoError(t, err)
			none, err = fresh.Reading(mixed[0].ID.String())
			require.NoError(t, err)
			assert.Nil(t, none)
		}
	})
	for _, e := range readings {
		booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error { _, err := snap.Reading(e.ID.String()); return err })
	}
	booktest.AddActs(t, b, `entry.voided 2026-05-02T12:00:00 "entry":"`+readings[1].ID.String()+`"`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		r, err := snap.Reading(readings[1].ID.String())
		require.NoError(t, err)
		assert.Nil(t, r)
	})
}

// A session's readings by what they were taken on, and the latest that fits out of several lists.
func TestTheLatestReading(t *testing.T) {
	read := func(clock, on, of string) string {
		return "\nlight.metered 2026-05-02T" + clock + `:00 "on":"` + on + `","mode":"reflected","index":3,"f":8,"time_s":4,"of":"` + of + `","session":"late"`
	}
	b := booktest.FromActs(t, comings+read("10:41", "scene", "mid")+read("10:42", "negative", "mid")+read("10:43", "scene", "shadow")+read("10:44", "scene", "mid"))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		s, err := snap.Session("late")
		require.NoError(t, err)
		assert.Equal(t, []string{"10:41", "10:43", "10:44"}, names(s.ReadingsByUse["scene"], minuteOf))
		assert.Equal(t, []string{"10:42"}, names(s.ReadingsByUse["negative"], minuteOf))
		assert.Equal(t, []string{"10:41", "10:42", "10:43", "10:44"}, names(s.Readings, minuteOf))
		assert.Equal(t, s.ReadingsByUse, snapshot.ReadingsOf(s.Entries))
		of := func(what string) func(*events.LightMeteredData) bool {
			return func(r *events.LightMeteredData) bool { return r.Of == what }
		}
		for _, c := range []struct{ at, since, of, want string }{
			{"10:45", "", "mid", "10:44"}, {"10:44", "", "mid", "10:44"}, {"10:43", "", "mid", "10:42"}, {"10:45", "", "shadow", "10:43"}, {"10:42", "", "shadow", ""},
			{"10:45", "10:44", "shadow", ""}, {"10:45", "10:43", "shadow", "10:43"}, {"10:40", "", "mid", ""},
		} {
			var since time.Time
			if c.since != "" {
				since = day(t, c.since)
			}
			act := events.Entry{At: day(t, c.at)}
			got := snapshot.Latest(act, since, of(c.of), s.ReadingsByUse["negative"], s.ReadingsByUse["scene"])
			if c.want == "" {
				assert.Nil(t, got, c)
			} else if assert.NotNil(t, got, c) {
				assert.Equal(t, c.want, minuteOf(*got), c)
			}
		}
	})
}

// A session from its opening to its closing, at whose very instant it is closed.
func TestWhenASessionIsOpen(t *testing.T) {
	booktest.Look(t, booktest.FromActs(t, comings), func(snap *snapshot.Snapshot) {
		s, err := snap.Session("early")
		require.NoError(t, err)
		for clock, want := range map[string]bool{"08:59": false, "09:00": true, "09:59": true, "10:00": false, "10:01": false} {
			assert.Equal(t, want, s.OpenAt(day(t, clock)), clock)
		}
		_, err = snap.Session("dev-1")
		assert.EqualError(t, err, "\"dev-1\" is a bath, not a session; `traybook sessions` lists the sessions, `traybook session open` begins one")
	})
}

// The camera as it was described: the latest before, else the first there is.
func TestTheCameraAsDescribed(t *testing.T) {
	b := booktest.FromActs(t, comings+`
camera.described 2026-05-02T10:00:00 "camera":"skiff","focal_mm":150,"f_widest":5.6,"f_smallest":32
camera.checked 2026-05-02T10:10:00 "camera":"skiff","what":"light","result":"good"`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		c, err := snap.Camera("skiff")
		require.NoError(t, err)
		assert.Equal(t, []int{2, 2, 4}, []int{len(c.Descriptions), len(c.Checks), len(c.Entries)})
		for at, want := range map[string]float64{"2026-04-01T10:00:00": 135, "2026-05-02T09:59:00": 135, "2026-05-02T10:00:00": 150, "2026-06-01T10:00:00": 150} {
			assert.Equal(t, want, c.At(booktest.Oslo(t, at)).FocalMM, at)
		}
		assert.Nil(t, (&snapshot.Camera{}).At(time.Time{}))
		_, err = snap.Camera("dory")
		assert.ErrorContains(t, err, "there is no camera \"dory\"; `traybook camera describe` describes one")
	})
}

// What a sitter allows: the latest word on each use, by the day that is looked from.
func TestWhatASitterAllows(t *testing.T) {
	b := booktest.FromActs(t, comings+`
sheet.exposed 2026-05-02T12:00:00 "picture":"2026-002","box":"box-2","f":8,"time_s":4,"sitter":"Ane of the mole"
sheet.exposed 2026-05-02T12:01:00 "picture":"2026-010","box":"box-2","f":8,"time_s":4,"sitter":"Ane of the mole"
sheet.exposed 2026-05-02T12:02:00 "picture":"2026-009","box":"box-2","f":8,"time_s":4,"sitter":"Ane of the mole"
sheet.delivered 2026-05-02T12:03:00 "sheet":"2026-001n","to":"Ane of the mole"
sitter.consented 2026-05-02T12:04:00 "sitter":"Ane of the mole","to":"show","until":"2026-06"
sitter.consented 2026-05-02T12:05:00 "sitter":"Ane of the mole","to":"keep"
sitter.consented 2026-05-02T12:06:00 "sitter":"Ane of the mole","to":"publish"
sitter.consented 2026-05-02T12:07:00 "sitter":"Ane of the mole","to":"publish","withdrawn":true`)
	for at, want := range map[string][]string{"": {"keep", "show until 2026-06"}, "2026-06-30T12:00:00": {"keep", "show until 2026-06"}, "2026-07-01T12:00:00": {"keep"},
		"2026-05-02T12:06:30": {"keep", "show until 2026-06", "publish"}, "2026-05-02T12:04:30": {"show until 2026-06"}, "2026-05-02T12:00:00": nil} {
		booktest.LookAt(t, b, at, func(snap *snapshot.Snapshot) {
			got, err := snap.AllowedBy("sitter-1")
			require.NoError(t, err)
			assert.Equal(t, want, got, at)
		})
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		got, err := snap.PicturesOf("sitter-1")
		require.NoError(t, err)
		assert.Equal(t, []string{"2026-001", "2026-002", "2026-009", "2026-010"}, got)
		for _, none := range []func(string) ([]string, error){snap.PicturesOf, snap.AllowedBy} {
			got, err := none("sitter-9")
			require.NoError(t, err)
			assert.Empty(t, got)
		}
	})
	booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
		if _, err := snap.PicturesOf("sitter-1"); err != nil {
			return err
		}
		_, err := snap.AllowedBy("sitter-1")
		return err
	})
}

// A snapshot with too much lying open on it is cleared when it is tidied, and looks from the same moment.
func TestATidiedSnapshotReadsAnew(t *testing.T) {
	booktest.LookAt(t, booktest.FromActs(t, comings), "2026-05-02T12:00:00", func(snap *snapshot.Snapshot) {
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		snap.Tidy()
		again, err := snap.Picture("2026-001")
		require.NoError(t, err)
		assert.Same(t, p, again, "there is room")
		booktest.Crowded(snap).Tidy()
		again, err = snap.Picture("2026-001")
		require.NoError(t, err)
		assert.NotSame(t, p, again)
		assert.Equal(t, p.Entity, again.Entity)
		assert.Equal(t, day(t, "12:00"), snap.AsOf)
		assert.Zero(t, snap.Room)
		for _, one := range []func() error{
			func() error { _, err := snap.Box("box-1"); return err }, func() error { _, err := snap.Bath("dev-1"); return err }, func() error { _, err := snap.Session("late"); return err },
		} { // each sort of thing counts
			snap.Tidy()
			snap.Room = 1
			_, err = snap.Picture("2026-001")
			require.NoError(t, err)
			require.NoError(t, one())
			was, err := snap.Picture("2026-001")
			require.NoError(t, err)
			snap.Tidy()
			is, err := snap.Picture("2026-001")
			require.NoError(t, err)
			assert.NotSame(t, was, is)
		}
	})
}

// A follower that takes in the acts of a whole outing one after another sees after each what a snapshot sees that reads the
// book anew.
func TestAFollowerSeesWhatIsThere(t *testing.T) {
	from := booktest.FromActs(t, booktest.Outing)
	var acts []events.Entry
	require.NoError(t, from.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { acts = append(acts, e); return nil })
	}))
	last := acts[len(acts)-1].At
	mend := func(n byte, minutes int, data events.Data) events.Entry {
		at := last.Add(time.Duration(minutes) * time.Minute)
		return events.Entry{ID: events.ID{0xfa, n}, Kind: data.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: data}
	}
	find := func(kind events.Kind, n int) events.Entry {
		for _, e := range acts {
			if e.Kind == kind {
				if n--; n < 0 {
					return e
				}
			}
		}
		t.Fatalf("no %s", kind)
		return events.Entry{}
	}
	set, err := events.SetValue("time_s", 5.0)
	require.NoError(t, err)
	acts = append(acts,
		mend(1, 1, &events.EntryAmendedData{Entry: find(events.SheetExposed, 1).ID.String(), Set: events.Set{set}}),
		mend(2, 2, &events.EntryVoidedData{Entry: find(events.LightMetered, 0).ID.String()}),
		mend(3, 3, &events.EntryVoidedData{Entry: find(events.SheetWashed, 1).ID.String()}),
		mend(4, -60*24*3, &events.NoteWrittenData{About: "mole", Text: "written down late"}),
		mend(5, 5, &events.SessionOpenedData{Session: "sound", Camera: "quay-box"}),
		mend(6, 6, &events.SessionClosedData{Session: "sound"}),
		mend(7, 7, &events.PaperCountedData{Box: "box-1", Sheets: 3}),
		mend(8, 8, &events.CameraCheckedData{Camera: "quay-box", What: "rail", Result: "bad"}),
		mend(9, 9, &events.EntryVoidedData{Entry: find(events.SheetDeveloped, 0).ID.String()}),
		mend(10, 9, &events.EntryVoidedData{Entry: find(events.SheetReprinted, 0).ID.String()}),
		mend(11, 9, &events.EntryVoidedData{Entry: find(events.SheetExposed, 2).ID.String()}),
		mend(21, 9, &events.SessionClosedData{Session: "lighthouse"}),
		mend(12, 10, &events.SessionOpenedData{Session: "mole", Camera: "quay-box"}),
		mend(13, 20, &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60, Carried: events.Carried{Session: "mole"}}),
		mend(14, 30, &events.SessionClosedData{Session: "mole"}),
		mend(15, 30, &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60, Carried: events.Carried{Session: "mole"}}),
		mend(16, 40, &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60, Carried: events.Carried{Session: "sound"}}),
		mend(17, 50, &events.SessionClosedData{Session: "mole"}),
		mend(18, 60, &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60, Carried: events.Carried{Session: "mole"}}),
		mend(19, 70, &events.LightMeteredData{On: "scene", Mode: "reflected", EV: new(9.0), Carried: events.Carried{Session: "mole"}}),
		mend(20, 71, &events.EntryVoidedData{Entry: events.ID{0xfa, 2}.String()}))
	// state tells all that a snapshot knows of a few things; with the same words of the same book it is the same text.
	state := func(snap *snapshot.Snapshot, at time.Time) string {
		text, lasting := "", map[string]string{}
		add := func(format string, args ...any) { text += fmt.Sprintf(format+"\n", args...) }
		for _, name := range []string{"2026-001", "2026-002", "2026-003", "2026-004"} {
			p, err := snap.Picture(name)
			if err != nil {
				add("%v", err)
				continue
			}
			add("%s %s %s %v %v %v", p.Subject, p.Session, p.Sitter, names(p.All, kindAndMinute), names(p.Entries, kindAndMinute), p.Last.UTC())
			for _, s := range p.Sheets {
				add("%s %s %v %d", s.Name, s.State, names(s.Entries, kindAndMinute), len(s.Washed))
				if e := s.Exposure(); e != nil {
					if x, ok := e.Data.(*events.SheetExposedData); ok {
						add("%v %s", x.TimeS, x.Reading)
						r, err := snap.Reading(x.Reading)
						require.NoError(t, err)
						add("%t", r == nil)
					}
				}
			}
		}
		for _, name := range []string{"mole", "lighthouse"} {
			s, err := snap.Session(name)
			if err != nil {
				add("%v", err)
				continue
			}
			prints, err := snap.PrintsIn(s)
			require.NoError(t, err)
			add("%s %v %v %t %v", name, names(s.Entries, kindAndMinute), names(s.Readings, minuteOf), s.OpenAt(at), names(prints, minuteOf))
		}
		for _, e := range acts {
			if e.Kind == events.LightMetered {
				r, err := snap.Reading(e.ID.String())
				require.NoError(t, err)
				add("read: %t", r != nil)
			}
		}
		for _, sheet := range []string{"2026-001n", "2026-001p1", "2026-002n", "2026-003n"} {
			picture, part, _ := events.SplitSheet(sheet)
			if p, there, err := snap.R.Entity(picture); err == nil && there {
				ever, named, err := snap.EverOf(p, part)
				require.NoError(t, err)
				add("%v %t", ever, named)
			}
		}
		if c, err := snap.Camera("quay-box"); err == nil {
			add("%v %v", names(c.Descriptions, minuteOf), names(c.Checks, minuteOf))
		}
		for _, name := range []string{"box-1", "small"} {
			if box, err := snap.Box(name); err == nil {
				s, err := snap.StockOf(box)
				require.NoError(t, err)
				add("%s %v %v %d", name, s.Left, s.Exposed, len(box.Ratings))
			}
		}
		for _, name := range []string{"dev-1", "fix-1", "toner-1"} {
			if bath, err := snap.Bath(name); err == nil {
				a, err := snap.AgeOf(bath, at, false, "")
				require.NoError(t, err)
				add("%s %.6f %.4f %s %t", name, a.AreaM2, a.TrayH, a.State, a.InTray)
			}
		}
		for what, find := range map[string]func(*snapshot.Snapshot) (string, error){"newest picture": writing.NewestPicture, "newest negative": writing.NewestNegative} {
			name, err := find(snap)
			if err != nil {
				name = err.Error()
			}
			lasting[what] = name
		}
		first, err := snap.FirstWaiting(func() ([]*snapshot.Sheet, error) { return writing.Waiting(snapshot.NewForAct(snap.R, snap.AsOf)) })
		require.NoError(t, err)
		if first != nil {
			lasting["waits"] = first.Name
		}
		add("%v", lasting)
		open, err := snap.LastOpened(at)
		require.NoError(t, err)
		if open != nil {
			add("open: %s", open.Entity.Name)
		}
		return text
	}
	// held are the acts that the book holds before the others are taken in: a file may bring what lies before them, after
	// them or between.
	opensAgain := func(e events.Entry) bool { return e.ID == events.ID{0xfa, 12} }
	for name, held := range map[string]func(i int) bool{
		"into an empty book":             func(int) bool { return false },
		"before what is there":           func(i int) bool { return i > len(acts)/2 },
		"between what is there":          func(i int) bool { return i%2 == 0 },
		"here and there":                 func(i int) bool { return i%7 == 3 || i%5 == 1 },
		"before a session is open again": func(i int) bool { return opensAgain(acts[i]) },
	} {
		for _, room := range []int{0, 6} { // 0: all there is
			t.Run(fmt.Sprintf("%s, room for %d", name, room), func(t *testing.T) {
				at := func(f *snapshot.Follower, e events.Entry) *snapshot.Snapshot {
					snap := f.SnapshotAt(e.At)
					if room > 0 {
						snap.Room = room
					}
					return snap
				}
				b := booktest.NewBook(t)
				mends := func(e events.Entry) bool { return e.Kind == events.EntryAmended || e.Kind == events.EntryVoided }
				var first, then []events.Entry
				for i, e := range acts {
					e.Seq = 0
					if i == 0 || held(i) && !mends(e) {
						first = append(first, e)
					} else {
						then = append(then, e)
					}
				}
				taken := 0
				require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
					for _, who := range []string{"Ane of the mole", "Ole of the light"} {
						if _, err := tx.AddSitter(who, ""); err != nil {
							return err
						}
					}
					for _, e := range first {
						tx.Append(&e) // what is said of a thing that is not there yet is left out
					}
					f := snapshot.NewFollower(tx)
					for _, e := range then {
						snap := at(f, e)
						require.True(t, snap.AsOf.Equal(e.At))
						require.Equal(t, state(snapshot.NewForAct(tx, e.At), e.At), state(snap, e.At), "before %s", kindAndMinute(e))
						if takes(t, f, tx, &e) {
							taken++
						}
						snap = at(f, e)
						require.Equal(t, state(snapshot.NewForAct(tx, e.At), e.At), state(snap, e.At), "after %s", kindAndMinute(e))
					}
					return nil
				}))
				assert.Greater(t, taken, len(acts)/4)
			})
		}
	}
}

// The next acts in a session are those that a question for each moment would give, and are asked for once.
func TestNextInASessionIsAskedOnce(t *testing.T) {
	rows := booktest.Harbour
	for n := 1; n <= 7; n++ {
		rows += fmt.Sprintf("\nsheet.exposed 2026-05-02T10:%02d:00 \"picture\":\"2026-%03d\",\"box\":\"box-1\",\"f\":8,\"time_s\":4,\"session\":\"mole\"", n/2, n) // two of one moment
	}
	b := booktest.FromActs(t, rows+`
sheet.exposed 2026-05-02T09:50:00 "picture":"2026-008","box":"box-1","f":8,"time_s":4,"session":"mole"`)
	var written []events.Entry
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		var err error
		written, err = snap.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}})
		require.NoError(t, err)
	})
	require.Len(t, written, 8)
	booktest.AddActs(t, b, fmt.Sprintf(`entry.voided 2026-05-02T11:00:00 "entry":"%s"`, written[2].ID), fmt.Sprintf(`entry.amended 2026-05-02T11:10:00 "entry":"%s","set":{"time_s":9}`, written[4].ID))
	for _, asOf := range []string{"", "2026-05-02T10:02:00", "2026-05-02T11:05:00", "2026-05-02T12:00:00"} {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			var at time.Time
			if asOf != "" {
				at = booktest.Oslo(t, asOf)
			}
			c, plain := &counting{Tx: tx}, snapshot.New(tx, at)
			snap := snapshot.New(c, at)
			mole, err := snap.Entity(events.Session, "mole")
			require.NoError(t, err)
			for _, e := range written {
				for most := 1; most <= 4; most++ {
					want, err := plain.Entries(events.Query{Session: mole.ID, Kinds: []events.Kind{events.SheetExposed}, From: e.At, Limit: most})
					require.NoError(t, err)
					got, err := snap.NextIn(mole, events.SheetExposed, e.At, most)
					require.NoError(t, err)
					assert.ElementsMatch(t, want, got, "%d from %s as of %s", most, e.At, asOf)
				}
			}
			assert.Equal(t, 1, c.asked)
			none, err := snap.NextIn(mole, events.SheetReprinted, written[0].At, 4)
			require.NoError(t, err)
			assert.Empty(t, none)
			return nil
		}))
	}
}

// Only what something later belongs to is folded anew for a look at a moment: its own acts, and what amends or voids them.
func TestWhatHasNothingLaterIsReadFromItsView(t *testing.T) {
	b := booktest.FromActs(t, comings+`
sheet.exposed 2026-05-02T10:51:00 "picture":"2026-002","box":"box-2","f":8,"time_s":5,"session":"late"
sheet.exposed 2026-05-02T10:52:00 "picture":"2026-003","box":"box-2","f":8,"time_s":6,"session":"late"
note.written 2026-05-02T12:00:00 "about":"skiff","text":"later, of no picture"`)
	var exposures []string
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		found, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}})
		for _, e := range found {
			exposures = append(exposures, e.ID.String())
		}
		return err
	}))
	require.Len(t, exposures, 3)
	look := func(late string) {
		t.Helper()
		booktest.LookAt(t, b, "2026-05-02T10:55:00", func(snap *snapshot.Snapshot) {
			for i, picture := range []string{"2026-001", "2026-002", "2026-003"} {
				entity, _, err := snap.R.Entity(picture)
				require.NoError(t, err)
				is, err := snap.AheadOf(entity)
				require.NoError(t, err)
				require.Equal(t, late[i] == '+', is, picture)
				st, err := snap.StateOf(picture)
				require.NoError(t, err)
				require.Equal(t, snapshot.Exposed, st.Sheets[0].State, picture)
				require.Equal(t, float64(4+i), st.Sheets[0].TimeS, picture)
				require.Empty(t, st.Words)
			}
		})
	}
	look("+--") // developed later
	booktest.AddLines(t, b, `{"kind":"entry.amended","at":"2026-05-03T09:00:00+02:00","data":{"entry":"`+exposures[1]+`","set":{"time_s":8}}}
`)
	look("++-")
	booktest.AddLines(t, b, `{"kind":"entry.voided","at":"2026-05-03T09:01:00+02:00","data":{"entry":"`+exposures[2]+`"}}
`)
	look("+++")
	b = booktest.FromActs(t, comings)
	var many strings.Builder
	for n := range 40 {
		fmt.Fprintf(&many, `{"kind":"note.written","at":"2026-05-03T09:00:00+02:00","data":{"about":"skiff","text":"later, number %d"}}`+"\n", n)
	}
	booktest.AddLines(t, b, many.String())
	booktest.LookAt(t, b, "2026-05-03T08:00:00", func(snap *snapshot.Snapshot) {
		entity, _, err := snap.R.Entity("2026-001")
		require.NoError(t, err)
		is, err := snap.AheadOf(entity)
		require.NoError(t, err)
		require.True(t, is)
	})
}
