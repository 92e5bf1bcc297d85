package page

import (
	"reflect"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/go-text/typesetting/bidi"
	"github.com/go-text/typesetting/di"
	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/shaping"
	"github.com/rivo/uniseg"
	"golang.org/x/image/math/fixed"
	classes "golang.org/x/text/unicode/bidi"
)

// A line goes to the page in spans from left to right. What one rune after another draws (Latin, Greek, Cyrillic in a built-in
// face) the PDF library sets. The rest is shaped: right-to-left letters, marks on letters, letters that join or change their
// places, faces of the reader's choosing.

// span is a part of a line in one face.
type span struct {
	face   Face
	text   string  // for the PDF library, or
	glyphs []glyph // as they were shaped, from left to right
	width  int     // thousandths of the em
}

// glyph is one glyph of a face as it stands in a line, its lengths in thousandths of the em. The texts of a line's glyphs, read in
// the direction of their span, are the line.
type glyph struct {
	id        font.GID
	text      string
	width     int // that the document tells of it
	advance   int // from it to the next
	right, up int // by how much it is moved off the base line's point
}

// stretch is a part of a line's runes in one face.
type stretch struct {
	face       Face
	start, end int
	simple     bool // the PDF library can set it
	level      int  // of its direction: odd ones run to the left
}

// layOut cuts a cleaned line into spans from left to right. What no face can draw stands as one ▯ for each character as a reader
// counts them; missing holds those.
func (f *Faces) layOut(t Face, line string, toLeft bool) (spans []span, missing []string) {
	if plain(line) || !toLeft && runsAsWritten(t, line) {
		return []span{{face: t, text: line, width: t.advance(line)}}, nil
	}
	return f.layOutAny(t, line, toLeft)
}

// layOutAny is layOut for lines that may hold anything.
func (f *Faces) layOutAny(t Face, line string, toLeft bool) (spans []span, missing []string) {
	f.lock.Lock()
	defer f.lock.Unlock()
	defer f.surviving()
	runes, stretches, missing := f.stretches(t, line)
	stretches = byLevel(runes, stretches, levels(runes, toLeft))
	for _, p := range inSight(stretches) {
		text := runes[p.start:p.end]
		if p.simple && p.level%2 == 0 {
			visible := strings.Map(dropInkless, string(text))
			spans = append(spans, span{face: p.face, text: visible, width: p.face.advance(visible)})
			continue
		}
		glyphs := f.shape(runes, p)
		s := span{face: p.face, glyphs: glyphs}
		for _, g := range glyphs {
			s.width += g.advance
		}
		spans = append(spans, s)
	}
	return spans, missing
}

// runsAsWritten says that one built-in face holds a whole line of letters, figures and signs that run to the right and stand each
// for itself: no mark, nothing that is joined, nothing without ink. Most lines are such, with an accent, a dash or a minus.
func runsAsWritten(t Face, line string) bool {
	if t >= faces {
		return false
	}
	for _, r := range line {
		ofEurope := r >= 0xA1 && r < 0x2B0 && r != 0xAD
		sign := r >= 0x2010 && r <= 0x2027 || r >= 0x2030 && r <= 0x205E || r >= 0x2190 && r < 0x2300
		if (r < ' ' || r > '~') && !ofEurope && !sign || !t.has(r) {
			return false
		}
	}
	return true
}

func dropInkless(r rune) rune {
	if inkless(r) {
		return -1
	}
	return r
}

// stretches cuts a line by the faces that draw it, cluster by cluster: a mark stays in the face of its base.
func (f *Faces) stretches(t Face, line string) (runes []rune, stretches []stretch, missing []string) {
	add := func(face Face, text string) {
		p := stretch{face: face, start: len(runes), simple: face < faces && strings.IndexFunc(text, wantsShaping) < 0}
		runes = append(runes, []rune(text)...)
		p.end = len(runes)
		if n := len(stretches); n > 0 && stretches[n-1].face == face && stretches[n-1].simple == p.simple {
			stretches[n-1].end = p.end
		} else {
			stretches = append(stretches, p)
		}
	}
	for state := -1; line != ""; {
		var cluster string
		cluster, line, _, state = uniseg.FirstGraphemeClusterInString(line, state)
		face, lacking := f.choose(t, cluster)
		if n := len(stretches); n > 0 && !stretches[n-1].simple && between(cluster) && f.has(stretches[n-1].face, cluster) {
			face = stretches[n-1].face // so that a space or a comma does not part what is shaped together
		}
		if !lacking {
			add(face, cluster)
			continue
		}
		missing = append(missing, cluster)
		base, marks := cut(cluster)
		if face, lacking := f.choose(t, string(base)); !lacking && marks != "" {
			add(face, string(base))
		}
		face, _ = f.choose(t, string(placeholder))
		add(face, string(placeholder))
	}
	return runes, stretches, missing
}

// between says that a cluster is a space or a punctuation mark.
func between(cluster string) bool {
	r, _ := cut(cluster)
	return unicode.IsSpace(r) || unicode.IsPunct(r)
}

// choose gives the face in which a cluster is drawn: that of the type, the regular one, the first of the reader's that holds it. What
// none holds is lacking, and so is an override of the reading direction, which must be seen.
func (f *Faces) choose(t Face, cluster string) (face Face, lacking bool) {
	if base, _ := cut(cluster); !inkless(base) && unicode.Is(unicode.Cf, base) {
		return t, true
	}
	for _, face := range []Face{t, Regular} {
		if f.has(face, cluster) {
			return face, false
		}
	}
	for i := range f.readers {
		if face := faces + Face(i); f.has(face, cluster) {
			return face, false
		}
	}
	return t, true
}

// wantsShaping says of a rune that it is not simply drawn behind the one before it.
func wantsShaping(r rune) bool {
	const hebrew, georgian = 0x0590, 0x10A0 // between them lie the letters of the Near East, of India and of what lies behind
	return r >= hebrew && r < georgian || r >= 1<<16 || r >= 0x300 && unicode.Is(unicode.M, r) || toTheLeft(r)
}

// cut takes the first rune off a string.
func cut(s string) (first rune, rest string) {
	for i, r := range s {
		if i > 0 {
			return first, s[i:]
		}
		first = r
	}
	return first, ""
}

// toTheLeft says of a rune that it is a letter, or a mark, of a script that runs to the left.
func toTheLeft(r rune) bool {
	if r < 0x0590 {
		return false
	}
	props, _ := classes.LookupRune(r)
	c := props.Class()
	return c == classes.R || c == classes.AL
}

// beginsToTheLeft says that a paragraph runs to the left: so does its first letter, isolates passed over (UAX #9, P2 and P3).
func beginsToTheLeft(para string) bool {
	depth := 0
	for _, r := range para {
		props, _ := classes.LookupRune(r)
		switch c := props.Class(); {
		case c == classes.LRI, c == classes.RLI, c == classes.FSI:
			depth++
		case c == classes.PDI:
			depth = max(0, depth-1)
		case depth > 0:
		case c == classes.L:
			return false
		case c == classes.R, c == classes.AL:
			return true
		}
	}
	return false
}

// levels gives each rune's level of direction by the Unicode algorithm (UAX #9); nil where all of a line runs to the right.
func levels(runes []rune, toLeft bool) []int {
	direction := bidi.LeftToRight
	if toLeft {
		direction = bidi.RightToLeft
	} else if !slices.ContainsFunc(runes, func(r rune) bool { return r >= 0x0590 }) {
		return nil
	}
	var p bidi.Paragraph
	runs := p.Segment(runes, direction)
	// The library tells runs of one parity, and the level of the first rune of each: a number behind right-to-left letters, two
	// levels up, and the Latin behind it would be one. It keeps the level of each rune to itself.
	each := reflect.ValueOf(runs).FieldByName("levels")
	out := make([]int, len(runes))
	for i := range out {
		out[i] = int(each.Index(i).Int())
	}
	return out
}

// Isolates of the Unicode algorithm (UAX #9): what stands between an opening one and the closing one has a direction of its own
// and moves nothing beside it.
const leftToRightIsolate, rightToLeftIsolate, firstStrongIsolate, endOfIsolate = '\u2066', '\u2067', '\u2068', '\u2069'

func isolates(r rune) bool { return r >= 0x2066 && r <= endOfIsolate }

// Isolated sets a text apart that is to stand within a line of other words, where it holds letters that run to the left: else a
// number behind it would go to its other side. The marks are not drawn.
func Isolated(text string) string {
	if strings.IndexFunc(text, toTheLeft) < 0 {
		return text
	}
	return string(firstStrongIsolate) + text + string(endOfIsolate)
}

// IsolatedWithin sets apart what a sentence in European letters quotes: from a letter that runs to the left to the last one before
// the next that runs to the right.
func IsolatedWithin(sentence string) string {
	if strings.IndexFunc(sentence, toTheLeft) < 0 {
		return sentence
	}
	var b strings.Builder
	from, to, done := -1, 0, 0 // of the quoted words, once the first letter was met; what was written
	closed := func() {
		if from >= 0 {
			b.WriteString(sentence[done:from] + Isolated(sentence[from:to]))
			from, done = -1, to
		}
	}
	depth := 0
	for i, r := range sentence {
		props, _ := classes.LookupRune(r)
		switch class := props.Class(); {
		case isolates(r):
			closed()
			if depth++; r == endOfIsolate {
				depth = max(0, depth-2)
			}
		case depth > 0: // stands apart already
		case class == classes.L:
			closed()
		case toTheLeft(r) && from < 0:
			from, to = i, i+utf8.RuneLen(r)
		case toTheLeft(r), class == classes.NSM && to == i:
			to = i + utf8.RuneLen(r)
		}
	}
	closed()
	return b.String() + sentence[done:]
}

// Quoted sets apart what somebody said where it stands in a line of other words: as a whole, in its own direction, where most of
// its letters run to the left; else what it quotes of such, so that a name does not turn a sentence round.
func Quoted(text string) string {
	left, right := 0, 0
	for _, r := range text {
		if toTheLeft(r) {
			left++
		} else if unicode.IsLetter(r) {
			right++
		}
	}
	if left > right {
		return Isolated(text)
	}
	return IsolatedWithin(text)
}

// bare is a text without the isolates, for where it is not set: a title in an outline, words that are spoken.
func bare(s string) string {
	return strings.Map(func(r rune) rune {
		if isolates(r) {
			return -1
		}
		return r
	}, s)
}

// directed is a paragraph with each isolate that runs as its first letter does told which way that is, in as many bytes.
func directed(para string) string {
	var b strings.Builder
	for i, r := range para {
		if r == firstStrongIsolate {
			if r = leftToRightIsolate; beginsToTheLeft(para[i+utf8.RuneLen(r):]) {
				r = rightToLeftIsolate
			}
		}
		b.WriteRune(r)
	}
	return b.String()
}

// stillOpen gives the opening isolates that stand open behind a text that began with some of them open.
func stillOpen(open, text string) string {
	for _, r := range text {
		switch {
		case r == endOfIsolate && open != "":
			_, size := utf8.DecodeLastRuneInString(open)
			open = open[:len(open)-size]
		case isolates(r) && r != endOfIsolate:
			open += string(r)
		}
	}
	return open
}

// byLevel cuts stretches where the level changes, and joins what is of one face and runs to the left. Isolates have done their work
// then and are left out.
func byLevel(runes []rune, stretches []stretch, levels []int) []stretch {
	if levels == nil {
		return stretches
	}
	var out []stretch
	for _, p := range stretches {
		for i := p.start; i < p.end; i++ {
			if isolates(runes[i]) {
				continue
			}
			one := stretch{face: p.face, start: i, end: i + 1, level: levels[i], simple: p.simple && levels[i]%2 == 0}
			if n := len(out); n > 0 && out[n-1].end == i && out[n-1].face == one.face && out[n-1].level == one.level && out[n-1].simple == one.simple {
				out[n-1].end = one.end
			} else {
				out = append(out, one)
			}
		}
	}
	return out
}

// inSight brings stretches into the order in which they stand from left to right (UAX #9, L2).
func inSight(stretches []stretch) []stretch {
	highest := 0
	for _, p := range stretches {
		highest = max(highest, p.level)
	}
	for level := highest; level > 0; level-- {
		for i := 0; i < len(stretches); i++ {
			from := i
			for i < len(stretches) && stretches[i].level >= level {
				i++
			}
			slices.Reverse(stretches[from:i])
		}
	}
	return stretches
}

// oneFace is the only face that a stretch is drawn in.
type oneFace struct{ *font.Face }

func (o oneFace) ResolveFace(rune) *font.Face { return o.Face }

// shape gives the glyphs of a stretch from left to right. What stands before and behind it is told to the shaper, for a letter
// joins those beside it.
func (f *Faces) shape(runes []rune, p stretch) []glyph {
	in := shaping.Input{Text: runes, RunStart: p.start, RunEnd: p.end, Face: f.face(p.face), Size: fixed.I(1000)}
	if p.level%2 == 1 {
		in.Direction = di.DirectionRTL
	}
	var scripts shaping.Segmenter
	parts := slices.Clone(scripts.Split(in, oneFace{in.Face}))
	if p.level%2 == 1 {
		slices.Reverse(parts)
	}
	var out []glyph
	for _, part := range parts {
		out = append(out, glyphsOf(runes, f.shaper.Shape(part))...)
	}
	return out
}

// glyphsOf gives the glyphs of what was shaped with their texts, cluster by cluster.
func glyphsOf(runes []rune, shaped shaping.Output) []glyph {
	toLeft := shaped.Direction == di.DirectionRTL
	var out []glyph
	for i := 0; i < len(shaped.Glyphs); {
		first := shaped.Glyphs[i]
		n := min(max(1, first.GlyphsCount()), len(shaped.Glyphs)-i)
		cluster := make([]glyph, n)
		for k, g := range shaped.Glyphs[i : i+n] {
			cluster[k] = glyph{id: g.GlyphID, advance: g.Advance.Round(), right: g.XOffset.Round(), up: g.YOffset.Round()}
			cluster[k].width = max(0, cluster[k].advance)
		}
		text := runes[first.TextIndex():min(len(runes), first.TextIndex()+first.RunesCount())]
		if toLeft {
			cluster = readLeftwards(cluster, text)
		} else {
			share(cluster, text)
		}
		out = append(out, cluster...)
		i += n
	}
	return out
}

// share gives the characters of a cluster to its glyphs with a width in their order, the rest to the last, so that they are read off
// the page as they were written. A mark that was moved over its base has none of its own.
func share(cluster []glyph, text []rune) {
	wide := slices.DeleteFunc(pointers(cluster), func(g *glyph) bool { return g.advance <= 0 })
	if len(wide) == 0 {
		wide = pointers(cluster)
	}
	for k, g := range wide {
		to := k + 1
		if k == len(wide)-1 {
			to = len(text)
		}
		g.text = string(text[min(k, len(text)):min(to, len(text))])
	}
}

func pointers(cluster []glyph) []*glyph {
	out := make([]*glyph, len(cluster))
	for i := range cluster {
		out[i] = &cluster[i]
	}
	return out
}

// readLeftwards gives the characters of a cluster that runs to the left to glyphs of one character each, the last one leftmost: whoever
// reads a page takes it from left to right and turns it, characters of one glyph too. Where there are more characters than glyphs
// with a width, a ligature say, blank ones stand over its width.
func readLeftwards(cluster []glyph, text []rune) []glyph {
	wide := max(0, slices.IndexFunc(cluster, func(g glyph) bool { return g.advance > 0 }))
	g := &cluster[wide]
	slice := g.width / max(1, len(text))
	g.width = max(slice, g.width-slice*(len(text)-1))
	at := g.width - g.advance // of the next blank one, from where the pen will be
	for i, r := range slices.Backward(text) {
		one := classes.ReverseString(string(r)) // a bracket as it looks
		if i == len(text)-1 {
			g.text = one
			continue
		}
		cluster = append(cluster, glyph{id: font.EmptyGlyph, text: one, width: slice, right: at})
		at += slice
	}
	return cluster
}
