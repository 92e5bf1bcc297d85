package page

import (
	"math"
	"strconv"
)

// Point is a place on the sheet, mm, or in a chart, in the units of its axes.
type Point struct{ X, Y float64 }

// Rect is a box on the sheet, mm, from its upper left corner.
type Rect struct{ X, Y, W, H float64 }

// Right returns the x of the right side.
func (r Rect) Right() float64 { return r.X + r.W }

// Bottom returns the y of the lower side.
func (r Rect) Bottom() float64 { return r.Y + r.H }

// Inset returns the box less a border of the given width on each side.
func (r Rect) Inset(by float64) Rect { return Rect{r.X + by, r.Y + by, r.W - 2*by, r.H - 2*by} }

// Pen says how a line is drawn. Width is in mm, 0 means 0.2; Grey from 0,
// black, to 1, white; Dash holds lengths of line and gap in turn, mm, nil for
// an unbroken line.
type Pen struct {
	Width float64
	Grey  float64
	Dash  []float64
}

// level turns a grey of 0 to 1 into the 256 steps of the document.
func level(grey float64) int {
	if !(grey > 0) { // also what is no number
		return 0
	}
	return int(math.Round(math.Min(grey, 1) * 255))
}

func (d *Doc) pen(p Pen) {
	if !(p.Width > 0) {
		p.Width = 0.2
	}
	grey := level(p.Grey)
	now := d.now()
	if now.line != grey {
		d.grey(grey, " G")
		now.line = grey
	}
	if now.width != p.Width {
		d.pdf.SetLineWidth(p.Width)
		now.width = p.Width
	}
	// An array of nothing but zeros is not allowed in a dash pattern.
	sum := 0.0
	for _, v := range p.Dash {
		if !(v >= 0) {
			sum = 0
			break
		}
		sum += v
	}
	if sum == 0 || math.IsInf(sum, 0) {
		p.Dash = nil
	}
	if dashed := p.Dash != nil; dashed || now.dashed {
		d.pdf.SetDashPattern(p.Dash, 0)
		now.dashed = dashed
	}
}

// fill chooses the grey of areas and of text.
func (d *Doc) fill(grey float64) {
	v := level(grey)
	if now := d.now(); now.fill != v {
		d.grey(v, " g")
		now.fill = v
	}
}

// Line draws a straight line.
func (d *Doc) Line(x1, y1, x2, y2 float64, p Pen) {
	d.draw("a line", []float64{x1, y1, x2, y2, p.Width}, func() {
		d.pen(p)
		d.segment(x1, y1, x2, y2)
	})
}

// Rule draws a line across at y, from x over width.
func (d *Doc) Rule(x, y, width float64, p Pen) { d.Line(x, y, x+width, y, p) }

// Box draws the outline of a rectangle.
func (d *Doc) Box(r Rect, p Pen) {
	d.draw("a box", []float64{r.X, r.Y, r.W, r.H, p.Width}, func() {
		d.pen(p)
		d.rectangle(r, " re S")
	})
}

// Fill fills a rectangle with a grey.
func (d *Doc) Fill(r Rect, grey float64) {
	d.draw("a grey", []float64{r.X, r.Y, r.W, r.H}, func() {
		d.fill(grey)
		d.rectangle(r, " re f")
	})
}

// The library writes each number of a line, a box, a text or a grey by fmt, which took a tenth of drawing a year's pages. These
// write the same bytes. The library need not know a grey: it repeats those that it knows on each new page.

// grey chooses one of the 256 for lines (G) or for areas and text (g).
func (d *Doc) grey(level int, operator string) {
	d.operator = append(strconv.AppendFloat(d.operator[:0], float64(level)/255, 'f', 3, 64), operator...)
	d.pdf.RawWriteStr(string(d.operator))
}

// points appends lengths in mm as points.
func (d *Doc) points(b []byte, lengths ...float64) []byte {
	const k = 72 / 25.4
	for i, v := range lengths {
		if i > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendFloat(b, v*k, 'f', 2, 64)
	}
	return b
}

func (d *Doc) segment(x1, y1, x2, y2 float64) {
	b := append(d.points(d.operator[:0], x1, d.below-y1), " m "...)
	d.operator = append(d.points(b, x2, d.below-y2), " l S"...)
	d.pdf.RawWriteStr(string(d.operator))
}

func (d *Doc) rectangle(r Rect, how string) {
	d.operator = append(d.points(d.operator[:0], r.X, d.below-r.Y, r.W, -r.H), how...)
	d.pdf.RawWriteStr(string(d.operator))
}

// text draws plain text with its left end at x on a base line, in the font that is chosen. The library is told of each rune once,
// for it embeds those that it drew.
func (d *Doc) text(face Face, x, base float64, s string) {
	fresh := false
	for _, r := range s {
		fresh = fresh || r >= 1<<16 || d.drawn[face][r>>6]&(1<<(r&63)) == 0
	}
	if fresh {
		for _, r := range s {
			if r < 1<<16 {
				d.drawn[face][r>>6] |= 1 << (r & 63)
			}
		}
		d.pdf.Text(x, base, s)
		return
	}
	b := append(d.points(append(d.operator[:0], "BT "...), x, d.below-base), " Td ("...)
	for _, r := range s {
		for _, c := range [...]byte{byte(r >> 8), byte(r)} {
			switch c {
			case '\\', '(', ')':
				b = append(b, '\\', c)
			case '\r':
				b = append(b, `\r`...)
			default:
				b = append(b, c)
			}
		}
	}
	d.operator = append(b, ") Tj ET"...)
	d.pdf.RawWriteStr(string(d.operator))
}

// Circle draws the outline of a circle.
func (d *Doc) Circle(x, y, radius float64, p Pen) {
	d.draw("a circle", []float64{x, y, radius, p.Width}, func() {
		d.pen(p)
		d.pdf.Circle(x, y, radius, "D")
	})
}

// Disc fills a circle with a grey.
func (d *Doc) Disc(x, y, radius, grey float64) {
	d.draw("a disc", []float64{x, y, radius}, func() {
		d.fill(grey)
		d.pdf.Circle(x, y, radius, "F")
	})
}

// Polyline draws straight lines through the points.
func (d *Doc) Polyline(points []Point, p Pen) { d.Stroke(through(points), p) }

// Polygon fills the area within the points with a grey.
func (d *Doc) Polygon(points []Point, grey float64) {
	path := through(points)
	path.Close()
	d.FillPath(path, grey)
}

func through(points []Point) *Path {
	var path Path
	for i, p := range points {
		if i == 0 {
			path.MoveTo(p.X, p.Y)
		} else {
			path.LineTo(p.X, p.Y)
		}
	}
	return &path
}

// Cross draws a cross of two slanting lines with its middle at x, y.
func (d *Doc) Cross(x, y, size float64, p Pen) {
	h := size / 2
	d.Line(x-h, y-h, x+h, y+h, p)
	d.Line(x-h, y+h, x+h, y-h, p)
}

// Strike marks a box as failed: both diagonals, black with a white edge so
// that they show on a picture of any tone.
func (d *Doc) Strike(r Rect) {
	w := math.Max(0.35, math.Min(r.W, r.H)*0.012)
	for _, p := range []Pen{{Width: 2.6 * w, Grey: 1}, {Width: w}} {
		d.Line(r.X, r.Y, r.Right(), r.Bottom(), p)
		d.Line(r.X, r.Bottom(), r.Right(), r.Y, p)
	}
}

// Path is a line of straight pieces and curves, in mm. The zero value is empty.
type Path struct {
	pieces []piece
}

type piece struct {
	how pieceKind
	to  Point // of no meaning where it closes
	// towards and from are the handles of a curve: it leaves the point before towards the one and comes to its end from
	// the other.
	towards, from Point
}

type pieceKind int

const (
	moves pieceKind = iota
	draws
	curves
	closes
)

// MoveTo begins a new stretch.
func (p *Path) MoveTo(x, y float64) {
	p.pieces = append(p.pieces, piece{how: moves, to: Point{x, y}})
}

// LineTo goes straight on.
func (p *Path) LineTo(x, y float64) {
	p.pieces = append(p.pieces, piece{how: draws, to: Point{x, y}})
}

// CurveTo goes on in a curve (a cubic of Bézier) that leaves towards the one handle and arrives from the other.
func (p *Path) CurveTo(towards, from, to Point) {
	p.pieces = append(p.pieces, piece{curves, to, towards, from})
}

// Close goes straight back to where the stretch began.
func (p *Path) Close() { p.pieces = append(p.pieces, piece{how: closes}) }

// Rect adds a closed rectangle.
func (p *Path) Rect(r Rect) {
	p.MoveTo(r.X, r.Y)
	p.LineTo(r.Right(), r.Y)
	p.LineTo(r.Right(), r.Bottom())
	p.LineTo(r.X, r.Bottom())
	p.Close()
}

// Stroke draws a path as a line.
func (d *Doc) Stroke(path *Path, p Pen) {
	d.path(path, func() { d.pen(p) }, "D")
}

// FillPath fills a path with a grey.
func (d *Doc) FillPath(path *Path, grey float64) {
	d.path(path, func() { d.fill(grey) }, "F")
}

func (d *Doc) path(path *Path, ink func(), how string) {
	if len(path.pieces) < 2 {
		return
	}
	var lengths []float64
	for _, s := range path.pieces {
		lengths = append(lengths, s.to.X, s.to.Y, s.towards.X, s.towards.Y, s.from.X, s.from.Y)
	}
	d.draw("a path", lengths, func() {
		ink()
		for i, s := range path.pieces {
			switch {
			case s.how == closes:
				d.pdf.ClosePath()
			case s.how == moves || i == 0:
				d.pdf.MoveTo(s.to.X, s.to.Y)
			case s.how == curves:
				d.pdf.CurveBezierCubicTo(s.towards.X, s.towards.Y, s.from.X, s.from.Y, s.to.X, s.to.Y)
			default:
				d.pdf.LineTo(s.to.X, s.to.Y)
			}
		}
		d.pdf.DrawPath(how)
	})
}

// within draws a step with everything outside the box cut off.
func (d *Doc) within(r Rect, step func()) {
	d.draw("a clipping", []float64{r.X, r.Y, r.W, r.H}, func() { d.pdf.ClipRect(r.X, r.Y, r.W, r.H, false) })
	step()
	d.do("a clipping", func() {
		d.pdf.ClipEnd()
		d.chooseAnew() // the library restores the graphics state
	})
}
