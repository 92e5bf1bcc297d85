package export

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/events"
	"traybook/export/sheetcsv"
	"traybook/export/sheetxlsx"
	"traybook/projections/snapshot"
)

// TableOptions say how tables are written.
type TableOptions struct {
	Run int // how many pictures WriteAll goes through before their records are written, 0 for some weeks' work
}

// Tables are a book's views as CSV, ready to be written one by one.
type Tables struct {
	src    Source
	asOf   time.Time
	chosen *Selection
	o      TableOptions
	joins  *joins
}

// NewTables lays the tables of a book out as of a moment (zero: everything), narrowed by a scope.
func NewTables(src Source, asOf time.Time, scope Scope, o TableOptions) (*Tables, error) {
	chosen, err := Choose(src, asOf, scope)
	if err != nil {
		return nil, err
	}
	return &Tables{src: src, asOf: asOf, chosen: chosen, o: o, joins: &joins{}}, nil
}

// Beside lays the same tables out once more on another look at the same state of the book, for another goroutine.
func (t *Tables) Beside(src Source) *Tables {
	chosen := *t.chosen
	chosen.src, chosen.Snap = src, snapshot.New(src, t.asOf)
	return &Tables{src: src, asOf: t.asOf, chosen: &chosen, o: t.o, joins: t.joins}
}

// TableNames lists the files in the order in which they are written.
func TableNames() []string {
	names := make([]string, len(tables))
	for i, t := range tables {
		names[i] = t.file()
	}
	return names
}

// Write writes one table by its file name and says how many records it has.
func (t *Tables) Write(name string, out io.Writer) (records int, err error) {
	for _, x := range tables {
		if x.file() != name {
			continue
		}
		b := bufio.NewWriterSize(out, 1<<16)
		if records, err = x.write(t, t.asCSV(b)); err != nil {
			return records, fmt.Errorf("%s cannot be written: %w", name, err)
		}
		return records, b.Flush()
	}
	return 0, fmt.Errorf("there is no table %q; there are %s", name, strings.Join(TableNames(), ", "))
}

// Workbook writes tables by their file names as one workbook, a sheet each, and says how many records each has.
func (t *Tables) Workbook(names []string, out io.Writer) (records []int, err error) {
	b := bufio.NewWriterSize(out, 1<<16)
	book := sheetxlsx.New(b)
	for _, x := range tables {
		if !slices.Contains(names, x.file()) {
			continue
		}
		n, err := x.write(t, func(d sheetcsv.Table) (recordWriter, error) { return book.Sheet(d.Name, d.Columns) })
		if err != nil {
			return nil, fmt.Errorf("%s cannot be written: %w", x.describe().Name, err)
		}
		records = append(records, n)
	}
	if err := book.Close(); err != nil {
		return nil, err
	}
	return records, b.Flush()
}

// recordWriter takes the records of a table one by one.
type recordWriter interface {
	Write(record []string) error
	Rows() int
}

// opener begins a table.
type opener func(sheetcsv.Table) (recordWriter, error)

// asCSV writes tables as comma-separated values, and minds what they name in each other.
func (t *Tables) asCSV(out io.Writer) opener {
	return func(d sheetcsv.Table) (recordWriter, error) {
		w, err := sheetcsv.NewWriter(out, d.Columns)
		return t.joins.mind(d, w), err
	}
}

// column is one column of a table of rows R: what it is called, what it means, and where it comes from. Tables and
// their schema read the same list.
type column[R any] struct {
	name string
	typ  sheetcsv.Type
	doc  string
	get  func(*R) string
}

// anyTable is a table whatever its rows.
type anyTable interface {
	file() string
	describe() sheetcsv.Table // its joins left out
	write(t *Tables, open opener) (int, error)
	// byPicture says that its records come of pictures.
	byPicture() bool
	// ofPictures gives what makes the records of one picture after the other, where they come of pictures.
	ofPictures(t *Tables, take func(record []string) error) func(*snapshot.Picture) error
}

// table is one file: a record for each row that its source gives.
type table[R any] struct {
	name, says string
	key        []string // the columns that together name a record
	columns    []column[R]
	rows       func(t *Tables, give func(*R) error) error // where they do not come of pictures
	each       func(t *Tables, give func(*R) error) func(*snapshot.Picture) error
}

func (x table[R]) file() string { return x.name + ".csv" }

func (x table[R]) describe() sheetcsv.Table {
	d := sheetcsv.Table{Name: x.name, Doc: x.says, Key: x.key}
	for _, c := range x.columns {
		d.Columns = append(d.Columns, sheetcsv.Column{Name: c.name, Type: c.typ, Doc: c.doc})
	}
	return d
}

func (x table[R]) write(t *Tables, open opener) (int, error) {
	return x.records(open, func(give func(*R) error) error {
		if x.each != nil {
			return t.chosen.EachPicture(x.each(t, give))
		}
		return x.rows(t, give)
	})
}

func (x table[R]) byPicture() bool { return x.each != nil }

func (x table[R]) ofPictures(t *Tables, take func(record []string) error) func(*snapshot.Picture) error {
	return x.each(t, x.recorded(take))
}

// records writes the rows that each gives.
func (x table[R]) records(open opener, each func(give func(*R) error) error) (int, error) {
	w, err := open(x.describe())
	if err != nil {
		return 0, err
	}
	err = each(x.recorded(w.Write))
	return w.Rows(), err
}

// recorded makes a record of each row, which holds until the next.
func (x table[R]) recorded(take func(record []string) error) func(*R) error {
	record := make([]string, len(x.columns))
	return func(r *R) error {
		for i, c := range x.columns {
			record[i] = c.get(r)
		}
		return take(record)
	}
}

var tables = []anyTable{picturesTable, sheetsTable, symptomsTable, causesTable, readingsTable, stripsTable, deliveriesTable, ordersTable,
	entriesTable, stockTable, bathsTable, sessionsTable}

// PackageFile is the name of the description of the tables for programs, beside them.
const (
	PackageFile = "datapackage.json"
	packageName = "traybook-tables"
)

// WritePackage writes the description for programs of the tables that were written, and of more that an archive has besides.
func (t *Tables) WritePackage(w io.Writer, more ...anyTable) error {
	holds := func(string, sheetcsv.Join) bool { return false } // a part of a book names what lies outside it
	if t.chosen.Scope.Whole() {
		holds = t.joins.hold
	}
	return sheetcsv.WritePackage(w, sheetcsv.Package{Name: packageName, Title: "Lab notebook of a camera with its darkroom inside: " + t.chosen.Scope.String(),
		Doc: tablesSay, Tables: described(holds, more...)})
}

// tablesSay is what holds of all tables.
const tablesSay = "Comma-separated values as RFC 4180 has them: UTF-8, a header, CR LF after each record, `\"` doubled within quotes. " +
	"A number has a point and no unit; the unit stands in the column's name: `_s` seconds, `_mm` millimetres, `_ml` " +
	"millilitres, `_c` degrees Celsius, `_m2` square metres, `_h` hours, `_days` days, `_stops` steps of exposure (log2). " +
	"A time is RFC 3339 with the offset of the place. An empty cell means that it is not known, or no. What was taken back has no record but in entries.csv; of a column that names it " +
	"all the same datapackage.json does not say that it joins. What was logged stands " +
	"as it was logged; what was calculated is rounded to six digits that count, deviations to a thousandth of a stop. " +
	"No text begins as a formula of a table program would, nor goes on so behind a semicolon, a tab or a line feed: an apostrophe stands before it. " +
	"Take off the apostrophe, at these places, before any blanks, quotes and apostrophes with one of `= + - @ ＝ ＋ － ＠` behind them, and at the beginning before a tab."

// SchemaPage is the page that tells what each table and column holds, as Markdown, made from the list that writes them.
// more are tables that an archive has besides.
func SchemaPage(more ...anyTable) string {
	var b strings.Builder
	b.WriteString("# The tables\n\n" + tablesSay + "\n")
	for _, t := range described(func(string, sheetcsv.Join) bool { return true }, more...) {
		fmt.Fprintf(&b, "\n## %s.csv\n\n%s Its key: `%s`.\n\n| column | holds | meaning |\n| --- | --- | --- |\n", t.Name, t.Doc, strings.Join(t.Key, "`, `"))
		for _, c := range t.Columns {
			holds := c.Type.String()
			if i := slices.IndexFunc(t.Joins, func(j sheetcsv.Join) bool { return j.Column == c.Name }); i >= 0 {
				holds += fmt.Sprintf(", `%s` of %s.csv", t.Joins[i].Key, t.Joins[i].Table)
			}
			fmt.Fprintf(&b, "| `%s` | %s | %s |\n", c.Name, holds, c.Doc)
		}
	}
	return b.String()
}

// exact writes a logged number as it was logged.
func exact(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func exactOf(v *float64) string {
	if v == nil {
		return ""
	}
	return exact(*v)
}

// calculated writes a computed number with six digits that count, so that the last bit of the arithmetic does not show.
func calculated(v float64) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		if v == 0 {
			return "0"
		}
		return ""
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if err != nil {
		return ""
	}
	return exact(r)
}

func calculatedOf(v *float64) string {
	if v == nil {
		return ""
	}
	return calculated(*v)
}

// stopsOf writes a deviation to a thousandth of a stop.
func stopsOf(v *float64) string {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return ""
	}
	r := math.Round(*v*1000) / 1000
	if r == 0 {
		return "0" // never -0
	}
	return exact(r)
}

func count(n int) string { return strconv.Itoa(n) }

func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return events.FormatTime(t)
}

func yes(v bool) string {
	if v {
		return "yes"
	}
	return ""
}

// textOf is a text that may be absent, "" where it is.
func textOf(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
