package screen

import "strings"

// Column is a column of a Table.
type Column struct {
	Title   string
	Right   bool // aligned on its right edge, as numbers are
	Elastic bool // may be cut where the screen is narrow
}

// Row is a row of a Table; missing cells are empty.
type Row struct {
	Cells []string
	Tone  Tone // Struck for what is voided
}

// Table is a table of text. A column without any text in its cells is left out.
type Table struct {
	Columns []Column
	Rows    []Row
}

// Add appends a row in plain tone.
func (t *Table) Add(cells ...string) { t.Rows = append(t.Rows, Row{Cells: cells}) }

// AddIn appends a row in a tone.
func (t *Table) AddIn(tone Tone, cells ...string) {
	t.Rows = append(t.Rows, Row{Cells: cells, Tone: tone})
}

const (
	gap          = 2  // columns between columns
	narrow       = 70 // below this a table that does not fit is stacked, not cut
	leastElastic = 8  // an elastic column is not cut below this
)

// Table writes a table. Columns are as wide as their widest cell. Where that is
// wider than the screen, elastic columns are cut, the widest first; where that
// is not enough, or the screen has fewer than 70 columns, each row is written as
// a stack of "label: value" lines.
func (s *Screen) Table(t Table) {
	if len(t.Rows) == 0 {
		return
	}
	g := s.measure(t)
	if g.total() > s.width() && (s.width() < narrow || !g.squeeze(s.width())) {
		s.stack(g)
		return
	}
	titles := make([]string, len(g.columns))
	rules := make([]string, len(g.columns))
	for i, c := range g.columns {
		titles[i] = c.Title
		rules[i] = strings.Repeat("─", g.widths[i])
	}
	s.line(g, Strong, titles)
	if !s.Color {
		s.line(g, Plain, rules)
	}
	for _, r := range g.rows {
		s.line(g, r.Tone, r.Cells)
	}
}

// grid is a table with clean cells, without its empty columns, measured.
type grid struct {
	columns []Column
	rows    []Row
	widths  []int
}

func (s *Screen) measure(t Table) *grid {
	g := &grid{rows: make([]Row, len(t.Rows))}
	for i, r := range t.Rows {
		g.rows[i].Tone = r.Tone
	}
	for i, c := range t.Columns {
		cells, filled := make([]string, len(t.Rows)), false
		for j, r := range t.Rows {
			if i < len(r.Cells) {
				cells[j] = Clean(r.Cells[i])
			}
			filled = filled || cells[j] != ""
		}
		if !filled {
			continue
		}
		c.Title = Clean(c.Title)
		w := Width(c.Title)
		for j := range cells {
			if len(g.columns) == 0 && g.rows[j].Tone == Struck && !s.Color {
				cells[j] = void + cells[j]
			}
			w = max(w, Width(cells[j]))
			g.rows[j].Cells = append(g.rows[j].Cells, cells[j])
		}
		g.columns, g.widths = append(g.columns, c), append(g.widths, w)
	}
	return g
}

func (g *grid) total() int {
	sum := gap * max(len(g.widths)-1, 0)
	for _, w := range g.widths {
		sum += w
	}
	return sum
}

// squeeze narrows the elastic columns until the table fits; false if it cannot.
func (g *grid) squeeze(width int) bool {
	for over := g.total() - width; over > 0; over-- {
		widest := -1
		for i, c := range g.columns {
			if c.Elastic && g.widths[i] > leastElastic && (widest < 0 || g.widths[i] > g.widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			return false
		}
		g.widths[widest]--
	}
	return true
}

// line writes one row. Only the text takes the tone, not the space around it.
func (s *Screen) line(g *grid, tone Tone, cells []string) {
	var b strings.Builder
	for i, c := range cells {
		if i > 0 {
			b.WriteString(strings.Repeat(" ", gap))
		}
		text := Truncate(c, g.widths[i])
		fill := strings.Repeat(" ", g.widths[i]-Width(text))
		if g.columns[i].Right {
			b.WriteString(fill + s.paint(tone, text))
		} else {
			b.WriteString(s.paint(tone, text) + fill)
		}
	}
	s.write(b.String())
}

// stack writes each row as label and value lines, parted by an empty line.
func (s *Screen) stack(g *grid) {
	for i, r := range g.rows {
		if i > 0 {
			s.Blank()
		}
		pairs := make([]Pair, len(g.columns))
		for j, c := range g.columns {
			tone := r.Tone
			if tone == Struck && !s.Color {
				tone = Plain // the first cell says so already
			}
			pairs[j] = Pair{Label: c.Title, Value: r.Cells[j], Tone: tone}
		}
		s.Pairs(pairs...)
	}
}
