package report_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

const heldReports = "testdata/reports.txt"

// manyDigits are figures with more digits than any machine need agree on.
var manyDigits = regexp.MustCompile(`-?\d+\.\d{8,}(e[+-]?\d+)?`)

// What each report says is held figure by figure: of a season, and of an outing that has what a season lacks, now and as of a
// day in it.
func TestEveryReportSaysWhatItSaid(t *testing.T) {
	var out strings.Builder
	season := booktest.Season(t)
	outing := booktest.FromActs(t, booktest.Outing+`
camera.described 2026-05-03T09:15:00 "camera":"quay-box","focal_mm":135,"f_widest":5.6,"f_smallest":32,"copy_f":11,"cap_sd_s":0.25,"cap_bias_s":0.1
sheet.exposed 2026-05-03T09:16:00 "picture":"2026-005","box":"box-1","f":8,"time_s":6.4,"planned_f":8,"planned_s":6,"timed":"measured","session":"lighthouse","camera":"quay-box"
sheet.judged 2026-05-03T09:17:00 "sheet":"2026-005n","verdict":"redo","stops":0.5
paper.rated 2026-05-03T09:17:30 "box":"box-1","filter":"yellow","filter_factor":3
sheet.exposed 2026-05-03T09:18:00 "picture":"2026-006","box":"box-1","f":8,"time_s":18,"filter":"yellow","filter_factor":3,"session":"lighthouse","camera":"quay-box"
sheet.judged 2026-05-03T09:19:00 "sheet":"2026-006n","verdict":"keep","stops":-0.5
bath.replenished 2026-05-03T09:20:00 "bath":"dev-1","volume_ml":200,"with":"fresh"
bath.moved 2026-05-03T09:21:00 "bath":"fix-1","to":"bottle"
paper.counted 2026-05-03T09:22:00 "box":"box-2","sheets":48
paper.spoiled 2026-05-03T09:23:00 "box":"box-1","sheets":2
sheet.attached 2026-05-03T09:24:00 "sheet":"2026-001n","sha256":"`+strings.Repeat("ab", 32)+`","media":"image/jpeg","bytes":1000,"of":"negative"
sheet.worked 2026-05-03T09:25:00 "sheet":"2026-001p2","how":"spotted"
sheet.tested 2026-05-03T09:26:00 "sheet":"2026-001p2","test":"hypo","result":"clear"`)
	rare := booktest.FromActs(t, booktest.RareDay)
	type question struct {
		name string
		ask  func(*snapshot.Snapshot) (any, error)
	}
	lists := []question{
		{"today", func(snap *snapshot.Snapshot) (any, error) { return report.Today(snap, false) }},
		{"today, all", func(snap *snapshot.Snapshot) (any, error) { return report.Today(snap, true) }},
		{"stock", func(snap *snapshot.Snapshot) (any, error) { return report.Stock(snap, false) }},
		{"stock, all", func(snap *snapshot.Snapshot) (any, error) { return report.Stock(snap, true) }},
		{"baths", func(snap *snapshot.Snapshot) (any, error) { return report.Baths(snap, false) }},
		{"baths, all", func(snap *snapshot.Snapshot) (any, error) { return report.Baths(snap, true) }},
		{"sessions", func(snap *snapshot.Snapshot) (any, error) { return report.Sessions(snap, false) }},
		{"sessions, all", func(snap *snapshot.Snapshot) (any, error) { return report.Sessions(snap, true) }},
		{"pictures", func(snap *snapshot.Snapshot) (any, error) { return report.Pictures(snap, report.PictureFilter{}) }},
		{"captions", func(snap *snapshot.Snapshot) (any, error) { return report.Captions(snap, false) }},
		{"captions, all", func(snap *snapshot.Snapshot) (any, error) { return report.Captions(snap, true) }},
		{"calibrate", func(snap *snapshot.Snapshot) (any, error) { return report.Calibrate(snap, report.CalibrateOptions{}) }},
		{"year", func(snap *snapshot.Snapshot) (any, error) {
			return report.Year(snap, 2026, report.Causes(snap))
		}},
	}
	histories := func(b *sqlite.Book, most int) (qs []question) {
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			for _, kind := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera, events.Holder, events.Strip, events.Sitter} {
				all, err := snap.R.Entities(kind)
				require.NoError(t, err)
				for i, e := range all {
					if i < most {
						qs = append(qs, question{"history of " + e.Name, func(snap *snapshot.Snapshot) (any, error) { return report.HistoryOf(snap, e.Name, true) }})
					}
				}
			}
		})
		return append(qs, question{"history of 2026-001p1", func(snap *snapshot.Snapshot) (any, error) { return report.HistoryOf(snap, "2026-001p1", false) }},
			question{"history of the book", func(snap *snapshot.Snapshot) (any, error) { return report.HistoryOf(snap, "", false) }})
	}
	for _, c := range []struct {
		name string
		b    *sqlite.Book
		asOf time.Time
		ask  []question
	}{
		{"a season", season, time.Time{}, append(lists[:len(lists):len(lists)], histories(season, 1)...)},
		{"a season as of a day in it", season, booktest.Oslo(t, "2026-06-10T12:00:00"), lists},
		{"an outing", outing, time.Time{}, append(lists[:len(lists):len(lists)], append(histories(outing, 9), question{"faces", faces})...)},
		{"an outing as of a minute in it", outing, booktest.Oslo(t, "2026-05-02T10:20:30"), lists},
		{"a day of rare things", rare, time.Time{}, append(lists[:len(lists):len(lists)], append(histories(rare, 2), question{"faces", faces})...)},
		{"a day of rare things as of its noon", rare, booktest.Oslo(t, "2026-05-02T12:00:00"), lists},
	} {
		var ids []string
		require.NoError(t, c.b.Read(func(tx *sqlite.Tx) error {
			return tx.Each(func(e events.Entry) error { ids = append(ids, e.ID.String()); return nil })
		}))
		for _, q := range c.ask {
			booktest.Look(t, c.b, func(whole *snapshot.Snapshot) {
				said, err := beside(t, snapshot.New(whole.R, c.asOf), q.ask)
				if err != nil {
					said = err.Error()
				}
				raw, err := json.MarshalIndent(said, "", " ")
				require.NoError(t, err)
				text := withoutIDs(t, string(raw), ids)
				fmt.Fprintf(&out, "==== %s: %s\n%s\n", c.name, q.name, text)
			})
		}
	}
	eventstest.Hold(t, heldReports, out.String())
}

// faces are how each sheet of each picture is shown, and what stands for the picture.
func faces(snap *snapshot.Snapshot) (any, error) {
	all, err := snap.R.Entities(events.Picture)
	if err != nil {
		return nil, err
	}
	out := map[string]any{}
	for _, e := range all {
		p, err := snap.Picture(e.Name)
		if wording.Refused(err) {
			continue
		} else if err != nil {
			return nil, err
		}
		each, err := report.Faces(snap, p)
		if err != nil {
			return nil, err
		}
		best, err := report.FaceOf(snap, p)
		if err != nil {
			return nil, err
		}
		out[e.Name] = []any{each, best}
	}
	return out, nil
}

// withoutIDs puts numbers in the place of ids, which follow from what is written, so that each new word would move them; and
// rounds figures with more digits than machines agree on.
func withoutIDs(t *testing.T, text string, ids []string) string {
	t.Helper()
	for i, id := range ids {
		text = strings.ReplaceAll(strings.ReplaceAll(text, id, fmt.Sprintf("id of entry %d", i+1)), id[:8], fmt.Sprintf("entry%03d", i+1))
	}
	return manyDigits.ReplaceAllStringFunc(text, func(n string) string {
		v, err := strconv.ParseFloat(n, 64)
		require.NoError(t, err)
		return strconv.FormatFloat(v, 'g', 9, 64)
	})
}

// taught is a book from which all can be calibrated that the program calibrates: prints that want more and prints that are
// right, filters rated and not, lights, densities on the slope and off it, strips of every sort, the hand at two caps, two
// developers; and sheets of every sort that tell nothing.
func taught() *booktest.Story {
	s := booktest.NewStory()
	s.Tell("camera.described", `"camera":"skiff","focal_mm":90,"f_widest":5.6,"f_smallest":45,"cap_sd_s":0.2,"cap_bias_s":0.1`)
	s.Tell("session.opened", `"session":"pier","camera":"pier-camera","light":"sun"`)
	s.Box("box-1")
	s.Box("box-2")
	s.Tell("paper.received", `"box":"box-3","name":"a find","base":"fb","width_mm":90,"height_mm":120,"sheets":100`)
	s.Tell("paper.rated", `"box":"box-1","threshold_s":2.5`)
	s.Tell("bath.mixed", `"bath":"dev-1","role":"developer","name":"print developer","dilution":"1+9","volume_ml":200,"time_s":60,"capacity_m2":0.108,"q10":2.5`)
	s.Tell("bath.mixed", `"bath":"dev-2","role":"developer","name":"slow developer","volume_ml":1000,"time_s":120,"capacity_m2":2`)
	s.Tell("bath.mixed", `"bath":"dev-3","role":"developer","name":"cold developer","volume_ml":200,"time_s":60,"capacity_m2":0.108`)
	n := 0
	negative := func(box string, metered, done float64, exposed, judged string) {
		n++
		s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":8,"time_s":%v,"picture":"2026-%03d"`, metered, n)
		s.Tell("sheet.exposed", `"picture":"2026-%03d","box":%q,"f":8,"time_s":%v%s`, n, box, done, exposed)
		s.Tell("sheet.judged", `"sheet":"2026-%03dn","verdict":"keep"%s`, n, judged)
	}
	for i := range 4 {
		negative("box-1", 4, 4+float64(i)/4, `,"planned_s":4,"session":"pier","timed":"measured"`, `,"stops":-0.7`)
		s.Tell("sheet.developed", `"sheet":"2026-%03dn","bath":"dev-1","time_s":%v,"temp_c":22,"time_of_appearance_s":%v`, n, 60+5*float64(i), 9+float64(i))
	}
	for i := range 5 {
		negative("box-1", 40*float64(i+1), 40*float64(i+1), `,"camera":"skiff","planned_s":40`, `,"stops":1.2`)
	}
	for i := range 6 {
		negative("box-1", 4, 12+float64(i)/2, `,"filter":"yellow","filter_factor":3`, `,"stops":0.9`)
		negative("box-1", 4, 8, `,"filter":"green","filter_factor":2`, `,"stops":0.1`)
	}
	s.Tell("paper.rated", `"box":"box-2","filter":"yellow","filter_factor":2`)
	s.Tell("paper.rated", `"box":"box-2","filter":"red","index":0.5`)
	for range 4 {
		negative("box-2", 4, 8, `,"filter":"yellow"`, `,"stops":-0.6`)
		negative("box-2", 4, 24, `,"filter":"red"`, `,"stops":0.4`)
		negative("box-2", 4, 4, `,"light":"lamp"`, `,"stops":0.5,"density":{"mid":0.9}`)
		negative("box-2", 4, 4, ``, `,"density":{"mid":0.75}`)
	}
	s.Tell("paper.rated", `"box":"box-3","index":3`)
	s.Tell("paper.rated", `"box":"box-3","filter":"green","filter_factor":2.2`)
	for _, light := range []string{"shade", "overcast", "sun", "dusk", "lamp"} {
		for range 3 {
			negative("box-3", 4, 4, fmt.Sprintf(`,"light":%q`, light), `,"stops":-1.5`)
		}
	}
	for range 5 {
		negative("box-3", 4, 8.8, `,"light":"sun","filter":"green"`, `,"stops":-1.4`)
	}
	negative("box-2", 4, 4, ``, `,"density":{"mid":1.99}`)
	negative("box-2", 4, 4, ``, `,"stops":0.3,"density":{"mid":0.1}`)
	negative("box-3", 4, 4, ``, `,"stops":0.5`)
	n++
	s.Tell("sheet.exposed", `"picture":"2026-%03d","box":"box-2","f":8,"time_s":4`, n)
	s.Tell("sheet.judged", `"sheet":"2026-%03dn","verdict":"redo","stops":1`, n)
	for i, of := range []string{"mid", "mid", "mid", "mid", "average", "lightest"} {
		for _, box := range []string{"box-1", "box-2"} {
			s.Tell("light.metered", `"on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":%q,"picture":"2026-%03d"`, of, i+1)
			s.Tell("sheet.reprinted", `"picture":"2026-%03d","box":%q,"f":11,"time_s":20,"camera":"skiff","planned_s":19.5`, i+1, box)
			sheet := fmt.Sprintf("2026-%03dp%d", i+1, map[string]int{"box-1": 1, "box-2": 2}[box])
			s.Tell("sheet.judged", `"sheet":%q,"verdict":"redo","stops":%v`, sheet, map[string]float64{"box-1": 0.8, "box-2": 0.05}[box])
			s.Tell("sheet.developed", `"sheet":%q,"bath":"dev-2","time_s":%d`, sheet, 60+i*20)
		}
	}
	s.Tell("sheet.reprinted", `"picture":"2026-001","box":"box-1","f":11,"time_s":40,"way":"contact","planned_s":39`)
	for i := range 3 {
		s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":16,"time_s":8,"session":"pier"`)
		s.Tell("strip.exposed", `"strip":"strip-%d","box":"box-2","on":"scene","f":16,"times_s":[2,4,8,16],"session":"pier"`, i+1)
		s.Tell("strip.read", `"strip":"strip-%d","best":%d,"maximum_black":4,"bath":"dev-3","time_s":%d,"temp_c":18`, i+1, 2+i%2, 50+i)
		s.Tell("strip.exposed", `"strip":"flash-%d","box":"box-1","on":"pre-flash","times_s":[1,2,4,8]`, i+1)
		s.Tell("strip.read", `"strip":"flash-%d","threshold":%d`, i+1, 2+i%2)
	}
	s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":16,"time_s":8,"session":"pier","filter":"yellow"`)
	s.Tell("strip.exposed", `"strip":"strip-8","box":"box-2","on":"scene","f":16,"times_s":[2,4,8,16],"session":"pier","filter":"yellow"`)
	s.Tell("strip.read", `"strip":"strip-8","best":2`)
	s.Tell("strip.exposed", `"strip":"strip-9","box":"box-2","on":"negative","picture":"2026-005","f":11,"times_s":[10,20,40]`)
	s.Tell("strip.read", `"strip":"strip-9","best":2`)
	s.Tell("light.metered", `"on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"average","picture":"2026-006"`)
	s.Tell("strip.exposed", `"strip":"strip-10","box":"box-2","on":"negative","picture":"2026-006","f":11,"times_s":[10,20,40]`)
	s.Tell("strip.read", `"strip":"strip-10","best":3`)
	s.Box("box-4")
	s.Tell("bath.mixed", `"bath":"dev-4","role":"developer","name":"tired developer","volume_ml":1000,"time_s":60,"capacity_m2":0.2`)
	for i := range 12 { // wants more as its bath ages
		negative("box-4", 4, 4, `,"planned_s":4.04`, fmt.Sprintf(`,"stops":%.2f`, 0.1*float64(i)+0.05*float64(i%3)))
		s.Tell("sheet.developed", `"sheet":"2026-%03dn","bath":"dev-4","time_s":%d`, n, 60+2*i)
	}
	return s
}

// What calibrate says of all that can be calibrated is held figure by figure, and it is not said beside a page that cannot be
// read.
func TestCalibrateSaysWhatItSaid(t *testing.T) {
	b := taught().Book(t)
	var ids []string
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { ids = append(ids, e.ID.String()); return nil })
	}))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		said, err := report.Calibrate(snap, report.CalibrateOptions{})
		require.NoError(t, err)
		raw, err := json.MarshalIndent(said, "", " ")
		require.NoError(t, err)
		eventstest.Hold(t, "testdata/calibrate.txt", withoutIDs(t, string(raw), ids)+"\n")
	})
	booktest.TearFirst(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
		_, err := report.Calibrate(snap, report.CalibrateOptions{})
		return err
	})
}
