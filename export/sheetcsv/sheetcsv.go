// Package sheetcsv writes tables as comma-separated values (RFC 4180): UTF-8,
// a header, every record equally long, CR LF between records and nowhere else,
// so that a line feed inside a text stays the line feed it was.
//
// No cell holds a raw control but the line feed and the tab: see Visible.
//
// The plain form has no byte-order mark: it is what an archive holds. Beside the
// entries' lines, which are exact, it is exact but for such controls. The spreadsheet form adds the mark, by which spreadsheets know UTF-8,
// and a leading apostrophe to texts that a spreadsheet would run as a formula.
// The apostrophe is put only into text columns; see Guard.
package sheetcsv

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"sync"
	"unicode/utf8"
)

// BOM is the UTF-8 byte-order mark that begins the spreadsheet form.
const BOM = "\ufeff"

// Type says what the cells of a column may hold.
type Type int

const (
	// Text is anything that is valid UTF-8.
	Text Type = iota
	// Number is a decimal number with a point, or nothing.
	Number
	// Time is an RFC 3339 time or the beginning of one that ends at the year,
	// month, day, minute or second, with or without its offset; or nothing.
	Time
)

// Column is one column of a table.
type Column struct {
	Name string
	Type Type
}

var (
	number = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?$`) })
	moment = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`^[0-9]{4}(-[0-9]{2}(-[0-9]{2}(T[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?(Z|[+-][0-9]{2}:[0-9]{2})?)?)?)?$`)
	})
)

// Writer writes one table.
type Writer struct {
	out         io.Writer
	columns     []Column
	spreadsheet bool
	row         int
	line        bytes.Buffer
	csv         *csv.Writer
	cells       []string
}

// NewWriter begins a table: it writes the header, after the mark if the table
// is for a spreadsheet.
//
// Errors: no columns; a column name that is empty, given twice, not UTF-8 or
// one a spreadsheet would run; out fails.
func NewWriter(out io.Writer, columns []Column, spreadsheet bool) (*Writer, error) {
	if len(columns) == 0 {
		return nil, fmt.Errorf("a table needs at least one column")
	}
	w := &Writer{out: out, columns: columns, spreadsheet: spreadsheet, cells: make([]string, len(columns))}
	w.csv = csv.NewWriter(&w.line)
	seen := map[string]bool{}
	for i, c := range columns {
		switch {
		case c.Name == "" || !utf8.ValidString(c.Name) || runs(c.Name):
			return nil, fmt.Errorf("column %d cannot be named %q: a spreadsheet would not read it as a name", i+1, c.Name)
		case seen[c.Name]:
			return nil, fmt.Errorf("two columns are named %q", c.Name)
		}
		seen[c.Name] = true
		w.cells[i] = c.Name
	}
	if spreadsheet {
		w.line.WriteString(BOM)
	}
	return w, w.send()
}

// Write writes one record, its cells in the order of the columns. It keeps
// nothing back: when it returns, out has the record.
//
// Errors, all before a byte of the record is written: a wrong count of cells; a
// text that is not UTF-8; a cell that is not what its column holds. Otherwise
// out fails.
func (w *Writer) Write(record []string) error {
	w.row++
	if len(record) != len(w.columns) {
		return fmt.Errorf("row %d has %d cells, the table has %d columns", w.row, len(record), len(w.columns))
	}
	for i, cell := range record {
		c := w.columns[i]
		switch {
		case c.Type == Text && !utf8.ValidString(cell):
			return fmt.Errorf("row %d, column %s: the text is not valid UTF-8", w.row, c.Name)
		case c.Type == Number && cell != "" && !number().MatchString(cell):
			return fmt.Errorf("row %d, column %s: %q is not a number such as -1.5", w.row, c.Name, cell)
		case c.Type == Time && cell != "" && !moment().MatchString(cell):
			return fmt.Errorf("row %d, column %s: %q is not a time such as 2026-05-03T14:05:00+02:00", w.row, c.Name, cell)
		}
		if c.Type == Text {
			cell = Visible(cell)
		}
		if w.spreadsheet && c.Type == Text {
			cell = Guard(cell)
		}
		w.cells[i] = cell
	}
	return w.send()
}

// send writes w.cells as one record. encoding/csv decides what to quote; its
// own CR LF would also go into the texts, so its LF is replaced here.
func (w *Writer) send() error {
	if len(w.cells) == 1 && w.cells[0] == "" {
		w.line.WriteString("\"\"\n") // an empty line would be no record at all
	} else {
		_ = w.csv.Write(w.cells) // into memory, which takes every record
	}
	w.csv.Flush()
	w.line.Truncate(w.line.Len() - 1)
	w.line.WriteString("\r\n")
	_, err := w.out.Write(w.line.Bytes())
	w.line.Reset()
	return err
}

// Rows is the number of records written so far, the header not counted.
func (w *Writer) Rows() int { return w.row }
