package page_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/export/page"
)

// moment is the time every document of these tests stands for.
var moment = time.Date(2026, 5, 17, 14, 30, 5, 0, time.UTC)

func options() page.Options {
	return page.Options{
		Title:   "Skerrow harbour, a log of paper negatives 📷",
		Author:  "Ingrid Vallö",
		Subject: "every primitive on a page",
		Created: moment,
		Footer:  page.Numbered("chain head 4f2a…9c01"),
	}
}

// thumbnail makes a JPEG as the program makes them, its picture told by seed.
func thumbnail(t testing.TB, w, h, seed int) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := 128 + 90*math.Sin(float64(x*(seed+3))/float64(w)*3)*math.Cos(float64(y)/float64(h)*6)
			img.SetGray(x, y, color.Gray{Y: uint8(v)})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 80}))
	return b.Bytes()
}

// everything draws each primitive at least once.
func everything(t testing.TB, o page.Options) *page.Doc {
	d := page.New(o)
	drawTypeAndLines(d)
	drawTones(d)
	drawCharts(d)
	drawSheet(t, d)
	drawNarrow(d)
	drawTable(d)
	drawTables(d)
	return d
}

var names = []string{
	"The ferry “Skerrow Maid” at the long quay, seen from the coal steps at low water, with the two deckhands and the harbour master’s dog",
	"Ελένη Παπαδοπούλου, λιμάνι — ᾠδὴ τῆς θαλάσσης",
	"Паромщик Ярослав Ёлкин у причала № 3",
	"Vallo\u0308 · Zdene\u030ck Řehoř · Nguyễn Thị Ánh · Dz\u0331a",
	"Children on the slip 👨‍👩‍👧 🚢 渡船 ½ s ′ ″ ≈ −⅓",
	"a note of שלום 12 עולם (the baker) kept",
	"Longunbrokenwordwithoutanyspacewhichhastobedividedsomewhere/and/a/path",
	"escape \x1b[31mred\x1b[0m and broken \xe2\x82 bytes",
}

func drawTypeAndLines(d *page.Doc) {
	d.NewPage()
	d.Bookmark("Type and lines ⚓", 0)
	a := d.Area()
	y := a.Y
	d.Text(a.X, y, a.W, page.Set(16, page.Bold).Heading(1), "Type, wrapped and fitted")
	y += page.LineHeight(16) + 2
	half := (a.W - 6) / 2
	for i, s := range names {
		d.BookmarkAt(fmt.Sprintf("name %d 🚢", i), 1, y)
		d.Box(page.Rect{X: a.X, Y: y, W: half, H: page.LineHeight(9)}, page.Pen{Width: 0.1, Grey: 0.7})
		d.Text(a.X, y, half, page.Set(9, page.Face(i%3)), s)
		bottom := d.Para(a.X+half+6, y, half, page.Set(8, page.Face(i%3)), s, 3)
		d.Line(a.X+half+6, y, a.X+half+6, bottom, page.Pen{Width: 0.1, Grey: 0.7})
		d.Line(a.Right(), y, a.Right(), bottom, page.Pen{Width: 0.1, Grey: 0.7})
		y = bottom + 1
	}
	box := page.Rect{X: a.X, Y: y + 2, W: a.W, H: page.LineHeight(9)}
	d.Fill(box, 0.9)
	d.Text(box.X, box.Y, box.W, page.Set(9, page.Regular), "left")
	d.Text(box.X, box.Y, box.W, page.Set(9, page.Bold).Centred(), "centred, f/125 at 6 m")
	d.Text(box.X, box.Y, box.W, page.Set(9, page.Mono).Right(), "2026-014 voided")
	y = box.Bottom() + 6
	for i, pen := range []page.Pen{{}, {Width: 0.6}, {Grey: 0.6, Width: 0.4}, {Dash: []float64{2, 1}}, {Width: 0.5, Dash: []float64{0.5, 1.5}}} {
		d.Rule(a.X, y+float64(i)*3, 60, pen)
	}
	d.Polyline([]page.Point{{X: a.X + 70, Y: y}, {X: a.X + 80, Y: y + 12}, {X: a.X + 90, Y: y}, {X: a.X + 100, Y: y + 12}}, page.Pen{Width: 0.3})
	d.Polygon([]page.Point{{X: a.X + 105, Y: y + 12}, {X: a.X + 112, Y: y}, {X: a.X + 119, Y: y + 12}}, 0.6)
	d.Circle(a.X+128, y+6, 6, page.Pen{Width: 0.3})
	d.Disc(a.X+142, y+6, 6, 0.7)
	for m := page.Dot; m <= page.Ring; m++ {
		d.Mark(a.X+154+float64(m)*4, y+6, 2, m)
	}
	var p page.Path
	p.MoveTo(a.X, y+28)
	p.LineTo(a.X+60, y+28)
	p.LineTo(a.X+60, y+34)
	p.LineTo(a.X, y+34)
	p.Close()
	d.FillPath(&p, 0.8)
	d.Stroke(&p, page.Pen{Width: 0.3})
	d.QR(a.X+70, y+18, 22, "2026-014")
	d.QR(a.X+100, y+18, 30, "Skerrow Ελένη 2026-014@2")
	d.Link(page.Rect{X: a.X, Y: y + 40, W: 60, H: 5}, "table", func() {
		d.Text(a.X, y+40, 60, page.Set(9, page.Regular), "to the table →")
	})
}

func drawTones(d *page.Doc) {
	d.NewPage()
	d.Bookmark("Tones", 0)
	a := d.Area()
	steps := []float64{0, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9, 1.1, 1.4, 1.7, 2.0, math.NaN()}
	labels := make([]string, len(steps))
	for i, s := range steps {
		labels[i] = fmt.Sprintf("%.2f", s)
	}
	labels[11] = "not known"
	d.GreyScale(page.Rect{X: a.X, Y: a.Y, W: a.W, H: 14}, steps, labels)
	d.GreyScale(page.Rect{X: a.X, Y: a.Y + 18, W: 60, H: 4}, steps[:5], nil)
	for i, stops := range []float64{0, 0.33, -0.5, 1, -2, 3.2, -7, math.NaN(), math.Inf(1)} {
		y := a.Y + 26 + float64(i)*6
		d.Deviation(page.Rect{X: a.X + 20, Y: y, W: 40, H: 4}, stops, 2)
		d.Text(a.X, y, 18, page.Set(7, page.Mono).Right(), fmt.Sprintf("%+.2f", stops))
	}
	y := a.Y + 90
	for _, mark := range []string{"•", "2."} {
		y = d.Item(a.X, y, 60, 6, page.Set(8, page.Regular), mark, "Acid into water, never water into acid: it boils, and throws what it boils with about.")
	}
	d.Paragraph(func() {
		d.Text(a.X, y, 10, page.Set(8, page.Bold), "one")
		d.Text(a.X+10, y, 20, page.Set(8, page.Regular), "paragraph")
	})
	d.Item(a.X, y+5, 60, 6, page.Set(8, page.Regular), "–", "Another list.")
}

func drawCharts(d *page.Doc) {
	d.NewPage()
	d.Bookmark("Charts", 0)
	a := d.Area()
	plot := d.Chart(page.Rect{X: a.X, Y: a.Y, W: 85, H: 60},
		page.Axis{Label: "log exposure", Min: -2.5, Max: 0.5}, page.Axis{Label: "density of the negative", Min: 0, Max: 2})
	plot.Line([]page.Point{{X: -2, Y: 0.2}, {X: -1, Y: math.NaN()}, {X: -1, Y: 0.5}, {X: 0.4, Y: 3}}, page.Pen{Dash: []float64{1, 1}})
	plot.Marks([]page.Point{{X: -2, Y: 0.1}, {X: -1, Y: 0.7}, {X: 0, Y: 1.4}, {X: 0.2, Y: 2.6}, {X: -9, Y: -1}}, page.Ring)
	plot.Level(1.2, page.Pen{Dash: []float64{2, 1}}, "1.2 wanted")
	times := d.Chart(page.Rect{X: a.X + 92, Y: a.Y, W: 88, H: 60},
		page.Axis{Label: "seconds", Min: 1, Max: 900, Log: true}, page.Axis{Label: "stops", Min: 1000, Max: -1000})
	times.Line([]page.Point{{X: 1, Y: 0}, {X: 900, Y: 886}}, page.Pen{})
	times.Curve([]page.Point{{X: 10, Y: -500}, {X: 30, Y: -450}, {X: 30, Y: -400}, {X: 200, Y: 600}, {X: 400, Y: 600}}, page.Pen{Width: 0.3})
	times.Marks([]page.Point{{X: 2, Y: 90}, {X: 20, Y: 390}, {X: 200, Y: -200}}, page.Ring)
	bars := make([]page.Bar, 14)
	for i := range bars {
		bars[i] = page.Bar{Label: names[i%len(names)], Value: float64(140 - 10*i)}
	}
	y := d.RankedBars(page.Rect{X: a.X, Y: a.Y + 66, W: a.W, H: 42}, bars)
	d.StackedBars(page.Rect{X: a.X, Y: y + 6, W: a.W, H: 50}, []string{"used", "cut for strips", "fogged", "left"}, []page.Stack{
		{Label: "box A, RC glossy", Parts: []float64{41, 6, 3, 50}, Note: "50 of 100 left"},
		{Label: "box B", Parts: []float64{22, 0, 0, 3}, Note: "3 of 25 left"},
		{Label: "box C", Parts: []float64{0, 0, 0, 100}, Note: "100 of 100 left"},
	})
	d.ShareBars(page.Rect{X: a.X, Y: a.Y + 150, W: a.W, H: 12}, []page.Bar{{Label: "fix-1", Value: 1.3, Note: "130 %"}, {Label: "fix-2", Value: 0.5, Note: "50 %"}})
	entitled := page.Table{Title: "Every name", TitleSize: 11, Columns: []page.Column{{Head: "name"}}}
	for _, name := range names {
		entitled.Rows = append(entitled.Rows, page.Row{Cells: []string{name}})
	}
	d.Table(a.X, a.Bottom()-40, a.W, entitled)
}

func drawSheet(t testing.TB, d *page.Doc) {
	d.NewPage()
	d.Bookmark("Contact sheet", 0)
	a := d.Area()
	d.Text(a.X, a.Y, a.W, page.Set(12, page.Bold).Heading(4), "Contact sheet")
	each(d, 17, page.Grid{Box: page.Rect{X: a.X, Y: a.Y + 10, W: a.W, H: a.H - 10}, Cols: 3, Rows: 4, Gap: 5}, func(i int, cell page.Rect) {
		pic := page.Rect{X: cell.X, Y: cell.Y, W: cell.W, H: cell.H - 12}
		at, err := d.Image(fmt.Sprintf("sheet %d", i), thumbnail(t, 120, 90+10*(i%2), i), pic)
		require.NoError(t, err)
		d.Box(at, page.Pen{Width: 0.15})
		if i%5 == 3 {
			d.Strike(at)
		}
		d.Text(cell.X, cell.Bottom()-11, cell.W, page.Set(8, page.Bold), fmt.Sprintf("2026-%03d", 95+i))
		d.Text(cell.X, cell.Bottom()-7, cell.W, page.Set(7, page.Regular), names[i%len(names)])
		d.Deviation(page.Rect{X: cell.X, Y: cell.Bottom() - 3, W: 20, H: 2.5}, float64(i)/4-2, 2)
	})
}

// drawNarrow draws what has little room, or figures of an odd size.
func drawNarrow(d *page.Doc) {
	d.NewPage()
	d.Bookmark("Little room", 0)
	a := d.Area()
	tiny := d.Chart(page.Rect{X: a.X, Y: a.Y, W: 60, H: 40}, page.Axis{Label: "tiny", Min: -4e-5, Max: 4e-5}, page.Axis{Label: "own words", Min: 0, Max: 3, Format: func(v float64) string { return fmt.Sprintf("<%.1f>", v) }})
	tiny.Marks([]page.Point{{X: -3e-5, Y: 1}, {X: 3e-5, Y: 2}}, page.Dot)
	tiny.Level(0, page.Pen{}, "")
	stacks := []page.Stack{{Label: "one", Parts: []float64{1, 2}, Note: "n"}, {Label: "two", Parts: []float64{3, 0}}, {Label: "three", Parts: []float64{0, 0}}}
	y := a.Y + 50
	for _, h := range []float64{1, 6, 11, 16, 40} {
		y = d.StackedBars(page.Rect{X: a.X, Y: y, W: 80, H: h}, []string{"a", "b"}, stacks) + 4
	}
	bars := []page.Bar{{Label: "one", Value: 3}, {Label: "two", Value: 0}, {Label: "three", Value: 2}}
	for i, h := range []float64{1, 5, 9, 14} {
		d.RankedBars(page.Rect{X: a.X + 90, Y: a.Y + 50 + float64(i)*20, W: 80, H: h}, bars)
	}
	d.GreyScale(page.Rect{X: a.X, Y: y + 4, W: 30, H: 3}, []float64{0.05, 2.05}, []string{"light", "dark"})
	d.QR(a.X+40, y+4, 15, "2026-014n")
	frame := page.Rect{X: a.X + 60, Y: y + 4, W: 30, H: 12}
	d.Box(frame, page.Pen{})
	d.Box(frame.Inset(1.5), page.Pen{Grey: 0.5})
	d.Cross(a.X+100, y+10, 8, page.Pen{Width: 0.3})
	for i, align := range []page.Type{page.Set(7, page.Regular), page.Set(7, page.Bold).Centred(), page.Set(7, page.Mono).Right().In(0.4)} {
		align.Struck = true
		d.Text(a.X+110, y+4+float64(i)*4, 25, align, "struck through")
		d.Text(a.X+140, y+4+float64(i)*4, 9, align, "cut where it ends")
	}
	d.Deviation(page.Rect{X: a.X + 110, Y: y + 18, W: 20, H: 3}, 0.5, 0)
	d.Deviation(page.Rect{X: a.X + 140, Y: y + 18, W: 4, H: 3}, 5, 3)
	d.GreyScale(page.Rect{X: a.X, Y: y + 30, W: 4, H: 8}, []float64{math.NaN(), 0.3}, nil)
	d.Strike(page.Rect{X: a.X + 10, Y: y + 30, W: 60, H: 20})
	d.Strike(page.Rect{X: a.X + 80, Y: y + 30, W: 8, H: 8})
	right := d.Chart(page.Rect{X: a.X + 100, Y: y + 26, W: 70, H: 34}, page.Axis{Min: 100, Max: 1, Log: true}, page.Axis{Min: 0, Max: 1, Ticks: []float64{-0.1, 0, 0.3, 1, 1.1}})
	right.Marks([]page.Point{{X: 1000, Y: 0.5}, {X: 0.1, Y: 0.5}, {X: 10, Y: 2}, {X: 10, Y: -1}, {X: 1000, Y: 2}, {X: 100, Y: 0}, {X: 1, Y: 1}}, page.Dot)
	right.Level(1, page.Pen{}, "the top")
	right.Level(1.01, page.Pen{}, "above it")
	bare := d.Chart(page.Rect{X: a.X, Y: y + 56, W: 60, H: 20}, page.Axis{Min: 0, Max: 1, Hidden: true}, page.Axis{Min: 0, Max: 1, Hidden: true})
	bare.Line([]page.Point{{X: 0, Y: 0}, {X: 1, Y: 1}}, page.Pen{})
	d.StackedBars(page.Rect{X: a.X, Y: y + 80, W: 60, H: 30}, []string{"paper used", "for strips", "fogged", "cut", "left", "lost", "found"},
		[]page.Stack{{Label: "a label that is longer than its share of the box", Parts: []float64{1, 2, 3, 4, 5, 6, 7}, Note: "and a note of it that is too long"}})
}

// drawTables draws tables in their other ways: without heads, with a section between two bands at the foot of a page, with
// columns of a fixed width, rows that lead elsewhere and rows of several lines.
func drawTables(d *page.Doc) {
	d.NewPage()
	a := d.Area()
	d.Link(page.Rect{X: a.X, Y: a.Y, W: 5, H: 5}, "tables", func() {})
	bare := page.Table{Size: 9, Gap: 4, Banded: true, Columns: []page.Column{{Width: 30}, {Width: page.Natural, Face: page.Bold}, {Align: page.Centre}}}
	for i := range 5 {
		bare.Rows = append(bare.Rows, page.Row{Cells: []string{fmt.Sprint("row ", i), strings.Repeat("w", i)}, Grey: 0.1 * float64(i), Bold: i == 3, Anchor: []string{"", "tables"}[i%2]})
	}
	bare.Rows = append(bare.Rows, page.Row{Section: true, Struck: true}, page.Row{Cells: []string{"a", "b", "c"}, Struck: true})
	y := d.Table(a.X+10, a.Y, 120, bare)
	for _, rows := range []int{0, 1} {
		empty := page.Table{Columns: []page.Column{{Head: "a head that has to be set on more than one line", Width: 20}, {Head: "one"}}, Rows: make([]page.Row, rows)}
		y = d.Table(a.X, y+5, 60, empty)
	}
	banded := page.Table{Banded: true, Columns: []page.Column{{Head: "note", Wrap: true, Width: 40}, {Head: "of", Face: page.Mono, Wrap: true}}}
	for i := range 60 {
		row := page.Row{Cells: []string{strings.Repeat("low water ", i%7), fmt.Sprint(i)}, Bold: i%4 == 1}
		if i%9 == 4 {
			row = page.Row{Section: true, Cells: []string{fmt.Sprint("at the quay ", i)}}
		}
		banded.Rows = append(banded.Rows, row)
	}
	d.Anchor("tables", y)
	y = d.Table(a.X, y+5, 80, banded)
	full := page.Table{Size: 12, Columns: []page.Column{{Head: "all", Wrap: true, Width: 25}}, Rows: []page.Row{{Section: true, Cells: []string{"fills a page"}}, {Cells: []string{strings.Repeat("word ", 400)}}, {Cells: []string{"and the next"}}}}
	d.Table(a.X, y+5, 25, full)
}

// each draws items in the cells of a grid, on as many pages as they need.
func each(d *page.Doc, n int, g page.Grid, draw func(i int, cell page.Rect)) {
	for i := range n {
		if i > 0 && i%g.PerPage() == 0 {
			d.NewPage()
		}
		draw(i, g.Cell(i))
	}
}

func drawTable(d *page.Doc) {
	d.NewPage()
	d.Bookmark("Table", 0)
	d.Anchor("table", d.Area().Y)
	d.SetHead(func(d *page.Doc, y float64) float64 {
		d.Text(d.Area().X, y, 0, page.Set(8, page.Bold), "Table, continued")
		return y + 6
	})
	table := page.Table{Banded: true, Columns: []page.Column{
		{Head: "number", Width: page.Natural, Face: page.Mono},
		{Head: "subject", Wrap: true},
		{Head: "sitter"},
		{Head: "called for, s", Width: 16, Align: page.Right},
		{Head: "verdict", Width: page.Natural},
	}}
	for i := range 90 {
		if i%30 == 0 {
			table.Rows = append(table.Rows, page.Row{Section: true, Cells: []string{fmt.Sprintf("Afternoon %d at the quay", i/30+1)}})
		}
		table.Rows = append(table.Rows, page.Row{
			Cells:  []string{fmt.Sprintf("2026-%03d", i+1), names[i%len(names)], names[(i+1)%len(names)], fmt.Sprint(i * 7), "good"},
			Struck: i%17 == 5, Bold: i%23 == 7,
		})
	}
	a := d.Area()
	y := d.Table(a.X, a.Y, a.W, table)
	d.SetHead(nil)
	d.Text(a.X, d.Need(y, 8)+2, 0, page.Set(8, page.Regular), "end of the table")
}
