package page_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/export/page"
)

func TestGridStaysWithinItsBox(t *testing.T) {
	g := page.Grid{Box: page.Rect{X: 10, Y: 20, W: 100, H: 80}, Cols: 3, Rows: 4, Gap: 4}
	require.Equal(t, 12, g.PerPage())
	assert.Equal(t, page.Rect{X: 10, Y: 20, W: 92.0 / 3, H: 17}, g.Cell(0))
	last := g.Cell(11)
	assert.InDelta(t, 110, last.Right(), 1e-9)
	assert.InDelta(t, 100, last.Bottom(), 1e-9)
	assert.Equal(t, g.Cell(0), g.Cell(12), "the next page begins again")
}

func TestTableRepeatsItsHeadsAndLosesNoRow(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	table := page.Table{Columns: []page.Column{{Head: "number", Width: page.Natural}, {Head: "subject", Wrap: true}}}
	for i := range 200 {
		table.Rows = append(table.Rows, page.Row{Cells: []string{fmt.Sprintf("N%03d.", i), strings.Repeat("quay ", 1+i%60)}})
	}
	d.NewPage()
	a := d.Area()
	bottom := d.Table(a.X, a.Y, a.W, table)
	pages := d.Page()
	require.Greater(t, pages, 2)
	assert.LessOrEqual(t, bottom, a.Bottom()+1e-6)
	b := finished(t, d)
	assert.Equal(t, pages, bytes.Count(b, append(utf16("number"), ')')))
	for i := range 200 {
		assert.Equal(t, 1, bytes.Count(b, utf16(fmt.Sprintf("N%03d.", i))), i)
	}
}

func TestRowTallerThanAPageIsCutVisibly(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	a := d.Area()
	bottom := d.Table(a.X, a.Y, a.W, page.Table{
		Columns: []page.Column{{Head: "note", Wrap: true}},
		Rows:    []page.Row{{Section: true, Cells: []string{"a section"}}, {Cells: []string{strings.Repeat("word ", 5000)}}},
	})
	assert.LessOrEqual(t, bottom, a.Bottom()+1e-6)
	assert.Equal(t, 1, d.Page())
	assert.Contains(t, string(finished(t, d)), "\x20\x26)", "an ellipsis ends the row")
}

func TestSectionStaysWithItsFirstRow(t *testing.T) {
	d := page.New(options())
	d.NewPage()
	a := d.Area()
	start := a.Bottom() - 9 // room for the heads and one row, not for two
	d.Table(a.X, start, a.W, page.Table{
		Columns: []page.Column{{Head: "note"}},
		Rows:    []page.Row{{Section: true, Cells: []string{"a section"}}, {Cells: []string{"a row"}}},
	})
	assert.Equal(t, 2, d.Page())
}

func TestParaIsCutToItsLines(t *testing.T) {
	set := page.Set(8, page.Regular)
	text := strings.Repeat("the long quay at low water ", 20)
	assert.InDelta(t, 3*page.LineHeight(8), builtIn.ParaHeight(50, set, text, 3), 1e-9)
	assert.Greater(t, builtIn.ParaHeight(50, set, text, 0), builtIn.ParaHeight(50, set, text, 3))
	d := page.New(options())
	assert.InDelta(t, 20+3*page.LineHeight(8), d.Para(20, 20, 50, set, text, 3), 1e-9)
}

// What flows over pages is drawn as on one, every line as its paragraph runs, and leaves no line alone on a page.
func TestAFlowingTextRunsAsItsParagraph(t *testing.T) {
	set := page.Set(8, page.Regular)
	o := options()
	o.Uncompressed = true
	text := "at the quay: " + strings.Repeat("בחר as it was said. ", 12)
	drawn := func(draw func(d *page.Doc)) string {
		d := page.New(o)
		d.NewPage()
		draw(d)
		return strings.Join(eventstest.PDFObjects(finished(t, d)), "\n")
	}
	whole := drawn(func(d *page.Doc) { d.Para(20, 20, 31, set, text, 0) })
	assert.Equal(t, whole, drawn(func(d *page.Doc) { d.Flow(20, 20, 31, set, text) }))
	assert.Contains(t, strings.Join(builtIn.Wrap(31, set, text), "\n"), "\nבחר", "a line of it begins with what runs to the left")

	line := page.LineHeight(8)
	for _, c := range []struct{ lines, room, left int }{{1, 1, 0}, {1, 0, 1}, {2, 1, 2}, {3, 1, 3}, {3, 2, 3}, {3, 3, 0}, {5, 4, 2}, {5, 3, 2}, {5, 2, 3}, {4, 3, 2}} {
		d := page.New(options())
		d.NewPage()
		a := d.Area()
		y := d.Flow(a.X, a.Bottom()-(float64(c.room)+0.3)*line, 30, set, strings.Repeat("one line\n", c.lines-1)+"one line")
		if c.left == 0 {
			assert.Equal(t, 1, d.Page(), "%+v", c)
		} else {
			assert.InDelta(t, a.Y+float64(c.left)*line, y, 1e-6, "%+v", c)
		}
	}
}

func TestNeedBeginsAPage(t *testing.T) {
	d := page.New(options())
	assert.InDelta(t, 15, d.Need(100, 10), 1e-9, "the first page begins at its margin")
	assert.InDelta(t, 272, d.Need(272, 10), 1e-9)
	assert.Equal(t, 1, d.Page())
	d.SetHead(func(d *page.Doc, y float64) float64 { return y + 8 })
	assert.InDelta(t, 23, d.Need(273, 10), 1e-9, "under the running head")
	assert.Equal(t, 2, d.Page())
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		least, most float64
		n           int
		want        []float64
	}{
		{0, 1, 5, []float64{0, 0.2, 0.4, 0.6, 0.8, 1}},
		{-2.5, 0.5, 3, []float64{-2, -1, 0}},
		{0.1, 0.7, 6, []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7}},
		{0, 365, 4, []float64{0, 100, 200, 300}},
		{1, 1, 4, nil},
		{0, math.NaN(), 4, nil},
		{0, math.Inf(1), 4, nil},
	} {
		assert.Equal(t, c.want, page.Ticks(c.least, c.most, c.n))
	}
}

func TestPlotPlacesValues(t *testing.T) {
	d := page.New(options())
	p := d.Chart(page.Rect{X: 20, Y: 20, W: 80, H: 60}, page.Axis{Min: 1, Max: 100, Log: true}, page.Axis{Min: 2, Max: 0})
	in := p.Inside
	assert.InDelta(t, in.X+in.W/2, p.At(10, 0).X, 1e-9, "ten is half-way from 1 to 100")
	assert.InDelta(t, in.Y, p.At(1, 0).Y, 1e-9, "an axis turned round")
	assert.InDelta(t, in.Bottom(), p.At(1, 2).Y, 1e-9)
	p.Marks([]page.Point{{X: 1e9, Y: -1e9}, {X: -1, Y: 0}, {X: 3, Y: math.NaN()}}, page.Dot)
	p.Line([]page.Point{{X: 0, Y: 1}, {X: 2, Y: 1}}, page.Pen{})
	p.Level(99, page.Pen{}, "outside")
	finished(t, d)
}

func TestGreyOfDensity(t *testing.T) {
	// Worked from the formula of IEC 61966-2-1: 18 % reflectance, density
	// 0.745, is encoded as 0.461 (118 of 255); 0.1 % lies on the straight part.
	assert.InDelta(t, 1, page.GreyOf(0), 1e-12)
	assert.InDelta(t, 1, page.GreyOf(-0.2), 1e-12)
	assert.InDelta(t, 0.4613, page.GreyOf(-math.Log10(0.18)), 1e-4)
	assert.InDelta(t, 0.01292, page.GreyOf(3), 1e-6)
	assert.Zero(t, page.GreyOf(math.Inf(1)))
	for density := 0.0; density < 2.5; density += 0.1 {
		assert.Greater(t, page.GreyOf(density), page.GreyOf(density+0.1))
	}
}

func TestBarsThatHaveNoRoomAreCounted(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	bars := make([]page.Bar, 30)
	for i := range bars {
		bars[i] = page.Bar{Label: fmt.Sprintf("L%02d.", i), Value: float64(30 - i)}
	}
	box := page.Rect{X: 20, Y: 20, W: 100, H: 40}
	bottom := d.RankedBars(box, bars)
	assert.LessOrEqual(t, bottom, box.Bottom()+1e-6)
	b := finished(t, d)
	shown := 0
	for i := range bars {
		shown += bytes.Count(b, utf16(bars[i].Label))
	}
	assert.Positive(t, shown)
	assert.Contains(t, string(b), string(utf16(fmt.Sprintf("and %d more", 30-shown))))
}

func TestDrawingsOfNothingAreNoError(t *testing.T) {
	d := page.New(options())
	box := page.Rect{X: 20, Y: 20, W: 50, H: 20}
	d.RankedBars(box, nil)
	d.StackedBars(box, nil, nil)
	d.GreyScale(box, nil, nil)
	d.Polyline(nil, page.Pen{})
	d.Polygon(nil, 0)
	d.Table(20, 20, 50, page.Table{Columns: []page.Column{{Head: "empty"}}})
	d.Text(20, 20, 50, page.Set(8, page.Regular), "")
	d.Deviation(box, math.NaN(), 0)
	d.Line(20, 20, 30, 30, page.Pen{Width: -1, Grey: math.NaN(), Dash: []float64{0, 0}})
	finished(t, d)
}

// A head that turns the page while it is drawn is not drawn again on that page.
func TestAHeadIsDrawnOnceThoughItTurnsThePage(t *testing.T) {
	d := page.New(options())
	drawn := 0
	d.SetHead(func(d *page.Doc, y float64) float64 {
		if drawn++; drawn < 4 {
			d.NewPage()
		}
		return y + 8
	})
	d.NewPage()
	assert.Equal(t, 1, drawn)
	finished(t, d)
}

// A character that is wider than its column stands alone.
func TestACharacterWiderThanItsColumnStandsAlone(t *testing.T) {
	set := page.Set(10, page.Regular)
	assert.Equal(t, []string{"W", "M", "W"}, builtIn.Wrap(0.5, set, "WMW"))
	assert.Equal(t, []string{"W"}, builtIn.Wrap(0.5, set, "W"))
}

// A table whose words want more room than there is breaks the longest of them over lines, and loses none.
func TestATableTooWideBreaksItsLongestWords(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	d.NewPage()
	a := d.Area()
	words := strings.Repeat("harbour ", 20)
	d.Table(a.X, a.Y, a.W, page.Table{
		Columns: []page.Column{{Head: "number", Width: page.Natural}, {Head: "what", Width: page.Natural}, {Head: "where", Width: page.Natural}, {Head: "rest"}},
		Rows:    []page.Row{{Cells: []string{"N001", words, words + "quay", "x"}}},
	})
	b := finished(t, d)
	assert.Equal(t, 40, bytes.Count(b, utf16("harbour")))
	assert.Equal(t, 1, bytes.Count(b, utf16("quay")))
	assert.Equal(t, 1, bytes.Count(b, utf16("N001")))
}
