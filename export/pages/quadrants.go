package pages

import (
	"fmt"
	"math"
	"strings"
	"time"

	"traybook/calc"
	"traybook/export/page"
)

// Quadrants are the four steps from the scene to the print in one drawing: right and down the scene on the negative's
// paper, left and down the negative in the copy, left and up the copy on the print's paper, right and up what became of
// the scene in the print.
type Quadrants struct {
	Size    string    // A4 or Letter
	Created time.Time // the moment that it stands for
	Tones   calc.TwoGenerations
	Words   string // what is drawn, in a line or two
}

// tonePath is one tone on its way: stops from the mid-tone, the density on the negative, log10 of the copy's exposure
// over that of a mid-tone 0.60 above base, the density on the print.
type tonePath struct{ zone, negative, copied, print float64 }

// path follows one tone. It is calc's replay, with the copy's exposure laid open. Derived.
func (q Quadrants) path(zone, copyStops float64) tonePath {
	g := q.Tones
	d1 := g.Neg.Negative(zone)
	base := math.Pow(10, calc.MidAboveBase)
	image := math.Exp2(copyStops) / (1 + g.Print.IndexFlare*base)
	x := math.Pow(10, g.Neg.Curve.Dmin+calc.MidAboveBase-d1)
	h := image*(x+g.Print.Flare*base) + g.Print.PreFlashShare*g.Print.Curve.Ht()/g.Print.Curve.Hm
	rel := math.Log10(h)
	return tonePath{zone, d1, rel, g.Print.Curve.Density(math.Log10(g.Print.Curve.Hm) + rel)}
}

// The scene is drawn from deep shadow to bright light, in stops from the mid-tone.
const (
	quadrantFrom = -5.0
	quadrantTo   = 5.0
)

// PDF draws the sheet. Errors: those of calc for numbers outside its ranges.
func (q Quadrants) PDF() ([]byte, error) {
	for _, s := range []calc.SheetModel{q.Tones.Neg, q.Tones.Print} {
		if err := s.Check(); err != nil {
			return nil, err
		}
	}
	d := page.New(page.Options{Size: q.Size, Title: "From the scene to the print", Created: q.Created, Footer: page.Numbered("a calculation by our own model of a paper's curve; no sheet was measured")})
	d.NewPage()
	a := d.Area()
	y := d.Para(a.X, a.Y, a.W, wallTitle, "From the scene to the print", 1)
	if q.Words != "" {
		y = d.Para(a.X, y+1, a.W, bodyType.In(0.3), q.Words, 4)
	}
	box := page.Rect{X: a.X + 9, Y: y + 8, W: a.W - 18, H: a.W - 18}
	d.Figure(box, q.inWords(), func() { q.draw(d, box) })
	y = box.Bottom() + 9
	q.strips(d, page.Rect{X: a.X, Y: y, W: a.W, H: 34})
	return d.Bytes()
}

// cross is the drawing's frame: where the axes meet and how values lie on them.
type cross struct {
	box            page.Rect
	mid            page.Point
	dmax           float64
	copyMin, copyW float64
}

func (c cross) scene(z float64) float64 {
	return c.mid.X + (z-quadrantFrom)/(quadrantTo-quadrantFrom)*(c.box.Right()-c.mid.X)
}

func (c cross) negative(v float64) float64 { return c.mid.Y + v/c.dmax*(c.box.Bottom()-c.mid.Y) }

func (c cross) copied(v float64) float64 {
	return c.mid.X - (v-c.copyMin)/c.copyW*(c.mid.X-c.box.X)
}

func (c cross) print(v float64) float64 { return c.mid.Y - v/c.dmax*(c.mid.Y-c.box.Y) }

// followed are the tones whose way is drawn, in stops from the mid-tone.
var followed = []float64{-2, 0, 2}

// inWords tells what the drawing shows.
func (q Quadrants) inWords() string {
	text := "Drawing of the four steps from the scene to the print"
	for _, z := range followed {
		p := q.path(z, q.Tones.Tones().CopyStops)
		text += fmt.Sprintf("; a tone at %s stops has the density %.2f on the negative and %.2f in the print", signed(z), p.negative, p.print)
	}
	return text
}

// draw draws the four quadrants.
func (q Quadrants) draw(d *page.Doc, box page.Rect) {
	tones := q.Tones.Tones()
	var paths []tonePath
	for z := quadrantFrom; z <= quadrantTo+1e-9; z += 0.1 {
		paths = append(paths, q.path(z, tones.CopyStops))
	}
	c := cross{box: box, mid: page.Point{X: box.X + box.W/2, Y: box.Y + box.H/2}, dmax: math.Ceil(max(q.Tones.Neg.Curve.Dmax, q.Tones.Print.Curve.Dmax)*5+0.5) / 5}
	most := math.Inf(-1)
	c.copyMin = math.Inf(1)
	for _, p := range paths {
		c.copyMin, most = min(c.copyMin, p.copied), max(most, p.copied)
	}
	c.copyMin = math.Floor(c.copyMin*5) / 5
	c.copyW = math.Ceil((most-c.copyMin)*5+0.5) / 5
	c.frame(d)
	line := func(at func(tonePath) page.Point) {
		points := make([]page.Point, len(paths))
		for i, p := range paths {
			points[i] = at(p)
		}
		d.Polyline(points, page.Pen{Width: 0.5})
	}
	line(func(p tonePath) page.Point { return page.Point{X: c.scene(p.zone), Y: c.negative(p.negative)} })
	line(func(p tonePath) page.Point { return page.Point{X: c.copied(p.copied), Y: c.negative(p.negative)} })
	line(func(p tonePath) page.Point { return page.Point{X: c.copied(p.copied), Y: c.print(p.print)} })
	line(func(p tonePath) page.Point { return page.Point{X: c.scene(p.zone), Y: c.print(p.print)} })
	for _, z := range followed {
		c.follow(d, q.path(z, tones.CopyStops))
	}
}

// frame draws the axes with their scales and names.
func (c cross) frame(d *page.Doc) {
	light, axis := page.Pen{Width: 0.1, Grey: 0.8}, page.Pen{Width: 0.3}
	small := smallType
	d.Box(c.box, light)
	h := page.LineHeight(small.Size)
	for z := math.Ceil(quadrantFrom); z <= quadrantTo; z++ {
		x := c.scene(z)
		d.Line(x, c.box.Y, x, c.box.Bottom(), light)
		d.Text(x-6, c.box.Bottom()+0.5, 12, small.Centred(), signed(z))
	}
	for v := 0.5; v < c.dmax; v += 0.5 {
		for _, y := range []float64{c.print(v), c.negative(v)} {
			d.Line(c.box.X, y, c.box.Right(), y, light)
			d.Text(c.box.X-8, y-h/2, 7, small.Right(), fmt.Sprintf("%.1f", v))
			d.Text(c.box.Right()+1, y-h/2, 7, small, fmt.Sprintf("%.1f", v))
		}
	}
	for v := math.Ceil(c.copyMin*2) / 2; v < c.copyMin+c.copyW; v += 0.5 {
		x := c.copied(v)
		d.Line(x, c.box.Y, x, c.box.Bottom(), light)
		if c.mid.X-x > 8 { // nearer, it would stand on the scene's
			d.Text(x-6, c.box.Bottom()+0.5, 12, small.Centred(), signed(v))
		}
	}
	d.Line(c.box.X, c.mid.Y, c.box.Right(), c.mid.Y, axis)
	d.Line(c.mid.X, c.box.Y, c.mid.X, c.box.Bottom(), axis)
	half := c.box.W / 2
	name := func(x, y float64, title, axes string) { // on white, for the grid would run through it
		width := max(d.Width(subheadType, title), d.Width(small, axes))
		d.Fill(page.Rect{X: x - 0.5, Y: y, W: width + 1, H: 4 + h}, 1)
		d.Text(x, y, half-3, subheadType, title)
		d.Text(x, y+4, half-3, small.In(0.3), axes)
	}
	name(c.mid.X+1.5, c.box.Bottom()-9, "1  the negative", "right: stops from the mid-tone · down: its density")
	name(c.box.X+1.5, c.box.Bottom()-9, "2  the copy", "left: log exposure · up and down as beside it")
	name(c.box.X+1.5, c.box.Y+1, "3  the print's paper", "left: log exposure · up: density of the print")
	name(c.mid.X+1.5, c.box.Y+1, "4  scene to print", "right: stops from the mid-tone · up: density")
}

// signed is a place in stops from the mid-tone.
func signed(z float64) string {
	if z == 0 {
		return "0"
	}
	return strings.Replace(fmt.Sprintf("%+g", z), "-", "−", 1)
}

// follow draws the way of one tone through all four.
func (c cross) follow(d *page.Doc, p tonePath) {
	pen := page.Pen{Width: 0.25, Grey: 0.35, Dash: []float64{1.2, 0.9}}
	x, y := c.scene(p.zone), c.negative(p.negative)
	left, up := c.copied(p.copied), c.print(p.print)
	d.Polyline([]page.Point{{X: x, Y: y}, {X: left, Y: y}, {X: left, Y: up}, {X: x, Y: up}, {X: x, Y: y}}, pen)
	for _, at := range []page.Point{{X: x, Y: y}, {X: left, Y: y}, {X: left, Y: up}, {X: x, Y: up}} {
		d.Mark(at.X, at.Y, 1.6, page.Dot)
	}
}

// strips draws the tones of both sheets as greys.
func (q Quadrants) strips(d *page.Doc, box page.Rect) {
	tones := q.Tones.Tones()
	var negative, print []float64
	var labels []string
	for _, z := range tones.Zones {
		negative, print = append(negative, z.Negative), append(print, z.Print)
		labels = append(labels, signed(z.Zone))
	}
	half := box.H/2 - 1
	d.Text(box.X, box.Y+half/2-3, 20, bodyType, "negative")
	d.GreyScale(page.Rect{X: box.X + 20, Y: box.Y, W: box.W - 20, H: half - 2}, negative, nil)
	d.Text(box.X, box.Y+half+half/2-3, 20, bodyType, "print")
	d.GreyScale(page.Rect{X: box.X + 20, Y: box.Y + half, W: box.W - 20, H: half + 2}, print, labels)
}
