package acts_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// What is impossible is refused in the words of the one who writes, with what to do instead.
func TestAnActThatIsImpossibleIsRefused(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing)
	for _, c := range []struct {
		data       events.Data
		text, hint string
	}{
		{&events.SessionOpenedData{Session: "mole"}, `session "mole" is open already or was; give the new session another name`, ""},
		{&events.PaperReceivedData{Box: "box-1", Name: "quay", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 9}, `box "box-1" is in the book already; leave out --box for the next number`, ""},
		{&events.BathMixedData{Bath: "dev-1", Role: "developer", Name: "Amber", VolumeML: 500}, `bath "dev-1" is in the book already; leave out --bath for the next number`, ""},
		{&events.StripExposedData{Strip: "s1", On: "scene", TimesS: []float64{1, 2}}, `strip "s1" is in the book already; give the new strip another name`, ""},
		{&events.SessionOpenedData{Session: "box-1"}, `"box-1" is a box already, so it cannot be a session`, "give another name"},
		{&events.PaperCutData{Box: "small", Into: "small", Sheets: 1, Parts: 2, WidthMM: 25, HeightMM: 31}, "a box cannot be cut into itself", "leave --into out for a new box"},
		{&events.NoteWrittenData{About: "lantern", Text: "lit"}, `nothing is called "lantern"`, "`traybook pictures`, `stock`, `baths` and `sessions` list what there is"},
		{&events.CameraCheckedData{Camera: "skiff", What: "rail", Result: "good"}, `there is no camera "skiff"`, "traybook camera describe"},
		{&events.StripReadData{Strip: "s9"}, `there is no strip "s9"`, "traybook strip"},
		{&events.SheetDeliveredData{Sheet: "2026-001p2", To: "sitter-9"}, `there is no sitter "sitter-9"`, ""},
		{&events.SheetJudgedData{Sheet: "2026-001p7", Verdict: "keep"}, "the sheet 2026-001p7 was never exposed", "`traybook history 2026-001` shows what there is"},
		{&events.SheetJudgedData{Sheet: "2026-077n", Verdict: "keep"}, `there is no picture "2026-077"`, "`traybook pictures` lists the pictures"},
		{&events.SheetReprintedData{Picture: "2026-077", Sheet: "2026-077p1", TimeS: 4}, `there is no picture "2026-077"`, "`traybook pictures` lists the pictures"},
		{&events.PaperRatedData{Box: "box-1"}, "the rating of box-1 holds no figure, so it would rate nothing", "give what was measured, such as --index 4"},
		{&events.PaperRatedData{Box: "box-1", FilterFactor: new(3.0)}, "a filter's factor counts only with its filter", "name it with --filter"},
		{&events.SheetExposedData{Picture: "2026-009", Box: "box-1", F: 8, TimeS: 4, Motion: "child", MotionMMS: new(3.0)}, "motion and motion_mm_s stand together, and one thing is said once", "an amendment takes the other out, as in motion="},
		{&events.SheetReprintedData{Picture: "2026-001", Box: "box-1", TimeS: 4, PreFlash: new(0.5), PreFlashS: new(3.0)}, "pre_flash and pre_flash_s stand together, and one thing is said once", "as in pre_flash="},
		{&events.PaperCutData{Box: "box-1", Into: "strips", Sheets: 1, Parts: 1, WidthMM: 104, HeightMM: 110}, "a part of 104 × 110 mm is larger than a sheet of box-1, 100 × 125 mm", "mend --size"},
		{&events.PaperCutData{Box: "box-1", Into: "strips", Sheets: 1, Parts: 1, WidthMM: 20, HeightMM: 129}, "a part of 20 × 129 mm is larger than a sheet of box-1, 100 × 125 mm", "mend --size"},
		{&events.PaperCutData{Box: "box-1", Into: "strips", Sheets: 1, Parts: 5, WidthMM: 50, HeightMM: 62.5}, "5 parts of 50 × 62.5 mm are larger than a sheet of box-1, 100 × 125 mm", "at most 4"},
		{&events.EntryVoidedData{Entry: strings.Repeat("ab", 16)}, `there is no entry "` + strings.Repeat("ab", 16) + `"`, "four digits or more name one"},
	} {
		t.Run(c.text, func(t *testing.T) {
			e := booktest.ByHand(t, 1, c.data)
			_, err := writtenTo(t, b, e)
			text, hint := refused(t, err)
			assert.Equal(t, c.text, text)
			assert.Contains(t, hint, c.hint)
		})
	}
}

// What a size is called may be 3 % off: a part of that much more than the sheet still comes out of it, either way round.
func TestAPartMayBeCalledALittleLarger(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing)
	for i, x := range []events.PaperCutData{{Parts: 1, WidthMM: 103, HeightMM: 128.7}, {Parts: 1, WidthMM: 128.7, HeightMM: 103}, {Parts: 4, WidthMM: 51, HeightMM: 64}} {
		x.Box, x.Into, x.Sheets = "box-1", fmt.Sprint("part-", i), 1
		e := booktest.ByHand(t, i+1, &x)
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error { _, err := acts.Write(tx, &e, acts.WriteOptions{}); return err }))
	}
}

// What is mended is held to what any act is held to: its camera must be one, and one thing is said once. What stood so
// already, from a file, may be mended in another word.
func TestWhatIsMendedMustBePossible(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing, `sheet.exposed 2026-05-03T09:13:00 "picture":"2026-005","box":"box-1","f":8,"time_s":6,"motion":"child","session":"lighthouse","camera":"quay-box"`)
	said := events.Entry{}
	n := 0
	amend := func(id events.ID, set string) error {
		var s events.Set
		require.NoError(t, json.Unmarshal([]byte(set), &s))
		n++
		e := booktest.ByHand(t, 100+n, &events.EntryAmendedData{Entry: id.String(), Set: s})
		_, err := writtenTo(t, b, e)
		return err
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}, Newest: true, Limit: 1})
		require.NoError(t, err)
		said = found[0]
	})
	for set, want := range map[string]string{
		`{"camera":"lantern"}`: `there is no camera "lantern"`, `{"camera":"box-1"}`: `"box-1" is a box, not a camera`, `{"motion_mm_s":3}`: "motion and motion_mm_s stand together, and one thing is said once",
		`{"subject":"x","camera":"mole"}`: `"mole" is a session, not a camera`,
	} {
		text, _ := refused(t, amend(said.ID, set))
		assert.Equal(t, want, text)
	}
	for _, set := range []string{`{"camera":null}`, `{"camera":"quay-box"}`, `{"motion":null,"motion_mm_s":3}`, `{"subject":"ferry"}`} {
		assert.NoError(t, amend(said.ID, set), set)
	}
	both := booktest.ByHand(t, 90, &events.SheetExposedData{Picture: "2026-006", Sheet: "2026-006n", Box: "box-1", F: 8, TimeS: 4, Motion: "child", MotionMMS: new(3.0)})
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error { return tx.Append(&both) }), "a file brings it")
	assert.NoError(t, amend(both.ID, `{"subject":"ferry"}`), "it stood so already")
	text, _ := refused(t, amend(both.ID, `{"pre_flash":0.5,"pre_flash_s":2,"motion":null}`))
	assert.Equal(t, "pre_flash and pre_flash_s stand together, and one thing is said once", text)
}

// A reading that was taken back serves nobody, and digits that fit two entries name neither.
func TestAnEntryThatCannotBeMeantIsRefused(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing)
	write := func(id events.ID, data events.Data) error {
		e := booktest.ByHand(t, 1, data)
		e.ID = id
		_, err := writtenTo(t, b, e)
		return err
	}
	reading := events.ID{0xee, 1}
	require.NoError(t, write(reading, &events.LightMeteredData{On: "scene", Mode: "incident", Lux: new(4000.0)}))
	require.NoError(t, write(events.ID{0xee, 1, 1}, &events.EntryVoidedData{Entry: reading.String()}))
	text, hint := refused(t, write(events.ID{0xee, 2}, &events.SheetExposedData{Box: "box-1", F: 8, TimeS: 4, Reading: reading.String()}))
	assert.Equal(t, "the reading ee010000 was taken back", text)
	assert.Equal(t, "name another, or leave --reading out", hint)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		_, err := acts.Entry(snap, "ee01")
		text, hint := refused(t, err)
		assert.Equal(t, `"ee01" fits 2 entries`, text)
		assert.Equal(t, "give more of its digits", hint)
	})
}

// A look at what is not there is refused likewise.
func TestALookAtWhatIsNotThereIsRefused(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing)
	for _, c := range []struct {
		text, hint string
		look       func(*snapshot.Snapshot) error
	}{
		{`"box-1" is a box, not a strip`, "traybook strip", func(snap *snapshot.Snapshot) error { _, err := calledfor.StripOf(snap, "box-1"); return err }},
		{`there is no camera "skiff"`, "traybook camera describe", func(snap *snapshot.Snapshot) error { _, err := snap.Camera("skiff"); return err }},
		{`"2026-001" is no sheet`, "a sheet is called 2026-014n or 2026-014p1", func(snap *snapshot.Snapshot) error { _, _, err := snap.SheetByName("2026-001"); return err }},
		{"there is no sheet 2026-001p7", "`traybook history 2026-001` shows what there is", func(snap *snapshot.Snapshot) error { _, _, err := snap.SheetByName("2026-001p7"); return err }},
		{"there is no sheet 2026-001p7", "`traybook history 2026-001` shows what there is", func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "2026-001p7", false); return err }},
		{`nothing is called "lantern"`, "list what there is", func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "lantern", false); return err }},
		{`nothing is called "Lantern"`, "list what there is", func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "Lantern", false); return err }},
	} {
		t.Run(c.text, func(t *testing.T) {
			booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
				text, hint := refused(t, c.look(snap))
				assert.Equal(t, strings.ToLower(c.text), strings.ToLower(text))
				assert.Contains(t, hint, c.hint)
			})
		})
	}
	booktest.LookAt(t, b, "2026-05-01T08:01:30", func(snap *snapshot.Snapshot) {
		_, err := report.HistoryOf(snap, "box-1", false)
		text, hint := refused(t, err)
		assert.Equal(t, "nothing was written of box-1 by 2026-05-01 08:01", text)
		assert.Equal(t, "give a later --as-of, or leave it out", hint)
	})
}

// bareFile is a book's beginning, as lines by hand.
var bareFile = []string{
	`{"kind":"book.opened","at":"2026-05-01T08:00:00+02:00","data":{"zone":"Europe/Oslo"}}`,
	`{"kind":"paper.received","at":"2026-05-01T08:02:00+02:00","data":{"box":"box-1","name":"quay","base":"rc","width_mm":90,"height_mm":120,"sheets":25,"index":3}}`,
	`{"kind":"bath.mixed","at":"2026-05-01T08:03:00+02:00","data":{"bath":"dev-1","role":"developer","name":"Amber","volume_ml":500,"time_s":60}}`,
	`{"kind":"sheet.exposed","at":"2026-05-01T09:00:00+02:00","id":"ee000000000000000000000000000001","data":{"box":"box-1","f":8,"time_s":4}}`,
}

func parsed(t testing.TB, texts ...string) (out []acts.ImportLine) {
	t.Helper()
	for i, text := range texts {
		l, err := events.ParseLine([]byte(text))
		require.NoError(t, err, text)
		out = append(out, acts.ImportLine{Line: l, Number: i + 1})
	}
	return out
}

// takenIn takes lines into a book, and none of them where one is refused.
func takenIn(t *testing.T, b *sqlite.Book, lines []acts.ImportLine) (got acts.Imported, err error) {
	t.Helper()
	met.Try(t, b, func(r *eventstest.Torn) error {
		again := slices.Clone(lines)
		for i := range again {
			again[i].Data = events.Clone(lines[i].Data)
		}
		_, err := acts.ImportPlain(r, again, booktest.Recorded, events.ID{1}, events.ID{2}, nil)
		return err
	})
	err = b.Write(func(tx *sqlite.Tx) (err error) {
		got, err = acts.ImportPlain(tx, lines, booktest.Recorded, events.ID{1}, events.ID{2}, nil)
		return err
	})
	return got, err
}

// A file taken in a second time adds nothing, also where its lines leave out what the book filled in. A line under a known
// id that says something else is refused, by its number.
func TestAFileTwiceAddsNothingAndAnotherContentIsRefused(t *testing.T) {
	b := booktest.FromActs(t, "book.opened 2026-05-01T07:00:00 \"zone\":\"Europe/Oslo\"")
	_, err := takenIn(t, b, parsed(t, bareFile[1:]...))
	require.NoError(t, err)
	got, err := takenIn(t, b, parsed(t, bareFile[1:]...))
	require.NoError(t, err)
	assert.Equal(t, 3, got.Known)
	assert.Equal(t, 0, got.Added)

	const line = `{"kind":"sheet.exposed","at":"2026-05-01T09:00:00+02:00","id":"ee000000000000000000000000000001","data":{`
	const other = "line 1: the id ee000000… is in the book with other content"
	for _, c := range []struct{ name, line, refused string }{
		{"what the book filled in, said", line + `"picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4}}`, ""},
		{"another time", line + `"box":"box-1","f":8,"time_s":5}}`, other},
		{"a field more", line + `"box":"box-1","f":8,"time_s":4,"subject":"ferry mate"}}`, other},
		{"a field less", line + `"box":"box-1","f":8,"time_s":4}}`, ""},
		{"another moment", strings.Replace(line, "09:00:00", "09:00:01", 1) + `"box":"box-1","f":8,"time_s":4}}`, other},
		{"another kind", `{"kind":"moment.marked","at":"2026-05-01T09:00:00+02:00","id":"ee000000000000000000000000000001","data":{}}`, other},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := takenIn(t, b, parsed(t, c.line))
			if c.refused == "" {
				require.NoError(t, err)
				return
			}
			require.EqualError(t, err, c.refused)
		})
	}
}

// What cannot be taken in says which line it was, and nothing of the file stays.
func TestAFileIsTakenInWholeOrNotAtAll(t *testing.T) {
	const amend = `{"kind":"entry.amended","at":"2026-05-01T10:00:00+02:00","data":{"entry":"ee000000000000000000000000000001","set":{"time_s":5}}}`
	for _, c := range []struct {
		name    string
		lines   []string
		refused string
	}{
		{"an amendment before what it amends", []string{bareFile[0], bareFile[1], amend, bareFile[3]}, "line 3: names an entry of a later line; only an earlier one can be named"},
		{"one line twice", append(bareFile[:4:4], bareFile[3]), "line 5: is line 4 again; a file holds each line once"},
		{"a box that nothing brings in", []string{bareFile[0], bareFile[3]}, `line 2: there is no box "box-1"`},
		{"a reading that is none", append(bareFile[:4:4], `{"kind":"sheet.exposed","at":"2026-05-01T09:30:00+02:00","data":{"box":"box-1","f":8,"time_s":4,"reading":"ee000000000000000000000000000001"}}`),
			"line 5: the entry ee000000 is no reading of the light; it says: 2026-001n exposed"},
		{"a field out of its bounds", append(bareFile[:4:4], `{"kind":"sheet.exposed","at":"2026-05-01T09:30:00+02:00","data":{"box":"box-1","f":8,"time_s":-4}}`), "line 5: sheet.exposed: time_s"},
		{"an amendment dated before what it amends", append(bareFile[:4:4], strings.Replace(amend, "T10:00", "T07:00", 1)), ""},
		{"a camera checked whose holder nobody loaded", append(bareFile[:4:4],
			`{"kind":"camera.described","at":"2026-05-01T08:01:00+02:00","data":{"camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32}}`,
			`{"kind":"camera.checked","at":"2026-05-01T09:30:00+02:00","data":{"camera":"skiff","what":"holder","result":"good","holder":"left"}}`), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, "book.opened 2026-05-01T07:00:00 \"zone\":\"Europe/Oslo\"")
			_, err := takenIn(t, b, parsed(t, c.lines...))
			booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
				boxes, errEntities := snap.R.Entities(events.Box)
				require.NoError(t, errEntities)
				if c.refused == "" {
					require.NoError(t, err)
					assert.Len(t, boxes, 1)
					return
				}
				var at *events.LineError
				require.ErrorAs(t, err, &at)
				assert.ErrorContains(t, err, c.refused)
				assert.Empty(t, boxes)
			})
		})
	}
}

// fullDisk is a store of an import buffer that takes no more bytes than it has room for, and gives back none where it cannot read.
type fullDisk struct {
	room  int
	blind bool
	b     []byte
}

var errDisk = errors.New("no space is left")

func (s *fullDisk) Write(p []byte) (int, error) {
	if len(s.b)+len(p) > s.room {
		return 0, errDisk
	}
	s.b = append(s.b, p...)
	return len(p), nil
}

func (s *fullDisk) ReadAt(p []byte, off int64) (int, error) {
	if s.blind {
		return 0, errDisk
	}
	return copy(p, s.b[off:]), nil
}

// Lines that cannot be laid down or taken up again while they are put in order are told of, and none is taken in.
func TestAPileOnAFullDiskIsToldOf(t *testing.T) {
	lines := parsed(t, bareFile...)
	p := acts.NewImportBuffer(&fullDisk{room: 200})
	require.NoError(t, p.Add(lines[0].Line))
	err := p.Add(lines[1].Line)
	require.ErrorIs(t, err, errDisk)
	assert.EqualError(t, err, "the lines cannot be kept while they are put in order: no space is left")

	b := booktest.FromActs(t, "book.opened 2026-05-01T07:00:00 \"zone\":\"Europe/Oslo\"")
	p = acts.NewImportBuffer(&fullDisk{room: 1 << 20, blind: true})
	for _, l := range lines[1:] {
		l.N = l.Number
		require.NoError(t, p.Add(l.Line))
	}
	err = b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportBuffered(tx, p, booktest.Recorded, events.ID{1}, events.ID{2}, nil)
		return err
	})
	require.ErrorIs(t, err, errDisk)
	assert.EqualError(t, err, "line 2: the lines that were kept while they were put in order cannot be read: no space is left")
}

// What a sitter allows is the latest word on each use that was not withdrawn and has not run out.
func TestASittersConsentAndPictures(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-010","box":"box-1","f":8,"time_s":4,"sitter":"sitter-1"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"sitter":"sitter-1"
sheet.exposed 2026-05-02T10:02:00 "picture":"2025-030","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T10:02:30 "sheet":"2025-030n","bath":"dev-1","time_s":60
sheet.delivered 2026-05-02T10:03:00 "sheet":"2025-030n","to":"sitter-1"
sitter.consented 2026-05-02T10:04:00 "sitter":"sitter-1","to":"keep"
sitter.consented 2026-05-02T10:05:00 "sitter":"sitter-1","to":"show","until":"2026-06"
sitter.consented 2026-05-02T10:06:00 "sitter":"sitter-1","to":"publish"
sitter.consented 2026-05-03T10:06:00 "sitter":"sitter-1","to":"publish","withdrawn":true`)
	for _, c := range []struct {
		asOf string
		want []string
	}{
		{"2026-05-02T10:04:30", []string{"keep"}},
		{"2026-05-02T12:00:00", []string{"keep", "show until 2026-06", "publish"}},
		{"2026-06-30T12:00:00", []string{"keep", "show until 2026-06"}}, // to the end of the month
		{"2026-07-01T12:00:00", []string{"keep"}},
		{"", []string{"keep", "show until 2026-06"}},
	} {
		booktest.LookAt(t, b, c.asOf, func(snap *snapshot.Snapshot) {
			got, err := snap.AllowedBy("sitter-1")
			require.NoError(t, err)
			assert.Equal(t, c.want, got, c.asOf)
		})
	}
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		got, err := snap.PicturesOf("sitter-1")
		require.NoError(t, err)
		assert.Equal(t, []string{"2025-030", "2026-002", "2026-010"}, got, "by number, on it or given to")
		for _, f := range []func(string) ([]string, error){snap.PicturesOf, snap.AllowedBy} {
			got, err = f("sitter-7")
			require.NoError(t, err)
			assert.Empty(t, got)
		}
		r, err := report.Pictures(snap, report.PictureFilter{Sitter: "sitter-1"})
		require.NoError(t, err)
		assert.Len(t, r.Pictures, 3)
	})
}

// Every entry is one line in the words of the trade.
func TestSentences(t *testing.T) {
	id := strings.Repeat("ab", 16)
	for want, data := range map[string]events.Data{
		"book salvaged, 3 entries missing; wet":                     &events.BookSalvagedData{From: "old.db", Missing: 3, Text: "wet"},
		"dev-1 into the bag":                                        &events.BathMovedData{Bath: "dev-1", To: "carried"},
		"dev-1 replenished with 250 ml replenisher":                 &events.BathReplenishedData{Bath: "dev-1", VolumeML: 250, With: "replenisher"},
		"dev-1 tested: temperature 18.5 °C":                         &events.BathTestedData{Bath: "dev-1", Test: "temperature", Value: 18.5},
		"fix-1 tested: silver-strip 2 g/l":                          &events.BathTestedData{Bath: "fix-1", Test: "silver-strip", Value: 2, Unit: "g/l"},
		"2026-001n developed 60 s in dev-1 at 19 °C, by inspection": &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60, TempC: new(19.0), By: "inspection"},
		"2026-001n washed, 1 change of 1000 ml":                     &events.SheetWashedData{Sheet: "2026-001n", Changes: new(1), VolumeML: new(1000.0)},
		"2026-001n washed, 5 min running, aid soda":                 &events.SheetWashedData{Sheet: "2026-001n", RunningS: new(300.0), Aid: "soda"},
		"2026-001p1 toned in toner-1":                               &events.SheetTonedData{Sheet: "2026-001p1", Bath: "toner-1"},
		"2026-001p1 spotted":                                        &events.SheetWorkedData{Sheet: "2026-001p1", How: "spotted"},
		"2026-001p1 tested for hypo: trace":                         &events.SheetTestedData{Sheet: "2026-001p1", Test: "hypo", Result: "trace"},
		"2026-001p1: redo, too-light, asks for +1 stop":             &events.SheetJudgedData{Sheet: "2026-001p1", Verdict: "redo", Symptoms: []string{"too-light"}, Stops: new(1.0)},
		"2026-001p1: scan " + id[:8] + "… attached":                 &events.SheetAttachedData{Sheet: "2026-001p1", SHA256: id + id},
		"sitter-1 consents to show until 2026-06":                   &events.SitterConsentedData{Sitter: "sitter-1", To: "show", Until: "2026-06"},
		"sitter-1 withdraws the consent to show":                    &events.SitterConsentedData{Sitter: "sitter-1", To: "show", Withdrawn: new(true)},
		"sitter-1 erased":                                           &events.SitterErasedData{Sitter: "sitter-1"},
		"moment marked; bell":                                       &events.MomentMarkedData{Text: "bell"},
		"entry abababab amended: time = 5 s, f = 8":                 &events.EntryAmendedData{Entry: id, Set: events.Set{{Name: "time_s", Value: []byte("5")}, {Name: "f", Value: []byte("8")}}},
		"entry abababab amended: distance = 3 mm, filter taken out": &events.EntryAmendedData{Entry: id, Set: events.Set{{Name: "subject_mm", Value: []byte("3")}, {Name: "filter", Value: []byte("null")}}},
		"entry abababab voided":                                     &events.EntryVoidedData{Entry: id},
		"batch abababab voided":                                     &events.EntryVoidedData{Batch: id},
		"scene metered: EV 12 at index 100":                         &events.LightMeteredData{On: "scene", EV: new(12.0)},
		"scene metered: 4000 lx":                                    &events.LightMeteredData{On: "scene", Lux: new(4000.0)},
		"scene metered: 90 lx, of the light, zone +2 stops":         &events.LightMeteredData{On: "scene", Lux: new(90.0), Of: "light", ZoneStops: new(2.0)},
		"negative metered: 30 cd/m², of the mid":                    &events.LightMeteredData{On: "negative", CdM2: new(30.0), Of: "mid"},
	} {
		assert.Equal(t, want, (&snapshot.Snapshot{}).Sentence(events.Entry{Kind: data.Kind(), Data: data}))
	}
}
