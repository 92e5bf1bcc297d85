package export_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/projections/booktest"
	"traybook/projections/wording"
)

// records reads a table as maps from column to cell.
func records(t testing.TB, text string) []map[string]string {
	t.Helper()
	r := csv.NewReader(strings.NewReader(text))
	rows, err := r.ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func TestTablesCarryTheNumbersOfACase(t *testing.T) {
	got := tablesOf(t, booktest.FromLines(t, booktest.CaseLines(t, "print-wrong-aperture")), export.Scope{}, export.TableOptions{})
	require.Len(t, got, 12)
	sheets := records(t, got["sheets.csv"])
	require.Len(t, sheets, 2)
	p := sheets[1]
	require.Equal(t, "2026-001p1", p["sheet"])
	require.Equal(t, "10", p["called_for_s"]) // the reading called for 20 s at f/11, which is 10 s at f/8
	require.Equal(t, "2", p["deviation_stops"])
	require.Equal(t, "0.012954", p["area_m2"]) // 102 × 127 mm
	require.Equal(t, "60", p["develop_s"])
	require.Equal(t, "1000", records(t, got["baths.csv"])[0]["volume_ml"])
	stock := records(t, got["stock.csv"])
	require.Equal(t, "98", stock[0]["sheets_left"])
	require.Equal(t, "2", stock[0]["exposed"])
	require.Equal(t, "1", records(t, got["pictures.csv"])[0]["prints"])
	require.Equal(t, strings.Count(booktest.CaseLines(t, "print-wrong-aperture"), "\n"), len(records(t, got["entries.csv"])))
}

const mendLines = `{"kind":"entry.amended","at":"2026-06-07T10:00:00+02:00","data":{"entry":"ENTRY","set":{"time_s":8}}}
{"kind":"note.written","at":"2026-06-07T11:00:00+02:00","id":"00000000000000000000000000000001","data":{"about":"2026-001","text":"=SUM(A1) \"quoted\", Ωμέγα\nsecond line"}}
{"kind":"note.written","at":"2026-06-07T12:00:00+02:00","id":"00000000000000000000000000000002","data":{"about":"2026-001","text":"taken back"}}
{"kind":"entry.voided","at":"2026-06-07T13:00:00+02:00","data":{"entry":"00000000000000000000000000000002"}}
`

// grown is a file that a table goes into.
type grown struct {
	bytes.Buffer
	shut int
}

func (g *grown) Close() error {
	g.shut++
	return nil
}

// All tables together hold what each of them holds alone, however many pictures are gone through at once.
func TestAllTablesTogetherAreEachAlone(t *testing.T) {
	b := booktest.Season(t)
	for _, scope := range []export.Scope{{}, {Year: 2026}, {Session: records(t, tablesOf(t, b, export.Scope{}, export.TableOptions{})["sessions.csv"])[0]["session"]}} {
		want := tablesOf(t, b, scope, export.TableOptions{})
		for _, run := range []int{1, 7, 0} {
			require.NoError(t, b.ReadTwice(func(tx, other *sqlite.Tx) error {
				asOf, err := tx.NewestRecorded()
				require.NoError(t, err)
				tables, err := export.NewTables(tx, asOf, scope, export.TableOptions{Run: run})
				require.NoError(t, err)
				var m sync.Mutex
				got := map[string]*grown{}
				counts, err := tables.WriteAll(tables.Beside(other), func(name string) (io.WriteCloser, error) {
					m.Lock()
					defer m.Unlock()
					require.NotContains(t, got, name)
					got[name] = &grown{}
					return got[name], nil
				})
				require.NoError(t, err)
				require.Len(t, got, len(want))
				for i, name := range export.TableNames() {
					require.Equal(t, want[name], got[name].String(), "%s in runs of %d", name, run)
					require.Equal(t, len(records(t, want[name])), counts[i], name)
					require.Equal(t, 1, got[name].shut, name)
				}
				return nil
			}))
		}
	}
}

// Where a place for a table fails, or either look at the book, no table is said to be written, and every file that was begun is closed.
func TestAllTablesTogetherFailTogether(t *testing.T) {
	b := booktest.Season(t)
	require.NoError(t, b.ReadTwice(func(tx, other *sqlite.Tx) error {
		for _, name := range append(export.TableNames(), "one look", "the other look") {
			one, two := &eventstest.Torn{Log: tx}, &eventstest.Torn{Log: other}
			tables, err := export.NewTables(tornSource{one, tx}, booktest.Recorded, export.Scope{}, export.TableOptions{Run: 5})
			require.NoError(t, err)
			switch name {
			case "one look":
				one.Fails = one.Asked + 1
			case "the other look":
				two.Fails = 1
			}
			var m sync.Mutex
			var begun []*grown
			_, err = tables.WriteAll(tables.Beside(tornSource{two, other}), func(table string) (io.WriteCloser, error) {
				m.Lock()
				defer m.Unlock()
				if table == name {
					return nil, eventstest.ErrTorn
				}
				begun = append(begun, &grown{})
				return begun[len(begun)-1], nil
			})
			require.ErrorIs(t, err, eventstest.ErrTorn, name)
			for _, g := range begun {
				require.Equal(t, 1, g.shut, name)
			}
		}
		return nil
	}))
}

func TestMendedEntriesShowWhatCounts(t *testing.T) {
	b := booktest.FromLines(t, booktest.CaseLines(t, "good-picture"))
	var exposed string
	for _, e := range records(t, tablesOf(t, b, export.Scope{}, export.TableOptions{})["entries.csv"]) {
		if e["kind"] == "sheet.exposed" {
			exposed = e["id"]
		}
	}
	booktest.AddLines(t, b, strings.ReplaceAll(mendLines, "ENTRY", exposed))
	got := tablesOf(t, b, export.Scope{}, export.TableOptions{})
	counts := map[string]string{}
	for _, e := range records(t, got["entries.csv"]) {
		counts[e["id"]] = e["counts"]
		if e["id"] == exposed {
			require.Contains(t, e["data"], `"time_s":8`)
		}
	}
	require.Equal(t, "amended", counts[exposed])
	require.Equal(t, "yes", counts["00000000000000000000000000000001"])
	require.Equal(t, "voided", counts["00000000000000000000000000000002"])
	n := records(t, got["sheets.csv"])[0]
	require.Equal(t, "8", n["time_s"])
	require.Equal(t, "0.462", n["deviation_stops"]) // log2(8 ÷ 5.81)
	require.Contains(t, got["entries.csv"], "note on 2026-001;' =SUM(A1) \"\"quoted\"\", Ωμέγα\nsecond line")
}

// The fields of an entry stand in its table as they were written, with what a page of HTML would have otherwise.
func TestTheFieldsOfAnEntryStandAsTheyWereWritten(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "Søn & <mate>"))
	require.Contains(t, tablesOf(t, b, export.Scope{}, export.TableOptions{})["entries.csv"], `""subject"":""Søn & <mate>""`)
}

func TestNoTextOfATableIsAFormula(t *testing.T) {
	lines := strings.Replace(booktest.CaseLines(t, "good-picture"), `"subject":"ferry mate"`, `"subject":"=HYPERLINK(1)"`, 1)
	got := records(t, tablesOf(t, booktest.FromLines(t, lines), export.Scope{}, export.TableOptions{})["pictures.csv"])
	require.Equal(t, "'=HYPERLINK(1)", got[0]["subject"])
}

func TestEveryTableAndColumnIsExplained(t *testing.T) {
	schema := export.SchemaPage()
	for name, text := range tablesOf(t, booktest.FromLines(t, booktest.CaseLines(t, "good-picture")), export.Scope{}, export.TableOptions{}) {
		_, section, found := strings.Cut(schema, "## "+name)
		require.True(t, found, name)
		section, _, _ = strings.Cut(section, "\n## ")
		head, _, _ := strings.Cut(text, "\r\n")
		require.Equal(t, len(strings.Split(head, ",")), strings.Count(section, "\n| `"), name)
		for _, column := range strings.Split(head, ",") {
			require.Contains(t, section, "| `"+column+"` |", name)
		}
	}
	require.Equal(t, []string{"pictures.csv", "sheets.csv", "symptoms.csv", "causes.csv", "readings.csv", "strips.csv", "deliveries.csv", "orders.csv",
		"entries.csv", "stock.csv", "baths.csv", "sessions.csv"}, export.TableNames())
}

func TestAScopeNarrowsEveryTable(t *testing.T) {
	b := booktest.FromLines(t, booktest.TwoYears)
	for _, c := range []struct {
		name                              string
		scope                             export.Scope
		pictures, sheets, boxes, sessions []string
		entries                           int
	}{
		{"whole", export.Scope{}, []string{"2025-001", "2025-002", "2026-001"}, []string{"2025-001n", "2025-001p1", "2025-002n", "2026-001n"},
			[]string{"box-2", "box-10"}, []string{"old-year", "new-year"}, 12},
		{"a year, with the older picture printed in it", export.Scope{Year: 2026}, []string{"2025-001", "2026-001"}, []string{"2025-001n", "2025-001p1", "2026-001n"},
			[]string{"box-2", "box-10"}, []string{"old-year", "new-year"}, 4},
		{"a session", export.Scope{Session: "new-year"}, []string{"2025-001", "2026-001"}, []string{"2025-001p1", "2026-001n"},
			[]string{"box-2", "box-10"}, []string{"new-year"}, 4},
		{"a picture", export.Scope{Picture: "2025-002"}, []string{"2025-002"}, []string{"2025-002n"}, []string{"box-2"}, []string{"old-year"}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := tablesOf(t, b, c.scope, export.TableOptions{})
			names := func(table, column string) []string {
				var out []string
				for _, r := range records(t, got[table]) {
					out = append(out, r[column])
				}
				return out
			}
			require.Equal(t, c.pictures, names("pictures.csv", "picture"))
			require.Equal(t, c.sheets, names("sheets.csv", "sheet"))
			require.Equal(t, c.boxes, names("stock.csv", "box"))
			require.Equal(t, c.sessions, names("sessions.csv", "session"))
			require.Len(t, records(t, got["entries.csv"]), c.entries)
		})
	}
}

func TestWhatIsOnlyHandedOverInASessionIsNoPictureOfIt(t *testing.T) {
	b := booktest.FromLines(t, strings.Replace(booktest.TwoYears, `{"kind":"session.closed","at":"2026-01-01T12:00:00`,
		`{"kind":"sheet.delivered","at":"2026-01-01T11:30:00+01:00","data":{"session":"new-year","sheet":"2025-002n"}}
{"kind":"session.closed","at":"2026-01-01T12:00:00`, 1))
	got := tablesOf(t, b, export.Scope{Session: "new-year"}, export.TableOptions{})
	var pictures []string
	for _, r := range records(t, got["pictures.csv"]) {
		pictures = append(pictures, r["picture"])
	}
	require.Equal(t, []string{"2025-001", "2026-001"}, pictures)
	require.Len(t, records(t, got["entries.csv"]), 5, "the act itself stays among the session's entries")
}

func TestAScopeThatCannotBeIsRefused(t *testing.T) {
	b := booktest.FromLines(t, booktest.TwoYears)
	for name, scope := range map[string]export.Scope{"two at once": {Year: 2026, Picture: "2026-001"}, "no such picture": {Picture: "2026-099"},
		"no such session": {Session: "nowhere"}, "a box is no session": {Session: "box-2"}, "no year": {Year: 12026}} {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
				_, err := export.NewTables(tx, booktest.Recorded, scope, export.TableOptions{})
				var no *wording.Refusal
				require.ErrorAs(t, err, &no)
				return nil
			}))
		})
	}
}

func TestTheSameBookGivesTheSameTables(t *testing.T) {
	first := tablesOf(t, booktest.FromLines(t, booktest.TwoYears), export.Scope{}, export.TableOptions{})
	second := tablesOf(t, booktest.FromLines(t, booktest.TwoYears), export.Scope{}, export.TableOptions{})
	require.Equal(t, first, second)
	for name, text := range first {
		require.False(t, slices.Contains([]byte(text), 0), name)
	}
}

// What the washes left in a sheet stands in its row where it can be calculated: 0 where nothing is left, and no figure
// for a sheet that was never exposed or a wash that no formula takes.
func TestWhatAWashLeftStandsInTheTable(t *testing.T) {
	const before = `book.opened 2026-05-03T08:00:00 "zone":"Europe/Oslo"
bath.mixed 2026-05-03T09:00:00 "bath":"dev-1","role":"developer","name":"quay bath","volume_ml":1000,"time_s":60
paper.received 2026-05-03T09:01:00 "box":"box-1","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":50
`
	const exposed = `sheet.exposed 2026-05-03T10:00:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4
`
	for _, c := range []struct{ name, acts, left string }{
		{"four changes", exposed + `sheet.washed 2026-05-03T10:20:00 "sheet":"2026-001n","changes":4`, "0.0000189658"}, // 3 q⁴, q = e⁻³ + (1 − e⁻³)·0.375 ÷ 1000.375,
		{"so many that nothing is left", exposed + `sheet.washed 2026-05-03T10:20:00 "sheet":"2026-001n","changes":1000`, "0"},
		{"longer than the model goes", exposed + `sheet.washed 2026-05-03T10:20:00 "sheet":"2026-001n","running_s":864000`, ""},
		{"never exposed", `sheet.developed 2026-05-03T10:10:00 "sheet":"2026-001n","bath":"dev-1","time_s":60
sheet.washed 2026-05-03T10:20:00 "sheet":"2026-001n","changes":4`, ""},
	} {
		got := records(t, tablesOf(t, booktest.FromActs(t, before+c.acts), export.Scope{}, export.TableOptions{})["sheets.csv"])
		require.Len(t, got, 1, c.name)
		require.Equal(t, c.left, got[0]["wash_left_g_m2"], c.name)
	}
}

// What datapackage.json says holds of the tables beside it: the columns in their order, the form of each cell, keys that name
// one record each, and cells that stand in the key of the table that they are said to join.
func TestTheDescriptionHoldsOfTheTables(t *testing.T) {
	for name, b := range map[string]*sqlite.Book{"a season": booktest.Season(t), "an outing": outing(t), "rare things": booktest.FromActs(t, booktest.RareDay)} {
		require.Len(t, holds(t, name, b, export.Scope{}), 25)
		require.Empty(t, holds(t, name, b, export.Scope{Year: 2026}), "it names what lies outside it")
	}
}

// holds holds the description of a book's tables against them, and gives the columns that are said to join, with their tables.
func holds(t *testing.T, name string, b *sqlite.Book, scope export.Scope) (joins []string) {
	var described struct {
		Resources []struct {
			Name, Path string
			Schema     struct {
				Fields []struct {
					Name, Type  string
					Constraints struct {
						Required bool
						Pattern  string
					}
				}
				PrimaryKey  []string
				ForeignKeys []struct {
					Fields    []string
					Reference struct {
						Resource string
						Fields   []string
					}
				}
			}
		}
	}
	text := map[string]string{}
	require.NoError(t, b.ReadTwice(func(tx, other *sqlite.Tx) error {
		tables, err := export.NewTables(tx, booktest.Recorded, scope, export.TableOptions{})
		require.NoError(t, err)
		var m sync.Mutex
		made := map[string]*grown{}
		_, err = tables.WriteAll(tables.Beside(other), func(name string) (io.WriteCloser, error) {
			m.Lock()
			defer m.Unlock()
			made[name] = &grown{}
			return made[name], nil
		})
		require.NoError(t, err)
		for name, g := range made {
			text[name] = g.String()
		}
		var out bytes.Buffer
		require.NoError(t, tables.WritePackage(&out))
		return json.Unmarshal(out.Bytes(), &described)
	}))
	form := map[string]*regexp.Regexp{"string": regexp.MustCompile(`(?s)^.*$`), "number": regexp.MustCompile(`^-?\d+(\.\d+)?$`), "integer": regexp.MustCompile(`^-?\d+$`),
		"boolean": regexp.MustCompile(`^yes$`), "datetime": regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d)$`)}
	values := map[string]map[string]bool{}
	for _, r := range described.Resources {
		head, _, _ := strings.Cut(text[r.Path], "\r\n")
		var columns []string
		for _, f := range r.Schema.Fields {
			columns = append(columns, f.Name)
		}
		require.Equal(t, strings.Split(head, ","), columns)
		seen := map[string]bool{}
		for _, row := range records(t, text[r.Path]) {
			var key []string
			for _, f := range r.Schema.Fields {
				cell := row[f.Name]
				require.True(t, cell != "" || !f.Constraints.Required, "%s: %s of %s is empty", name, f.Name, r.Name)
				if cell != "" {
					require.Regexp(t, form[f.Type], cell, "%s of %s", f.Name, r.Name)
					if p := f.Constraints.Pattern; p != "" { // of XML Schema: it is of the whole cell, and has no mark for that
						require.NotRegexp(t, `[\^$]`, p)
						require.Regexp(t, "^("+p+")$", cell)
					}
				}
				if values[r.Name+"."+f.Name] == nil {
					values[r.Name+"."+f.Name] = map[string]bool{"": true}
				}
				values[r.Name+"."+f.Name][cell] = true
			}
			for _, k := range r.Schema.PrimaryKey {
				key = append(key, row[k])
			}
			require.False(t, seen[strings.Join(key, "\x00")], "%s: %s has %v twice", name, r.Name, key)
			seen[strings.Join(key, "\x00")] = true
		}
	}
	for _, r := range described.Resources {
		for _, f := range r.Schema.ForeignKeys {
			to := f.Reference.Resource
			if to == "" {
				to = r.Name
			}
			joins = append(joins, r.Name+"."+f.Fields[0])
			for cell := range values[r.Name+"."+f.Fields[0]] {
				if cell == "" {
					continue
				}
				require.Contains(t, values[to+"."+f.Reference.Fields[0]], cell, "%s: %s of %s", name, f.Fields[0], r.Name)
			}
		}
	}
	return joins
}

// Where what a column names was taken back and later acts stand on it, they name what has no record: of such a column no join is
// told, of every other it is.
func TestWhatWasTakenBackIsJoinedByNothing(t *testing.T) {
	b := outing(t)
	booktest.AddActs(t, b, `bath.mixed 2026-05-03T11:10:00 "bath":"stop-1","role":"stop","name":"stop","volume_ml":1000
sheet.rinsed 2026-05-03T11:11:00 "sheet":"2026-004n","bath":"stop-1","time_s":15
strip.exposed 2026-05-03T11:12:00 "strip":"s4","box":"box-1","on":"scene","f":8,"times_s":[2,4,8],"session":"lighthouse"
order.taken 2026-05-03T11:13:00 "order":"order-1","sitter":"sitter-1","picture":"2026-001","prints":2
order.taken 2026-05-03T11:14:00 "order":"order-2","sitter":"sitter-1","picture":"2027-001","prints":1
sheet.delivered 2026-05-03T11:15:00 "sheet":"2026-001p2","to":"sitter-1","order":"order-1"`)
	want := holds(t, "nothing", b, export.Scope{})
	for _, c := range []struct {
		kind  events.Kind
		about string
		joins []string
	}{
		{events.BathMixed, "stop-1", []string{"sheets.stop_bath"}},
		{events.PaperReceived, "box-1", []string{"pictures.box", "sheets.box", "strips.box"}},
		{events.SessionOpened, "lighthouse", []string{"pictures.session", "sheets.session", "readings.session", "strips.session"}},
		{events.OrderTaken, "order-1", []string{"sheets.for_order", "deliveries.order"}},
		{events.SheetExposed, "2027-001", []string{"orders.picture"}},
	} {
		id := ""
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			return tx.Each(func(e events.Entry) error {
				if e.Kind == c.kind && events.PlacesOf(e.Data).Stream.Name == c.about {
					id = e.ID.String()
				}
				return nil
			})
		}))
		booktest.AddActs(t, b, `entry.voided 2026-05-04T11:00:00 "entry":"`+id+`"`)
		want = slices.DeleteFunc(want, func(join string) bool { return slices.Contains(c.joins, join) })
		require.Equal(t, want, holds(t, c.about, b, export.Scope{}), c.about)
	}
}
