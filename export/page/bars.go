package page

import (
	"fmt"
	"math"
	"strings"
)

// Level draws a line across at a value of the y axis, with a word over its
// left end, where what grows from nothing does not come.
func (p *Plot) Level(y float64, pen Pen, label string) {
	at := p.At(p.x.Min, y).Y
	if f := p.y.place(y); !(f >= 0 && f <= 1) {
		return
	}
	p.into(strings.TrimSpace("level at "+p.y.said(y)+" "+label), func() {
		p.doc.Line(p.Inside.X, at, p.Inside.Right(), at, pen)
		p.doc.Text(p.Inside.X+0.5, at-LineHeight(chartType.Size), p.Inside.W-0.5, chartType, label)
	})
}

// Bar is one row of a bar chart.
type Bar struct {
	Label string
	Value float64
	Note  string // written after the bar; empty for the value itself
}

const barType = 7 // points

// RankedBars draws bars lying one under the other in the order given, the
// label before each and the value after it. Rows that have no room in the box
// are counted in a last line. It returns the y under the last row. The chart
// is told as a picture, in words of its rows.
func (d *Doc) RankedBars(box Rect, bars []Bar) float64 { return d.bars(box, bars, 0) }

// ShareBars draws as RankedBars does, each bar in a frame that ends at its whole: a value of 1 fills it, one above goes
// beyond.
func (d *Doc) ShareBars(box Rect, bars []Bar) float64 { return d.bars(box, bars, 1) }

func (d *Doc) bars(box Rect, bars []Bar, whole float64) (y float64) {
	d.figure(box, func() string {
		var rows []string
		y, rows = d.drawBars(box, bars, whole)
		return "Bars: " + strings.Join(rows, "; ")
	})
	return y
}

// drawBars returns the y under the last row, and each row in words.
func (d *Doc) drawBars(box Rect, bars []Bar, whole float64) (y float64, rows []string) {
	t := Set(barType, Regular)
	row := LineHeight(t.Size) * 1.25
	shown := bars
	if fit := max(1, int(box.H/row+slack)); len(bars) > fit {
		shown = bars[:max(0, fit-1)]
	}
	labels, notes, most := 0.0, 0.0, whole
	for _, b := range shown {
		labels = math.Max(labels, d.Width(t, b.Label))
		notes = math.Max(notes, d.Width(t, b.note()))
		if !math.IsInf(b.Value, 0) {
			most = math.Max(most, b.Value)
		}
	}
	labels = math.Min(labels, box.W*0.4)
	notes = math.Min(notes, box.W*0.3)
	start := box.X + labels + 2
	room := box.Right() - start - notes - 1.5
	y = box.Y
	for _, b := range shown {
		rows = append(rows, b.Label+": "+b.note())
		d.Text(box.X, y, labels, t.Right(), b.Label)
		bar := Rect{start, y + row*0.08, 0, row * 0.64}
		if most > 0 && b.Value > 0 {
			bar.W = room * math.Min(1, b.Value/most)
		}
		d.Fill(bar, 0.45)
		end := bar.W
		if whole > 0 {
			frame := bar
			frame.W = room * whole / most
			d.Box(frame, Pen{Width: 0.15, Grey: 0.3})
			end = math.Max(end, frame.W)
		}
		d.Text(start+end+1, y, notes+0.5, t, b.note())
		y += row
	}
	if len(shown) > 0 {
		d.Line(start, box.Y-0.3, start, y-row*0.1, Pen{Width: 0.2})
	}
	if n := len(bars) - len(shown); n > 0 {
		more := fmt.Sprintf("and %d more", n)
		rows = append(rows, more)
		d.Text(start, y, box.Right()-start, t.In(0.3), more)
		y += row
	}
	return y, rows
}

func (b Bar) note() string {
	if b.Note != "" {
		return b.Note
	}
	return Axis{}.text(b.Value)
}

// Stack is one row of a stacked bar chart. Parts follow the order of the
// legend.
type Stack struct {
	Label string
	Parts []float64
	Note  string // written after the bar
}

// shades are the greys of a stack's parts. Each part also has an outline, so
// that the white one shows and neighbours stay apart on any printer.
var shades = []float64{0.2, 0.55, 0.8, 1, 0.4, 0.68, 0.9}

// StackedBars draws rows of bars put together from parts, all to one scale,
// with the legend under them. Rows that have no room are counted in a last
// line. It returns the y under the legend. The chart is told as a picture, in
// words of its rows.
func (d *Doc) StackedBars(box Rect, legend []string, stacks []Stack) (y float64) {
	d.figure(box, func() string {
		var rows []string
		y, rows = d.stackedBars(box, legend, stacks)
		return "Bars: " + strings.Join(rows, "; ")
	})
	return y
}

// stackedBars returns the y under the legend, and each row in words.
func (d *Doc) stackedBars(box Rect, legend []string, stacks []Stack) (y float64, rows []string) {
	t := Set(barType, Regular)
	row := LineHeight(t.Size) * 1.25
	shown := stacks
	if fit := max(1, int((box.H-row)/row+slack)); len(stacks) > fit {
		shown = stacks[:max(0, fit-1)]
	}
	labels, notes, most := 0.0, 0.0, 0.0
	for _, s := range shown {
		if len(s.Parts) > len(legend) || len(legend) > len(shades) {
			d.fail(fmt.Errorf("the bar %q has %d parts and the legend %d words: give a word for each, at most %d", s.Label, len(s.Parts), len(legend), len(shades)))
			return box.Y, nil
		}
		labels = math.Max(labels, d.Width(t, s.Label))
		notes = math.Max(notes, d.Width(t, s.Note))
		most = math.Max(most, s.sum())
	}
	labels = math.Min(labels, box.W*0.4)
	notes = math.Min(notes, box.W*0.3)
	start := box.X + labels + 2
	room := box.Right() - start - notes - 1.5
	y = box.Y
	for _, s := range shown {
		var parts []string
		d.Text(box.X, y, labels, t.Right(), s.Label)
		x := start
		for i, v := range s.Parts {
			if !(v > 0) || !(most > 0) {
				continue
			}
			part := Rect{x, y + row*0.08, room * v / most, row * 0.64}
			d.Fill(part, shades[i])
			d.Box(part, Pen{Width: 0.15})
			parts = append(parts, legend[i]+" "+Axis{}.said(v))
			x += part.W
		}
		if s.Note != "" {
			parts = append(parts, s.Note)
		}
		rows = append(rows, s.Label+": "+strings.Join(parts, ", "))
		d.Text(x+1, y, notes+0.5, t, s.Note)
		y += row
	}
	if n := len(stacks) - len(shown); n > 0 {
		more := fmt.Sprintf("and %d more", n)
		rows = append(rows, more)
		d.Text(start, y, box.Right()-start, t.In(0.3), more)
		y += row
	}
	return d.legend(Rect{start, y + row*0.2, box.Right() - start, row}, legend, t), rows
}

func (s Stack) sum() float64 {
	sum := 0.0
	for _, v := range s.Parts {
		if v > 0 && !math.IsInf(v, 0) {
			sum += v
		}
	}
	return sum
}

// legend sets the words of a legend with their greys, on as many lines as
// they need.
func (d *Doc) legend(line Rect, words []string, t Type) float64 {
	x, y, side := line.X, line.Y, t.Size*mmPerPoint*0.8
	for i, word := range words {
		w := side + 1 + math.Min(d.Width(t, word), line.W-side-1)
		if x > line.X && x+w > line.Right() {
			x, y = line.X, y+line.H
		}
		patch := Rect{x, y + 0.35, side, side}
		d.Fill(patch, shades[i%len(shades)])
		d.Box(patch, Pen{Width: 0.15})
		d.Text(x+side+1, y, w-side-1, t, word)
		x += w + 4
	}
	return y + line.H
}
