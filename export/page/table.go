package page

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Natural as a column's width makes it as wide as its widest cell.
const Natural = -1

// Column is one column of a table.
type Column struct {
	Head  string
	Width float64 // mm; Natural for the widest cell; 0 for an equal share of what is left
	Align Align
	Face  Face
	// Wrap sets a cell on as many lines as it needs. Without it a cell is one
	// line, cut with an ellipsis where it is too long.
	Wrap bool
}

// Row is one row of a table.
type Row struct {
	Cells  []string // in the order of the columns; missing ones are empty
	Bold   bool
	Struck bool    // ruled through, as a voided entry
	Grey   float64 // of the type
	Anchor string  // where a click on the row leads, if not empty
	// Section makes the first cell a heading over the whole width. It stays
	// on one page with the row after it, and leads nowhere.
	Section bool
}

// Table is rows in columns.
type Table struct {
	Columns []Column
	Rows    []Row
	Size    float64 // of the type, points; 0 means 7.5
	Gap     float64 // between columns, mm; 0 means 2.5
	Banded  bool    // every other row on a light grey
	// Title stands over the heads, and on each further page again with ", continued" behind it; TitleSize is its type,
	// points, 0 means 9.
	Title     string
	TitleSize float64
}

// rowPad is the white above and below the text of a row, mm.
const rowPad = 0.55

// tableLayout is a table with its widths settled.
type tableLayout struct {
	*Faces
	Table
	x, width float64
	at       []float64 // left side of each column
	widths   []float64
	most     int // lines a cell may have, so that a row fits on a page
}

// Table draws a table from y down and returns the y under it. Title and heads are
// repeated on each page it reaches and stand over two rows at least, the last row
// goes to no page alone, a row is never divided between pages, and a row taller
// than a page is cut with an ellipsis.
func (d *Doc) Table(x, y, width float64, t Table) float64 {
	if d.page == 0 {
		d.NewPage()
	}
	l, err := d.layTable(x, width, t)
	if err != nil {
		d.fail(err)
		return y
	}
	head := l.titleHeight() + l.headHeight()
	// Two lines are left for the section heading a row may have to stand under.
	l.most = max(1, int((d.Area().H-head-2*rowPad)/LineHeight(l.Size))-2)
	heights := make([]float64, len(l.Rows))
	for i, r := range l.Rows {
		heights[i] = l.rowHeight(r)
	}
	first := 0.0
	if len(l.Rows) > 0 {
		first = l.together(heights, 0, d.Area().H-head)
	}
	y = l.drawTitle(d, d.Need(y, head+first), "")
	d.under("Table", func() { y = l.drawRows(d, l.drawHead(d, y), heights, head) })
	return y
}

// drawRows draws the rows under the first head, which is as high as head with its title, and returns the y under them.
func (l *tableLayout) drawRows(d *Doc, y float64, heights []float64, head float64) float64 {
	band := 0
	for i, r := range l.Rows {
		if i > 0 && y+l.together(heights, i, d.Area().H-head) > d.h-d.margin+slack {
			d.NewPage()
			d.Decoration(func() { y = l.drawHead(d, l.drawTitle(d, d.top, ", continued")) }) // it is one table still
			band = 0
		}
		if d.err != nil {
			return y
		}
		if l.Banded && band%2 == 1 && !r.Section {
			d.Fill(Rect{l.x, y, l.width, heights[i]}, 0.94)
		}
		band++
		if r.Section {
			band = 0
		}
		l.drawRow(d, y, heights[i], r)
		y += heights[i]
	}
	d.Rule(l.x, y, l.width, Pen{Width: 0.15, Grey: 0.5})
	return y
}

// FirstHeight is the height, in mm, of what stands together at the beginning of a table: its title, its heads, its first
// rows. What stands over a table asks for as much room under itself.
func (f *Faces) FirstHeight(width float64, t Table) float64 {
	l, err := f.layTable(0, width, t)
	if err != nil || len(l.Rows) == 0 {
		return 0 // Table tells what is wrong
	}
	heights := make([]float64, len(l.Rows))
	for i := range min(3, len(l.Rows)) {
		heights[i] = l.rowHeight(l.Rows[i])
	}
	return l.titleHeight() + l.headHeight() + l.together(heights, 0, math.Inf(1))
}

// TableHeight is the height of a whole table on one page, mm.
func (f *Faces) TableHeight(width float64, t Table) float64 {
	l, err := f.layTable(0, width, t)
	if err != nil {
		return 0
	}
	height := l.titleHeight() + l.headHeight()
	for _, r := range l.Rows {
		height += l.rowHeight(r)
	}
	return height
}

// together is the height of a row with what must stand on one page with it: the second row, the last one, the row under a
// section, as far as a page has room for them.
func (l *tableLayout) together(heights []float64, i int, room float64) float64 {
	needed := heights[i]
	for n := i + 1; n < len(l.Rows) && (n == 1 || n == len(l.Rows)-1 || l.Rows[n-1].Section) && needed+heights[n] <= room; n++ {
		needed += heights[n]
	}
	return needed
}

func (l *tableLayout) titleType() Type {
	size := l.TitleSize
	if size == 0 {
		size = 9
	}
	return Set(size, Bold).Heading(3) // under the title of a document and those of its parts
}

// titleHeight is 0 for a table without a title.
func (l *tableLayout) titleHeight() float64 {
	if l.Title == "" {
		return 0
	}
	return LineHeight(l.titleType().Size) + 1
}

func (l *tableLayout) drawTitle(d *Doc, y float64, behind string) float64 {
	if l.Title != "" {
		d.Text(l.x, y, l.width, l.titleType(), l.Title+behind)
	}
	return y + l.titleHeight()
}

// layTable settles the widths of the columns.
func (f *Faces) layTable(x, width float64, t Table) (*tableLayout, error) {
	if t.Size == 0 {
		t.Size = 7.5
	}
	if t.Gap == 0 {
		t.Gap = 2.5
	}
	if len(t.Columns) == 0 {
		return nil, errors.New("a table has no columns: give it at least one")
	}
	l := &tableLayout{Faces: f, Table: t, x: x, width: width, widths: make([]float64, len(t.Columns))}
	used, shares := float64(len(t.Columns)-1)*t.Gap, 0
	for i, c := range t.Columns {
		switch {
		case c.Width == Natural:
			l.widths[i] = l.Width(Set(t.Size, Bold), c.Head)
			for _, r := range t.Rows {
				if i < len(r.Cells) && !r.Section {
					l.widths[i] = math.Max(l.widths[i], l.Width(l.cellType(i, r), r.Cells[i]))
				}
			}
		case c.Width == 0:
			shares++
		default:
			l.widths[i] = c.Width
		}
		used += l.widths[i]
	}
	for i, r := range t.Rows {
		if len(r.Cells) > len(t.Columns) {
			return nil, fmt.Errorf("row %d of a table has %d cells for %d columns: give no more cells than columns", i+1, len(r.Cells), len(t.Columns))
		}
	}
	const least = 5 // a shared column narrower than this shows nothing
	used -= l.narrow(used + least*float64(shares) - width)
	if left := width - used; shares > 0 && left >= least*float64(shares) {
		for i, c := range t.Columns {
			if c.Width == 0 {
				l.widths[i] = left / float64(shares)
			}
		}
	} else if shares > 0 || left < -0.01 {
		return nil, fmt.Errorf("the columns of a table need %.1f mm and have %.1f mm: make one narrower or leave one out", used+least*float64(shares), width)
	}
	at := x
	for _, w := range l.widths {
		l.at = append(l.at, at)
		at += w + t.Gap
	}
	return l, nil
}

// narrow takes what a table is too wide from its widest natural columns, which wrap then, down to a third of each, and says how
// much it took.
func (l *tableLayout) narrow(over float64) (taken float64) {
	if over <= 0 {
		return 0
	}
	columns, least := slices.Clone(l.Columns), make([]float64, len(l.Columns))
	for i, c := range columns {
		if least[i] = l.widths[i]; c.Width == Natural {
			least[i] /= 3
		}
	}
	for over-taken > 1e-9 {
		widest := -1
		for i, c := range columns {
			if c.Width == Natural && l.widths[i] > least[i]+1e-9 && (widest < 0 || l.widths[i] > l.widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		by := min(over-taken, l.widths[widest]-least[widest], max(1, l.widths[widest]/8))
		l.widths[widest] -= by
		columns[widest].Wrap = true
		taken += by
	}
	l.Columns = columns
	return taken
}

func (l *tableLayout) cellType(i int, r Row) Type {
	c := l.Columns[i]
	t := Type{Size: l.Size, Face: c.Face, Align: c.Align, Grey: r.Grey, Struck: r.Struck}
	if r.Bold && c.Face == Regular {
		t.Face = Bold
	}
	return t
}

func (l *tableLayout) headType(i int) Type {
	return Type{Size: l.Size, Face: Bold, Align: l.Columns[i].Align}
}

// headHeight is 0 for a table without heads.
func (l *tableLayout) headHeight() float64 {
	lines := 0
	for i, c := range l.Columns {
		if c.Head != "" {
			lines = max(lines, len(l.Wrap(l.widths[i], l.headType(i), c.Head)))
		}
	}
	if lines == 0 {
		return 0
	}
	return float64(lines)*LineHeight(l.Size) + 2*rowPad
}

// drawHead sets the heads on their common foot line.
func (l *tableLayout) drawHead(d *Doc, y float64) float64 {
	height := l.headHeight()
	if height == 0 {
		return y
	}
	d.under("TR", func() {
		for i, c := range l.Columns {
			lines := l.Wrap(l.widths[i], l.headType(i), c.Head)
			at := y + height - rowPad - float64(len(lines))*LineHeight(l.Size)
			d.told("TH", func() { d.Para(l.at[i], at, l.widths[i], l.headType(i), c.Head, 0) }).with("/Scope /Column")
		}
	})
	d.Rule(l.x, y+height, l.width, Pen{Width: 0.3})
	return y + height
}

func (l *tableLayout) rowHeight(r Row) float64 {
	if r.Section {
		return LineHeight(l.Size) * 1.6
	}
	lines := 1
	for i, s := range r.Cells {
		if l.Columns[i].Wrap {
			lines = max(lines, len(l.paraLines(l.widths[i], l.cellType(i, r), s, l.most)))
		}
	}
	return float64(lines)*LineHeight(l.Size) + 2*rowPad
}

func (l *tableLayout) drawRow(d *Doc, y, height float64, r Row) {
	if r.Section {
		d.under("TR", func() { l.drawSection(d, y, height, r) })
		return
	}
	d.under("TR", func() {
		for i := range l.Columns {
			step := d.told
			words := func() { l.drawCell(d, y, i, r) }
			if i == 0 && r.Anchor != "" {
				step = d.under
				words = func() { d.Link(Rect{l.x, y, l.width, height}, r.Anchor, func() { l.drawCell(d, y, i, r) }) }
			}
			if l.Columns[i].Face == Bold { // it names its row
				step("TH", words).with("/Scope /Row")
			} else {
				step("TD", words)
			}
		}
	})
}

// drawSection sets a heading over the columns.
func (l *tableLayout) drawSection(d *Doc, y, height float64, r Row) {
	d.told("TH", func() {
		if len(r.Cells) > 0 {
			t := Type{Size: l.Size, Face: Bold, Grey: r.Grey, Struck: r.Struck}
			d.Text(l.x, y+height-rowPad-LineHeight(l.Size), l.width, t, r.Cells[0])
		}
	}).with(fmt.Sprintf("/Scope /Column /ColSpan %d", len(l.Columns)))
	d.Rule(l.x, y+height, l.width, Pen{Width: 0.15, Grey: 0.5})
}

func (l *tableLayout) drawCell(d *Doc, y float64, i int, r Row) {
	switch {
	case i >= len(r.Cells): // told as empty
	case l.Columns[i].Wrap:
		d.Para(l.at[i], y+rowPad, l.widths[i], l.cellType(i, r), r.Cells[i], l.most)
	default:
		d.Text(l.at[i], y+rowPad, l.widths[i], l.cellType(i, r), r.Cells[i])
	}
}
