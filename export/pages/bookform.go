package pages

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"traybook/export/page"
)

// form is what a size of paper decides of a book: its margins, mirrored about the spine, the lines on which all text
// stands, and its types. Lengths are in mm.
type form struct {
	inner, outer, top, bottom float64
	lead                      float64 // from base line to base line
	body, italic              page.Type
	note                      page.Type // captions, running heads, the index
	head, long, title         page.Type // of a picture, also of one with many words; of a session or the book
	data                      page.Type
}

// Alegreya at nine and a half points on thirteen, or at eleven on fifteen: between 65 and 80 letters a line.
func formOf(size string) form {
	const point = 25.4 / 72
	f := form{inner: 30, outer: 22, top: 28, bottom: 30, lead: 15 * point}
	body, note, head, title, data := 11.0, 9.5, 18.0, 27.0, 8.0
	switch size {
	case "A5":
		f = form{inner: 20, outer: 14, top: 19, bottom: 21, lead: 13 * point}
		body, note, head, title, data = 9.5, 8.5, 14, 21, 6.5
	case "Letter":
		f.inner, f.outer, f.top, f.bottom = 32, 24, 25, 27
	}
	in := func(size float64, face page.Face, lines float64) page.Type {
		t := page.Set(size, face)
		t.Lead = lines * f.lead
		return t
	}
	f.body, f.italic = in(body, page.Serif, 1), in(body, page.Italic, 1)
	f.note = in(note, page.Italic, 1)
	f.head, f.long, f.title = in(head, page.Serif, 1.5), in(body*1.2, page.Serif, 1), in(title, page.Serif, 2)
	f.data = page.Set(data, page.Regular)
	f.head, f.long, f.title = f.head.Heading(3), f.long.Heading(3), f.title.Heading(2)
	return f
}

// left says whether a page stands left of the spine.
func left(n int) bool { return n%2 == 0 }

// block is where the text of the open page stands.
func (k *yearBook) block() page.Rect {
	s := k.doc.Sheet()
	x := k.inner
	if left(k.doc.Page()) {
		x = k.outer
	}
	return page.Rect{X: x, Y: k.top, W: k.wide(), H: s.H - k.top - k.bottom}
}

// wide is how wide the text stands on any page.
func (k *yearBook) wide() float64 { return k.doc.Sheet().W - k.inner - k.outer }

// rows is how many lines a page holds.
func (k *yearBook) rows() int {
	return int((k.doc.Sheet().H - k.top - k.bottom) / k.lead)
}

// sink is the line on which a page with few words begins, so that they do not hang under its upper edge.
func (k *yearBook) sink() float64 { return math.Round(float64(k.rows()) * 0.22) }

// at is the upper edge of a line of the grid.
func (k *yearBook) at(row float64) float64 { return k.top + row*k.lead }

// row is the first line of the grid that begins at or below y.
func (k *yearBook) row(y float64) float64 { return math.Ceil((y-k.top)/k.lead - 0.05) }

// line sets one line on the grid, cut where it is wider than w.
func (k *yearBook) line(x, row, w float64, t page.Type, s string) {
	k.doc.Text(x, k.at(row)+0.75*k.lead-t.Ascent(), w, t, bound(s))
}

// para sets a paragraph on the grid and gives the line below it.
func (k *yearBook) para(x, row, w float64, t page.Type, s string, most int) float64 {
	y := k.at(row) + t.Lead - 0.25*k.lead - t.Ascent()
	s = bound(s)
	end := k.doc.Para(x, y, k.evened(w, t, s), t, s, most)
	return row + math.Ceil((end-y)/k.lead-0.01)
}

// evened is a width at which a paragraph has as many lines, and no last one of a word alone.
func (k *yearBook) evened(w float64, t page.Type, s string) float64 {
	lines := k.doc.Wrap(w, t, s)
	n := len(lines)
	if n < 2 || t.Align != page.Left {
		return w
	}
	for try := w; try > 0.8*w; try -= 0.02 * w {
		lines := k.doc.Wrap(try, t, s)
		if len(lines) != n {
			break
		}
		if strings.ContainsAny(lines[n-1], " ") {
			return try
		}
	}
	return w
}

// lines is how many lines of the grid a paragraph needs.
func (k *yearBook) lines(w float64, t page.Type, s string, most int) float64 {
	return math.Ceil(k.doc.ParaHeight(w, t, bound(s), most)/k.lead - 0.01)
}

// measure is the width of what is read: no line of more than some eighty letters.
func (k *yearBook) measure() float64 { return math.Min(k.wide(), k.body.Size*12.2) }

var unit = regexp.MustCompile(`(\d) (s|min|h|days|mm|cm|m|ml|l|g|%|°C?|lx|stops?|sheets?|prints?|×)\b`)
var date = regexp.MustCompile(`(\d) (January|February|March|April|May|June|July|August|September|October|November|December) (\d{4})`)
var beforeFigure = regexp.MustCompile(`\b(EV|print|page|index|zone) (\d)`)

// bound keeps a figure on one line with its unit, or with the word that it belongs to, and a date on one.
func bound(s string) string {
	const noBreak = "\u00a0"
	s = unit.ReplaceAllString(s, "$1"+noBreak+"$2")
	s = date.ReplaceAllString(s, "$1"+noBreak+"$2"+noBreak+"$3")
	return beforeFigure.ReplaceAllString(s, "$1"+noBreak+"$2")
}

// turn begins the next page with its running head and number, which stand to the outer side; head "" leaves it out.
func (k *yearBook) turn(head string) page.Rect {
	k.doc.NewPage()
	b := k.block()
	t := k.note
	if !left(k.doc.Page()) {
		t = t.Right()
	}
	k.doc.Decoration(func() {
		if head != "" {
			k.doc.Text(b.X, k.top-2*k.lead+0.75*k.lead-t.Ascent(), b.W, t.In(0.25), bound(head))
		}
		number := t
		number.Face, number.Size = page.Serif, k.body.Size
		k.line(b.X, float64(k.rows())+1.5, b.W, number, fmt.Sprint(k.doc.Page()))
	})
	return b
}

// flowLine is a line, or some that stand together, of what flows from column to column.
type flowLine struct {
	rows float64
	draw func(x, row, w float64)
	head bool // stays with what follows
}

// columns parts what flows into n columns or more of at most the given rows, as even as they can be. A heading stays with
// what follows it.
func columns(lines []flowLine, rows float64, odd func(n int) int) [][]flowLine {
	n := odd(len(fill(lines, rows)))
	even := rows
	for h := rows; h >= 1 && len(fill(lines, h)) <= n; h-- {
		even = h
	}
	return fill(lines, even)
}

func fill(lines []flowLine, rows float64) (out [][]flowLine) {
	var open []flowLine
	used := 0.0
	for i := 0; i < len(lines); {
		j, need := i+1, lines[i].rows
		for j < len(lines) && lines[j-1].head {
			need += lines[j].rows
			j++
		}
		if used > 0 && used+need > rows {
			out, open, used = append(out, open), nil, 0
		}
		open, used, i = append(open, lines[i:j]...), used+need, j
	}
	return append(out, open)
}

// pour draws one column.
func (k *yearBook) pour(lines []flowLine, x, row, w float64) {
	for _, l := range lines {
		if l.draw != nil {
			l.draw(x, row, w)
		}
		row += l.rows
	}
}
