package export

import (
	"slices"
	"strings"
	"sync"

	"traybook/export/sheetcsv"
)

// joined tells by a column's name which table's key its cells are.
var joined = map[string]sheetcsv.Join{
	"picture": {Table: "pictures", Key: "picture"}, "sheet": {Table: "sheets", Key: "sheet"},
	"box": {Table: "stock", Key: "box"}, "cut_from": {Table: "stock", Key: "box"},
	"bath": {Table: "baths", Key: "bath"}, "developer": {Table: "baths", Key: "bath"}, "stop_bath": {Table: "baths", Key: "bath"}, "fixer": {Table: "baths", Key: "bath"},
	"session": {Table: "sessions", Key: "session"}, "order": {Table: "orders", Key: "order"}, "for_order": {Table: "orders", Key: "order"},
}

// joinOf is the join of a column of a table, where it has one.
func joinOf(d sheetcsv.Table, column string) (sheetcsv.Join, bool) {
	j, ok := joined[column]
	j.Column = column
	return j, ok && !slices.Equal(d.Key, []string{column}) && d.Name != entriesTable.name // a voided entry names what is no more
}

// described are the tables that any export holds, and more, each with those of its joins that hold.
func described(holds func(table string, j sheetcsv.Join) bool, more ...anyTable) []sheetcsv.Table {
	var out []sheetcsv.Table
	for _, t := range append(slices.Clone(tables), more...) {
		d := t.describe()
		for _, c := range d.Columns {
			if j, ok := joinOf(d, c.Name); ok && holds(d.Name, j) {
				d.Joins = append(d.Joins, j)
			}
		}
		out = append(out, d)
	}
	return out
}

// joins knows what the tables that were written name in each other. A box whose receipt was taken back has no record, and
// what was exposed on it names it still.
type joins struct {
	mu      sync.Mutex
	written map[string]map[string]map[string]bool // cells, by table and column
}

// certain says that a column names what has a record in any book: a picture that is folded gives a record to the table of
// pictures, and one to that of sheets for each of its sheets, before anything else is told of it.
func certain(table, column string) bool {
	return column == "sheet" || column == "picture" &&
		slices.ContainsFunc(tables, func(t anyTable) bool { return t.file() == table+".csv" && t.byPicture() })
}

// mind gives a writer of a table that keeps which cells stand in the columns by which tables join and whose joins may not hold: names
// alone, which a book has few of beside its entries.
func (s *joins) mind(d sheetcsv.Table, w recordWriter) recordWriter {
	m := &mindful{recordWriter: w, cells: make([]map[string]bool, len(d.Columns))}
	kept := map[string]map[string]bool{}
	for i, c := range d.Columns {
		j, joins := joinOf(d, c.Name)
		if key := j.Key == c.Name && j.Table == d.Name; key && c.Name != "sheet" || joins && !certain(d.Name, c.Name) {
			m.cells[i] = map[string]bool{"": true}
			kept[c.Name] = m.cells[i]
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.written == nil {
		s.written = map[string]map[string]map[string]bool{}
	}
	s.written[d.Name] = kept
	return m
}

type mindful struct {
	recordWriter
	cells []map[string]bool // by column, nil for those that are not kept
}

func (m *mindful) Write(record []string) error {
	for i, cells := range m.cells {
		if cells != nil && !cells[record[i]] {
			cells[strings.Clone(record[i])] = true
		}
	}
	return m.recordWriter.Write(record)
}

// hold says that each cell of a column that was written stands in the key that it joins.
func (s *joins) hold(table string, j sheetcsv.Join) bool {
	if certain(table, j.Column) {
		return true
	}
	for cell := range s.written[table][j.Column] {
		if !s.written[j.Table][j.Key][cell] {
			return false
		}
	}
	return true
}
