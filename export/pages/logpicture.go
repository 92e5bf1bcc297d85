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
	cs, err := b.fineCardsOf(p)
	if err != nil {
		return nil, err
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
	entries, err := b.entryTable(snap, p)
	if err != nil {
		return nil, err
	}
	if o.Why != nil && len(o.Why) == 0 {
		o.Why = []string{"Nothing was found fault with, so nothing is explained."}
	}
	image, chart := b.onOnePage(cs, o.Why, entries)
	b.family(cs, image)
	b.toneCharts(cs, chart)
	b.whyLines(o.Why)
	b.doc.Table(b.doc.Area().X, b.y+partOfPicture, b.doc.Area().W, entries)
	return b.doc.Bytes()
}

const (
	familyMost    = 80.0 // height of a sheet's picture on the page of its picture, mm
	chartMost     = 42.0 // of the tones of a sheet
	chartLeast    = 34.0
	partOfPicture = 6.0 // over a part
)

// onOnePage are the heights, mm, at which the pictures of the sheets and their tones stand: somewhat lower where all of the page has
// room then, for the last rows of a table alone on another are worse.
func (b *logBook) onOnePage(cs []card, why []string, entries page.Table) (image, chart float64) {
	d := b.doc
	a := d.Area()
	f := b.layFamily(cs, familyMost)
	need := b.y + partOfPicture + d.TableHeight(a.W, entries) + 0.5
	for _, row := range f.rows {
		need += row.height + familyGap
	}
	charts := float64((len(withTones(cs)) + chartCols - 1) / chartCols)
	if charts > 0 {
		need += partOfPicture + chartsHead(d, a.W, tonesWords) + charts*chartMost + (charts-1)*chartGap
	}
	if why != nil {
		need += partOfPicture + whyHead
		for _, l := range why {
			need += d.ParaHeight(a.W, bodyType, l, 0) + whyGap
		}
	}
	over := need - a.Bottom()
	lower := min(over, charts*(chartMost-chartLeast))
	each := (over - lower) / float64(len(f.rows))
	if over <= 0 || each > f.laid.image/4 {
		return familyMost, chartMost
	}
	if chart = chartMost; charts > 0 {
		chart -= lower / charts
	}
	return f.laid.image - each, chart
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

// family is a negative with its prints, up to three in a row: the fewer there are, the larger they stand.
type family struct {
	negative []card // one, or none
	width    float64
	laid     sheetRow
	rows     []familyRow
}

type familyRow struct {
	prints []card
	height float64 // with what it hangs from, and with the negative in the first
}

const (
	familyRail = 3.0 // over each row, from which its prints hang, mm
	familyGap  = 2.0
)

// layFamily measures a family whose pictures are as high as that, mm, at most.
func (b *logBook) layFamily(cs []card, most float64) family {
	prints := cs
	var f family
	if len(cs) > 0 && cs[0].s.Generation == snapshot.Negative {
		f.negative, prints = cs[:1], cs[1:]
	}
	cols := min(mostCells, max(2, 1+len(prints)))
	f.width = (b.doc.Area().W - float64(cols-1)*cardGap) / float64(cols)
	f.laid.image = most
	for _, c := range cs {
		f.laid.image = min(f.laid.image, f.width/c.shape())
	}
	for from := 0; from == 0 || from < len(prints); from += cols - 1 {
		row := familyRow{prints: prints[from:min(len(prints), from+cols-1)]}
		all := row.prints
		if from == 0 {
			all = append(slices.Clone(all), f.negative...)
		}
		for _, c := range all {
			_, numbers := f.laid.places(page.Rect{W: f.width}, c)
			row.height = max(row.height, numbers.Y+cardHeight(b.doc, c, numbers.W))
		}
		row.height += familyRail
		f.rows = append(f.rows, row)
	}
	return f
}

// family draws a family, its prints hanging from the negative.
func (b *logBook) family(cs []card, most float64) {
	d := b.doc
	a := d.Area()
	f := b.layFamily(cs, most)
	trunk := a.X + f.width + cardGap/2
	y, pen := b.y, page.Pen{Width: 0.3, Grey: 0.3}
	top := y
	for n, row := range f.rows {
		if next := d.Need(y, row.height); next != y {
			y, top = next, next
		}
		if n == 0 && len(f.negative) > 0 {
			b.card(f.laid, page.Rect{X: a.X, Y: y + familyRail, W: f.width}, f.negative[0])
			if len(row.prints) > 0 {
				d.Line(a.X+f.width/2, y+familyRail, a.X+f.width/2, y+familyRail/2, pen)
				d.Line(a.X+f.width/2, y+familyRail/2, trunk, y+familyRail/2, pen)
			}
		}
		if n > 0 {
			d.Line(trunk, top+familyRail/2, trunk, y+familyRail/2, pen)
		}
		for i, c := range row.prints {
			x := a.X + float64(i+1)*(f.width+cardGap)
			d.Line(trunk, y+familyRail/2, x+f.width/2, y+familyRail/2, pen)
			d.Line(x+f.width/2, y+familyRail/2, x+f.width/2, y+familyRail, pen)
			b.card(f.laid, page.Rect{X: x, Y: y + familyRail, W: f.width}, c)
			if by := servedByPrint(c); by != "" {
				d.Text(x+f.width/2+1, y-0.3, f.width/2-1, smallType.In(0.3), by)
			}
		}
		top = y
		y += row.height + familyGap
	}
	b.y = y
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

func withTones(cs []card) []card {
	return slices.DeleteFunc(slices.Clone(cs), func(c card) bool { return c.tones == nil })
}

const tonesWords = "densities over the scene's tones in stops from the mid-tone; dashed as called for, unbroken as made; the mark is a density read on the sheet"

// toneCharts draws for each sheet its tones as called for (dashed) and as made.
func (b *logBook) toneCharts(cs []card, height float64) {
	if cs = withTones(cs); len(cs) == 0 {
		return
	}
	b.charts("Tones that the log predicts", tonesWords, height, len(cs), func(i int, box page.Rect) { toneChart(b.doc, box, cs[i], cs[i].s.Name+", density") })
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

const (
	chartCols = 3
	chartGap  = 4.0 // mm
)

// chartsHead is the height of a title of charts and of words under it, mm.
func chartsHead(d *page.Doc, width float64, words string) float64 {
	if words == "" {
		return 5
	}
	return 5 + d.ParaHeight(width, smallType, words, 2) + 1.5
}

// charts lays n charts out under a title and a line of words, three to a row, over as many pages as they need.
func (b *logBook) charts(title, words string, height float64, n int, draw func(i int, box page.Rect)) {
	const cols, gap = chartCols, chartGap
	d := b.doc
	a := d.Area()
	width := (a.W - (cols-1)*gap) / cols
	y := d.Need(b.y+partOfPicture, height+12)
	d.Text(a.X, y, a.W, subheadType, title)
	if words != "" {
		d.Para(a.X, y+5, a.W, smallType.In(0.3), words, 2)
	}
	y += chartsHead(d, a.W, words)
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

const whyHead, whyGap = 5.5, 0.8 // mm

func (b *logBook) whyLines(lines []string) {
	if lines == nil {
		return
	}
	d := b.doc
	a := d.Area()
	y := d.Need(b.y+partOfPicture, whyHead+d.ParaHeight(a.W, bodyType, lines[0], 0))
	d.Text(a.X, y, a.W, subheadType, "Why it came out so")
	y += whyHead
	for _, l := range lines {
		y = d.Flow(a.X, y, a.W, bodyType, l) + whyGap
	}
	b.y = y
}

// entryTable lists every entry of the picture, with what it called for beside what was done.
func (b *logBook) entryTable(snap *snapshot.Snapshot, p *snapshot.Picture) (page.Table, error) {
	all, err := snap.StreamAll(p.Entity)
	if err != nil {
		return page.Table{}, err
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
				return t, err
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
	return t, nil
}
