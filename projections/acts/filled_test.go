package acts_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// fill fills in what is left out of an act at a moment.
func fill(t *testing.T, r eventstest.Log, at time.Time, e *events.Entry, strict bool) error {
	t.Helper()
	left := *e
	return met.Tear(t, r, func(r *eventstest.Torn) error {
		filled := left
		filled.Data = events.Clone(left.Data)
		err := acts.ApplyDefaults(snapshot.NewForAct(r, at), &filled, strict)
		if err == nil {
			*e = filled
		}
		return err
	})
}

// tide is an outing with all that a book fills in: two sessions, two boxes, baths of each role, a holder, readings.
const tide = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3
paper.received 2026-05-01T08:03:00 "box":"box-2","name":"mole","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3
holder.loaded 2026-05-01T08:04:00 "holder":"left","box":"box-1"
holder.loaded 2026-05-01T08:05:00 "holder":"left","box":"box-2"
bath.mixed 2026-05-01T08:06:00 "bath":"dev-1","role":"developer","name":"Amber","volume_ml":1000,"time_s":60
bath.mixed 2026-05-01T08:07:00 "bath":"dev-2","role":"developer","name":"Amber","volume_ml":1000,"time_s":60
bath.mixed 2026-05-01T08:08:00 "bath":"fix-1","role":"fixer","name":"Clear","volume_ml":1000,"time_s":60
bath.mixed 2026-05-01T08:09:00 "bath":"toner-1","role":"toner","name":"brown","volume_ml":1000,"time_s":60
session.opened 2026-05-02T09:00:00 "session":"ebb","camera":"skiff"
light.metered 2026-05-02T09:30:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"ebb"
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"ebb"
sheet.developed 2026-05-02T10:10:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"ebb"
sheet.exposed 2026-05-02T10:20:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"session":"ebb"
sheet.fixed 2026-05-02T10:30:00 "sheet":"2026-001n","bath":"fix-1","time_s":60,"session":"ebb"
light.metered 2026-05-02T10:40:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"picture":"2026-001","session":"ebb"
sheet.reprinted 2026-05-02T10:50:00 "picture":"2026-001","box":"box-2","f":11,"time_s":20,"session":"ebb"
sheet.developed 2026-05-02T11:00:00 "sheet":"2026-002n","bath":"dev-2","time_s":60,"session":"ebb"
sheet.rinsed 2026-05-02T11:05:00 "sheet":"2026-002n","time_s":15,"session":"ebb"
session.closed 2026-05-02T12:00:00 "session":"ebb"
session.opened 2026-05-03T09:00:00 "session":"flood","camera":"skiff"`

// What an act leaves out is filled in by one rule a field; what the act says itself stays.
func TestWhatAnActLeavesOut(t *testing.T) {
	b := booktest.FromActs(t, tide)
	readings := map[string]string{} // by their minutes
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.LightMetered}})
		require.NoError(t, err)
		for _, e := range found {
			readings[e.ID.String()] = e.At.Format("15:04")
		}
	})
	for _, c := range []struct {
		at   string
		data events.Data
		want string // the act as it is kept
	}{
		{"2026-05-02T11:10", &events.SheetExposedData{F: 8, TimeS: 4}, `{"picture":"2026-003","box":"box-1","f":8,"time_s":4,"sheet":"2026-003n","reading":"09:30","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.SheetExposedData{F: 8, TimeS: 4, Holder: "left"}, `{"picture":"2026-003","box":"box-2","f":8,"time_s":4,"sheet":"2026-003n","reading":"09:30","holder":"left","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.SheetExposedData{F: 8, TimeS: 4, Sheet: "2026-002n", Box: "box-2"}, `{"picture":"2026-002","box":"box-2","f":8,"time_s":4,"sheet":"2026-002n","reading":"09:30","session":"ebb","camera":"skiff"}`},
		{"2026-05-03T10:00", &events.SheetExposedData{F: 8, TimeS: 4}, `{"picture":"2026-003","box":"box-1","f":8,"time_s":4,"sheet":"2026-003n","session":"flood","camera":"skiff"}`},
		{"2026-05-02T08:00", &events.SheetExposedData{F: 8, TimeS: 4, Box: "box-1"}, `{"picture":"2026-003","box":"box-1","f":8,"time_s":4,"sheet":"2026-003n","camera":"skiff"}`},
		{"2027-01-02T08:00", &events.SheetExposedData{F: 8, TimeS: 4, Carried: events.Carried{Session: "flood"}}, `{"picture":"2027-001","box":"box-1","f":8,"time_s":4,"sheet":"2027-001n","session":"flood","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.SheetReprintedData{TimeS: 20}, `{"picture":"2026-002","box":"box-2","time_s":20,"sheet":"2026-002p1","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T10:55", &events.SheetReprintedData{TimeS: 20}, `{"picture":"2026-001","box":"box-2","time_s":20,"sheet":"2026-001p2","reading":"10:40","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T10:55", &events.SheetReprintedData{TimeS: 20, Way: "contact"}, `{"picture":"2026-001","box":"box-2","time_s":20,"sheet":"2026-001p2","way":"contact","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T10:55", &events.SheetReprintedData{TimeS: 20, Sheet: "2026-001p1"}, `{"picture":"2026-001","box":"box-2","time_s":20,"sheet":"2026-001p1","reading":"10:40","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T10:45", &events.SheetReprintedData{TimeS: 20}, `{"picture":"2026-001","box":"box-1","time_s":20,"sheet":"2026-001p2","reading":"10:40","session":"ebb","camera":"skiff"}`}, // no print yet: the box of the exposures; the number of a print is given once
		{"2026-05-02T11:10", &events.SheetDevelopedData{TimeS: 60}, `{"sheet":"2026-001p1","bath":"dev-2","time_s":60,"session":"ebb"}`},
		{"2026-05-02T10:25", &events.SheetDevelopedData{TimeS: 60}, `{"sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"ebb"}`}, // dev-2 was not used yet, and mixed before dev-1 was used
		{"2026-05-02T11:02", &events.SheetRinsedData{}, `{"sheet":"2026-002n","session":"ebb"}`},
		{"2026-05-02T11:10", &events.SheetFixedData{TimeS: 60}, `{"sheet":"2026-002n","bath":"fix-1","time_s":60,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.SheetWashedData{Changes: new(4)}, `{"sheet":"2026-001n","changes":4,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.SheetDriedData{}, `{"sheet":"2026-002n","session":"ebb"}`},
		{"2026-05-02T10:52", &events.SheetDriedData{}, `{"sheet":"2026-001p1","session":"ebb"}`},
		{"2026-05-02T10:52", &events.SheetJudgedData{Verdict: "keep"}, `{"sheet":"2026-001n","verdict":"keep","session":"ebb"}`}, // the print is only exposed: what waits to be judged came before
		{"2026-05-02T11:10", &events.SheetJudgedData{Verdict: "keep"}, `{"sheet":"2026-002n","verdict":"keep","session":"ebb"}`},
		{"2026-05-02T11:10", &events.SheetTonedData{}, `{"sheet":"2026-002n","bath":"toner-1","session":"ebb"}`},
		{"2026-05-02T11:10", &events.LightMeteredData{On: "scene", Mode: "incident", Lux: new(1000.0)}, `{"on":"scene","mode":"incident","lux":1000,"session":"ebb","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.StripExposedData{Strip: "s1", On: "scene", TimesS: []float64{1, 2}}, `{"strip":"s1","box":"box-1","on":"scene","times_s":[1,2],"reading":"09:30","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.StripExposedData{Strip: "s1", On: "negative", Picture: "2026-001", TimesS: []float64{1, 2}}, `{"strip":"s1","box":"box-1","on":"negative","times_s":[1,2],"picture":"2026-001","reading":"10:40","session":"ebb","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.StripExposedData{Strip: "s1", On: "negative", TimesS: []float64{1, 2}}, `{"strip":"s1","box":"box-1","on":"negative","times_s":[1,2],"session":"ebb","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.StripExposedData{Strip: "s1", On: "pre-flash", TimesS: []float64{1, 2}}, `{"strip":"s1","box":"box-1","on":"pre-flash","times_s":[1,2],"session":"ebb","camera":"skiff"}`},
		{"2026-05-02T11:10", &events.PaperReceivedData{Name: "pier", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 10}, `{"box":"box-3","name":"pier","base":"rc","width_mm":90,"height_mm":120,"sheets":10,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.PaperRatedData{Index: new(4.0)}, `{"box":"box-1","index":4,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.BathMixedData{Role: "developer", Name: "Amber", VolumeML: 500}, `{"bath":"dev-3","role":"developer","name":"Amber","volume_ml":500,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.BathMixedData{Role: "fixer", Name: "Clear", VolumeML: 500}, `{"bath":"fix-2","role":"fixer","name":"Clear","volume_ml":500,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.BathMixedData{Role: "stop", Name: "sour", VolumeML: 500}, `{"bath":"stop-1","role":"stop","name":"sour","volume_ml":500,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.BathMixedData{Role: "water", Name: "sea", VolumeML: 500}, `{"bath":"water-1","role":"water","name":"sea","volume_ml":500,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.BathMixedData{Role: "washing-aid", Name: "soda", VolumeML: 500}, `{"bath":"washing-aid-1","role":"washing-aid","name":"soda","volume_ml":500,"session":"ebb"}`},
		{"2026-05-02T11:10", &events.SessionClosedData{}, `{"session":"ebb"}`},
		{"2026-05-02T11:10", &events.CameraCheckedData{What: "rail", Result: "good"}, `{"camera":"skiff","what":"rail","result":"good","session":"ebb"}`},
		{"2026-05-02T11:10", &events.NoteWrittenData{About: "box-1", Text: "dry"}, `{"about":"box-1","text":"dry","session":"ebb"}`},
		{"2026-05-01T09:00", &events.NoteWrittenData{About: "box-1", Text: "dry"}, `{"about":"box-1","text":"dry"}`},
	} {
		for _, strict := range []bool{true, false} {
			require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
				at := booktest.Oslo(t, c.at+":00")
				e := events.Entry{Kind: c.data.Kind(), At: at, Data: c.data}
				require.NoError(t, fill(t, tx, at, &e, strict), c.want)
				raw, err := json.Marshal(e.Data)
				require.NoError(t, err)
				got := string(raw)
				for id, minute := range readings {
					got = strings.ReplaceAll(got, id, minute)
				}
				assert.Equal(t, c.want, got, "%s %s", c.at, c.data.Kind())
				return nil
			}))
		}
	}
}

// Where the book cannot know, it asks: two sessions open, two boxes and none used, no bath, nothing to work on.
func TestWhatTheBookCannotFillIn(t *testing.T) {
	const head = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32`
	const twoCameras = head + `
camera.described 2026-05-01T08:01:30 "camera":"dory","focal_mm":150,"f_widest":5.6,"f_smallest":32`
	const box = `
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3`
	const another = `
paper.received 2026-05-01T08:03:00 "box":"box-2","name":"mole","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3`
	const sessions = `
session.opened 2026-05-02T09:00:00 "session":"ebb","camera":"skiff"
session.opened 2026-05-02T09:30:00 "session":"flood","camera":"skiff"`
	shot := &events.SheetExposedData{F: 8, TimeS: 4}
	for _, c := range []struct {
		name, book string
		data       events.Data
		text, hint string // "" for filled in all the same
		filled     string
	}{
		{"one camera of two", twoCameras + box, shot, "", "", `"camera"`},
		{"a camera checked, one of two", twoCameras, &events.CameraCheckedData{What: "rail", Result: "good"}, "it is not clear which camera was checked", "name it with --camera", ""},
		{"the only box", head + box, shot, "", "", `"box":"box-1"`},
		{"one box of two", head + box + another, shot, "several boxes hold paper and none was used yet: box-2, box-1", "say which with --box", ""},
		{"no box", head, shot, "there is no paper in the book", "`traybook paper receive` brings a box in", ""},
		{"two sessions", head + box + sessions, shot, "several sessions are open: flood, ebb", "add --session ebb, or close the other: traybook session close flood", ""},
		{"two sessions, to be closed", head + box + sessions, &events.SessionClosedData{}, "several sessions are open: flood, ebb", "add --session ebb, or close the other: traybook session close flood", ""},
		{"two sessions, a reading", head + box + sessions, &events.LightMeteredData{On: "scene", Mode: "incident", Lux: new(9.0)}, "", "", `"session":"flood"`},
		{"no session to close", head, &events.SessionClosedData{}, "no session is open", "`traybook sessions` lists them, `traybook session open` begins one", ""},
		{"nothing to print", head + box, &events.SheetReprintedData{TimeS: 4}, "no negative is developed yet that could be printed", "name one with --picture 2026-014", ""},
		{"nothing to develop", head + box, &events.SheetDevelopedData{TimeS: 4}, "no exposed sheet waits for the developer", "name one with --sheet 2026-014n", ""},
		{"nothing to develop then", head + box + "\n" + `sheet.exposed 2026-05-02T13:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, &events.SheetDevelopedData{TimeS: 4}, "no exposed sheet waits for the developer at 2026-05-02 12:00", "2026-001n was exposed at 2026-05-02 13:00: give a later --at", ""},
		{"no developer", head + box + "\n" + `sheet.exposed 2026-05-02T11:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, &events.SheetDevelopedData{TimeS: 4}, "there is no developer", "`traybook bath mix developer` makes one, --bath names one", ""},
		{"no developer that is left", head + box + "\n" + `sheet.exposed 2026-05-02T11:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4` + "\n" + `bath.mixed 2026-05-02T11:10:00 "bath":"dev-1","role":"developer","name":"Amber","volume_ml":500` + "\n" + `bath.discarded 2026-05-02T11:20:00 "bath":"dev-1"`, &events.SheetDevelopedData{TimeS: 4}, "there is no developer", "`traybook bath mix developer` makes one, --bath names one", ""},
		{"nothing to rinse", head + box, &events.SheetRinsedData{}, "no sheet is developed and not yet rinsed", "name one with --sheet 2026-014n", ""},
		{"nothing to fix", head + box, &events.SheetFixedData{TimeS: 4}, "no sheet is developed and not yet fixed", "name one with --sheet 2026-014n", ""},
		{"nothing to wash", head + box, &events.SheetWashedData{}, "no sheet is fixed and not yet washed", "name one with --sheet 2026-014n", ""},
		{"nothing to dry", head + box, &events.SheetDriedData{}, "no sheet was worked on yet", "name one with --sheet 2026-014n", ""},
		{"a negative that is there", head + box + "\n" + `sheet.exposed 2026-05-02T11:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, &events.SheetExposedData{F: 8, TimeS: 4, Picture: "2026-001"}, "2026-001 has its negative already", "another negative is another picture: leave out --picture; the same sheet exposed twice: --sheet 2026-001n", ""},
		{"a role that is none", head, &events.BathMixedData{Role: "soup", Name: "soup", VolumeML: 500}, "", "", `{"role":"soup"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			booktest.Look(t, booktest.FromActs(t, c.book), func(snap *snapshot.Snapshot) {
				at := booktest.Oslo(t, "2026-05-02T12:00:00")
				e := events.Entry{Kind: c.data.Kind(), At: at, Data: c.data}
				err := fill(t, snap.R.(eventstest.Log), at, &e, true)
				if c.text != "" {
					text, hint := refused(t, err)
					assert.Equal(t, []string{c.text, c.hint}, []string{text, hint})
					return
				}
				require.NoError(t, err)
				raw, err := json.Marshal(e.Data)
				require.NoError(t, err)
				if c.name == "one camera of two" {
					assert.NotContains(t, string(raw), c.filled)
				} else {
					assert.Contains(t, string(raw), c.filled)
				}
			})
		})
	}
}

// The answer to an act says what usually comes next, by the sheet's state after it, with the time that the bath calls for.
func TestWhatComesNext(t *testing.T) {
	b := booktest.FromActs(t, tide)
	for _, c := range []struct {
		at   string
		data events.Data
		next string
	}{
		{"2026-05-03T09:10:00", &events.LightMeteredData{On: "scene", Mode: "reflected", Index: new(3.0), F: new(16.0), TimeS: new(9.0)}, "expose: traybook expose f/16 shows what it calls for"},
		{"2026-05-03T09:11:00", &events.LightMeteredData{On: "scene", Mode: "incident", Lux: new(4000.0)}, "expose: traybook expose f/8 shows what it calls for"},
		{"2026-05-03T09:12:00", &events.LightMeteredData{On: "negative", Mode: "incident", Lux: new(4000.0)}, "reprint: traybook reprint f/11 shows what it calls for"},
		{"2026-05-03T09:20:00", &events.SheetExposedData{F: 8, TimeS: 4}, "develop: traybook develop 60s, or all three with traybook tray"},
		{"2026-05-03T09:21:00", &events.SheetDevelopedData{TimeS: 60, Sheet: "2026-003n"}, "rinse: traybook rinse; then fix: traybook fix 61s"},
		{"2026-05-03T09:22:00", &events.SheetRinsedData{Sheet: "2026-003n"}, "fix: traybook fix 61s"},
		{"2026-05-03T09:23:00", &events.SheetFixedData{TimeS: 60, Sheet: "2026-003n"}, "wash: traybook wash 4 changes 30s"},
		{"2026-05-03T09:24:00", &events.SheetWashedData{Changes: new(4), Sheet: "2026-003n"}, "judge it: traybook judge keep"},
		{"2026-05-03T09:25:00", &events.SheetDriedData{Sheet: "2026-003n"}, "judge it: traybook judge keep"},
		{"2026-05-03T09:26:00", &events.SheetJudgedData{Verdict: "keep", Sheet: "2026-003n"}, "meter the negative and reprint: traybook meter negative f/11 4s card"},
		{"2026-05-03T09:27:00", &events.SheetWashedData{Changes: new(4), Sheet: "2026-003n"}, ""},
		{"2026-05-03T09:28:00", &events.SheetJudgedData{Verdict: "redo", Sheet: "2026-003n", Symptoms: []string{"flat"}}, "find out why: traybook why 2026-003"},
		{"2026-05-03T09:30:00", &events.SheetReprintedData{TimeS: 20, Picture: "2026-003"}, "develop: traybook develop 61s, or all three with traybook tray"}, // two sheets of 0.0125 m² later: 60 · (1 + 0.5 · 0.025)
		{"2026-05-03T09:31:00", &events.SheetJudgedData{Verdict: "reject", Sheet: "2026-003p1"}, "find out why: traybook why 2026-003"},
		{"2026-05-03T09:32:00", &events.SheetDevelopedData{TimeS: 60, Sheet: "2026-003p1"}, ""}, // thrown away
		{"2026-05-03T09:33:00", &events.SheetJudgedData{Verdict: "keep", Sheet: "2026-003p1"}, ""},
		{"2026-05-03T09:34:00", &events.SheetDeliveredData{Sheet: "2026-003p1"}, ""},
		{"2026-05-03T09:40:00", &events.BathMixedData{Role: "stop", Name: "sour", VolumeML: 500}, "meter the light: traybook meter f/8 4s"},
		{"2026-05-03T09:41:00", &events.StripExposedData{Strip: "s1", On: "scene", F: new(8.0), TimesS: []float64{1, 2}}, "develop it and read it: traybook strip read"},
		{"2026-05-03T09:50:00", &events.SessionClosedData{}, ""},
		{"2026-05-03T09:51:00", &events.BathMixedData{Role: "stop", Name: "sour", VolumeML: 500}, "open a session: traybook session open"},
		{"2026-05-03T09:52:00", &events.SessionOpenedData{Session: "slack"}, "meter the light: traybook meter f/8 4s"},
		{"2026-05-03T09:53:00", &events.PaperReceivedData{Name: "pier", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 10}, "mix the baths: traybook bath mix developer 1l 1+9 60s"},
		{"2026-05-03T09:54:00", &events.CameraDescribedData{Camera: "skiff", FocalMM: 135, FWidest: 5.6, FSmallest: 32}, "bring paper in: traybook paper receive \"glossy paper\" rc 9x12cm --sheets 100 --index 3"},
		{"2026-05-03T09:55:00", &events.BathDiscardedData{Bath: "dev-1"}, ""},
		{"2026-05-03T09:56:00", &events.BathDiscardedData{Bath: "dev-2"}, ""},
		{"2026-05-03T09:57:00", &events.SheetExposedData{F: 8, TimeS: 4, Box: "box-1"}, "develop: traybook develop, or all three with traybook tray"}, // no developer calls for a time
	} {
		a := answerAt(t, b, c.at, c.data)
		assert.Equal(t, c.next, a.Next, "%s %s", c.at, c.data.Kind())
		if events.SheetOf(a.Entry.Data) != "" {
			assert.Equal(t, events.SheetOf(a.Entry.Data), a.Sheet)
			assert.Equal(t, a.Sheet[:8], a.Picture)
		}
	}
}

// What an answer tells of the act: called for, done, how far apart, what was before; whether a lens was exposed through by no
// reading.
func TestTheAnswerToAnAct(t *testing.T) {
	b := booktest.FromActs(t, tide)
	a := answerAt(t, b, "2026-05-02T11:10:00", &events.SheetExposedData{F: 8, TimeS: 8})
	assert.InDeltaSlice(t, []float64{4, 8, 1}, []float64{*a.CalledForS, *a.DoneS, *a.DeviationStops}, 1e-9)
	assert.Equal(t, []string{"ebb", "2026-003", "2026-003n", "2026-003n exposed f/8 8 s on box-1"}, []string{a.Session, a.Picture, a.Sheet, a.Understood})
	assert.False(t, a.Unserved)
	a = answerAt(t, b, "2026-05-03T10:00:00", &events.SheetExposedData{F: 8, TimeS: 8})
	assert.True(t, a.Unserved)
	assert.Nil(t, a.CalledForS)
	for way, unserved := range map[string]bool{"": true, "camera": true, "contact": false, "enlarger": false} {
		at := map[string]string{"": "10:01", "camera": "10:02", "contact": "10:03", "enlarger": "10:04"}[way]
		a = answerAt(t, b, "2026-05-03T"+at+":00", &events.SheetReprintedData{TimeS: 8, Picture: "2026-002", F: new(11.0), Way: way})
		assert.Equal(t, unserved, a.Unserved, way)
	}
	a = answerAt(t, b, "2026-05-02T11:15:00", &events.SheetFixedData{Sheet: "2026-001n", TimeS: 30})
	assert.Equal(t, 1.0, a.Before)
	assert.Equal(t, "2026-001n fixed 30 s in fix-1; 2 fixings add: 90 s in all", a.Understood)
	a = answerAt(t, b, "2026-05-02T11:16:00", &events.SheetWashedData{Sheet: "2026-001n", Changes: new(4), VolumeML: new(1000.0)})
	assert.Equal(t, "2026-001n washed, 4 changes of 1000 ml; estimated less than 0.01 % of the hypo is left (a model, no test; the limit of 0.014 g/m² was set for film)", a.Understood)
	a = answerAt(t, b, "2026-05-03T10:10:00", &events.SessionClosedData{})
	assert.Equal(t, "flood", a.Session)
	a = answerAt(t, b, "2026-05-04T10:10:00", &events.SessionOpenedData{Session: "slack"})
	assert.Equal(t, "slack", a.Session)
	// A bath that was discarded before is said once, with when.
	answerAt(t, b, "2026-05-02T11:20:00", &events.BathDiscardedData{Bath: "fix-1"})
	a = answerAt(t, b, "2026-05-02T11:30:00", &events.SheetFixedData{Sheet: "2026-002n", Bath: "fix-1", TimeS: 60})
	assert.Equal(t, []string{"fix-1 was discarded at 2026-05-02 11:20"}, wording.Texts(a.Warnings))
}

// The sheets that came out of the developer within a day and were not fixed, the last first.
func TestWhatIsNotFixed(t *testing.T) {
	b := booktest.FromActs(t, tide+`
sheet.exposed 2026-05-02T11:10:00 "picture":"2026-003","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T11:20:00 "sheet":"2026-003n","bath":"dev-1","time_s":60
sheet.developed 2026-05-02T11:21:00 "sheet":"2026-003n","bath":"dev-1","time_s":30
sheet.developed 2026-05-02T11:30:00 "sheet":"2026-001p1","bath":"dev-1","time_s":60
sheet.judged 2026-05-02T11:31:00 "sheet":"2026-001p1","verdict":"reject"`)
	for at, want := range map[string]string{"2026-05-02T10:15:00": "2026-001n", "2026-05-02T10:35:00": "", "2026-05-02T11:15:00": "2026-002n", "2026-05-02T12:00:00": "2026-003n, 2026-002n",
		"2026-05-03T11:00:00": "2026-003n, 2026-002n", "2026-05-03T11:00:01": "2026-003n", "2026-05-03T11:22:00": ""} {
		booktest.LookAt(t, b, at, func(snap *snapshot.Snapshot) {
			got, err := acts.Unfixed(snap)
			require.NoError(t, err)
			assert.Equal(t, want, acts.WaitingNames(got), at)
		})
	}
	for at, want := range map[string]string{"2026-05-02T10:05:00": "2026-001n", "2026-05-02T10:15:00": "", "2026-05-02T10:25:00": "2026-002n", "2026-05-02T10:55:00": "2026-002n, 2026-001p1", "2026-05-02T11:15:00": "2026-001p1, 2026-003n", "": ""} {
		booktest.LookAt(t, b, at, func(snap *snapshot.Snapshot) {
			got, err := acts.Waiting(snap)
			require.NoError(t, err)
			assert.Equal(t, want, acts.WaitingNames(got), at)
		})
	}
}

// What lies in hand at a moment: the bath of a role used or mixed last, the box used last for such an act, the newest picture.
func TestWhatLiesInHand(t *testing.T) {
	b := booktest.FromActs(t, tide)
	for _, c := range []struct{ at, developer, box, printBox, negative, picture string }{
		{"2026-05-01T08:06:30", "dev-1", "", "", "", "2026-002"}, // the number stands, whenever it was given
		{"2026-05-01T08:07:30", "dev-2", "", "", "", "2026-002"},
		{"2026-05-02T10:15:00", "dev-1", "box-1", "box-1", "2026-001", "2026-002"},
		{"2026-05-02T10:55:00", "dev-1", "box-1", "box-2", "2026-001", "2026-002"},
		{"2026-05-02T11:15:00", "dev-2", "box-1", "box-2", "2026-002", "2026-002"},
	} {
		booktest.LookAt(t, b, c.at, func(snap *snapshot.Snapshot) {
			bath, err := acts.BathInUse(snap, "developer")
			require.NoError(t, err)
			require.NotNil(t, bath)
			assert.Equal(t, c.developer, bath.Entity.Name, c.at)
			none, err := acts.BathInUse(snap, "stop")
			require.NoError(t, err)
			assert.Nil(t, none)
			for kind, want := range map[events.Kind]string{events.SheetExposed: c.box, events.SheetReprinted: c.printBox} {
				box, err := acts.BoxInHand(snap, kind)
				if want == "" {
					assert.Error(t, err)
					continue
				}
				require.NoError(t, err)
				assert.Equal(t, want, box.Entity.Name, c.at)
			}
			negative, err := acts.NewestNegative(snap)
			if c.negative == "" {
				assert.Error(t, err)
			} else {
				require.NoError(t, err)
				assert.Equal(t, c.negative, negative)
			}
		})
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		picture, err := acts.NewestPicture(snap)
		require.NoError(t, err)
		assert.Equal(t, "2026-002", picture)
		zone, err := acts.ZoneOf(snap)
		require.NoError(t, err)
		assert.Equal(t, "Europe/Oslo", zone)
	})
	booktest.Look(t, booktest.NewBook(t), func(snap *snapshot.Snapshot) {
		picture, err := acts.NewestPicture(snap)
		require.NoError(t, err)
		assert.Empty(t, picture)
		zone, err := acts.ZoneOf(snap)
		require.NoError(t, err)
		assert.Empty(t, zone)
		mark, err := acts.UnusedMark(snap)
		require.NoError(t, err)
		assert.Nil(t, mark)
	})
}

// A zone that was put right counts from then on, whatever time the line bears.
func TestTheZoneWrittenDownLast(t *testing.T) {
	b := booktest.FromActs(t, tide)
	data := &events.BookOpenedData{Zone: "America/Halifax"}
	at := booktest.Oslo(t, "2026-05-01T07:00:00")
	e := events.Entry{ID: events.ID{5}, Kind: data.Kind(), At: at, RecordedAt: booktest.Recorded.Add(time.Hour), Data: data}
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error { return tx.Append(&e) }))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		zone, err := acts.ZoneOf(snap)
		require.NoError(t, err)
		assert.Equal(t, "America/Halifax", zone)
	})
}

// Numbers are counted on from the largest. One that is ten or more ahead is asked for; of a file, and in a row that nobody has
// begun, one that is a thousand ahead.
func TestNumbersThatLeaveManyOut(t *testing.T) {
	b := booktest.FromActs(t, tide)
	refusal := func(name string, most int, next string) string {
		return fmt.Sprintf("%s leaves more than %d numbers out, and what follows would be counted on from there; the next is %s; --even-so keeps the number", name, most, next)
	}
	box := func(name string) events.Data {
		return &events.PaperReceivedData{Box: name, Name: "pier", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 10}
	}
	for _, c := range []struct {
		data events.Data
		hand string
		file string
	}{
		{&events.SheetExposedData{F: 8, TimeS: 4, Picture: "2026-012"}, "", ""},
		{&events.SheetExposedData{F: 8, TimeS: 4, Picture: "2026-013"}, refusal("2026-013", 9, "2026-003"), ""},
		{&events.SheetExposedData{F: 8, TimeS: 4, Picture: "2026-1003"}, refusal("2026-1003", 9, "2026-003"), ""},
		{&events.SheetExposedData{F: 8, TimeS: 4, Picture: "2026-1004"}, refusal("2026-1004", 9, "2026-003"), refusal("2026-1004", 1000, "2026-003")},
		{&events.SheetExposedData{F: 8, TimeS: 4, Picture: "2027-1001"}, "", ""},
		{&events.SheetExposedData{F: 8, TimeS: 4, Picture: "2027-1002"}, refusal("2027-1002", 1000, "2027-001"), refusal("2027-1002", 1000, "2027-001")},
		{box("box-12"), "", ""},
		{box("box-13"), refusal("box-13", 9, "box-3"), ""},
		{box("box-1004"), refusal("box-1004", 9, "box-3"), refusal("box-1004", 1000, "box-3")},
		{&events.BathMixedData{Bath: "dev-2000", Role: "developer", Name: "Amber", VolumeML: 500}, refusal("dev-2000", 9, "dev-3"), refusal("dev-2000", 1000, "dev-3")},
		{&events.BathMixedData{Bath: "dev-99999999999999999999", Role: "developer", Name: "Amber", VolumeML: 500}, refusal("dev-99999999999999999999", 9, "dev-3"), refusal("dev-99999999999999999999", 1000, "dev-3")},
		{&events.StripExposedData{Strip: "strip-1001", On: "scene", TimesS: []float64{1, 2}}, "", ""},
		{&events.StripExposedData{Strip: "strip-1002", On: "scene", TimesS: []float64{1, 2}}, refusal("strip-1002", 1000, "strip-1"), refusal("strip-1002", 1000, "strip-1")},
		{&events.SheetReprintedData{Picture: "2026-001", Sheet: "2026-001p11", TimeS: 4}, "", ""},
		{&events.SheetReprintedData{Picture: "2026-001", Sheet: "2026-001p12", TimeS: 4}, refusal("2026-001p12", 9, "p2"), ""},
		{&events.SheetReprintedData{Picture: "2026-001", Sheet: "2026-001p1003", TimeS: 4}, refusal("2026-001p1003", 9, "p2"), refusal("2026-001p1003", 1000, "p2")},
		{&events.BathMixedData{Bath: "amber-99999", Role: "developer", Name: "Amber", VolumeML: 500}, "", ""}, // a row of its own
	} {
		for file, says := range map[bool]string{false: c.hand, true: c.file} {
			booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
				err := acts.CheckNumbers(snap, &events.Entry{Kind: c.data.Kind(), Data: c.data}, file)
				if says == "" || err == nil || err.Error() != says {
					assert.False(t, err == nil && says != "", says)
					return err
				}
				return nil
			})
		}
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for prefix, want := range map[string]string{"2026-": "2026-003", "2027-": "2027-001", "box-": "box-3", "dev-": "dev-3", "strip-": "strip-1"} {
			got, err := acts.NextNumber(snap.R, prefix)
			require.NoError(t, err)
			assert.Equal(t, want, got)
		}
	})
	last := booktest.ByHand(t, 1, &events.BathMixedData{Bath: "dev-999999", Role: "developer", Name: "Amber", VolumeML: 500})
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.Write(tx, &last, acts.WriteOptions{EvenSo: true})
		return err
	}))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		_, err := acts.NextNumber(snap.R, "dev-")
		assert.EqualError(t, err, "the numbers after dev- are used up: dev-999999 is taken; name it yourself, by a number that is free")
		assert.NoError(t, acts.CheckNumbers(snap, &events.Entry{Kind: events.BathMixed, Data: &events.BathMixedData{Bath: "dev-9999999", Role: "developer", Name: "Amber", VolumeML: 500}}, false))
	})
}

// Parts that cannot come out of a sheet are refused, by their sides and by their number; a size may be only a name, 3 % off.
func TestPartsOfASheet(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour)
	for _, c := range []struct {
		parts         int
		width, height float64
		text, hint    string
	}{
		{4, 50, 62.5, "", ""}, {2, 100, 62.5, "", ""}, {1, 103, 128, "", ""}, {1, 128, 103, "", ""}, {4, 51, 63, "", ""},
		{1, 100, 130, "a part of 100 × 130 mm is larger than a sheet of box-1, 100 × 125 mm", "mend --size"},
		{1, 110, 110, "a part of 110 × 110 mm is larger than a sheet of box-1, 100 × 125 mm", "mend --size"},
		{5, 50, 62.5, "5 parts of 50 × 62.5 mm are larger than a sheet of box-1, 100 × 125 mm", "at most 4; mend --parts or --size: --parts counts those of one sheet"},
		{2, 100, 125, "2 parts of 100 × 125 mm are larger than a sheet of box-1, 100 × 125 mm", "at most 1; mend --parts or --size: --parts counts those of one sheet"},
	} {
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			err := acts.Check(snap, &events.Entry{Kind: events.PaperCut, At: booktest.Oslo(t, "2026-05-02T12:00:00"), Data: &events.PaperCutData{Box: "box-1", Into: "parts", Sheets: 1, Parts: c.parts, WidthMM: c.width, HeightMM: c.height}}, nil)
			if c.text == "" {
				assert.NoError(t, err, c)
				return
			}
			text, hint := refused(t, err)
			assert.Equal(t, []string{c.text, c.hint}, []string{text, hint})
		})
	}
}

// The negative that was developed last is found behind however many prints of another, or of itself.
func TestTheNewestNegativeIsFoundBehindManyPrints(t *testing.T) {
	var prints strings.Builder
	clock := booktest.Oslo(t, "2026-05-03T10:00:00")
	for range 250 {
		clock = clock.Add(time.Minute)
		fmt.Fprintf(&prints, "\nsheet.developed %s \"sheet\":\"2026-001p1\",\"bath\":\"dev-1\",\"time_s\":60", clock.Format("2006-01-02T15:04:05"))
	}
	b := booktest.FromActs(t, tide+prints.String())
	find := func(want string) {
		t.Helper()
		data := &events.SheetReprintedData{TimeS: 20}
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			e := events.Entry{Kind: data.Kind(), At: clock.Add(time.Hour), Data: data}
			require.NoError(t, acts.ApplyDefaults(snap, &e, false))
			assert.Equal(t, want, data.Picture)
		})
	}
	find("2026-002")
	var developed events.Entry
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		_, sheet, err := snap.SheetByName("2026-002n")
		require.NoError(t, err)
		developed = sheet.Developed[0]
	})
	void := booktest.ByHand(t, 1, &events.EntryVoidedData{Entry: developed.ID.String()})
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error { return tx.Append(&void) }))
	find("2026-001")
}

// However many baths were mixed since, the one that was in use at a moment is found.
func TestABathOfThenIsFoundBehindManyLaterOnes(t *testing.T) {
	var later strings.Builder
	for i := range 60 {
		fmt.Fprintf(&later, "\nbath.mixed 2026-06-01T10:%02d:00 \"bath\":\"late-%d\",\"role\":\"developer\",\"name\":\"print developer\",\"volume_ml\":1000", i, i)
	}
	booktest.LookAt(t, booktest.FromActs(t, booktest.Harbour+later.String()), "2026-05-03T10:00:00", func(snap *snapshot.Snapshot) {
		bath, err := acts.BathInUse(snap, "developer")
		require.NoError(t, err)
		require.NotNil(t, bath)
		assert.Equal(t, "dev-1", bath.Entity.Name)
	})
}
