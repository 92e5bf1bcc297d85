package acts_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// refused gives the text and the hint of a plain no.
func refused(t testing.TB, err error) (text, hint string) {
	t.Helper()
	var no *wording.Refusal
	require.ErrorAs(t, err, &no)
	require.Equal(t, strings.TrimSuffix(no.Text()+"; "+no.Hint(), "; "), err.Error())
	return no.Text(), no.Hint()
}

// What a plan calls for is what the act would call for, and nothing of it is written.
func TestPlanSaysWhatAnActWouldCallFor(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"`+booktest.Picture(1, 0, "ferry mate")+`
light.metered 2026-05-02T10:30:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","picture":"2026-001"`)
	now := booktest.Oslo(t, "2026-05-02T10:40:00")
	plan := func(data events.Data) (e events.Entry, s calledfor.Step, err error) {
		booktest.LookAt(t, b, "2026-05-02T10:40:00", func(snap *snapshot.Snapshot) {
			e, s, err = acts.Plan(snap, events.Entry{Kind: data.Kind(), At: now, Data: data})
		})
		return e, s, err
	}
	for _, c := range []struct {
		name      string
		data      events.Data
		calledFor float64 // seconds, from the arithmetic of the trade
		sheet     string
	}{
		{"the meter's own aperture", &events.SheetExposedData{F: 8, TimeS: 1}, 4, "2026-002n"},
		{"two stops smaller", &events.SheetExposedData{F: 16, TimeS: 1}, 16, "2026-002n"},
		{"a subject at twice the focal length, at 1:1", &events.SheetExposedData{F: 8, TimeS: 1, SubjectMM: new(270.0)}, 16, "2026-002n"},
		{"a copy at 1:1, on the camera's own aperture", &events.SheetReprintedData{TimeS: 1}, 20, "2026-001p1"},
		{"a contact print, which no lens makes", &events.SheetReprintedData{TimeS: 1, Way: "contact"}, 0, "2026-001p1"},
		{"the fixer once used", &events.SheetFixedData{TimeS: 1, Sheet: "2026-001n", TempC: new(20.0)}, 60, "2026-001n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e, s, err := plan(c.data)
			require.NoError(t, err)
			assert.Equal(t, c.sheet, events.SheetOf(e.Data))
			if c.calledFor == 0 {
				assert.Nil(t, s.CalledForS)
				return
			}
			require.NotNil(t, s.CalledForS)
			assert.InDelta(t, c.calledFor, *s.CalledForS, 0.01*c.calledFor)
		})
	}
	t.Run("what was asked is left as it was", func(t *testing.T) {
		asked := &events.SheetExposedData{F: 8, TimeS: 1}
		_, _, err := plan(asked)
		require.NoError(t, err)
		assert.Equal(t, &events.SheetExposedData{F: 8, TimeS: 1}, asked)
		booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
			n, err := snap.R.LargestNumber("2026-")
			require.NoError(t, err)
			assert.Equal(t, 1, n)
		})
	})
	for _, c := range []struct {
		data       events.Data
		text, hint string
	}{
		{&events.SheetExposedData{F: 8, TimeS: 1, Box: "box-9"}, `there is no box "box-9"`, "traybook stock"},
		{&events.SheetExposedData{F: 8, TimeS: 1, Holder: "left"}, `there is no holder "left"`, "traybook load"},
		{&events.SheetExposedData{F: 8, TimeS: 1, Box: "dev-1"}, `"dev-1" is a bath, not a box`, "traybook stock"},
		{&events.SheetDevelopedData{TimeS: 60, Sheet: "2026-001n", Bath: "dev-9"}, `there is no bath "dev-9"`, "traybook baths"},
		{&events.SheetDevelopedData{TimeS: 60}, "no exposed sheet waits for the developer", "--sheet 2026-014n"},
		{&events.SheetTonedData{}, "there is no toner", "traybook bath mix toner"},
		{&events.SheetExposedData{F: 8, TimeS: 1, Carried: events.Carried{Session: "sound"}}, `there is no session "sound"`, "traybook session open"},
		{&events.SheetExposedData{F: 8, TimeS: 1, Picture: "2026-001"}, "2026-001 has its negative already", "leave out --picture"},
	} {
		t.Run(c.text, func(t *testing.T) {
			_, _, err := plan(c.data)
			text, hint := refused(t, err)
			assert.Equal(t, c.text, text)
			assert.Contains(t, hint, c.hint)
		})
	}
}

func TestNewestSheetIsTheOneExposedLast(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate")+`
sheet.reprinted 2026-05-02T11:00:00 "picture":"2026-001","box":"box-1","f":11,"time_s":20
sheet.reprinted 2026-05-02T11:05:00 "picture":"2026-001","box":"box-1","f":11,"time_s":25
sheet.exposed 2026-05-02T12:00:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4
moment.marked 2026-05-02T12:10:00 "session":"mole"`)
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		require.NotNil(t, acts.NewestSheet(p))
		assert.Equal(t, "2026-001p2", acts.NewestSheet(p).Name)
		assert.Nil(t, acts.NewestSheet((&snapshot.Picture{})), "nothing was exposed")

		waiting, err := acts.Waiting(snap)
		require.NoError(t, err)
		assert.Equal(t, "2026-001p1, 2026-001p2, 2026-002n", acts.WaitingNames(waiting), "the oldest first")

		name, err := acts.NewestPicture(snap)
		require.NoError(t, err)
		assert.Equal(t, "2026-002", name)
		name, err = acts.NewestNegative(snap)
		require.NoError(t, err)
		assert.Equal(t, "2026-001", name, "the other is not developed yet")

		box, err := acts.BoxInHand(snap, events.SheetReprinted)
		require.NoError(t, err)
		assert.Equal(t, "box-1", box.Entity.Name)
		zone, err := acts.ZoneOf(snap)
		require.NoError(t, err)
		assert.Equal(t, "Europe/Oslo", zone)
	})
	booktest.LookAt(t, b, "2026-05-01T08:01:30", func(snap *snapshot.Snapshot) {
		_, err := acts.NewestNegative(snap)
		text, _ := refused(t, err)
		assert.Equal(t, "no negative is developed yet that could be printed", text)
	})
}

// A moment marked serves the act that began at it, and no other.
func TestAMarkIsUsedByTheActThatBeganAtIt(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, `moment.marked 2026-05-02T10:00:00 "session":"mole"
moment.marked 2026-05-02T10:05:00 "session":"mole"`)
	mark := func() (out string) {
		booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
			e, err := acts.UnusedMark(snap)
			require.NoError(t, err)
			if e != nil {
				out = e.At.Format("15:04")
			}
		})
		return out
	}
	assert.Equal(t, "10:05", mark())
	booktest.AddActs(t, b, `sheet.exposed 2026-05-02T10:05:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`)
	assert.Equal(t, "10:00", mark(), "the later one is used")
	booktest.AddActs(t, b, `light.metered 2026-05-02T10:00:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4`)
	assert.Empty(t, mark())
}

// A reading on a negative that names no picture serves the print made after it. Another picture's print wants its own.
func TestAReadingOfOneNegativeDoesNotServeAnother(t *testing.T) {
	two := booktest.Harbour + booktest.Picture(1, 0, "ferry mate") + booktest.Picture(2, 10, "harbour master")
	reading := `
light.metered 2026-05-02T10:30:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","session":"mole"`
	first := `
sheet.reprinted 2026-05-02T10:31:00 "picture":"2026-001","box":"box-1","f":11,"time_s":20,"session":"mole"`
	second := `
sheet.reprinted 2026-05-02T10:40:00 "picture":"2026-002","box":"box-1","f":11,"time_s":20,"session":"mole"`
	for _, c := range []struct {
		name   string
		files  []string
		serves map[string]bool
	}{
		{"in the order of the acts", []string{two + reading + first + second}, map[string]bool{"2026-001p1": true, "2026-002p1": false}},
		{"the reading written down last", []string{two + first, reading, second}, map[string]bool{"2026-001p1": true, "2026-002p1": false}},
		{"the first negative not printed", []string{two + reading + second}, map[string]bool{"2026-002p1": true}},
		{"the first printed later", []string{two + reading + second, `
sheet.reprinted 2026-05-02T10:50:00 "picture":"2026-001","box":"box-1","f":11,"time_s":20,"session":"mole"`},
			map[string]bool{"2026-002p1": true, "2026-001p1": false}},
		{"the first printed by its own reading", []string{two + `
light.metered 2026-05-02T10:25:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":6,"of":"mid","picture":"2026-001","session":"mole"` + first + reading + second},
			map[string]bool{"2026-001p1": true, "2026-002p1": true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, c.files...)
			booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
				for name, want := range c.serves {
					p, s, err := snap.SheetByName(name)
					require.NoError(t, err)
					step, err := calledfor.StepOf(snap, p, *s.Exposure())
					require.NoError(t, err)
					assert.Equal(t, want, step.Serving != nil, name)
					assert.Equal(t, want, step.CalledForS != nil, name)
				}
			})
		})
	}
}

func TestMarksOfStops(t *testing.T) {
	for stops, want := range map[int]string{-2: "−2", 0: "0", 3: "+3"} {
		assert.Equal(t, want, why.StopMark(stops))
	}
}

// An act far from now is taken and told of: a slip of the year or of the day is put right while one remembers.
func TestAnActFarFromNowIsToldOf(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour)
	now := booktest.Oslo(t, "2026-05-02T12:00:00")
	for _, c := range []struct {
		off  time.Duration
		want []string
	}{
		{5 * time.Minute, nil},
		{-time.Hour, nil},
		{30 * time.Minute, []string{"the time lies 30 minutes ahead of now"}},
		{3 * time.Hour, []string{"the time lies 3 hours ahead of now"}},
		{72 * time.Hour, []string{"the time lies 3 days ahead of now"}},
		{-400 * 24 * time.Hour, []string{"the time lies 400 days back"}},
		{-3 * 8766 * time.Hour, []string{"the time lies 3 years back"}},
		{-24 * time.Hour, nil}, // a note of yesterday is no slip
	} {
		t.Run(c.off.String(), func(t *testing.T) {
			booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
				e := events.Entry{Kind: events.NoteWritten, At: now.Add(c.off), RecordedAt: now, Data: &events.NoteWrittenData{About: "mole", Text: "haze"}}
				got, err := acts.TimeWarnings(snap, e)
				require.NoError(t, err)
				assert.ElementsMatch(t, c.want, wording.Texts(got))
			})
		})
	}
}

// An entry can never be unwritten, so no sitter's name goes into its free text.
func TestASittersNameIsKeptOutOfFreeText(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour)
	names := []events.SitterRow{{Ref: "sitter-1", Name: "Ane Holm"}, {Ref: "sitter-2"}}
	errNothing := errors.New("nothing of it shall stay")
	write := func(data events.Data, o acts.WriteOptions) error {
		e := booktest.ByHand(t, 1, data)
		var got error
		require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error { _, got = acts.Write(tx, &e, o); return errNothing }), errNothing)
		return got
	}
	note := &events.NoteWrittenData{About: "mole", Text: "with ane holm at the rail"}
	text, hint := refused(t, write(note, acts.WriteOptions{Names: names}))
	assert.Equal(t, "text holds the name of sitter-1, and an entry can never be unwritten", text)
	assert.Equal(t, "write sitter-1 instead, or keep it with --even-so", hint)
	assert.NoError(t, write(note, acts.WriteOptions{Names: names, EvenSo: true}))
	assert.NoError(t, write(&events.NoteWrittenData{About: "mole", Text: "with sitter-1 at the rail"}, acts.WriteOptions{Names: names}))
	_, isValid := write(&events.NoteWrittenData{About: "mole"}, acts.WriteOptions{}).(*wording.Refusal)
	assert.False(t, isValid, "what is missing is no matter of the book")
}
