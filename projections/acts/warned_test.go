package acts_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// written is what the book says back to an act that is written at a moment.
func answerAt(t *testing.T, b *sqlite.Book, clock string, data events.Data) wording.Answer {
	t.Helper()
	at := booktest.Oslo(t, clock)
	e := events.Entry{ID: events.ID{0xcc, byte(at.Unix() >> 16), byte(at.Unix() >> 8), byte(at.Unix())}, Kind: data.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: events.Clone(data)}
	a, err := writtenTo(t, b, e)
	require.NoError(t, err)
	return a
}

// met are the calls of acts that met a page that could not be read, in any test: no act is taken beside one.
var met booktest.Met

// writtenTo writes an act, which leaves the book as it was where it is refused.
func writtenTo(t *testing.T, b *sqlite.Book, e events.Entry) (a wording.Answer, err error) {
	t.Helper()
	met.Try(t, b, func(r *eventstest.Torn) error {
		e := e
		e.Data = events.Clone(e.Data)
		_, err := acts.Write(r, &e, acts.WriteOptions{})
		return err
	})
	err = b.Write(func(tx *sqlite.Tx) (err error) {
		a, err = acts.Write(tx, &e, acts.WriteOptions{})
		return err
	})
	return a, err
}

// All that is odd about an act is said, each once and in the order of its weight, and nothing where all is as it should be.
func TestAllThatSurprisesAndNothingElse(t *testing.T) {
	const exposed = `
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole"`
	const developed = exposed + `
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"`
	const fixed = developed + `
sheet.fixed 2026-05-02T10:03:00 "sheet":"2026-001n","bath":"fix-1","time_s":60,"session":"mole"`
	develop := &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60}
	fix := &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60}
	expose := &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 8, TimeS: 4}
	judge := func(verdict string, stops *float64, symptoms ...string) *events.SheetJudgedData {
		return &events.SheetJudgedData{Sheet: "2026-001n", Verdict: verdict, Stops: stops, Symptoms: symptoms}
	}
	few := func(sheets string) string {
		return "\n" + `paper.received 2026-05-02T09:30:00 "box":"few","name":"a rest","base":"rc","width_mm":100,"height_mm":125,"sheets":` + sheets + `,"index":3`
	}
	take := func(part *float64) *events.SheetExposedData {
		return &events.SheetExposedData{Picture: "2026-002", Box: "few", F: 8, TimeS: 4, Part: part}
	}
	const d = "2026-05-02T"
	for _, c := range []struct {
		name, book, at string
		data           events.Data
		says           []string
	}{
		{"an exposure", exposed, d + "10:30:00", expose, nil},
		{"numbered for another year", exposed, d + "10:30:00", &events.SheetExposedData{Picture: "2025-001", Box: "box-1", F: 8, TimeS: 4}, []string{"2025-001 bears the number of another year than 2026, in which it was exposed"}},
		{"numbers left out", exposed, d + "10:30:00", &events.SheetExposedData{Picture: "2026-005", Box: "box-1", F: 8, TimeS: 4}, []string{"2026-005 leaves out 3 numbers; the next was 2026-002"}},
		{"one number left out", exposed, d + "10:30:00", &events.SheetExposedData{Picture: "2026-003", Box: "box-1", F: 8, TimeS: 4}, []string{"2026-003 leaves out 1 number; the next was 2026-002"}},
		{"a year that begins anywhere", exposed, d + "10:30:00", &events.SheetExposedData{Picture: "2025-040", Box: "box-1", F: 8, TimeS: 4}, []string{"2025-040 bears the number of another year than 2026, in which it was exposed"}},
		{"exposed twice", exposed, d + "10:30:00", &events.SheetExposedData{Picture: "2026-001", Sheet: "2026-001n", Box: "box-1", F: 8, TimeS: 4}, []string{"2026-001n was exposed already at 2026-05-02 10:00 (entry ID)"}},
		{"before its reading", exposed, d + "09:45:00", &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 8, TimeS: 4, Reading: "READING"}, []string{"the time lies before the reading that served it, at 2026-05-02 09:50"}},
		{"in no session", "", d + "08:30:00", expose, []string{"no session is open, so it belongs to none; `traybook session open` begins one"}},
		{"metered in no session", "", d + "08:30:00", &events.LightMeteredData{On: "scene", Mode: "incident", Lux: new(4000.0)}, []string{"no session is open, so it belongs to none; `traybook session open` begins one"}},
		{"a negative metered at home", developed, d + "08:30:00", &events.LightMeteredData{On: "negative", Mode: "incident", Lux: new(4000.0)}, nil},
		{"a note needs no session", "", d + "08:30:00", &events.NoteWrittenData{About: "box-1", Text: "on the shelf"}, nil},
		{"a session left open", exposed, "2026-05-03T05:00:00", &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 8, TimeS: 4, Reading: "READING"}, []string{"session mole has been open for 20 hours; `traybook session close` ends it"}},
		{"a session not yet forgotten", exposed, "2026-05-03T04:59:00", &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 8, TimeS: 4, Reading: "READING"}, nil},
		{"closed late", exposed, "2026-05-03T09:00:00", &events.SessionClosedData{Session: "mole"}, nil},
		{"closed twice", "\n" + `session.closed 2026-05-02T12:00:00 "session":"mole"`, d + "13:00:00", &events.SessionClosedData{Session: "mole"}, []string{"mole was closed already at 2026-05-02 12:00"}},
		{"developed", exposed, d + "10:01:00", develop, nil},
		{"developed twice", developed, d + "10:30:00", develop, []string{"2026-001n was developed already at 2026-05-02 10:01 (entry ID)"}},
		{"developed before it was exposed", exposed, d + "09:59:00", develop, []string{"the time lies before the exposure of 2026-001n at 2026-05-02 10:00"}},
		{"developed and never exposed", exposed, d + "10:30:00", &events.SheetDevelopedData{Sheet: "2026-001p1", Bath: "dev-1", TimeS: 60}, []string{"2026-001p1 was never exposed by the book: expose or reprint it there too, if it was"}},
		{"fixed undeveloped", exposed, d + "10:30:00", fix, []string{"2026-001n goes into the fixer without having been developed"}},
		{"fixed twice", fixed, d + "10:30:00", fix, nil},
		{"washed unfixed", developed, d + "10:30:00", &events.SheetWashedData{Sheet: "2026-001n", Changes: new(4)}, []string{"2026-001n is washed without having been fixed"}},
		{"kept undeveloped", exposed, d + "10:30:00", judge("keep", nil), []string{"2026-001n is kept without having been developed"}},
		{"a judgement that leaves out what was seen", fixed + "\n" + `sheet.judged 2026-05-02T10:05:00 "sheet":"2026-001n","verdict":"redo","symptoms":["too-dark","flat"]`, d + "10:30:00", judge("redo", nil, "flat"),
			[]string{"2026-001n was judged too-dark before; the latest judgement stands alone, so name all that is seen"}},
		{"a judgement kept after all", fixed + "\n" + `sheet.judged 2026-05-02T10:05:00 "sheet":"2026-001n","verdict":"redo","symptoms":["too-dark"]`, d + "10:30:00", judge("keep", nil), nil},
		{"a judgement dated before the last", fixed + "\n" + `sheet.judged 2026-05-02T10:05:00 "sheet":"2026-001n","verdict":"redo","symptoms":["too-dark"]`, d + "10:04:00", judge("redo", nil, "flat"), nil},
		{"dark, and more", fixed, d + "10:30:00", judge("redo", new(1.0), "too-dark"), []string{"too-dark, and +1 stop makes it darker still; if −1 stop was meant: traybook amend last stops=-1"}},
		{"thin, and less", fixed, d + "10:30:00", judge("redo", new(-0.5), "thin", "flat"), []string{"thin, and −0.5 stop makes it lighter still; if +0.5 stop was meant: traybook amend last stops=0.5"}},
		{"dark, and less", fixed, d + "10:30:00", judge("redo", new(-1.0), "too-dark"), nil},
		{"dark and light, and more", fixed, d + "10:30:00", judge("redo", new(1.0), "too-dark", "too-light"), nil},
		{"flat, and more", fixed, d + "10:30:00", judge("redo", new(1.0), "flat"), nil},
		{"dark on a direct positive, and more", strings.ReplaceAll(fixed, "box-1", "direct") + "", d + "10:30:00", judge("redo", new(1.0), "too-dark"), nil},
		{"into the wrong tray", exposed, d + "10:30:00", &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60}, []string{"fix-1 is a fixer, not a developer"}},
		{"fixed in the developer", developed, d + "10:30:00", &events.SheetFixedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60}, []string{"dev-1 is a developer, not a fixer"}},
		{"before it was mixed", exposed + "\n" + `bath.mixed 2026-05-02T10:30:00 "bath":"dev-2","role":"developer","name":"late","volume_ml":1000`, d + "10:10:00", &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-2", TimeS: 60}, []string{"the time lies before dev-2 was mixed at 2026-05-02 10:30"}},
		{"poured away", exposed + "\n" + `bath.discarded 2026-05-02T10:20:00 "bath":"dev-1"`, d + "10:30:00", develop, []string{"dev-1 was discarded at 2026-05-02 10:20"}},
		{"poured away later", exposed + "\n" + `bath.discarded 2026-05-02T10:40:00 "bath":"dev-1"`, d + "10:30:00", develop, nil},
		// 5 °C is the most that two baths may lie apart (common practice, see calc.BathsApartC).
		{"from warm to cold", strings.ReplaceAll(developed, `"time_s":60`, `"time_s":60,"temp_c":24`), d + "10:30:00", &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60, TempC: new(18.0)}, []string{"2026-001n comes from 24 °C into 18 °C: baths more than 5 °C apart can blister or wrinkle the gelatine; bring them together before the next sheet"}},
		{"from warm to less warm", strings.ReplaceAll(developed, `"time_s":60`, `"time_s":60,"temp_c":23`), d + "10:30:00", &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60, TempC: new(18.0)}, nil},
		{"from warm to a cold that was tested", strings.ReplaceAll(developed, `"time_s":60`, `"time_s":60,"temp_c":24`) + "\n" + `bath.tested 2026-05-02T10:02:00 "bath":"fix-1","test":"temperature","value":18`, d + "10:30:00", fix, []string{"2026-001n comes from 24 °C into 18 °C: baths more than 5 °C apart can blister or wrinkle the gelatine; bring them together before the next sheet"}},
		{"from warm to what nobody measured", strings.ReplaceAll(developed, `"time_s":60`, `"time_s":60,"temp_c":26`), d + "10:30:00", fix, nil},
		{"from warm to cold water", strings.ReplaceAll(fixed, `"bath":"fix-1","time_s":60`, `"bath":"fix-1","time_s":60,"temp_c":20`), d + "10:30:00", &events.SheetWashedData{Sheet: "2026-001n", Changes: new(4), TempC: new(10.0)}, []string{"2026-001n comes from 20 °C into 10 °C: baths more than 5 °C apart can blister or wrinkle the gelatine; bring them together before the next sheet"}},
		{"the last bath counts, not the one before", strings.ReplaceAll(strings.ReplaceAll(fixed, `"bath":"fix-1","time_s":60`, `"bath":"fix-1","time_s":60,"temp_c":20`), `"bath":"dev-1","time_s":60`, `"bath":"dev-1","time_s":60,"temp_c":26`), d + "10:30:00", &events.SheetWashedData{Sheet: "2026-001n", Changes: new(4), TempC: new(18.0)}, nil},
		{"the last sheet", few("1"), d + "10:30:00", take(nil), []string{"that was the last sheet of few by the book"}},
		{"the last part", few("1") + "\n" + `sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"few","f":8,"time_s":4,"part":0.5,"session":"mole"`, d + "10:30:00", take(new(0.5)), []string{"that was the last sheet of few by the book"}},
		{"not the last sheet", few("2"), d + "10:30:00", take(nil), nil},
		{"one more than there are", few("1") + "\n" + `sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"few","f":8,"time_s":4,"session":"mole"`, d + "10:30:00", take(nil), []string{"by the book few holds −1 sheets after this; count it with `traybook paper count`"}},
		{"more spoiled than there are", few("3"), d + "10:30:00", &events.PaperSpoiledData{Box: "few", Sheets: 5}, []string{"by the book few held only 3 sheets, so it holds −2 after this; count it with `traybook paper count`"}},
		{"all spoiled", few("3"), d + "10:30:00", &events.PaperSpoiledData{Box: "few", Sheets: 3}, []string{"that was the last sheet of few by the book"}},
		{"more cut than there are", few("3"), d + "10:30:00", &events.PaperCutData{Box: "few", Sheets: 4, Parts: 2, Into: "halves", WidthMM: 50, HeightMM: 125}, []string{"by the book few held only 3 sheets, so it holds −1 after this; count it with `traybook paper count`"}},
		{"counted more than came", few("3"), d + "10:30:00", &events.PaperCountedData{Box: "few", Sheets: 4}, []string{"by the book only 3 sheets came in"}},
		{"counted all", few("3"), d + "10:30:00", &events.PaperCountedData{Box: "few", Sheets: 3}, nil},
		{"counted since", few("1") + "\n" + `sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"few","f":8,"time_s":4,"session":"mole"` + "\n" + `paper.counted 2026-05-02T11:00:00 "box":"few","sheets":9`, d + "10:30:00", take(nil), nil},
		{"before the paper came", few("3"), d + "09:20:00", take(nil), []string{"the time lies before few came in at 2026-05-02 09:30"}},
		// 5.6 and 32 are the lens's marks; 3 % of slack for marks with two names.
		{"beyond the lens", "", d + "10:30:00", &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 4.5, TimeS: 4}, []string{"the lens of quay-box goes from f/5.6 to f/32, and f/4.5 lies beyond it"}},
		{"beyond it the other way", "", d + "10:30:00", &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 45, TimeS: 40}, []string{"the lens of quay-box goes from f/5.6 to f/32, and f/45 lies beyond it"}},
		{"another name of the mark", "", d + "10:30:00", &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 5.5, TimeS: 4}, nil},
		{"a print beyond the lens", developed, d + "10:30:00", &events.SheetReprintedData{Picture: "2026-001", Box: "box-1", F: new(4.0), TimeS: 4}, []string{"the lens of quay-box goes from f/5.6 to f/32, and f/4 lies beyond it"}},
		{"an enlargement by its own lens", developed, d + "10:30:00", &events.SheetReprintedData{Picture: "2026-001", Box: "box-1", F: new(4.0), TimeS: 4, Way: "enlarger"}, nil},
		{"a strip beyond the lens", exposed, d + "10:30:00", &events.StripExposedData{Strip: "s1", Box: "box-1", On: "scene", F: new(4.0), TimesS: []float64{1, 2}}, []string{"the lens of quay-box goes from f/5.6 to f/32, and f/4 lies beyond it"}},
		{"a pre-flash needs no lens", exposed, d + "10:30:00", &events.StripExposedData{Strip: "s1", Box: "box-1", On: "pre-flash", F: new(4.0), TimesS: []float64{1, 2}}, nil},
		{"a distance typed without its unit", exposed, d + "10:30:00", &events.SheetExposedData{Picture: "2026-002", Box: "box-1", F: 8, TimeS: 4, FarMM: new(4.0)},
			[]string{"the farthest thing 4 mm from the lens is nearer than a lens reaches; write 4m where metres were meant, and --extension for how far the lens is drawn out"}},
		// What may hurt somebody is told at the act: common practice.
		{"handed over unwashed", fixed, d + "10:30:00", &events.SheetDeliveredData{Sheet: "2026-001n"}, []string{"2026-001n is handed over with fixer in it (no washing is written): rinse, blot and sleeve it, say so, and have it back for its wash"}},
		{"handed over washed short", fixed + "\n" + `sheet.washed 2026-05-02T10:05:00 "sheet":"2026-001n","changes":1,"volume_ml":1000,"soak_s":10`, d + "10:30:00", &events.SheetDeliveredData{Sheet: "2026-001n"},
			[]string{"2026-001n is handed over with fixer in it (washed 0.083 × the called-for wash): rinse, blot and sleeve it, say so, and have it back for its wash"}},
		{"handed over washed", fixed + "\n" + `sheet.washed 2026-05-02T10:05:00 "sheet":"2026-001n","changes":5,"volume_ml":1000,"soak_s":120`, d + "10:30:00", &events.SheetDeliveredData{Sheet: "2026-001n"}, nil},
		{"handed over, and nobody wrote down how it was fixed", exposed, d + "10:30:00", &events.SheetDeliveredData{Sheet: "2026-001n"}, nil},
		{"fixer poured away", "", d + "10:30:00", &events.BathDiscardedData{Bath: "fix-1"}, []string{"fix-1 carries silver: into a labelled can and to where such waste is taken, never into drain, soil, harbour or septic tank"}},
		{"fixer poured into the harbour", "", d + "10:30:00", &events.BathDiscardedData{Bath: "fix-1", To: "the Harbour"}, []string{"fix-1 carries silver: into a labelled can and to where such waste is taken, never into drain, soil, harbour or septic tank"}},
		{"fixer taken to the depot", "", d + "10:30:00", &events.BathDiscardedData{Bath: "fix-1", To: "waste depot"}, nil},
		{"developer poured away", "", d + "10:30:00", &events.BathDiscardedData{Bath: "dev-1"}, nil},
		{"toner poured away", "\n" + `bath.mixed 2026-05-02T09:00:00 "bath":"tone-1","role":"toner","name":"brown","volume_ml":1000`, d + "10:30:00", &events.BathDiscardedData{Bath: "tone-1"},
			[]string{"tone-1 was a toner: to where such waste is taken, never into drain, soil or harbour, and never into one can with acid"}},
		{"a developer mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "dev-2", Role: "developer", Name: "print developer", VolumeML: 1000}, nil},
		{"selenium mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "tone-1", Role: "toner", Name: "Selenium toner", VolumeML: 1000},
			[]string{"selenium is poisonous through skin and mouth: gloves, open air, no food near it; the maker's sheet comes first"}},
		{"sulphide mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "tone-1", Role: "toner", Name: "sodium sulphide", VolumeML: 1000},
			[]string{"sulphide gives off a poisonous gas with any acid: open air, away from stop and fixer; it fogs paper that lies near"}},
		{"ferricyanide mixed, as a remark says", "", d + "10:30:00", &events.BathMixedData{Bath: "tone-1", Role: "toner", Name: "reducer", Text: "potassium ferricyanide", VolumeML: 1000},
			[]string{"ferricyanide meets neither heat nor strong acid, which free a poisonous gas from it: gloves, and its own tray"}},
		{"chlorine bleach mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "tone-1", Role: "toner", Name: "hypochlorite", VolumeML: 1000},
			[]string{"chlorine bleach meets neither acid nor fixer, which free a poisonous gas from it: its own tray, rinsed twice"}},
		{"glacial acid mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "stop-1", Role: "stop", Name: "glacial acetic", VolumeML: 1000},
			[]string{"glacial acid burns skin, eyes and lungs, and its vapour catches fire: dilute it at home with gloves and goggles, acid into water, and carry only that"}},
		{"dichromate mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "bleach-1", Role: "bleach", Name: "Dichromate bleach", VolumeML: 1000},
			[]string{"dichromate is poisonous, burns, and can cause cancer and lasting allergy: gloves and goggles, never as dust, and where there is another bleach that one"}},
		{"permanganate mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "bleach-1", Role: "bleach", Name: "permanganate and acid", VolumeML: 1000},
			[]string{"permanganate with acid burns and stains skin and eyes: gloves and goggles, mixed just before use and never bottled tight, never with hydrochloric acid"}},
		{"bleach poured away", "\n" + `bath.mixed 2026-05-02T09:00:00 "bath":"bleach-1","role":"bleach","name":"reversal bleach","volume_ml":1000`, d + "10:30:00", &events.BathDiscardedData{Bath: "bleach-1"},
			[]string{"bleach-1 was a bleach: to where such waste is taken, never into drain, soil or harbour, and never into one can with acid"}},
		{"pyro mixed", "", d + "10:30:00", &events.BathMixedData{Bath: "dev-2", Role: "developer", Name: "Pyro, two parts", VolumeML: 1000}, []string{"pyro is poisonous through skin and as dust: gloves, no powder in wind or camera"}},
		{"tested for hypo, the first time", fixed, d + "10:30:00", &events.SheetTestedData{Sheet: "2026-001n", Test: "hypo", Result: "clear"},
			[]string{"silver nitrate burns and blackens skin and is worse in an eye: gloves and goggles, a few drops, water for the eyes at hand"}},
		{"tested for hypo again", fixed + "\n" + `sheet.tested 2026-05-02T10:20:00 "sheet":"2026-001n","test":"hypo","result":"trace"`, d + "10:30:00", &events.SheetTestedData{Sheet: "2026-001n", Test: "hypo", Result: "clear"}, nil},
		{"tested for silver, after a test for hypo", fixed + "\n" + `sheet.tested 2026-05-02T10:20:00 "sheet":"2026-001n","test":"hypo","result":"trace"`, d + "10:30:00", &events.SheetTestedData{Sheet: "2026-001n", Test: "silver", Result: "clear"},
			[]string{"sulphide gives off a poisonous gas with any acid: open air, away from stop and fixer; it fogs paper that lies near"}},
		{"tested for hypo after more than a month", fixed + "\n" + `sheet.tested 2026-05-02T10:20:00 "sheet":"2026-001n","test":"hypo","result":"trace"`, "2026-06-02T10:30:00", &events.SheetTestedData{Sheet: "2026-001n", Test: "hypo", Result: "clear"},
			[]string{"silver nitrate burns and blackens skin and is worse in an eye: gloves and goggles, a few drops, water for the eyes at hand"}},
		{"bleached", fixed, d + "10:30:00", &events.SheetWorkedData{Sheet: "2026-001n", How: "bleached"}, []string{"ferricyanide meets neither heat nor strong acid, which free a poisonous gas from it: gloves, and its own tray"}},
		{"waxed", fixed, d + "10:30:00", &events.SheetWorkedData{Sheet: "2026-001n", How: "waxed"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, booktest.Harbour+"\n"+`paper.received 2026-05-01T08:03:00 "box":"direct","name":"direct","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3,"works":"direct-positive"`+c.book)
			data := events.Clone(c.data)
			ids := map[string]string{}
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				for kind, name := range map[events.Kind]string{events.LightMetered: "READING", events.SheetExposed: "exposed", events.SheetDeveloped: "developed"} {
					found, err := snap.Entries(events.Query{Kinds: []events.Kind{kind}})
					require.NoError(t, err)
					if len(found) > 0 {
						ids[name] = found[0].ID.String()
					}
				}
			})
			if x, ok := data.(*events.SheetExposedData); ok && x.Reading != "" {
				x.Reading = ids["READING"]
			}
			a := answerAt(t, b, c.at, data)
			got := []string{}
			for _, w := range wording.Texts(a.Warnings) {
				for _, id := range ids {
					w = strings.ReplaceAll(w, "(entry "+id[:8]+")", "(entry ID)")
				}
				got = append(got, w)
			}
			want := append([]string{}, c.says...) // what the step itself warns of is held in calledfor
			assert.Equal(t, want, got)
		})
	}
}

// An act that lies ahead of now, or far back, is told of; one of this evening typed after midnight was likely yesterday's.
func TestHowFarAnActLiesFromNow(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour)
	for _, c := range []struct {
		now, at string
		says    string
	}{
		{"2026-05-02T12:00:00", "2026-05-02T12:10:00", ""},
		{"2026-05-02T12:00:00", "2026-05-02T12:10:01", "the time lies 10 minutes ahead of now"},
		{"2026-05-02T12:00:00", "2026-05-02T18:00:00", "the time lies 6 hours ahead of now"},
		{"2026-05-02T00:30:00", "2026-05-02T22:15:00", "the time lies 22 hours ahead of now; was it yesterday? take it back and write it with --at 'yesterday 22:15'"},
		{"2026-05-02T12:00:00", "2026-05-03T11:00:00", "the time lies 23 hours ahead of now"},
		{"2026-05-02T12:00:00", "2026-05-02T00:00:00", ""},
		{"2026-05-02T12:00:00", "2026-05-01T23:59:59", "written for 2026-05-01 23:59"},
		{"2027-05-02T12:00:00", "2026-05-02T12:00:00", "written for 2026-05-02 12:00"},
		{"2027-05-03T12:00:01", "2026-05-02T12:00:00", "the time lies 366 days back"},
	} {
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			e := events.Entry{ID: events.ID{1}, Kind: events.NoteWritten, At: booktest.Oslo(t, c.at), RecordedAt: booktest.Oslo(t, c.now), Data: &events.NoteWrittenData{About: "box-1", Text: "dry"}}
			got, err := acts.WarningsOf(snap, &e)
			require.NoError(t, err)
			if c.says == "" {
				assert.Empty(t, got, c)
			} else {
				assert.Equal(t, []string{c.says}, wording.Texts(got), c)
			}
			times, err := acts.TimeWarnings(snap, e)
			require.NoError(t, err)
			if strings.HasPrefix(c.says, "the time lies") {
				assert.Equal(t, got, times)
			} else {
				assert.Empty(t, times)
			}
		})
	}
}

// A reading of the sun as no sky gives it is likely a slip. On 2 May at noon the sun stands 45° high at 59.9° N, where a
// surface turned to it gets EV 15 and deep shade under the darkest sky EV 5 (see calc.SlipBounds, whose figures are wanted).
func TestAReadingAgainstTheSun(t *testing.T) {
	at := booktest.Oslo(t, "2026-05-02T13:00:00")
	sun, err := calc.SunPosition(at, 59.9, 10.7)
	require.NoError(t, err)
	low, high, ok, err := calc.SlipBounds(sun.AltitudeDeg)
	require.NoError(t, err)
	require.True(t, ok)
	ev := func(v float64, on, light string) *events.LightMeteredData {
		return &events.LightMeteredData{On: on, Mode: "reflected", Of: "card", EV: &v, Index: new(100.0), Light: light, Carried: events.Carried{Session: "mole"}}
	}
	height := wording.Number(float64(int(sun.AltitudeDeg + 0.5)))
	scene := "\n" + `light.metered 2026-05-02T12:50:00 "on":"scene","mode":"reflected","ev":10,"index":100,"session":"mole","light":"shade"`
	for _, c := range []struct {
		name, book string
		data       *events.LightMeteredData
		says       string
	}{
		{"just below the brightest", "", ev(high-0.01, "scene", ""), ""},
		{"over the brightest", "", ev(high+1, "scene", ""), "EV " + wording.Number(high+1) + " is 1 stops brighter than the sun at " + height + "° allows there and then: read again, or look at index, place and clock"},
		{"just over the darkest", "", ev(low+0.01, "scene", ""), ""},
		{"under the darkest", "", ev(low-2, "scene", ""), "EV " + wording.Number(low-2) + " is 2 stops darker than the deepest shade there and then: read again, look at index, place and clock, or say --light lamp"},
		{"by a lamp", "", ev(low-2, "scene", "lamp"), ""},
		// White paper reflects 2.2 stops more than 18 % does; brighter no negative is.
		{"a negative as bright as paper is", scene, ev(12.2, "negative", "shade"), ""},
		{"a negative brighter than that", scene, ev(12.3, "negative", "shade"), "the negative reads 2.3 stops brighter than the scene's mid-tone in the same light, and no paper is so bright: read again, or say which light falls on it with --light"},
		{"a negative in another light", scene, ev(12.3, "negative", "sun"), ""},
		{"a negative and no scene", "", ev(19, "negative", ""), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			booktest.Look(t, booktest.FromActs(t, booktest.Harbour+c.book), func(snap *snapshot.Snapshot) {
				e := events.Entry{ID: events.ID{1}, Kind: events.LightMetered, At: at, RecordedAt: at, Data: c.data}
				got, err := acts.WarningsOf(snap, &e)
				require.NoError(t, err)
				if c.says == "" {
					assert.Empty(t, got)
				} else {
					assert.Equal(t, []string{c.says}, wording.Texts(got))
				}
			})
		})
	}
	booktest.Tear(t, booktest.FromActs(t, booktest.Harbour+scene), time.Time{}, func(snap *snapshot.Snapshot) error {
		_, err := acts.WarningsOf(snap, &events.Entry{ID: events.ID{1}, Kind: events.LightMetered, At: at, RecordedAt: at, Data: ev(12.3, "negative", "shade")})
		return err
	})
}
