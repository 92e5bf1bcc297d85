package page

import (
	"sort"
	"strings"

	"github.com/rivo/uniseg"
)

// Align says where a line stands within its width.
type Align int

// The alignments.
const (
	Left Align = iota
	Centre
	Right
)

// Type says how a text is set. Size is in points (1/72 inch), Grey runs from
// 0, black, to 1, white.
type Type struct {
	Size   float64
	Face   Face
	Align  Align
	Grey   float64
	Struck bool    // ruled through, as a voided entry
	Lead   float64 // from line to line of a paragraph, mm; 0 means LineHeight
	Hang   float64 // by which the lines of a paragraph behind its first one stand in, mm
	Level  int     // of the heading that is set in it, 1 the outermost; 0 for a paragraph
}

// Ascent is how far the base line lies below the top of a line of the type, mm.
func (t Type) Ascent() float64 { return t.Size * mmPerPoint * ascent }

func (t Type) lead() float64 {
	if t.Lead > 0 {
		return t.Lead
	}
	return LineHeight(t.Size)
}

// Set returns the type of a face and size in points, black, to the left.
func Set(size float64, face Face) Type { return Type{Size: size, Face: face} }

// Right returns the type with its lines at the right end of their width.
func (t Type) Right() Type { t.Align = Right; return t }

// Centred returns the type with its lines in the middle of their width.
func (t Type) Centred() Type { t.Align = Centre; return t }

// Heading returns the type for headings of a level, 1 the outermost.
func (t Type) Heading(level int) Type { t.Level = level; return t }

// In returns the type in a grey from 0, black, to 1, white.
func (t Type) In(grey float64) Type { t.Grey = grey; return t }

const (
	mmPerPoint = 25.4 / 72
	leading    = 1.22 // line height over type size
	ascent     = 0.95 // top of the line to the base line, over type size
	ellipsis   = "…"
)

// LineHeight returns the height of one line of a type size given in points,
// in mm.
func LineHeight(size float64) float64 { return size * mmPerPoint * leading }

// Width returns the width of s on one line, in mm.
func (f *Faces) Width(t Type, s string) float64 { return f.lineWidth(t, oneLine(s)) }

// lineWidth measures a line that has been cleaned.
func (f *Faces) lineWidth(t Type, line string) float64 {
	if plain(line) || runsAsWritten(t.Face, line) { // the usual cases, asked for again and again
		return float64(t.Face.advance(line)) / 1000 * t.Size * mmPerPoint
	}
	spans, _ := f.layOut(t.Face, line, false)
	return float64(widthOf(spans)) / 1000 * t.Size * mmPerPoint
}

// widthOf gives the width of a line in thousandths of the em.
func widthOf(spans []span) (sum int) {
	for _, s := range spans {
		sum += s.width
	}
	return sum
}

// Fit returns s on one line, cut at the end with an ellipsis where it is
// wider than width (mm). Characters are cut whole, with their marks. When not
// even the ellipsis has room it is returned none the less: a cut shows.
func (f *Faces) Fit(width float64, t Type, s string) string {
	s = oneLine(s)
	if f.lineWidth(t, s) <= width+slack {
		return s
	}
	return strings.TrimRight(s[:f.prefix(width+slack, t, s, ellipsis)], " ") + ellipsis
}

// slack lets a text measured once fit into exactly that width, in mm.
const slack = 1e-6

// prefix returns the number of leading bytes of a cleaned line, in whole characters, that fit into width with a tail behind them.
// What is shaped is measured as a whole, for a letter may be narrower beside another.
func (f *Faces) prefix(width float64, t Type, line, tail string) int {
	ends := []int{0}
	for state, rest := -1, line; rest != ""; {
		var cluster string
		cluster, rest, _, state = uniseg.FirstGraphemeClusterInString(rest, state)
		ends = append(ends, ends[len(ends)-1]+len(cluster))
	}
	tooLong := sort.Search(len(ends), func(i int) bool { return f.lineWidth(t, strings.TrimRight(line[:ends[i]], " ")+tail) > width })
	return ends[max(0, tooLong-1)]
}

// Wrap breaks s into lines no wider than width (mm), at the places the
// Unicode line breaking rules allow (UAX #14). A word wider than the line is
// broken between characters. An empty s gives one empty line.
func (f *Faces) Wrap(width float64, t Type, s string) []string {
	var lines []string
	for _, line := range f.wrap(width, t, s) {
		lines = append(lines, line.text)
	}
	return lines
}

func (f *Faces) wrap(width float64, t Type, s string) []aLine {
	var lines []aLine
	for _, para := range strings.Split(Clean(s), "\n") {
		toLeft, open, isolated := beginsToTheLeft(para), "", strings.ContainsRune(para, firstStrongIsolate)
		rest := para
		if isolated {
			rest = directed(para)
		}
		for _, line := range f.wrapLine(width, t, para) {
			lines = append(lines, aLine{line, open, toLeft})
			if isolated { // as the isolate runs, not as what stands of it on the next line
				at := strings.Index(para[len(para)-len(rest):], line)
				line, rest = rest[at:at+len(line)], rest[at+len(line):]
			}
			open = stillOpen(open, line)
		}
	}
	return lines
}

// wrapping is a paragraph with all on which its lines depend.
type wrapping struct {
	width, size float64
	face        Face
	para        string
}

// keptWrappings bounds how many are kept.
const keptWrappings = 4096

// wrapLine breaks a paragraph. What was broken before is kept: a text is measured before it is drawn, and the cards of a log say
// the same of many sheets.
func (f *Faces) wrapLine(width float64, t Type, para string) []string {
	key := wrapping{width, t.Size, t.Face, para}
	f.lock.Lock()
	lines, ok := f.wrapped[key]
	f.lock.Unlock()
	if ok {
		return lines
	}
	lines = f.breakLine(width, t, para)
	f.lock.Lock()
	defer f.lock.Unlock()
	if f.wrapped == nil || len(f.wrapped) == keptWrappings {
		f.wrapped = map[wrapping][]string{}
	}
	f.wrapped[key] = lines
	return lines
}

func (f *Faces) breakLine(width float64, t Type, para string) []string {
	var lines []string
	line := ""
	flush := func() {
		lines = append(lines, strings.TrimRight(line, " "))
		line = ""
	}
	for state := -1; para != ""; {
		var segment string
		segment, para, _, state = uniseg.FirstLineSegmentInString(para, state)
		// A range of figures and an f-number stay on one line.
		for (strings.HasSuffix(segment, "–") || strings.HasSuffix(segment, "/")) && para != "" && '0' <= para[0] && para[0] <= '9' {
			var to string
			to, para, _, state = uniseg.FirstLineSegmentInString(para, state)
			segment += to
		}
		if line != "" && f.lineWidth(t, line+strings.TrimRight(segment, " ")) > width+slack {
			flush()
		}
		for f.lineWidth(t, strings.TrimRight(segment, " ")) > width+slack {
			n := f.prefix(width+slack, t, segment, "")
			if n == 0 { // one character wider than the column: it stands alone
				cluster, _, _, _ := uniseg.FirstGraphemeClusterInString(segment, -1)
				if n = len(cluster); n == len(segment) {
					break
				}
			}
			line, segment = segment[:n], segment[n:]
			flush()
		}
		line += segment
	}
	if line != "" || len(lines) == 0 {
		flush()
	}
	return lines
}
