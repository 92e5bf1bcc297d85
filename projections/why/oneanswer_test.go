package why_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// fact is one thing that a book tells in several places, and what each place says of each thing. All that two places say
// of one thing must be the same. A new fact is a row.
type fact struct {
	name   string
	places map[string]says
}

// says is what a place tells, by the name of the thing.
type says func(b *told) map[string]any

var facts = []fact{
	{"called for by an exposure", map[string]says{"csv": column("sheets", "sheet", "called_for_s"), "json": ofSheet("called_for_s"), "pictures.csv": ofNegative("called_for_s")}},
	{"deviation of an exposure", map[string]says{"csv": column("sheets", "sheet", "deviation_stops"), "json": ofSheet("deviation_stops"), "pictures.csv": ofNegative("deviation_stops")}},
	{"both, in words", map[string]says{"page": onCards, "json": calledInWords}},
	{"state of a sheet", map[string]says{"csv": column("sheets", "sheet", "state"), "json": ofSheet("state"), "pictures.csv": ofNegative("state")}},
	{"verdict on a sheet", map[string]says{"csv": column("sheets", "sheet", "verdict"), "json": ofSheet("verdict"), "why": ofJudged("verdict")}},
	{"called for by a development", map[string]says{"csv": column("sheets", "sheet", "develop_called_for_s"), "json": ofStay("sheet.developed", "called_for_s")}},
	{"deviation of a development", map[string]says{"csv": column("sheets", "sheet", "develop_deviation_stops"), "json": ofStay("sheet.developed", "deviation_stops")}},
	{"called for by a fixing", map[string]says{"csv": column("sheets", "sheet", "fix_called_for_s"), "json": ofStay("sheet.fixed", "called_for_s")}},
	{"deviation of a fixing", map[string]says{"csv": column("sheets", "sheet", "fix_deviation_stops"), "json": ofStay("sheet.fixed", "deviation_stops")}},
	{"called for by a wash", map[string]says{"csv": column("sheets", "sheet", "wash_called_for_s"), "json": ofStay("sheet.washed", "called_for_s")}},
	{"what why holds a stay against", map[string]says{"why": accused, "json": ofEntries}},
	{"tones of a sheet as it was made", map[string]says{"why": strips, "page": pageTones}},

	{"state of a bath", both("baths", "bath", "state")},
	{"area in a bath", both("baths", "bath", "area_m2")},
	{"capacity of a bath", both("baths", "bath", "capacity_m2")},
	{"share used of a bath", both("baths", "bath", "used")},
	{"hours in the tray", both("baths", "bath", "age_h")},
	{"life in the tray", both("baths", "bath", "life_h")},
	{"days in the bottle", both("baths", "bath", "in_bottle_days")},
	{"days that it keeps", both("baths", "bath", "bottle_days")},
	{"temperature of a bath", both("baths", "bath", "temp_c")},
	{"called for by a bath", both("baths", "bath", "called_for_s")},
	{"the same at its nominal temperature", both("baths", "bath", "time_s")},
	{"sheets through a bath", both("baths", "bath", "sheets")},
	{"a bath mixed", both("baths", "bath", "mixed_at")},
	{"a bath last used", both("baths", "bath", "last_used_at")},
	{"a bath discarded", both("baths", "bath", "discarded_at")},

	{"sheets received", both("stock", "box", "received")},
	{"sheets exposed", both("stock", "box", "exposed")},
	{"sheets spoiled", both("stock", "box", "spoiled")},
	{"sheets cut", both("stock", "box", "cut")},
	{"sheets left", both("stock", "box", "sheets_left")},
	{"sheets a day", both("stock", "box", "per_day")},
	{"the day a box runs out", both("stock", "box", "runs_out")},
	{"index of a box", both("stock", "box", "index")},

	{"a session opened", both("sessions", "session", "opened_at")},
	{"a session closed", both("sessions", "session", "closed_at")},
	{"pictures of a session", both("sessions", "session", "pictures")},
	{"negatives of a session", both("sessions", "session", "negatives")},
	{"prints of a session", both("sessions", "session", "prints")},
	{"kept of a session", both("sessions", "session", "kept")},
	{"to be done again of a session", both("sessions", "session", "redo")},
	{"rejected of a session", both("sessions", "session", "rejected")},
	{"waiting of a session", both("sessions", "session", "waiting")},
}

// told is everything that a book tells as of one moment.
type told struct {
	tables    map[string][]map[string]string
	lists     map[string][]map[string]any
	histories []report.PictureHistory
	why       []why.Diagnosis
	tones     map[string]calledfor.SheetTones
	pages     map[string][]string // the words of each picture's page, where it was drawn
}

func both(list, key, name string) map[string]says {
	return map[string]says{"csv": column(list, key, name), "json": listed(list, key, name)}
}

func column(table, key, name string) says {
	return func(b *told) map[string]any {
		out := map[string]any{}
		for _, r := range b.tables[table] {
			v, there := r[name]
			if !there {
				panic("there is no column " + name + " in " + table)
			}
			out[r[key]] = v
		}
		return out
	}
}

func listed(list, key, name string) says {
	return func(b *told) map[string]any {
		out := map[string]any{}
		for _, r := range b.lists[list] {
			v, there := r[name]
			if !there {
				panic("there is no key " + name + " in " + list)
			}
			out[r[key].(string)] = v
		}
		return out
	}
}

// ofNegative is a column of the pictures, told of their negatives.
func ofNegative(name string) says {
	return func(b *told) map[string]any {
		out := map[string]any{}
		for picture, v := range column("pictures", "picture", name)(b) {
			out[picture+"n"] = v
		}
		return out
	}
}

func ofSheet(name string) says {
	return func(b *told) map[string]any {
		out := map[string]any{}
		for _, h := range b.histories {
			for _, s := range h.Sheets {
				out[s.Sheet] = plain(s)[name]
			}
		}
		return out
	}
}

// ofStay is what is told with the last entry of a kind on a sheet.
func ofStay(kind, name string) says {
	return func(b *told) map[string]any {
		out := map[string]any{}
		for _, h := range b.histories {
			for _, s := range h.Sheets {
				for _, e := range s.Entries {
					if e.Kind == kind {
						out[s.Sheet] = plain(e)[name]
					}
				}
			}
		}
		return out
	}
}

func ofJudged(name string) says {
	return func(b *told) map[string]any {
		out := map[string]any{}
		for _, d := range b.why {
			for _, j := range d.Judged {
				out[j.Sheet] = plain(j)[name]
			}
		}
		return out
	}
}

// ofEntries is what each stay in a developer or fixer called for.
func ofEntries(b *told) map[string]any {
	out := map[string]any{}
	for _, h := range b.histories {
		for _, s := range h.Sheets {
			for _, e := range s.Entries {
				if e.CalledForS != nil && (e.Kind == "sheet.developed" || e.Kind == "sheet.fixed") {
					out[e.ID] = *e.CalledForS
				}
			}
		}
	}
	return out
}

// accused is what why holds the stays against that it finds.
func accused(b *told) map[string]any {
	out := map[string]any{}
	for _, d := range b.why {
		for _, f := range append(append([]why.Finding{}, d.Findings...), d.Deviations...) {
			if f.Unit == "s" && f.CalledFor != nil && len(f.Entries) > 0 && f.Cause != "agitation-short" { // that one tells of the rocking
				out[f.Entries[0]] = *f.CalledFor
			}
		}
	}
	return out
}

func strips(b *told) map[string]any {
	out := map[string]any{}
	for _, d := range b.why {
		if d.Strips != nil {
			out[d.Strips.Sheet] = fmt.Sprintf("%.2f", d.Strips.Was)
		}
	}
	return out
}

func pageTones(b *told) map[string]any {
	out := map[string]any{}
	for sheet, t := range b.tones {
		_, made, _ := t.Densities()
		for i := range made {
			made[i] = math.Round(made[i]*100) / 100
		}
		out[sheet] = fmt.Sprintf("%.2f", made)
	}
	return out
}

// calledInWords is what an exposure called for and by how much it was off, as a page says it.
func calledInWords(b *told) map[string]any {
	out := map[string]any{}
	for _, h := range b.histories {
		for _, s := range h.Sheets {
			if s.DoneS == nil {
				continue
			}
			if s.CalledForS == nil {
				out[s.Sheet] = "nothing calls for a time"
				continue
			}
			kind := events.SheetExposed
			if s.Generation == snapshot.Positive {
				kind = events.SheetReprinted
			}
			text := wording.OffBy(kind, *s.CalledForS, *s.DoneS, *s.DeviationStops, 0)
			if text != wording.AsCalledFor {
				call := wording.Call{Kind: kind, S: *s.CalledForS}
				for _, e := range s.Entries {
					if e.Kind == string(kind) && call.LowS == nil {
						call.LowS, call.HighS = e.LowS, e.HighS
					}
				}
				text = "called for " + call.Brief() + ": " + text
			}
			out[s.Sheet] = text
		}
	}
	return out
}

// onCards is the line on each sheet's card that says it; the table of entries comes after the cards.
func onCards(b *told) map[string]any {
	out := map[string]any{}
	for _, h := range b.histories {
		var lines []string
		for _, text := range b.pages[h.Picture] {
			if strings.HasPrefix(text, "called for ") || text == wording.AsCalledFor || text == "nothing calls for a time" {
				lines = append(lines, text)
			}
		}
		for i, s := range h.Sheets {
			if len(lines) >= len(h.Sheets) && s.DoneS != nil {
				out[s.Sheet] = lines[i]
			}
		}
	}
	return out
}

// plain is a value as scripts read it.
func plain(v any) map[string]any {
	raw, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	var out map[string]any
	if err := json.Unmarshal(raw, &out); err != nil {
		panic(err)
	}
	return out
}

// alike says whether two places say the same. A table rounds what was calculated; null is an empty cell.
func alike(a, b any) bool {
	x, isX := asNumber(a)
	y, isY := asNumber(b)
	if isX && isY {
		return math.Abs(x-y) <= 6e-4 || math.Abs(x-y) <= 6e-6*max(math.Abs(x), math.Abs(y))
	}
	return !isX && !isY && asText(a) == asText(b)
}

func asNumber(v any) (float64, bool) {
	switch v := v.(type) {
	case float64:
		return v, true
	case string:
		n, err := strconv.ParseFloat(v, 64)
		return n, err == nil
	}
	return 0, false
}

func asText(v any) string {
	if v == nil {
		return ""
	}
	return fmt.Sprint(v)
}

// tellAll asks a book for everything that it tells; pages are drawn of so many pictures.
func tellAll(t *testing.T, b *sqlite.Book, thePages int) *told {
	out := &told{tables: map[string][]map[string]string{}, lists: map[string][]map[string]any{}, tones: map[string]calledfor.SheetTones{}, pages: map[string][]string{}}
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		newest, err := snapshot.New(tx, time.Time{}).R.Entries(events.Query{Newest: true, Limit: 1})
		require.NoError(t, err)
		require.NotEmpty(t, newest)
		at := newest[len(newest)-1].RecordedAt
		tables, err := export.NewTables(tx, at, export.Scope{}, export.TableOptions{})
		require.NoError(t, err)
		for _, name := range []string{"pictures", "sheets", "stock", "baths", "sessions"} {
			var raw bytes.Buffer
			_, err := tables.Write(name+".csv", &raw)
			require.NoError(t, err)
			rows, err := csv.NewReader(&raw).ReadAll()
			require.NoError(t, err)
			for _, row := range rows[1:] {
				r := map[string]string{}
				for i, column := range rows[0] {
					r[column] = row[i]
				}
				out.tables[name] = append(out.tables[name], r)
			}
		}
		snap := snapshot.New(tx, at)
		baths, err := report.Baths(snap, true)
		require.NoError(t, err)
		stock, err := report.Stock(snap, true)
		require.NoError(t, err)
		sessions, err := report.Sessions(snap, true)
		require.NoError(t, err)
		for _, x := range baths.Baths {
			out.lists["baths"] = append(out.lists["baths"], plain(x))
		}
		for _, x := range stock.Boxes {
			out.lists["stock"] = append(out.lists["stock"], plain(x))
		}
		for _, x := range sessions.Sessions {
			out.lists["sessions"] = append(out.lists["sessions"], plain(x))
		}
		for _, row := range out.tables["pictures"] {
			name := row["picture"]
			h, err := report.HistoryOf(snap, name, false)
			require.NoError(t, err)
			out.histories = append(out.histories, *h.Picture)
			why, err := why.Why(snap, name)
			require.NoError(t, err)
			out.why = append(out.why, why)
			p, err := snap.Picture(name)
			require.NoError(t, err)
			tones, err := calledfor.TonesOf(snap, p)
			require.NoError(t, err)
			for sheet, x := range tones {
				out.tones[sheet] = x
			}
			if thePages--; thePages >= 0 {
				pdf, err := pages.PicturePage(tx, at, name, pages.PictureOptions{LogOptions: pages.LogOptions{Created: at, Uncompressed: true}})
				require.NoError(t, err)
				out.pages[name] = wordsOf(pdf)
			}
		}
		return nil
	}))
	return out
}

var drawnText = regexp.MustCompile(`(?s)BT -?[\d.]+ -?[\d.]+ Td \(((?:\\.|[^\\)])*)\) Tj`)

// wordsOf are the pieces of text on pages that are not compressed, in the order in which they were drawn.
func wordsOf(pdf []byte) (out []string) {
	for _, m := range drawnText.FindAllSubmatch(pdf, -1) {
		var units []uint16
		var b []byte
		for i := 0; i < len(m[1]); i++ {
			c := m[1][i]
			if c == '\\' && i+1 < len(m[1]) {
				i++
				if c = m[1][i]; c == 'r' {
					c = '\r'
				}
			}
			b = append(b, c)
		}
		for i := 0; i+1 < len(b); i += 2 {
			units = append(units, uint16(b[i])<<8|uint16(b[i+1]))
		}
		out = append(out, string(utf16.Decode(units)))
	}
	return out
}

// Page, why, table and JSON say the same of every fact that they share, in every case, the demo and made lives.
func TestOneAnswer(t *testing.T) {
	const allPages = 1000
	shared := map[string]int{} // how often two places spoke of one thing
	check := func(t *testing.T, b *told) {
		for _, f := range facts {
			for first, tell := range f.places {
				said := tell(b)
				for second, other := range f.places {
					if first >= second {
						continue
					}
					for entity, w := range other(b) {
						v, there := said[entity]
						if !there {
							continue
						}
						if asText(v) != "" {
							shared[f.name+", "+first+" and "+second]++
						}
						if !alike(v, w) {
							t.Errorf("%s of %s: %s says %v, %s says %v", f.name, entity, first, v, second, w)
						}
					}
				}
			}
		}
	}
	cases, err := filepath.Glob("../../testdata/cases/*.ndjson")
	require.NoError(t, err)
	require.NotEmpty(t, cases)
	for _, path := range cases {
		t.Run(filepath.Base(path), func(t *testing.T) { check(t, tellAll(t, booktest.FromFile(t, path), allPages)) })
	}
	for i, c := range readCases(t) {
		pages := 0
		if i%10 == 0 { // to draw is slow, and the rest is the same
			pages = allPages
		}
		t.Run(c.name, func(t *testing.T) { check(t, tellAll(t, bookOf(t, caseLines(t, c.changes)), pages)) })
	}
	t.Run("demo", func(t *testing.T) {
		check(t, tellAll(t, booktest.Season(t), allPages))
	})
	for seed := range uint64(3) {
		t.Run(fmt.Sprintf("a life, seed %d", seed), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "life.ndjson")
			f, err := os.Create(path)
			require.NoError(t, err)
			_, err = eventstest.WriteLife(f, 400, seed)
			require.NoError(t, err)
			require.NoError(t, f.Close())
			check(t, tellAll(t, booktest.FromFile(t, path), 3))
		})
	}
	t.Run("every fact was met", func(t *testing.T) {
		for _, f := range facts {
			for first := range f.places {
				for second := range f.places {
					if first < second && shared[f.name+", "+first+" and "+second] == 0 {
						t.Errorf("%s: %s and %s never spoke of one thing", f.name, first, second)
					}
				}
			}
		}
	})
}
