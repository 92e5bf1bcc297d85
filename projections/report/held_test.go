package report_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/demo"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

var update = flag.Bool("update", false, "write the reports that are held anew")

const heldReports = "testdata/reports.txt"

// manyDigits are figures with more digits than any machine need agree on.
var manyDigits = regexp.MustCompile(`-?\d+\.\d{8,}(e[+-]?\d+)?`)

// demoSeason is the book of the demo.
func demoSeason(t *testing.T) *sqlite.Book {
	t.Helper()
	path := filepath.Join(t.TempDir(), "season.db")
	require.NoError(t, demo.Build(path, sqlite.Options{Folder: snapshot.Folder{}}))
	b, err := sqlite.Open(path, sqlite.Options{Folder: snapshot.Folder{}})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b
}

// What each report says is held figure by figure: of a season, and of an outing that has what a season lacks, now and as of a
// day in it.
func TestEveryReportSaysWhatItSaid(t *testing.T) {
	var out strings.Builder
	season := demoSeason(t)
	outing := booktest.FromActs(t, booktest.Outing+`
camera.described 2026-05-03T09:15:00 "camera":"quay-box","focal_mm":135,"f_widest":5.6,"f_smallest":32,"copy_f":11,"cap_sd_s":0.25,"cap_bias_s":0.1
sheet.exposed 2026-05-03T09:16:00 "picture":"2026-005","box":"box-1","f":8,"time_s":6.4,"planned_f":8,"planned_s":6,"text":"hand timer: measured","session":"lighthouse","camera":"quay-box"
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
		{"calibrate", func(snap *snapshot.Snapshot) (any, error) { return report.Calibrate(snap, report.CalibrateOptions{}) }},
		{"year", func(snap *snapshot.Snapshot) (any, error) {
			return report.Year(snap, 2026, func(p string) ([]report.CauseShare, error) { return report.Causes(snap, p) })
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
		{"an outing", outing, time.Time{}, append(lists[:len(lists):len(lists)], histories(outing, 9)...)},
		{"an outing as of a minute in it", outing, booktest.Oslo(t, "2026-05-02T10:20:30"), lists},
	} {
		var ids []string
		require.NoError(t, c.b.Read(func(tx *sqlite.Tx) error {
			return tx.Each(func(e events.Entry) error { ids = append(ids, e.ID.String()); return nil })
		}))
		for _, q := range c.ask {
			booktest.Look(t, c.b, func(whole *snapshot.Snapshot) {
				said, err := q.ask(snapshot.New(whole.R, c.asOf))
				if err != nil {
					said = err.Error()
				}
				raw, err := json.MarshalIndent(said, "", " ")
				require.NoError(t, err)
				text := string(raw)
				for i, id := range ids { // an id follows from what is written, so that each new word would move it
					text = strings.ReplaceAll(strings.ReplaceAll(text, id, fmt.Sprintf("id of entry %d", i+1)), id[:8], fmt.Sprintf("entry%03d", i+1))
				}
				text = manyDigits.ReplaceAllStringFunc(text, func(n string) string {
					v, err := strconv.ParseFloat(n, 64)
					require.NoError(t, err)
					return strconv.FormatFloat(v, 'g', 9, 64)
				})
				fmt.Fprintf(&out, "==== %s: %s\n%s\n", c.name, q.name, text)
			})
		}
	}
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(heldReports, []byte(out.String()), 0o644))
		return
	}
	raw, err := os.ReadFile(heldReports)
	require.NoError(t, err)
	want, is := strings.Split(string(raw), "\n"), strings.Split(out.String(), "\n")
	for i := range max(len(want), len(is)) {
		if i >= len(want) || i >= len(is) || want[i] != is[i] {
			require.Equal(t, strings.Join(want[min(i, len(want)):min(i+3, len(want))], "\n"), strings.Join(is[min(i, len(is)):min(i+3, len(is))], "\n"), "line %d of %s; where it is meant, -update writes it", i+1, heldReports)
		}
	}
}
