package pages

import (
	"fmt"
	"slices"
	"time"

	"traybook/calc"
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
	// Original finds the original of a scan by its digest, of which the picture is then made as fine as paper shows: a small
	// picture of 400 points is coarse at the size of this page. Nil, and one that cannot be read, leave the small one.
	Original func(sha256 string) *export.Scan
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
	for i := range cs {
		if c := &cs[i]; c.scan != nil && o.Original != nil {
			c.original = o.Original(c.scan.SHA256)
		}
	}
	title := "Picture " + p.Entity.Name
	b.doc = page.New(page.Options{
		Size: o.Size, Margin: pageMargin, Title: joined(", ", title, p.Subject), Author: b.owner, Created: o.Created, Uncompressed: o.Uncompressed, Faces: o.Faces,
		Subject: "one picture with every sheet and every entry", Footer: page.Numbered(footText(title, o.Head)),
	})
	b.doc.NewPage()
	b.doc.Bookmark(title, 0)
	if err := b.pictureHead(snap, p); err != nil {
		return nil, err
	}
	b.doc.SetHead(func(d *page.Doc, y float64) float64 {
		d.Text(d.Area().X, y, d.Area().W, smallType.In(0.3), title+", continued")
		return y + 5
	})
	b.family(cs)
	b.toneCharts(cs)
	b.whyLines(o.Why)
	if err := b.entryTable(snap, p); err != nil {
		return nil, err
	}
	return b.doc.Bytes()
}

func (b *logBook) pictureHead(snap *snapshot.Snapshot, p *snapshot.Picture) error {
	d := b.doc
	a := d.Area()
	y := d.Para(a.X, a.Y, a.W, headType, joined(" · ", p.Entity.Name, p.Subject), 0)
	n := noteOf(p)
	place := ""
	if p.Session != "" {
		s, err := snap.Session(p.Session)
		if err != nil {
			return err
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
	b.y = y + 4
	return nil
}

// family draws the negative with its prints hanging from it, up to three in a row: the fewer there are, the larger they
// stand.
func (b *logBook) family(cs []card) {
	d := b.doc
	a := d.Area()
	var negative []card
	prints := cs
	if len(cs) > 0 && cs[0].s.Generation == snapshot.Negative {
		negative, prints = cs[:1], cs[1:]
	}
	cols := min(mostCells, max(2, 1+len(prints)))
	width := (a.W - float64(cols-1)*cardGap) / float64(cols)
	laid := sheetRow{image: familyMost}
	for _, c := range cs {
		laid.image = min(laid.image, width/c.shape())
	}
	heightOf := func(cs ...card) (height float64) {
		for _, c := range cs {
			_, numbers := laid.places(page.Rect{W: width}, c)
			height = max(height, numbers.Y+cardHeight(b.doc, c, numbers.W))
		}
		return height
	}
	const rail = 3.0 // over each row, from which its prints hang
	trunk := a.X + width + cardGap/2
	y, pen := b.y, page.Pen{Width: 0.3, Grey: 0.3}
	top := y
	for from := 0; from == 0 || from < len(prints); from += cols - 1 {
		row := prints[from:min(len(prints), from+cols-1)]
		height := rail + heightOf(append(slices.Clone(row), negative...)...)
		if next := d.Need(y, height); next != y {
			y, top = next, next
		}
		if len(negative) > 0 {
			b.card(laid, page.Rect{X: a.X, Y: y + rail, W: width}, negative[0])
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
			b.card(laid, page.Rect{X: x, Y: y + rail, W: width}, c)
			if by := servedByPrint(c); by != "" {
				d.Text(x+width/2+1, y-0.3, width/2-1, smallType.In(0.3), by)
			}
		}
		top = y
		y += height + 2
	}
	b.y = y
}

// familyMost is the height of a sheet's picture on the page of its picture, mm.
const familyMost = 80.0

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
func (b *logBook) toneCharts(cs []card) {
	cs = slices.DeleteFunc(slices.Clone(cs), func(c card) bool { return c.tones == nil })
	if len(cs) == 0 {
		return
	}
	b.charts("Tones that the log predicts", "densities over the scene's tones in stops from the mid-tone; dashed as called for, unbroken as made; the mark is a density read on the sheet",
		42, len(cs), func(i int, box page.Rect) { toneChart(b.doc, box, cs[i], cs[i].s.Name+", density") })
}

// toneChart draws the tones of one sheet, which the log must tell, and the density that was read on it: eight points a stop
// of the model itself, so that its curve is smooth.
func toneChart(d *page.Doc, box page.Rect, c card, label string) {
	made, calledFor, most := []page.Point{}, []page.Point{}, 2.2
	for z := float64(calc.FirstZone); z <= calc.LastZone; z += 1.0 / 8 {
		density := func(g calc.TwoGenerations) page.Point {
			tone := g.Tone(z)
			if c.tones.Positive {
				tone.Negative = tone.Print
			}
			most = max(most, tone.Negative)
			return page.Point{X: z, Y: tone.Negative}
		}
		made, calledFor = append(made, density(c.tones.Made)), append(calledFor, density(c.tones.CalledFor))
	}
	plot := d.Chart(box, page.Axis{Label: "stops", Min: calc.FirstZone, Max: calc.LastZone, Ticks: []float64{-4, -2, 0, 2, 4}},
		page.Axis{Label: label, Max: most})
	plot.Line(calledFor, page.Pen{Width: 0.25, Grey: 0.35, Dash: []float64{1.4, 0.9}})
	plot.Line(made, page.Pen{Width: 0.45})
	if j := c.s.Verdict(); j != nil && j.Density != nil && j.Density.Mid != nil {
		plot.Marks([]page.Point{{X: 0, Y: *j.Density.Mid}}, page.Ring)
	}
}

// charts lays n charts out under a title and a line of words, three to a row, over as many pages as they need.
func (b *logBook) charts(title, words string, height float64, n int, draw func(i int, box page.Rect)) {
	const cols, gap = 3, 4.0
	d := b.doc
	a := d.Area()
	width := (a.W - (cols-1)*gap) / cols
	y := d.Need(b.y+6, height+12)
	d.Text(a.X, y, a.W, subheadType, title)
	if y += 5; words != "" {
		y = d.Para(a.X, y, a.W, smallType.In(0.3), words, 2) + 1.5
	}
	for i := range n {
		if i%cols == 0 && i > 0 {
			next := d.Need(y+height+gap, height)
			if next < y { // on another page
				a = d.Area()
				d.Text(a.X, next, a.W, subheadType, title+", continued")
				next += 6
			}
			y = next
		}
		draw(i, page.Rect{X: a.X + float64(i%cols)*(width+gap), Y: y, W: width, H: height})
	}
	b.y = y + height
}

func (b *logBook) whyLines(lines []string) {
	if lines == nil {
		return
	}
	if len(lines) == 0 {
		lines = []string{"Nothing was found fault with, so nothing is explained."}
	}
	d := b.doc
	a := d.Area()
	y := d.Need(b.y+6, 5.5+d.ParaHeight(a.W, bodyType, lines[0], 0))
	d.Text(a.X, y, a.W, subheadType, "Why it came out so")
	y += 5.5
	for _, l := range lines {
		y = d.Flow(a.X, y, a.W, bodyType, l) + 0.8
	}
	b.y = y
}

// entryTable lists every entry of the picture, with what it called for beside what was done.
func (b *logBook) entryTable(snap *snapshot.Snapshot, p *snapshot.Picture) error {
	all, err := snap.StreamAll(p.Entity)
	if err != nil {
		return err
	}
	t := page.Table{Title: fmt.Sprintf("Every entry (%d)", len(all)), Size: 7, Banded: true, Columns: []page.Column{
		{Head: "at", Width: page.Natural}, {Head: "entry", Width: page.Natural, Face: page.Mono}, {Head: "what it says", Wrap: true},
		{Head: "called for", Width: page.Natural, Align: page.Right}, {Head: "done", Width: page.Natural, Align: page.Right},
		{Head: "off by", Width: page.Natural, Align: page.Right},
	}}
	for _, e := range all {
		row := page.Row{Struck: !e.Voided.IsZero(), Cells: []string{e.At.Format("2006-01-02 15:04:05"), e.ID.String()[:8], sentence(snap, e), "", "", ""}}
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
	a := d.Area()
	d.Table(a.X, b.y+6, a.W, t)
	return d.Err()
}
