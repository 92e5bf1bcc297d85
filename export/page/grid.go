package page

// Grid divides a box into equal cells, row by row, from the upper left.
type Grid struct {
	Box        Rect
	Cols, Rows int
	Gap        float64 // between cells, mm
	GapDown    float64 // between rows, where it is another than Gap; 0 means Gap
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
