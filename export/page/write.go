package page

import (
	"bytes"
	"strings"
)

// Text draws one line of s and returns what stands there: s cleaned, and cut
// with an ellipsis where it is wider than width. x and y are the upper left
// corner of the line box, width its length; 0 means no bound to the right for
// a line set to the left.
func (d *Doc) Text(x, y, width float64, t Type, s string) string {
	if width > 0 {
		s = Fit(width, t, s)
	} else {
		s = oneLine(s)
	}
	space := ""
	if d.leaf != nil && d.leaf.kind == "P" { // more of the paragraph follows
		space = " "
	}
	d.told(d.kindOf(t), func() { d.line(x, y, width, t, s+space) })
	return s
}

// Para draws s on as many lines as it needs, but no more than most (0 means no
// bound; the last line then ends in an ellipsis), and returns the y under it.
func (d *Doc) Para(x, y, width float64, t Type, s string, most int) float64 {
	d.told(d.kindOf(t), func() {
		for _, line := range spaced(paraLines(width, t, s, most), s) {
			d.line(x, y, width, t, line)
			y += t.lead()
		}
	})
	return y
}

// ParaHeight returns the height Para needs, in mm.
func ParaHeight(width float64, t Type, s string, most int) float64 {
	return float64(len(paraLines(width, t, s, most))) * t.lead()
}

// paraLines wraps s and cuts it to the most lines allowed, visibly.
func paraLines(width float64, t Type, s string, most int) []string {
	lines := Wrap(width, t, s)
	if most > 0 && len(lines) > most {
		// The cut must show even where the last line would have had room.
		last := lines[most-1]
		lines = append(lines[:most-1:most-1], Fit(width, t, last+" "+ellipsis))
		if fitted := lines[most-1]; len(fitted) < len(ellipsis) || fitted[len(fitted)-len(ellipsis):] != ellipsis {
			lines[most-1] = fitted + ellipsis
		}
	}
	return lines
}

// spaced puts a space behind each line that was broken at one, so that words which are told one after the other stay apart.
func spaced(lines []string, s string) []string {
	rest := Clean(s)
	for i, line := range lines[:len(lines)-1] {
		before := strings.TrimPrefix(rest, line)
		if rest = strings.TrimLeft(before, " \n"); len(rest) < len(before) {
			lines[i] += " "
		}
	}
	return lines
}

// line draws a line that has been cleaned and fitted. A space at its end hangs beyond it.
func (d *Doc) line(x, y, width float64, t Type, s string) {
	if s == "" {
		return
	}
	d.draw("a text", []float64{x, y, width, t.Size}, func() {
		used := lineWidth(t, strings.TrimRight(s, " "))
		switch {
		case t.Align == Right:
			x += width - used
		case t.Align == Centre:
			x += (width - used) / 2
		}
		runs, missing := split(t.Face, visual(s))
		if missing > 0 {
			d.missing[d.page] += missing
		}
		d.fill(t.Grey)
		base := y + t.Size*mmPerPoint*ascent
		start := x
		for _, r := range runs {
			d.selectFont(r.face, t.Size)
			d.pdf.Text(x, base, r.text)
			x += float64(r.face.advance(r.text)) / 1000 * t.Size * mmPerPoint
		}
		if t.Struck {
			d.pen(Pen{Width: t.Size * mmPerPoint * 0.06, Grey: t.Grey})
			mid := base - t.Size*mmPerPoint*0.27
			d.pdf.Line(start, mid, start+used, mid)
		}
	})
}

// selectFont makes a face current. The library takes a font for selected as
// soon as any page selected it, but each page's content needs its own
// selection, and footers return to earlier pages.
func (d *Doc) selectFont(face Face, size float64) {
	if !d.added[face] {
		// The library writes into the bytes it is given (a side bearing of a
		// face with one width for all), so each document gets its own copy:
		// else the second document of a process differs from the first.
		d.pdf.AddUTF8FontFromBytes(face.family(), "", bytes.Clone(face.bytes()))
		d.added[face] = true
	}
	if now := d.now(); now.face != face || now.size != size {
		d.pdf.SetFont(face.family(), "", size)
		now.face, now.size = face, size
	}
}
