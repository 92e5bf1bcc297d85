package pages

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// stockPages tell what paper there is and where it went.
func (b *logBook) stockPages() error {
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{
		{Head: "box", Width: page.Natural, Face: page.Bold}, {Head: "paper", Wrap: true}, {Head: "size, mm", Width: page.Natural},
		{Head: "came", Width: page.Natural}, {Head: "date", Width: page.Natural}, {Head: "index", Width: page.Natural, Align: page.Right},
		{Head: "R", Width: page.Natural, Align: page.Right},
		{Head: "received", Width: page.Natural, Align: page.Right}, {Head: "exposed", Width: page.Natural, Align: page.Right},
		{Head: "spoiled, cut", Width: page.Natural, Align: page.Right}, {Head: "left", Width: page.Natural, Align: page.Right},
	}}
	var stacks []page.Stack
	var ratings []page.Row
	err := b.chosen.EachBox(func(x *snapshot.Box) error {
		s, err := b.snap.StockOf(x)
		if err != nil {
			return err
		}
		now := b.snap.AsOf
		if now.IsZero() {
			now = export.FarAhead
		}
		paper := x.PaperFor(now, snapshot.Negative, "", "")
		index := ""
		if paper.Index > 0 {
			index = wording.Number(paper.Index)
			if !paper.Measured {
				index += " by P"
			}
		}
		r := x.Received
		name := joined(", ", r.Name, baseWords(r.Base), r.Surface)
		if x.CutFrom != "" {
			name += ", cut from " + x.CutFrom
		}
		t.Rows = append(t.Rows, page.Row{Cells: []string{
			x.Entity.Name, name, wording.Number(r.WidthMM) + " × " + wording.Number(r.HeightMM), dateOf(x.At), r.Expires, index,
			wording.Number(paper.ISOR), sheets(s.Received), sheets(s.Exposed), sheets(s.Spoiled + s.Cut), sheets(s.Left),
		}})
		stacks = append(stacks, page.Stack{Label: x.Entity.Name, Parts: []float64{s.Exposed, s.Spoiled + s.Cut, max(0, s.Left)}, Note: sheets(s.Left) + " left"})
		for _, e := range x.Entries {
			if e.Kind != events.PaperReceived {
				ratings = append(ratings, page.Row{Cells: []string{x.Entity.Name, e.At.Format("2006-01-02 15:04"), sentence(b.snap, e)}})
			}
		}
		return nil
	})
	if err != nil || len(t.Rows) == 0 {
		return err
	}
	b.steps <- func() {
		b.part("Paper", t)
		d := b.doc
		height := min(100, float64(len(stacks))*5+10)
		y := d.Need(b.y+6, height+7)
		a := d.Area()
		d.Text(a.X, y, a.W, subheadType, "Where the sheets went")
		b.y = d.StackedBars(page.Rect{X: a.X, Y: y + 6, W: a.W, H: height}, []string{"exposed", "spoiled or cut", "left"}, stacks)
		b.happened("Ratings, counts, spoils and cuttings", ratings)
	}
	return nil
}

func baseWords(base string) string {
	switch base {
	case "rc":
		return "resin-coated"
	case "fb":
		return "fibre"
	}
	return base
}

func sheets(v float64) string { return wording.Number(math.Round(v*100) / 100) }

// part draws a table of the back matter under its heading, where the part before ended.
func (b *logBook) part(title string, t page.Table) {
	d := b.doc
	d.SetHead(nil)
	a := d.Area()
	t.Title, t.TitleSize = title, headType.Size
	b.y = d.Need(b.y+partGap, d.FirstHeight(a.W, t)+10)
	d.BookmarkAt(title, 0, b.y)
	b.y = d.Table(a.X, b.y, a.W, t)
}

const partGap = 9.0 // mm, over a part

// happened lists what befell boxes or baths.
func (b *logBook) happened(title string, rows []page.Row) {
	if len(rows) == 0 {
		return
	}
	b.under(title, page.Table{Size: 7, Rows: rows, Columns: []page.Column{{Width: page.Natural, Face: page.Bold}, {Width: page.Natural}, {Wrap: true}}})
}

// bathPages tell how far the baths have come.
func (b *logBook) bathPages() error {
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{
		{Head: "bath", Width: page.Natural, Face: page.Bold}, {Head: "role", Width: page.Natural}, {Head: "mixed from", Wrap: true},
		{Head: "mixed", Width: page.Natural}, {Head: "ml", Width: page.Natural, Align: page.Right},
		{Head: "state", Width: page.Natural}, {Head: "sheets", Width: page.Natural, Align: page.Right},
		{Head: "m²", Width: page.Natural, Align: page.Right}, {Head: "of m²", Width: page.Natural, Align: page.Right},
		{Head: "in the tray", Width: page.Natural, Align: page.Right}, {Head: "of", Width: page.Natural, Align: page.Right},
		{Head: "calls for", Width: page.Natural, Align: page.Right}, {Head: "at °C", Width: page.Natural, Align: page.Right},
	}}
	var bars []page.Bar
	var tests []page.Row
	var courses []bathCourse
	err := b.chosen.EachBath(func(x *snapshot.Bath) error {
		r, err := b.chosen.BathRow(x)
		if err != nil {
			return err
		}
		calls, tempC := "", ""
		if call, ok := r.Line.Call(); ok {
			calls, tempC = call.Brief(), wording.Number(r.Line.TempC)
		}
		m := x.Mixed
		t.Rows = append(t.Rows, page.Row{Cells: []string{
			x.Entity.Name, inWords(m.Role), joined(" ", m.Name, m.Dilution), x.At.Format("2006-01-02 15:04"), wording.Number(m.VolumeML), r.Line.State, fmt.Sprint(r.Line.Sheets),
			fmt.Sprintf("%.3f", r.Line.AreaM2), orDash(r.Line.CapacityM2), hours(&r.Line.AgeH), hours(r.Line.LifeH), calls, tempC,
		}})
		if used := r.Line.Used; used != nil {
			bars = append(bars, page.Bar{Label: x.Entity.Name, Value: *used, Note: wording.Percent(*used) + ", " + r.Line.State})
			course, err := b.courseOf(r)
			if err != nil {
				return err
			}
			courses = append(courses, course)
		}
		for _, e := range x.Entries {
			if e.Kind != events.BathMixed {
				tests = append(tests, page.Row{Cells: []string{x.Entity.Name, e.At.Format("2006-01-02 15:04"), sentence(b.snap, e)}})
			}
		}
		return nil
	})
	if err != nil || len(t.Rows) == 0 {
		return err
	}
	b.steps <- func() {
		b.part("Baths", t)
		b.sharesUsed(bars)
		b.bathCourses(courses)
		b.happened("Tests, moves, replenishments and ends", tests)
	}
	return nil
}

// sharesUsed draws a bar for every bath, on as many pages as they need, each in the frame of its capacity.
func (b *logBook) sharesUsed(bars []page.Bar) {
	d := b.doc
	const row, most = 4.2, 50
	title := "Share of the capacity used; the frame is 100 %"
	for from := 0; from < len(bars); from += most {
		part := bars[from:min(len(bars), from+most)]
		height := float64(len(part)) * row
		y := d.Need(b.y+6, height+7)
		a := d.Area()
		d.Text(a.X, y, a.W, subheadType, title)
		b.y = d.ShareBars(page.Rect{X: a.X, Y: y + 6, W: a.W, H: height}, part)
		title = "Share of the capacity used, continued"
	}
}

// hours tells hours as every time is told.
func hours(h *float64) string {
	if h == nil {
		return wording.Dash
	}
	return wording.Seconds(math.Round(*h*60) * 60)
}

func orDash(v *float64) string {
	if v == nil {
		return "–"
	}
	return wording.Number(*v)
}

// bathCourse is how a developer or fixer used up, in % of its capacity over the hours in the tray.
type bathCourse struct {
	name   string
	points []page.Point
}

func (b *logBook) courseOf(r export.BathRow) (bathCourse, error) {
	c := bathCourse{name: r.B.Entity.Name}
	uses, err := report.TreatedIn(b.snap, r.B)
	if err != nil {
		return c, err
	}
	if r.B.Mixed.Role != "developer" && r.B.Mixed.Role != "fixer" || len(uses) < 3 {
		return c, nil
	}
	const most = 24 // points are enough for a curve a hand wide
	every := max(1, (len(uses)+most-1)/most)
	c.points = append(c.points, page.Point{})
	for i := range uses {
		if i%every != 0 && i != len(uses)-1 {
			continue
		}
		age, err := b.snap.AgeOf(r.B, uses[i].Last, false, "")
		if err != nil {
			return c, err
		}
		c.points = append(c.points, page.Point{X: age.TrayH, Y: 100 * age.Used})
	}
	return c, nil
}

// bathCourses draws how developers and fixers used up, each by itself so that none needs a colour.
func (b *logBook) bathCourses(cs []bathCourse) {
	cs = slices.DeleteFunc(cs, func(c bathCourse) bool { return len(c.points) < 3 })
	if len(cs) == 0 {
		return
	}
	b.charts("How developers and fixers used up", "", 36, len(cs), func(i int, box page.Rect) {
		c := cs[i]
		hours, used := 0.5, 110.0
		for _, p := range c.points {
			hours, used = max(hours, p.X), max(used, p.Y*1.05)
		}
		plot := b.doc.Chart(box, page.Axis{Label: "hours in the tray", Max: hours * 1.05}, page.Axis{Label: c.name + ", % of its capacity", Max: used})
		plot.Level(100, page.Pen{Width: 0.15, Grey: 0.4, Dash: []float64{1, 0.8}}, "exhausted")
		plot.Curve(c.points, page.Pen{Width: 0.3})
		plot.Marks(c.points, page.Dot)
	})
}

// indexPages list the pictures by number, by subject and by sitter, with the page where each is told.
func (b *logBook) indexPages() {
	if len(b.all) == 0 {
		return
	}
	a := b.doc.Area()
	n := len(b.all)
	subjects := b.widest(7, a.W*0.5, "subject", n, func(i int) string { return b.all[i].subject })
	sitters := b.widest(7, a.W*0.24, "sitter", n, func(i int) string { return b.sittersOf(b.all[i]) })
	sheets := b.widest(7, max(a.W*0.26, a.W*0.7-subjects-sitters), "sheets", n, func(i int) string { return b.all[i].fates() })
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{
		{Head: "picture", Width: page.Natural, Face: page.Bold}, {Head: "exposed", Width: page.Natural}, {Head: "subject", Wrap: true},
		{Head: "sitter", Wrap: true, Width: sitters}, {Head: "sheets", Wrap: true, Width: sheets}, {Head: "page", Width: page.Natural, Align: page.Right},
	}}
	for _, n := range b.all {
		t.Rows = append(t.Rows, page.Row{Anchor: "picture:" + n.entity.Name, Cells: []string{
			n.entity.Name, dateOf(n.at), n.subject, b.sittersOf(n), n.fates(), fmt.Sprint(n.page)}})
	}
	b.part("Index by number", t)

	bySubject := map[string][]*pictureNote{}
	bySitter := map[string][]*pictureNote{}
	for _, n := range b.all {
		bySubject[n.subject] = append(bySubject[n.subject], n)
		for _, s := range n.sitters {
			bySitter[s] = append(bySitter[s], n)
		}
	}
	b.wordIndex("Index by subject", bySubject, func(s string) string { return cmp.Or(s, "(no subject)") })
	b.wordIndex("Index by sitter", bySitter, b.o.sitterName)
}

// widest is the width of the widest of n cells of a table under their head, mm, no more than most: what a column does not need is
// left to the others.
func (b *logBook) widest(size, most float64, head string, n int, cell func(i int) string) float64 {
	width := b.doc.Width(page.Set(size, page.Bold), head)
	for i := range n {
		if width = max(width, b.doc.Width(page.Set(size, page.Regular), cell(i))); width >= most {
			return most
		}
	}
	return width
}

func (b *logBook) sittersOf(n *pictureNote) string {
	names := make([]string, len(n.sitters))
	for i, s := range n.sitters {
		names[i] = b.o.sitterName(s)
	}
	return strings.Join(names, ", ")
}

// fates tells the verdict on each sheet: n keep, p1 redo.
func (n *pictureNote) fates() string {
	parts := make([]string, len(n.sheets))
	for i, s := range n.sheets {
		parts[i] = s.part + " " + cmp.Or(s.verdict, cmp.Or(s.state, "–"))
	}
	return strings.Join(parts, ", ")
}

func (b *logBook) wordIndex(title string, words map[string][]*pictureNote, name func(string) string) {
	if len(words) == 0 {
		return
	}
	keys := slices.SortedFunc(maps.Keys(words), func(a, b string) int {
		return cmp.Or(cmp.Compare(strings.ToLower(name(a)), strings.ToLower(name(b))), cmp.Compare(a, b))
	})
	width := b.widest(7, b.doc.Area().W/2, "", len(keys), func(i int) string { return name(keys[i]) })
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{{Wrap: true, Width: width}, {Head: "picture, page", Wrap: true}}}
	for _, k := range keys {
		var places []string
		for _, n := range words[k] {
			places = append(places, fmt.Sprintf("%s,\u00a0p.\u00a0%d", n.entity.Name, n.page)) // on one line
		}
		t.Rows = append(t.Rows, page.Row{Anchor: "picture:" + words[k][0].entity.Name, Cells: []string{name(k), strings.Join(places, "; ")}})
	}
	b.part(title, t)
}
