// Package sheetcsv writes tables as comma-separated values (RFC 4180): UTF-8,
// a header, every record equally long, CR LF between records and nowhere else,
// so that a line feed inside a text stays the line feed it was; and describes
// them for programs as a Data Package: see WritePackage.
//
// No cell holds a raw control but the line feed and the tab: see Visible. No
// cell of a text column begins what a table program would run as a formula: an
// apostrophe stands before it: see Guard.
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

// Type says what the cells of a column may hold. Each may be empty.
type Type int

const (
	// Text is anything that is valid UTF-8.
	Text Type = iota
	// Number is a decimal number with a point.
	Number
	// Integer is a whole number.
	Integer
	// Time is an RFC 3339 time with its seconds and its offset.
	Time
	// Day is a date, or the beginning of one that ends at the year or month.
	Day
	// Flag is yes, or empty for no.
	Flag
)

// String names it for a reader.
func (t Type) String() string {
	return [...]string{"text", "number", "whole number", "time", "day", "yes or empty"}[t]
}

// Column is one column of a table. The unit of a number stands at the end of its
// name: see Unit.
type Column struct {
	Name string
	Type Type
	Doc  string // what it holds
}

// forms are what the cells of a type look like; those of a text are free.
var forms = sync.OnceValue(func() map[Type]*regexp.Regexp {
	return map[Type]*regexp.Regexp{
		Number:  regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?$`),
		Integer: regexp.MustCompile(`^-?[0-9]+$`),
		Time:    regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?(Z|[+-][0-9]{2}:[0-9]{2})$`),
		Day:     regexp.MustCompile("^" + dayForm + "$"),
		Flag:    regexp.MustCompile(`^yes$`),
	}
})

// dayForm is what a day looks like, all of it: as XML Schema has its patterns, it needs no marks of the ends.
const dayForm = `[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?`

// like is a cell that each type would take, for who gave another.
var like = [...]string{Number: "a number such as -1.5", Integer: "a whole number", Time: "a time such as 2026-05-03T14:05:00+02:00",
	Day: "a day such as 2026-05-03", Flag: "yes"}

// check refuses a cell that is not what its column holds.
func (c Column) check(cell string) error {
	switch {
	case c.Type == Text && !utf8.ValidString(cell):
		return fmt.Errorf("column %s: the text is not valid UTF-8", c.Name)
	case c.Type != Text && cell != "" && !forms()[c.Type].MatchString(cell):
		return fmt.Errorf("column %s: %q is not %s", c.Name, cell, like[c.Type])
	}
	return nil
}

// CheckRecord refuses a record, the row of a table, that has another count of cells than the table has columns, or a cell that is not
// what its column holds.
func CheckRecord(columns []Column, row int, record []string) error {
	if len(record) != len(columns) {
		return fmt.Errorf("row %d has %d cells, the table has %d columns", row, len(record), len(columns))
	}
	for i, c := range columns {
		if err := c.check(record[i]); err != nil {
			return fmt.Errorf("row %d, %w", row, err)
		}
	}
	return nil
}

// Writer writes one table.
type Writer struct {
	out     io.Writer
	columns []Column
	row     int
	line    bytes.Buffer
	csv     *csv.Writer
	cells   []string
}

// NewWriter begins a table: it writes the header.
//
// Errors: no columns; a column name that is empty, given twice, not UTF-8 or
// one a table program would run; out fails.
func NewWriter(out io.Writer, columns []Column) (*Writer, error) {
	if len(columns) == 0 {
		return nil, fmt.Errorf("a table needs at least one column")
	}
	w := &Writer{out: out, columns: columns, cells: make([]string, len(columns))}
	w.csv = csv.NewWriter(&w.line)
	seen := map[string]bool{}
	for i, c := range columns {
		switch {
		case c.Name == "" || !utf8.ValidString(c.Name) || Guard(c.Name) != c.Name:
			return nil, fmt.Errorf("column %d cannot be named %q: a table program would not read it as a name", i+1, c.Name)
		case seen[c.Name]:
			return nil, fmt.Errorf("two columns are named %q", c.Name)
		}
		seen[c.Name] = true
		w.cells[i] = c.Name
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
	if err := CheckRecord(w.columns, w.row, record); err != nil {
		return err
	}
	for i, cell := range record {
		if w.columns[i].Type == Text {
			cell = Guard(Visible(cell))
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
