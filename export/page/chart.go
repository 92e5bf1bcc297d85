package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Axis is one axis of a chart.
type Axis struct {
	Label    string
	Min, Max float64
	Ticks    []float64 // nil for some at round numbers
	Log      bool      // divided by logarithm; Min must be above 0
	Hidden   bool      // no ticks and no numbers
	Format   func(float64) string
}

// Ticks returns round numbers between least and most, about n of them: steps
// of 1, 2 or 5 times a power of ten.
func Ticks(least, most float64, n int) []float64 {
	span := most - least
	if !(span > 0) || math.IsInf(span, 0) || n < 1 {
		return nil
	}
	raw := span / float64(n)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step := power
	for _, m := range []float64{1, 2, 5, 10} {
		if step = m * power; step >= raw*0.999 {
			break
		}
	}
	var ticks []float64
	for i := math.Ceil(least/step - 1e-9); i*step <= most+step*1e-9 && len(ticks) < 1000; i++ {
		// From the decimal form, so that 3 × 0.1 is 0.3; adding 0 turns -0 to 0.
		v, _ := strconv.ParseFloat(strconv.FormatFloat(i*step, 'g', 12, 64), 64)
		ticks = append(ticks, v+0)
	}
	return ticks
}

// ticks returns those of the axis that lie within it, about n of them, two at the least: one alone says nothing of the
// scale.
func (a Axis) ticks(n float64) []float64 {
	least, most := math.Min(a.Min, a.Max), math.Max(a.Min, a.Max)
	ticks := a.within(a.Ticks)
	if a.Ticks == nil && a.Log {
		for p := math.Floor(math.Log10(least)); p <= math.Ceil(math.Log10(most)); p++ {
			ticks = append(ticks, a.within([]float64{1 * math.Pow(10, p), 2 * math.Pow(10, p), 5 * math.Pow(10, p)})...)
		}
	}
	for n := max(1, int(n)); len(ticks) < 2 && n < 64; n *= 2 {
		ticks = a.within(Ticks(least, most, n))
	}
	return ticks
}

func (a Axis) within(ticks []float64) (inside []float64) {
	for _, t := range ticks {
		if f := a.place(t); f >= -1e-9 && f <= 1+1e-9 {
			inside = append(inside, t)
		}
	}
	return inside
}

// place returns where v lies on the axis, 0 at Min and 1 at Max.
func (a Axis) place(v float64) float64 {
	if a.Log {
		return math.Log(v/a.Min) / math.Log(a.Max/a.Min)
	}
	return (v - a.Min) / (a.Max - a.Min)
}

func (a Axis) text(v float64) string {
	if a.Format != nil {
		return a.Format(v)
	}
	return strings.Replace(strconv.FormatFloat(v, 'g', 6, 64), "-", "−", 1)
}

func (a Axis) check() error {
	if !(a.Max != a.Min) || math.IsInf(a.Max-a.Min, 0) || math.IsNaN(a.Max-a.Min) || (a.Log && !(a.Min > 0 && a.Max > 0)) {
		return fmt.Errorf("the axis %q from %g to %g cannot be drawn: its ends must be two numbers, above 0 for a logarithmic one", a.Label, a.Min, a.Max)
	}
	return nil
}

// Plot is a chart whose axes stand; what is measured goes into it.
type Plot struct {
	Inside Rect // the area between the axes, mm
	doc    *Doc
	x, y   Axis
	told   *element // its picture, nil where the chart is part of another picture
}

// chartType sets the numbers and labels of a chart.
var chartType = Set(6, Regular)

// Chart draws the frame, axes, ticks and labels of a chart within a box and
// returns it to be drawn into. A Max below its Min turns the axis round. It is
// told as a picture, in words of its axes and of what is drawn into it.
func (d *Doc) Chart(box Rect, x, y Axis) *Plot {
	p := &Plot{doc: d, x: x, y: y, Inside: box}
	for _, a := range []Axis{x, y} {
		if err := a.check(); err != nil {
			d.fail(err)
			return p
		}
	}
	p.told = d.figure(box, func() string {
		p.frame(box)
		return "Chart: " + y.across() + ", over " + x.across()
	})
	return p
}

// frame draws all but what is measured.
func (p *Plot) frame(box Rect) {
	d, x, y := p.doc, p.x, p.y
	line := LineHeight(chartType.Size)
	left, below, above := 0.0, 0.0, line/2
	yTicks := y.ticks(box.H / 9)
	if !y.Hidden {
		for _, t := range yTicks {
			left = math.Max(left, d.Width(chartType, y.text(t))+1.5)
		}
	}
	if y.Label != "" {
		above = line * 1.6 // clear of the uppermost number
	}
	if !x.Hidden {
		below += line + 1
	}
	if x.Label != "" {
		below += line
	}
	p.Inside = Rect{box.X + left, box.Y + above, box.W - left - 2, box.H - above - below}
	in := p.Inside
	hair, faint := Pen{Width: 0.2}, Pen{Width: 0.1, Grey: 0.8}
	if y.Label != "" {
		d.Text(box.X, box.Y, box.W, chartType, y.Label)
	}
	if !y.Hidden {
		for _, t := range yTicks {
			at := p.At(p.x.Min, t).Y
			d.Line(in.X, at, in.Right(), at, faint)
			d.Line(in.X-0.8, at, in.X, at, hair)
			d.Text(box.X, at-line/2, left-1.3, chartType.Right(), y.text(t))
		}
	}
	if !x.Hidden {
		p.xTicks()
	}
	if x.Label != "" {
		d.Text(in.X, box.Bottom()-line, in.W, chartType.Right(), x.Label)
	}
	d.Line(in.X, in.Y, in.X, in.Bottom(), hair)
	d.Line(in.X, in.Bottom(), in.Right(), in.Bottom(), hair)
}

// into has step draw a part of the chart, which is told as words.
func (p *Plot) into(words string, step func()) {
	if p.told == nil {
		step()
		return
	}
	p.told.alt += "; " + words
	p.doc.into(p.told, step)
}

// across tells an axis in words.
func (a Axis) across() string {
	return strings.TrimSpace(fmt.Sprintf("%s from %s to %s", a.Label, a.said(a.Min), a.said(a.Max)))
}

// said is a value as it is told: as on the axis where that has words of its own.
func (a Axis) said(v float64) string {
	if a.Format == nil {
		v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	}
	return a.text(v)
}

// said tells points in words: all of a few, of many the ends, the extremes and the middle one.
func (p *Plot) said(points []Point) string {
	points = slices.DeleteFunc(slices.Clone(points), func(v Point) bool {
		at := p.At(v.X, v.Y)
		return math.IsNaN(at.X+at.Y) || math.IsInf(at.X+at.Y, 0)
	})
	const few = 8
	if len(points) > few {
		byHeight := func(a, b Point) int { return cmp.Compare(a.Y, b.Y) }
		low, high := slices.MinFunc(points, byHeight), slices.MaxFunc(points, byHeight)
		some := []Point{points[0], low, points[len(points)/2], high, points[len(points)-1]}
		slices.SortStableFunc(some, func(a, b Point) int { return cmp.Compare(a.X, b.X) })
		points = slices.Compact(some)
	}
	words := make([]string, len(points))
	for i, v := range points {
		words[i] = p.y.said(v.Y) + " at " + p.x.said(v.X)
	}
	return strings.Join(words, ", ")
}

// xTicks draws the ticks below; a number that would touch the one before is
// left out, its tick stays.
func (p *Plot) xTicks() {
	d, in, last := p.doc, p.Inside, math.Inf(-1)
	ticks := p.x.ticks(in.W / 14)
	if p.x.Max < p.x.Min { // so that "before" is to the left
		slices.Reverse(ticks)
	}
	for _, t := range ticks {
		at := p.At(t, p.y.Min).X
		d.Line(at, in.Y, at, in.Bottom(), Pen{Width: 0.1, Grey: 0.8})
		d.Line(at, in.Bottom(), at, in.Bottom()+0.8, Pen{Width: 0.2})
		w := p.doc.Width(chartType, p.x.text(t))
		if at-w/2 < last+1 {
			continue
		}
		d.Text(at-w/2, in.Bottom()+1, w, chartType, p.x.text(t))
		last = at + w/2
	}
}

// At returns the place on the sheet of a value.
func (p *Plot) At(x, y float64) Point {
	in := p.Inside
	return Point{in.X + p.x.place(x)*in.W, in.Bottom() - p.y.place(y)*in.H}
}

// Line draws straight lines through the points, in the units of the axes. What
// lies outside the axes is cut off; a point that is no number breaks the line.
func (p *Plot) Line(points []Point, pen Pen) {
	var stretch []Point
	flush := func() {
		p.doc.Polyline(stretch, pen)
		stretch = nil
	}
	words := "line "
	if len(pen.Dash) > 0 {
		words = "dashed line "
	}
	p.into(words+p.said(points), func() {
		p.doc.within(p.Inside, func() {
			for _, v := range points {
				at := p.At(v.X, v.Y)
				if math.IsNaN(at.X+at.Y) || math.IsInf(at.X+at.Y, 0) {
					flush()
					continue
				}
				stretch = append(stretch, at)
			}
			flush()
		})
	})
}

// Curve draws a smooth line through the points, which go to the right: a cubic between each two that rises where they
// rise, and never beyond them (Fritsch and Carlson, SIAM J. Numer. Anal. 17, 1980, with the tangents of Fritsch and
// Butland, 1984). What lies outside the axes is cut off.
func (p *Plot) Curve(points []Point, pen Pen) {
	var path Path
	slopes := monotone(points)
	for i, v := range points {
		at := p.At(v.X, v.Y)
		if i == 0 {
			path.MoveTo(at.X, at.Y)
			continue
		}
		before := points[i-1]
		third := (v.X - before.X) / 3
		path.CurveTo(p.At(before.X+third, before.Y+third*slopes[i-1]), p.At(v.X-third, v.Y-third*slopes[i]), at)
	}
	p.doc.within(p.Inside, func() { p.doc.Stroke(&path, pen) })
}

// monotone gives the slope of a curve at each of its points: between two rises their harmonic mean, weighted by how long
// each is, and level where the points turn.
func monotone(points []Point) []float64 {
	slopes := make([]float64, len(points))
	rise := func(i int) (over, slope float64) {
		over = points[i+1].X - points[i].X
		if over > 0 {
			slope = (points[i+1].Y - points[i].Y) / over
		}
		return over, slope
	}
	for i := range points {
		switch {
		case len(points) < 2:
		case i == 0:
			_, slopes[i] = rise(0)
		case i == len(points)-1:
			_, slopes[i] = rise(i - 1)
		default:
			h0, d0 := rise(i - 1)
			h1, d1 := rise(i)
			if d0*d1 > 0 {
				slopes[i] = 3 * (h0 + h1) / ((2*h1+h0)/d0 + (h1+2*h0)/d1)
			}
		}
	}
	return slopes
}

// Mark is the form of a measured point.
type Mark int

// The marks, told apart without colour.
const (
	Dot Mark = iota
	Ring
)

// Mark draws a mark of the given size (mm) in the units of the sheet.
func (d *Doc) Mark(x, y, size float64, m Mark) {
	if m == Dot {
		d.Disc(x, y, size/2, 0)
		return
	}
	d.Disc(x, y, size/2, 1)
	d.Circle(x, y, size/2, Pen{Width: 0.25})
}

// Marks draws a mark at each point. One outside the axes stands at the edge as
// an arrowhead that points to where it lies: none is left out. A point that is
// no number has no place and is not drawn.
func (p *Plot) Marks(points []Point, m Mark) {
	if len(points) > 0 {
		p.into("marks "+p.said(points), func() { p.marks(points, m) })
	}
}

func (p *Plot) marks(points []Point, m Mark) {
	const size = 1.6
	in := p.Inside
	for _, v := range points {
		at := p.At(v.X, v.Y)
		if math.IsNaN(at.X + at.Y) {
			continue
		}
		x := math.Max(in.X, math.Min(in.Right(), at.X))
		y := math.Max(in.Y, math.Min(in.Bottom(), at.Y))
		dx, dy := sign(at.X-x), sign(at.Y-y)
		if dx == 0 && dy == 0 {
			p.doc.Mark(x, y, size, m)
			continue
		}
		n := math.Hypot(dx, dy)
		dx, dy = dx/n*size, dy/n*size
		p.doc.Polygon([]Point{{x, y}, {x - dx - dy/2, y - dy + dx/2}, {x - dx + dy/2, y - dy - dx/2}}, 0)
	}
}

func sign(v float64) float64 {
	switch {
	case v > 1e-9:
		return 1
	case v < -1e-9:
		return -1
	}
	return 0
}
