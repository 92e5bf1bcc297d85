package pages

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"traybook/export/page"
)

// Types of the log's pages.
var (
	titleType   = page.Set(20, page.Bold).Heading(1)
	headType    = page.Set(13, page.Bold).Heading(2)
	subheadType = page.Set(9, page.Bold).Heading(3)
	bodyType    = page.Set(8, page.Regular)
	smallType   = page.Set(6.5, page.Regular)
)

// titlePage says whose log it is, what stands in it and how to read it.
func (b *logBook) titlePage(title string) {
	d := b.doc
	d.NewPage()
	d.Bookmark("Summary", 0)
	a := d.Area()
	y := d.Para(a.X, a.Y, a.W, titleType, title, 3)
	if b.owner != "" {
		y = d.Para(a.X, y+1, a.W, page.Set(11, page.Regular), b.owner, 3)
	}
	if period := b.period(); period != "" {
		y = d.Para(a.X, y+1, a.W, bodyType.In(0.3), period, 2)
	}
	y += 5
	y = b.counts(a, y) + 6
	half := (a.W - 8) / 2
	left := page.Rect{X: a.X, Y: y, W: half, H: 96}
	right := page.Rect{X: a.X + half + 8, Y: y, W: half, H: left.H}
	under := b.months(left) + 5
	causes := b.causes()
	if causes == nil {
		under = max(under, b.eyeSaw(right))
	} else {
		beside := b.ranked(right, "Failures by cause", causes, "No cause was found in the log.")
		under = max(b.eyeSaw(page.Rect{X: left.X, Y: under, W: half, H: left.Bottom() - under}), beside)
	}
	y = under + 5
	y = b.howToRead(y)
	if b.sessionList(y + 5); d.Page() == 1 { // the title has its page to itself
		b.y = d.Sheet().H
	}
}

func (b *logBook) period() string {
	var first, last time.Time
	for _, n := range b.all {
		if first.IsZero() || n.at.Before(first) {
			first = n.at
		}
		if n.at.After(last) {
			last = n.at
		}
	}
	switch {
	case first.IsZero():
		return ""
	case dateOf(first) == dateOf(last):
		return "exposed on " + dayOf(first)
	}
	return "exposed from " + dayOf(first) + " to " + dayOf(last)
}

// singular is what stands beside a count of one.
var singular = strings.NewReplacer("sessions", "session", "pictures", "picture", "prints", "print", "sheets", "sheet")

// counts draws the figures of the summary in a row.
func (b *logBook) counts(a page.Rect, y float64) float64 {
	prints, kept, failed, open, given := 0, 0, 0, 0, 0
	for _, n := range b.all {
		for _, s := range n.sheets {
			if s.part != "n" {
				prints++
			}
			switch s.verdict {
			case "keep":
				kept++
			case "redo", "reject":
				failed++
			default:
				open++
			}
			if s.state == "delivered" {
				given++
			}
		}
	}
	sessions := 0
	for _, g := range b.groups {
		if g.session != nil {
			sessions++
		}
	}
	figures := []struct {
		n    int
		what string
	}{{sessions, "sessions"}, {len(b.all), "pictures"}, {prints, "prints"}, {kept, "sheets kept"}, {failed, "sheets to redo or rejected"},
		{open, "sheets not judged"}, {given, "sheets delivered"}}
	grid := page.Grid{Box: page.Rect{X: a.X, Y: y, W: a.W, H: 17}, Cols: len(figures), Rows: 1, Gap: 2}
	d := b.doc
	for i, f := range figures {
		c := grid.Cell(i)
		d.Rule(c.X, c.Y, c.W, page.Pen{Width: 0.4})
		what := f.what
		if f.n == 1 {
			what = singular.Replace(what)
		}
		d.Paragraph(func() {
			d.Text(c.X, c.Y+1, c.W, page.Set(15, page.Bold), fmt.Sprint(f.n))
			d.Para(c.X, c.Y+8, c.W, smallType, what, 2)
		})
	}
	return grid.Box.Bottom()
}

// months draws how the negatives of each month were judged, by the best of their sheets.
func (b *logBook) months(box page.Rect) float64 {
	d := b.doc
	d.Text(box.X, box.Y, box.W, subheadType, "Pictures by month")
	var labels []string
	parts := map[string][]float64{}
	for _, n := range b.all {
		m := n.at.Format("2006-01")
		if parts[m] == nil {
			parts[m] = make([]float64, 3)
			labels = append(labels, m)
		}
		parts[m][fate(n)]++
	}
	slices.Sort(labels)
	stacks := make([]page.Stack, len(labels))
	for i, m := range labels {
		p := parts[m]
		stacks[i] = page.Stack{Label: m, Parts: p, Note: fmt.Sprintf("%.0f", p[0]+p[1]+p[2])}
	}
	if len(stacks) == 0 {
		return d.Para(box.X, box.Y+6, box.W, bodyType.In(0.3), "No picture was exposed.", 1)
	}
	inner := page.Rect{X: box.X, Y: box.Y + 6, W: box.W, H: min(box.H-6, 60)}
	return d.StackedBars(inner, []string{"a sheet kept", "failed so far", "not judged"}, stacks)
}

// fate is 0 for a picture of which a sheet was kept, 1 for one that failed so far, 2 for one that nobody has judged.
func fate(n *pictureNote) int {
	out := 2
	for _, s := range n.sheets {
		switch s.verdict {
		case "keep":
			return 0
		case "redo", "reject":
			out = 1
		}
	}
	return out
}

// eyeSaw ranks what was found fault with.
func (b *logBook) eyeSaw(box page.Rect) float64 {
	var words []string
	for _, n := range b.all {
		for _, s := range n.sheets {
			for _, symptom := range s.symptoms {
				words = append(words, inWords(symptom))
			}
		}
	}
	return b.ranked(box, "What the eye saw", tally(words), "Nothing was found fault with.")
}

// ranked draws a tally under its heading; what has no room is counted in a last line.
func (b *logBook) ranked(box page.Rect, head string, ts []Tally, none string) float64 {
	d := b.doc
	d.Text(box.X, box.Y, box.W, subheadType, head)
	if len(ts) == 0 {
		return d.Para(box.X, box.Y+6, box.W, bodyType.In(0.3), none, 2)
	}
	return d.RankedBars(page.Rect{X: box.X, Y: box.Y + 6, W: box.W, H: box.H - 6}, barsOf(ts))
}

// howToRead explains the marks of a card by example.
func (b *logBook) howToRead(y float64) float64 {
	d := b.doc
	a := d.Area()
	y = d.Need(y, 34)
	a = d.Area()
	d.Text(a.X, y, a.W, subheadType, "How to read the sheets")
	y += 6
	col := (a.W - 8) / 3
	x := a.X
	d.Deviation(page.Rect{X: x, Y: y, W: 24, H: 3}, 1, deviationSpan)
	d.Para(x, y+4, col, smallType, "Done against called for: the tick in the middle is as called for, each stroke one stop, "+
		"a bar to the right too much, to the left too little, an arrowhead beyond the scale. Empty: nothing in the log calls for a time.", 6)
	x += col + 4
	d.GreyScale(page.Rect{X: x, Y: y - 0.5, W: 24, H: 4}, []float64{0.1, 0.3, 0.6, 1, 1.4, 1.8}, nil)
	d.Para(x, y+4, col, smallType, "Where a sheet has no scan, a grey scale stands in its place: the tones that its log predicts, from the "+
		"lightest thing in the scene (left) to the darkest. A prediction, not a picture.", 6)
	x += col + 4
	box := page.Rect{X: x, Y: y - 0.5, W: 10, H: 4}
	d.Fill(box, 0.8)
	d.Strike(box)
	d.Para(x, y+4, col, smallType, "Both diagonals through a sheet: judged redo or reject. What was said of a sheet stands under its "+
		"picture; a subject cut with … stands in full in the index.", 6)
	return y + 4 + 6*page.LineHeight(smallType.Size)
}

// sessionList leads to the sessions.
func (b *logBook) sessionList(y float64) {
	if b.y = y; len(b.groups) == 0 {
		return
	}
	a := b.doc.Area()
	weather := func(i int) string {
		if s := b.groups[i].session; s != nil {
			return joined(", ", s.Opened.Sky, s.Opened.Light)
		}
		return ""
	}
	const size = 7.5
	t := page.Table{Size: size, Banded: true, Columns: []page.Column{
		{Head: "session", Width: page.Natural}, {Head: "opened", Width: page.Natural}, {Head: "place", Wrap: true},
		{Head: "sky, light", Wrap: true, Width: b.widest(size, a.W*0.25, "sky, light", len(b.groups), weather)},
		{Head: "pictures", Width: page.Natural, Align: page.Right},
	}}
	for i, g := range b.groups {
		r := page.Row{Cells: []string{"of no session", "", "", "", fmt.Sprint(len(g.notes))}, Anchor: g.anchor()}
		if s := g.session; s != nil {
			r.Cells = []string{s.Entity.Name, s.At.Format("2006-01-02 15:04"), s.Opened.Place, weather(i), fmt.Sprint(len(g.notes))}
		}
		t.Rows = append(t.Rows, r)
	}
	t.Title = "Sessions"
	b.y = b.doc.Table(a.X, y, a.W, t)
}

func (g *logGroup) anchor() string {
	if g.session == nil {
		return "session:"
	}
	return "session:" + g.session.Entity.Name
}
