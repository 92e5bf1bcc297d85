package pages

import (
	"fmt"
	"slices"
	"time"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// PictureOptions say how the page of one picture is printed.
type PictureOptions struct {
	LogOptions
	// Why is what the log answers to why the picture came out as it did, a line each; nil leaves it out.
	Why []string
}

// PicturePage draws one picture: its family of sheets, their tones as called for and as made, why it came out so, and
// every entry, the voided ones struck through.
func PicturePage(src export.Source, asOf time.Time, name string, o PictureOptions) ([]byte, error) {
	b, err := newLogBook(src, asOf, export.Scope{Picture: name}, o.LogOptions)
	if err != nil {
		return nil, err
	}
	snap := b.snap
	p, err := snap.Picture(name)
	if err != nil {
		return nil, err
	}
	cs, err := b.cardsOf(p)
	if err != nil {
		return nil, err
	}
	title := "Picture " + p.Entity.Name
	b.doc = page.New(page.Options{
		Size: o.Size, Margin: pageMargin, Title: joined(", ", title, p.Subject), Author: b.owner, Created: o.Created, Uncompressed: o.Uncompressed,
		Subject: "one picture with every sheet and every entry", Footer: page.Numbered(footText(title, o.Head)),
	})
	b.doc.NewPage()
	b.doc.Bookmark(title, 0)
	y, err := b.pictureHead(snap, p)
	if err != nil {
		return nil, err
	}
	b.doc.SetHead(func(d *page.Doc, y float64) float64 {
		d.Text(d.Area().X, y, d.Area().W, smallType.In(0.3), title+", continued")
		return y + 5
	})
	y = b.family(y, cs)
	y = b.toneCharts(y, cs)
	y = b.whyLines(y, o.Why)
	if err := b.entryTable(snap, y, p); err != nil {
		return nil, err
	}
	return b.doc.Bytes()
}

func (b *logBook) pictureHead(snap *snapshot.Snapshot, p *snapshot.Picture) (float64, error) {
	d := b.doc
	a := d.Area()
	y := d.Para(a.X, a.Y, a.W, headType, joined(" · ", p.Entity.Name, p.Subject), 0)
	n := noteOf(p)
	place := ""
	if p.Session != "" {
		s, err := snap.Session(p.Session)
		if err != nil {
			return y, err
		}
		place = "session " + p.Session
		if s.Opened != nil {
			place = joined(", ", place, s.Opened.Place)
		}
	}
	camera, sitters := "", b.sittersOf(n)
	if p.Camera != "" {
		camera = "camera " + p.Camera
	}
	if sitters != "" {
		sitters = "sitter " + sitters
	}
	when := ""
	if !n.at.IsZero() {
		when = dayOf(n.at) + ", " + n.at.Format("15:04")
	}
	y = d.Para(a.X, y+0.5, a.W, bodyType, joined(" · ", when, place, camera, sitters), 0)
	d.Rule(a.X, y+1, a.W, page.Pen{Width: 0.4})
	return y + 4, nil
}

// family draws the negative with its prints hanging from it, three in a row.
func (b *logBook) family(y float64, cs []card) float64 {
	d := b.doc
	a := d.Area()
	width := (a.W - (cardCols-1)*cardGap) / cardCols
	line := page.LineHeight(smallType.Size)
	heightOf := func(cs ...card) float64 {
		lines := 0
		for _, c := range cs {
			n := cardLines
			if len(c.symptoms) > 0 {
				n += len(page.Wrap(width, smallType, joinWords(c.symptoms)))
			}
			lines = max(lines, n)
		}
		return imageHeight + 0.6 + float64(lines)*line
	}
	var negative []card
	prints := cs
	if len(cs) > 0 && cs[0].s.Generation == snapshot.Negative {
		negative, prints = cs[:1], cs[1:]
	}
	const rail = 3.0 // over each row, from which its prints hang
	trunk := a.X + width + cardGap/2
	top, pen := y, page.Pen{Width: 0.3, Grey: 0.3}
	for from := 0; from == 0 || from < len(prints); from += cardCols - 1 {
		row := prints[from:min(len(prints), from+cardCols-1)]
		height := rail + heightOf(append(slices.Clone(row), negative...)...)
		if next := d.Need(y, height); next != y {
			y, top = next, next
		}
		if len(negative) > 0 {
			b.card(page.Rect{X: a.X, Y: y + rail, W: width}, negative[0])
			if len(prints) > 0 {
				d.Line(a.X+width/2, y+rail, a.X+width/2, y+rail/2, pen)
				d.Line(a.X+width/2, y+rail/2, trunk, y+rail/2, pen)
			}
			negative = nil
		}
		if from > 0 {
			d.Line(trunk, top+rail/2, trunk, y+rail/2, pen)
		}
		for i, c := range row {
			x := a.X + float64(i+1)*(width+cardGap)
			d.Line(trunk, y+rail/2, x+width/2, y+rail/2, pen)
			d.Line(x+width/2, y+rail/2, x+width/2, y+rail, pen)
			b.card(page.Rect{X: x, Y: y + rail, W: width}, c)
			if by := servedByPrint(c); by != "" {
				d.Text(x+width/2+1, y-0.3, width/2-1, smallType.In(0.3), by)
			}
		}
		top = y
		y += height + 2
	}
	return y + 3
}

// servedByPrint says by which earlier print a print was made, and with what change.
func servedByPrint(c card) string {
	s := c.exposure.Serving
	if s == nil || c.s.Generation != snapshot.Positive {
		return ""
	}
	x, ok := s.Data.(*events.SheetReprintedData)
	if !ok {
		return ""
	}
	_, part, _ := events.SplitSheet(x.Sheet)
	text := "after " + part
	if c.exposure.Called != nil {
		for _, f := range c.exposure.Called.Stops {
			if f.Factor == "judged" {
				text += ", " + wording.StopsText(f.Stops)
			}
		}
	}
	return text
}

// toneCharts draws for each sheet its tones as called for (dashed) and as made.
func (b *logBook) toneCharts(y float64, cs []card) float64 {
	cs = slices.DeleteFunc(slices.Clone(cs), func(c card) bool { return c.tones == nil })
	if len(cs) == 0 {
		return y
	}
	d := b.doc
	const height = 42.0
	y = d.Need(y, height+12)
	a := d.Area()
	d.Text(a.X, y, a.W, subheadType, "Tones that the log predicts")
	y = d.Para(a.X, y+4.6, a.W, smallType.In(0.3), "densities over the scene's tones in stops from the mid-tone; dashed as called for, unbroken as made; the mark is a density read on the sheet", 2) + 2
	return b.charts(y, height, len(cs), func(i int, box page.Rect) { toneChart(d, box, cs[i], cs[i].s.Name+", density") })
}

// toneChart draws the tones of one sheet, which the log must tell, and the density that was read on it.
func toneChart(d *page.Doc, box page.Rect, c card, label string) {
	zones, made, calledFor := c.tones.Densities()
	most := max(2.2, slices.Max(made), slices.Max(calledFor))
	plot := d.Chart(box, page.Axis{Label: "stops", Min: zones[0], Max: zones[len(zones)-1], Ticks: []float64{-4, -2, 0, 2, 4}},
		page.Axis{Label: label, Max: most})
	plot.Line(pointsOf(zones, calledFor), page.Pen{Width: 0.25, Grey: 0.35, Dash: []float64{1.4, 0.9}})
	plot.Line(pointsOf(zones, made), page.Pen{Width: 0.45})
	if j := c.s.Verdict(); j != nil && j.Density != nil && j.Density.Mid != nil {
		plot.Marks([]page.Point{{X: 0, Y: *j.Density.Mid}}, page.Ring)
	}
}

// charts lays n charts out three to a row, from y on and over as many pages as they need, and gives the y below them.
func (b *logBook) charts(y, height float64, n int, draw func(i int, box page.Rect)) float64 {
	const cols, gap = 3, 4.0
	d := b.doc
	a := d.Area()
	width := (a.W - (cols-1)*gap) / cols
	for i := range n {
		if i%cols == 0 {
			if i > 0 {
				y += height + gap
			}
			y = d.Need(y, height)
		}
		draw(i, page.Rect{X: a.X + float64(i%cols)*(width+gap), Y: y, W: width, H: height})
	}
	return y + height + 6
}

func pointsOf(xs, ys []float64) []page.Point {
	out := make([]page.Point, len(xs))
	for i := range xs {
		out[i] = page.Point{X: xs[i], Y: ys[i]}
	}
	return out
}

func (b *logBook) whyLines(y float64, lines []string) float64 {
	if lines == nil {
		return y
	}
	d := b.doc
	y = d.Need(y, 14)
	a := d.Area()
	d.Text(a.X, y, a.W, subheadType, "Why it came out so")
	y += 5.5
	if len(lines) == 0 {
		lines = []string{"Nothing was found fault with, so nothing is explained."}
	}
	for _, l := range lines {
		y = d.Need(y, page.ParaHeight(a.W, bodyType, l, 0))
		y = d.Para(a.X, y, a.W, bodyType, l, 0) + 0.8
	}
	return y + 4
}

// entryTable lists every entry of the picture, with what it called for beside what was done.
func (b *logBook) entryTable(snap *snapshot.Snapshot, y float64, p *snapshot.Picture) error {
	all, err := snap.StreamAll(p.Entity)
	if err != nil {
		return err
	}
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{
		{Head: "at", Width: page.Natural}, {Head: "entry", Width: page.Natural, Face: page.Mono}, {Head: "what it says", Wrap: true},
		{Head: "called for", Width: page.Natural, Align: page.Right}, {Head: "done", Width: page.Natural, Align: page.Right},
		{Head: "off by", Width: page.Natural, Align: page.Right},
	}}
	for _, e := range all {
		row := page.Row{Struck: !e.Voided.IsZero(), Cells: []string{e.At.Format("2006-01-02 15:04:05"), e.ID.String()[:8], snap.Sentence(e), "", "", ""}}
		switch {
		case row.Struck:
			row.Cells[2] += " (voided by " + e.Voided.String()[:8] + ")"
		default:
			if n := len(e.Amended); n > 0 {
				row.Cells[2] += " (amended by " + e.Amended[n-1].String()[:8] + ")"
			}
			s, err := calledfor.StepOf(snap, p, e)
			if err != nil {
				return err
			}
			if s.DoneS != nil {
				row.Cells[4] = wording.Seconds(*s.DoneS)
			}
			if call, ok := s.Call(); ok {
				row.Cells[3] = call.Brief()
			}
			if s.DeviationStops != nil && s.DoneS != nil && s.CalledForS != nil {
				row.Cells[5] = wording.OffBy(e.Kind, *s.CalledForS, *s.DoneS, *s.DeviationStops, s.Before)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	d := b.doc
	y = d.Need(y, 20)
	a := d.Area()
	d.Text(a.X, y, a.W, subheadType, fmt.Sprintf("Every entry (%d)", len(all)))
	d.Table(a.X, y+5.5, a.W, t)
	return d.Err()
}
