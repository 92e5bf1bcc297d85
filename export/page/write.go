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
		s = d.Fit(width, t, s)
	} else {
		s = oneLine(s)
	}
	parting := d.parting()
	d.told(d.kindOf(t), func() { d.line(x, y, width, t, s+parting, beginsToTheLeft(s)) })
	return s
}

// parting keeps a text from the next one where several are told as one: those of a paragraph, the words of a link.
func (d *Doc) parting() string {
	if d.leaf.takesTexts() {
		return " "
	}
	return ""
}

// Para draws s on as many lines as it needs, but no more than most (0 means no
// bound; the last line then ends in an ellipsis), and returns the y under it.
func (d *Doc) Para(x, y, width float64, t Type, s string, most int) float64 {
	lines := spaced(d.paraLines(width, t, s, most), s)
	lines[len(lines)-1].text += d.parting()
	return d.paragraph(x, y, width, t, lines, len(lines) > 1)
}

// Flow draws s as Para does, over as many pages as it needs: of each two lines at least stand together.
func (d *Doc) Flow(x, y, width float64, t Type, s string) float64 {
	rest := spaced(d.paraLines(width, t, s, 0), s)
	rest[len(rest)-1].text += d.parting()
	for several := len(rest) > 1; len(rest) > 0; {
		fewest := min(2, len(rest))
		if len(rest) == 3 { // neither its first nor its last alone
			fewest = 3
		}
		y = d.Need(y, float64(fewest)*t.lead())
		here := min(len(rest), max(fewest, int((d.h-d.margin+slack-y)/t.lead())))
		if here == len(rest)-1 {
			here--
		}
		y = d.paragraph(x, y, width, t, rest[:here], several)
		rest = rest[here:]
	}
	return y
}

// paragraph draws lines and returns the y under them. several says that they are not the only one of their paragraph.
func (d *Doc) paragraph(x, y, width float64, t Type, lines []aLine, several bool) float64 {
	d.told(d.kindOf(t), func() {
		for i, line := range lines {
			set := t
			if line.toLeft && several && t.Align == Left {
				set.Align = Right // where its lines begin; one alone stays beside what it is about
			}
			if i == 1 {
				width -= t.Hang
				if set.Align == Left {
					x += t.Hang
				}
			}
			d.line(x, y, width, set, line.open+line.text, line.toLeft)
			y += t.lead()
		}
	})
	return y
}

// ParaHeight returns the height Para needs, in mm.
func (f *Faces) ParaHeight(width float64, t Type, s string, most int) float64 {
	return float64(len(f.paraLines(width, t, s, most))) * t.lead()
}

// aLine is a line of a paragraph, which runs as the paragraph does.
type aLine struct {
	text   string
	open   string // isolates that were opened on a line before
	toLeft bool
}

// paraLines wraps s and cuts it to the most lines allowed, visibly.
func (f *Faces) paraLines(width float64, t Type, s string, most int) []aLine {
	width -= t.Hang
	lines := f.wrap(width, t, s)
	if most > 0 && len(lines) > most {
		// The cut must show even where the last line would have had room.
		last := &lines[most-1]
		if last.text = f.Fit(width, t, last.text+" "+ellipsis); !strings.HasSuffix(last.text, ellipsis) {
			last.text += ellipsis
		}
		lines = lines[:most]
	}
	return lines
}

// spaced puts a space behind each line that was broken at one, so that words which are told one after the other stay apart.
func spaced(lines []aLine, s string) []aLine {
	rest := Clean(s)
	for i, line := range lines[:len(lines)-1] {
		before := strings.TrimPrefix(rest, line.text)
		if rest = strings.TrimLeft(before, " \n"); len(rest) < len(before) {
			lines[i].text += " "
		}
	}
	return lines
}

// line draws a line that has been cleaned and fitted. A space at its end hangs beyond it. toLeft says that
// its paragraph runs to the left.
func (d *Doc) line(x, y, width float64, t Type, s string, toLeft bool) {
	if s == "" {
		return
	}
	d.draw("a text", []float64{x, y, width, t.Size}, func() {
		spans, missing := d.layOut(t.Face, s, toLeft)
		if len(missing) > 0 {
			d.missing[d.page] += len(missing)
			d.lacks(missing)
		}
		mm := func(thousandths int) float64 { return float64(thousandths) / 1000 * t.Size * mmPerPoint }
		used, hanging := mm(widthOf(spans)), 0.0
		if word := strings.TrimRight(s, " "); len(word) < len(s) {
			hanging = used - d.lineWidth(t, word)
			used -= hanging
		}
		switch {
		case t.Align == Right:
			x += width - used
		case t.Align == Centre:
			x += (width - used) / 2
		}
		if toLeft {
			x -= hanging
		}
		d.fill(t.Grey)
		base := y + t.Size*mmPerPoint*ascent
		start := x
		for _, s := range spans {
			if s.glyphs == nil {
				d.selectFont(s.face, t.Size)
				d.text(s.face, x, base, s.text)
			} else {
				d.drawGlyphs(x, base, t.Size, s)
			}
			x += mm(s.width)
		}
		if t.Struck {
			d.pen(Pen{Width: t.Size * mmPerPoint * 0.06, Grey: t.Grey})
			mid := base - t.Size*mmPerPoint*0.27
			d.segment(start, mid, start+used, mid)
		}
	})
}

// Open reads faces before they are drawn in. It takes some milliseconds, which a caller may have to spare.
func (d *Doc) Open(faces ...Face) {
	d.do("a typeface", func() {
		for _, face := range faces {
			d.read(face)
		}
	})
}

// read gives a face to the library, once. The library writes into the bytes
// it is given (a side bearing of a face with one width for all), so each
// document gets its own copy: else the second document of a process differs
// from the first.
func (d *Doc) read(face Face) {
	if !d.added[face] {
		d.pdf.AddUTF8FontFromBytes(face.family(), "", bytes.Clone(face.bytes()))
		d.added[face] = true
	}
}

// selectFont makes a face current. The library takes a font for selected as
// soon as any page selected it, but each page's content needs its own
// selection, and footers return to earlier pages.
func (d *Doc) selectFont(face Face, size float64) {
	d.read(face)
	if now := d.now(); now.face != face || now.size != size {
		d.pdf.SetFont(face.family(), "", size)
		now.face, now.size = face, size
	}
}
