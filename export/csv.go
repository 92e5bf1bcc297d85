package export

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"traybook/events"
	"traybook/export/sheetcsv"
)

// TableOptions say how tables are written.
type TableOptions struct {
	Spreadsheet bool // guarded against formula cells, with a byte-order mark; otherwise exact
	// Progress is told after each record, nil for nobody.
	Progress func(table string, records int)
}

// Tables are a book's views as CSV, ready to be written one by one.
type Tables struct {
	src    Source
	asOf   time.Time
	chosen *Selection
	o      TableOptions
}

// NewTables lays the tables of a book out as of a moment (zero: everything), narrowed by a scope.
func NewTables(src Source, asOf time.Time, scope Scope, o TableOptions) (*Tables, error) {
	chosen, err := Choose(src, asOf, scope)
	if err != nil {
		return nil, err
	}
	return &Tables{src: src, asOf: asOf, chosen: chosen, o: o}, nil
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
		if records, err = x.write(t, b); err != nil {
			return records, fmt.Errorf("%s cannot be written: %w", name, err)
		}
		return records, b.Flush()
	}
	return 0, fmt.Errorf("there is no table %q; there are %s", name, strings.Join(TableNames(), ", "))
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
	about() string
	schema() [][3]string // name, type, meaning
	write(t *Tables, out io.Writer) (int, error)
}

// table is one file: a record for each row that its source gives.
type table[R any] struct {
	name, says string
	columns    []column[R]
	rows       func(t *Tables, give func(*R) error) error
}

func (x table[R]) file() string { return x.name + ".csv" }

func (x table[R]) about() string { return x.says }

func (x table[R]) schema() [][3]string {
	out := make([][3]string, len(x.columns))
	for i, c := range x.columns {
		out[i] = [3]string{c.name, [...]string{"text", "number", "time"}[c.typ], c.doc}
	}
	return out
}

func (x table[R]) write(t *Tables, out io.Writer) (int, error) {
	columns := make([]sheetcsv.Column, len(x.columns))
	for i, c := range x.columns {
		columns[i] = sheetcsv.Column{Name: c.name, Type: c.typ}
	}
	w, err := sheetcsv.NewWriter(out, columns, t.o.Spreadsheet)
	if err != nil {
		return 0, err
	}
	record := make([]string, len(columns))
	err = x.rows(t, func(r *R) error {
		for i, c := range x.columns {
			record[i] = c.get(r)
		}
		if err := w.Write(record); err != nil {
			return err
		}
		if t.o.Progress != nil {
			t.o.Progress(x.name, w.Rows())
		}
		return nil
	})
	return w.Rows(), err
}

var tables = []anyTable{picturesTable, sheetsTable, entriesTable, stockTable, bathsTable, sessionsTable}

// SchemaPage is the page that tells what each table and column holds, as Markdown, made from the list that writes them.
func SchemaPage() string {
	var b strings.Builder
	b.WriteString("# The tables\n\n" +
		"Comma-separated values as RFC 4180 has them: UTF-8, a header, CR LF after each record, `\"` doubled within quotes.\n" +
		"A number has a point and no unit; the unit stands in the column's name: `_s` seconds, `_mm` millimetres, `_ml`\n" +
		"millilitres, `_c` degrees Celsius, `_m2` square metres, `_h` hours, `_days` days, `_stops` steps of exposure (log2).\n" +
		"A time is RFC 3339 with the offset of the place. An empty cell means that it is not known. What was logged stands\n" +
		"as it was logged; what was calculated is rounded to six digits that count, deviations to a thousandth of a stop.\n" +
		"The form for spreadsheets begins with a byte-order mark and puts an apostrophe before a text that a spreadsheet\n" +
		"would run as a formula; take off one apostrophe from a text that begins with one before `= + - @`, a tab or a\n" +
		"carriage return.\n")
	for _, t := range tables {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n| column | holds | meaning |\n| --- | --- | --- |\n", t.file(), t.about())
		for _, c := range t.schema() {
			fmt.Fprintf(&b, "| `%s` | %s | %s |\n", c[0], c[1], c[2])
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
