package pages

import (
	"time"

	"traybook/export/page"
)

// Bottle is what stands on the label of a bottle.
type Bottle struct {
	Name     string
	Lines    []string // what it is, how it was mixed, how long it keeps
	Cautions []string
}

// Labels of bottles: two beside each other, five down.
const (
	bottleCols = 2
	bottleRows = 5
	bottlePad  = 4.0 // mm
)

// Bottles draws a label for each bottle, to be cut apart. No faces are those built in.
func Bottles(bottles []Bottle, size string, created time.Time, faces *page.Faces) ([]byte, error) {
	d := page.New(page.Options{Size: size, Margin: 8, Title: "Labels for bottles", Created: created, Faces: faces})
	if err := d.Err(); err != nil {
		return nil, pageImpossible.Refuse(err)
	}
	grid := page.Grid{Box: page.Rect{}, Cols: bottleCols, Rows: bottleRows, Gap: 1e-9}
	for i, b := range bottles {
		if i%grid.PerPage() == 0 {
			d.NewPage()
			grid.Box = d.Area()
		}
		cell := grid.Cell(i % grid.PerPage())
		d.Box(cell, page.Pen{Width: 0.2, Grey: 0.6})
		in := cell.Inset(bottlePad)
		drawBottle(d, in, b)
	}
	return d.Bytes()
}

// drawBottle sets a label's words. Its cautions stand in full before its name does, and that before what it is.
func drawBottle(d *page.Doc, in page.Rect, b Bottle) {
	name, what := page.Set(14, page.Bold).Heading(1), page.Set(8.5, page.Regular)
	room := in.H - 1.6
	for _, l := range b.Cautions {
		room -= d.ParaHeight(in.W, bodyType, "! "+l, 0)
	}
	forName := max(1, int((room-float64(len(b.Lines))*page.LineHeight(what.Size))/page.LineHeight(name.Size)))
	y := d.Para(in.X, in.Y, in.W, name, b.Name, forName) + 0.6
	var needs []int
	for _, l := range b.Lines {
		needs = append(needs, len(d.Wrap(in.W, what, l)))
	}
	for i, most := range shareLines(needs, max(len(needs), int((in.Y+room+0.6-y)/page.LineHeight(what.Size)))) {
		y = d.Para(in.X, y, in.W, what, b.Lines[i], most)
	}
	y++
	for _, l := range b.Cautions {
		if room := int((in.Bottom() - y + 0.2) / page.LineHeight(8)); room > 0 {
			y = d.Para(in.X, y, in.W, bodyType, "! "+l, room)
		}
	}
}
