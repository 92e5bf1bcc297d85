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
	return page.Rect{X: k.edge(k.doc.Page()), Y: k.top, W: k.wide(), H: k.doc.Sheet().H - k.top - k.bottom}
}

// edge is where the text of a page begins.
func (k *yearBook) edge(n int) float64 {
	if left(n) {
		return k.outer
	}
	return k.inner
}

// noteAt is where a page tells of characters that no typeface has: under its number.
func (k *yearBook) noteAt(n int) (x, y, width float64) {
	return k.edge(n), k.at(float64(k.rows())+2.5) + 1, k.wide()
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
	even := k.evened(w, t, s)
	if t.Align == page.Centre {
		x += (w - even) / 2
	}
	end := k.doc.Para(x, y, even, t, s, most)
	return row + math.Ceil((end-y)/k.lead-0.01)
}

// heading sets a title on the grid and gives the line below it and below half a line of white at the least.
func (k *yearBook) heading(x, row, w float64, t page.Type, s string, most int) float64 {
	lines := k.doc.ParaHeight(k.evened(w, t, bound(s)), t, bound(s), most) / k.lead
	k.para(x, row, w, t, s, most)
	return row + math.Ceil(lines+0.49)
}

// evened is a width at which a paragraph has as many lines, and no last one of a word alone; in the middle they are as even as
// they can be.
func (k *yearBook) evened(w float64, t page.Type, s string) float64 {
	lines := k.doc.Wrap(w-t.Hang, t, s)
	n := len(lines)
	if n < 2 || t.Align == page.Right {
		return w
	}
	even := w
	for try := w; try > 0.6*w; try -= 0.02 * w {
		lines := k.doc.Wrap(try-t.Hang, t, s)
		if len(lines) != n {
			break
		}
		if t.Align == page.Centre {
			even = try
			continue
		}
		if try < 0.8*w {
			break
		}
		if strings.ContainsAny(lines[n-1], " ") {
			return try
		}
	}
	return even
}

// lines is how many lines of the grid a paragraph needs.
func (k *yearBook) lines(w float64, t page.Type, s string, most int) float64 {
	return math.Ceil(k.doc.ParaHeight(w, t, bound(s), most)/k.lead - 0.01)
}

// measure is the width of what is read: no line of more than some eighty letters.
func (k *yearBook) measure() float64 { return math.Min(k.wide(), k.body.Size*12.2) }

var unit = regexp.MustCompile(`(\d) (s|min|h|days|mm|cm|m|ml|l|g|%|°C?|lx|stops?|sheets?|prints?|×)\b`)
var date = regexp.MustCompile(`(\d) (January|February|March|April|May|June|July|August|September|October|November|December) (\d{4})`)
var beforeFigure = regexp.MustCompile(`(\b(?:EV|print|page|index|zone)|№) (\d)`)

const letter = `[\p{Latin}\p{Greek}\p{Cyrillic}]`

// quotes are what a keyboard's straight strokes stand for, one after the other. Those behind a figure are feet and inches.
var quotes = []struct {
	of  *regexp.Regexp
	are string
}{
	{regexp.MustCompile(`(` + letter + `)'(` + letter + `)`), "$1’$2"},
	{regexp.MustCompile(`(^|[\s(–])"([^"]+)"`), "$1“$2”"},
	{regexp.MustCompile(`(^|[\s(–“])'([^']*[^'\s\d])'`), "$1‘$2’"},
	{regexp.MustCompile(`(` + letter + `)'`), "$1’"},
	{regexp.MustCompile(`(^|[\s(–“])'(` + letter + `)`), "$1’$2"},
}

// curly is a text with quotation marks and apostrophes for the straight strokes of a keyboard.
func curly(s string) string {
	if !strings.ContainsAny(s, `'"`) {
		return s
	}
	for _, q := range quotes {
		s = q.of.ReplaceAllString(s, q.are)
	}
	return s
}

// bound is a text as a book prints it: a figure on one line with its unit, or with the word that it belongs to, a date on
// one, and quotation marks that are some.
func bound(s string) string {
	const noBreak = "\u00a0"
	s = curly(s)
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

// columns parts what flows into n columns or more of at most the given rows, as even as they can be.
func columns(lines []flowLine, rows float64, odd func(n int) int) [][]flowLine {
	return evenly(lines, rows, odd(len(fill(lines, rows, together))), together)
}

// chapters are columns that part nothing between two whites, where that needs no more of them and leaves none all but empty.
func chapters(lines []flowLine, rows float64, odd func(n int) int) [][]flowLine {
	out := columns(lines, rows, odd)
	whole := evenly(lines, rows, len(out), func(lines []flowLine, i int) bool { return lines[i].draw != nil && lines[i-1].draw != nil })
	if len(whole) != len(out) {
		return out
	}
	for _, column := range whole {
		if h := height(column); h > rows || h < rows/3 {
			return out
		}
	}
	return whole
}

func evenly(lines []flowLine, rows float64, n int, together func([]flowLine, int) bool) [][]flowLine {
	even := rows
	for h := rows; h >= 1 && len(fill(lines, h, together)) <= n; h-- {
		even = h
	}
	return fill(lines, even, together)
}

func height(lines []flowLine) (rows float64) {
	for _, l := range lines {
		rows += l.rows
	}
	return rows
}

// fill parts lines into columns of at most so many rows. None begins with white.
func fill(lines []flowLine, rows float64, together func([]flowLine, int) bool) (out [][]flowLine) {
	var open []flowLine
	used := 0.0
	for i := 0; i < len(lines); {
		j, need := i+1, lines[i].rows
		for j < len(lines) && together(lines, j) {
			need += lines[j].rows
			j++
		}
		if used > 0 && used+need > rows {
			out, open, used = append(out, open), nil, 0
		}
		if used == 0 && lines[i].draw == nil {
			i = j
			continue
		}
		open, used, i = append(open, lines[i:j]...), used+need, j
	}
	return append(out, open)
}

// together says that no column ends before a line: a heading stays with what follows, and no single line is parted from the
// others under its heading.
func together(lines []flowLine, i int) bool {
	ends := func(i int) bool { return i == len(lines) || lines[i].draw == nil || lines[i].head }
	single := func(i int) bool { return i >= 0 && lines[i].rows == 1 }
	switch {
	case lines[i-1].head:
		return true
	case ends(i) || ends(i-1):
		return false
	}
	return single(i-1) && (i < 2 || ends(i-2)) || single(i) && ends(i+1)
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
