package page

import "math"

// Grid divides a box into equal cells, row by row, from the upper left.
type Grid struct {
	Box        Rect
	Cols, Rows int
	Gap        float64 // between cells, mm
	GapDown    float64 // between rows, where it is another than Gap; 0 means Gap
}

// Grid returns a grid over what the margins of the open page leave. It opens
// the first page.
func (d *Doc) Grid(cols, rows int, gap float64) Grid {
	if d.page == 0 {
		d.NewPage()
	}
	return Grid{Box: d.Area(), Cols: cols, Rows: rows, Gap: gap}
}

// PerPage returns the number of cells, at least 1.
func (g Grid) PerPage() int { return max(1, g.Cols) * max(1, g.Rows) }

// Cell returns the i-th cell, counted from 0.
func (g Grid) Cell(i int) Rect {
	cols, rows := max(1, g.Cols), max(1, g.Rows)
	down := g.GapDown
	if down == 0 {
		down = g.Gap
	}
	w := (g.Box.W - float64(cols-1)*g.Gap) / float64(cols)
	h := (g.Box.H - float64(rows-1)*down) / float64(rows)
	return Rect{
		X: g.Box.X + float64(i%cols)*(w+g.Gap),
		Y: g.Box.Y + float64(i/cols%rows)*(h+down),
		W: w, H: h,
	}
}

// EachCell calls draw for every one of n items with its cell, in a grid that
// fills the rest of the open page from y down and then the whole of each
// further page, which it begins as needed. All cells have one height, so that
// rows of them fill a page; when what is above y leaves the first page little
// shorter, they are that much lower and it holds as many rows as the others,
// else it holds as many as fit. It returns the y under the last cell.
func (d *Doc) EachCell(y float64, n, cols, rows int, gap float64, draw func(i int, cell Rect)) float64 {
	full := d.Grid(cols, rows, gap)
	cols, rows = max(1, cols), max(1, rows)
	height := full.Cell(0).H
	const little = 0.15 // of the page
	if room := full.Box.Bottom() - y; room >= (1-little)*full.Box.H {
		height = math.Min(height, (room-float64(rows-1)*gap)/float64(rows))
	}
	from := func(y float64) Grid {
		g := full
		g.Rows = max(0, int((d.h-d.margin-y+gap+slack)/(height+gap)))
		g.Box.Y = y
		g.Box.H = float64(g.Rows)*(height+gap) - gap
		return g
	}
	here, bottom, placed := from(y), y, 0
	for i := range n {
		if placed == here.Rows*cols {
			d.NewPage()
			here, placed = from(d.top), 0
			// A running head may have grown; a page holds one row at least.
			here.Rows = max(1, here.Rows)
			here.Box.H = float64(here.Rows)*(height+gap) - gap
		}
		if d.err != nil {
			return bottom
		}
		cell := here.Cell(placed)
		draw(i, cell)
		bottom = cell.Bottom()
		placed++
	}
	return bottom
}
