package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf16"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
)

// Shaped text stands in fonts that are made for the document: the outlines of the glyphs that it shows, one entry for each glyph
// and text, so that what is copied from the page is what was written. Outlines are all that is taken of a typeface, so that
// those of CFF serve as well, and nothing else that a foreign file holds gets into the document.

// subset is the part of a face that a document shows.
type subset struct {
	face   *font.Face
	number Face
	codes  map[glyphKey]int // from 1; 0 is the glyph of what is missing
	glyphs []glyphKey
}

type glyphKey struct {
	id    font.GID
	text  string
	width int // thousandths of the em
}

// mostGlyphs is how many codes of two bytes there are, less that of what is missing.
const mostGlyphs = math.MaxUint16 - 1

func (s *subset) code(g glyph) int {
	key := glyphKey{g.id, g.text, min(g.width, math.MaxInt16)}
	code, known := s.codes[key]
	if !known {
		s.glyphs = append(s.glyphs, key)
		code = len(s.glyphs)
		s.codes[key] = code
	}
	return code
}

// resource names the font in the content of pages.
func (s *subset) resource() string { return fmt.Sprintf("S%d", s.number) }

// drawGlyphs draws a span of glyphs with its left end at x on a base line.
func (d *Doc) drawGlyphs(x, base, size float64, line span) {
	s := d.subsets[line.face]
	if s == nil {
		s = &subset{face: d.face(line.face), number: line.face, codes: map[glyphKey]int{}}
		d.subsets[line.face] = s
	}
	const points = 72 / 25.4
	var b strings.Builder
	fmt.Fprintf(&b, "q BT /%s %.2f Tf %.2f %.2f Td [", s.resource(), size, x*points, (d.h-base)*points)
	pen, at, raised := 0, 0, 0 // where the glyph is wanted, where the last one left off, thousandths of the em
	for _, g := range line.glyphs {
		if g.id == font.EmptyGlyph && g.text == "" {
			pen += g.advance
			continue
		}
		code := s.code(g)
		if g.up != raised {
			raised = g.up
			fmt.Fprintf(&b, "] TJ %.3f Ts [", float64(raised)*size/1000)
		}
		if moved := pen + g.right - at; moved != 0 {
			fmt.Fprintf(&b, "%d", -moved)
		}
		fmt.Fprintf(&b, "<%04X>", code)
		at = pen + g.right + s.glyphs[code-1].width
		pen += g.advance
	}
	b.WriteString("] TJ ET Q")
	d.pdf.RawWriteStr(b.String())
	if len(s.glyphs) > mostGlyphs {
		d.fail(fmt.Errorf("a typeface stands in this document with more than %d different glyphs: print it in parts", mostGlyphs))
	}
}

// embed adds the fonts of shaped text to a document's objects and to the resources of its pages.
func (p *parts) embed(subsets map[Face]*subset) error {
	if len(subsets) == 0 {
		return nil
	}
	const resources = 2 // the library's number of what all pages share
	fonts := []byte("/Font <<\n")
	if len(p.objects) <= resources || bytes.Count(p.objects[resources], fonts) != 1 {
		return errForm
	}
	entries := slices.Clone(fonts)
	for _, f := range slices.Sorted(maps.Keys(subsets)) {
		s := subsets[f]
		entries = fmt.Appendf(entries, "/%s %d 0 R\n", s.resource(), len(p.objects))
		p.objects = append(p.objects, s.objects(len(p.objects))...)
	}
	p.objects[resources] = bytes.Replace(p.objects[resources], fonts, entries, 1)
	return nil
}

// objects gives the font, its descendant, its description, its file and its table of texts, the first of which gets a number.
func (s *subset) objects(n int) [][]byte {
	file, box := s.trueType()
	name := s.name(file)
	thousand := func(units int16) int { return int(units) * 1000 / int(s.face.Upem()) }
	var widths strings.Builder
	for _, g := range s.glyphs {
		fmt.Fprintf(&widths, " %d", g.width)
	}
	up, down := thousand(box[3]), thousand(box[1])
	return [][]byte{
		fmt.Appendf(nil, "<</Type /Font /Subtype /Type0 /BaseFont /%s /Encoding /Identity-H /DescendantFonts [%d 0 R] /ToUnicode %d 0 R>>\n", name, n+1, n+4),
		fmt.Appendf(nil, "<</Type /Font /Subtype /CIDFontType2 /BaseFont /%s /CIDSystemInfo <</Registry (Adobe) /Ordering (Identity) /Supplement 0>> "+
			"/FontDescriptor %d 0 R /CIDToGIDMap /Identity /DW 0 /W [1 [%s]]>>\n", name, n+2, widths.String()),
		fmt.Appendf(nil, "<</Type /FontDescriptor /FontName /%s /Flags 4 /FontBBox [%d %d %d %d] /ItalicAngle 0 /Ascent %d /Descent %d /CapHeight %d /StemV 80 /FontFile2 %d 0 R>>\n",
			name, thousand(box[0]), down, thousand(box[2]), up, up, down, up, n+3),
		stream(fmt.Sprintf("/Length1 %d ", len(file)), file),
		stream("", s.toUnicode()),
	}
}

// stream is an object of plain bytes, which are packed with the others.
func stream(entries string, content []byte) []byte {
	return slices.Concat(fmt.Appendf(nil, "<<%s/Length %d>>\nstream\n", entries, len(content)), content, []byte("\nendstream\n"))
}

// name gives a subset its name: six letters that follow from what it holds, and that of the typeface.
func (s *subset) name(file []byte) string {
	sum := sha256.Sum256(file)
	var b strings.Builder
	for _, c := range sum[:6] {
		b.WriteByte('A' + c%26)
	}
	b.WriteByte('+')
	family := strings.Map(func(r rune) rune {
		if r > unicode.MaxASCII || !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return -1
		}
		return r
	}, s.face.Describe().Family)
	const most = 60 // bytes; a name may have 127
	if family == "" {
		family = "Typeface"
	}
	return b.String() + family[:min(len(family), most)]
}

// toUnicode tells what each glyph says.
func (s *subset) toUnicode() []byte {
	var b bytes.Buffer
	b.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n" +
		"/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def\n/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n" +
		"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n")
	const most = 100 // entries of one list
	code := 0
	for part := range slices.Chunk(s.glyphs, most) {
		fmt.Fprintf(&b, "%d beginbfchar\n", len(part))
		for _, g := range part {
			code++
			fmt.Fprintf(&b, "<%04X> <", code)
			for _, u := range utf16.Encode([]rune(g.text)) {
				fmt.Fprintf(&b, "%04X", u)
			}
			b.WriteString(">\n")
		}
		b.WriteString("endbfchar\n")
	}
	b.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n")
	return b.Bytes()
}

// trueType makes the font file: the tables that ISO 32000-1, 9.9 asks for, of glyphs in the order of their codes. box is the
// smallest that holds each, in units of the em: left, low, right, high.
func (s *subset) trueType() (file []byte, box [4]int16) {
	var glyf, loca, hmtx []byte
	var points, contours, widest int
	add := func(outline []contour, width int) {
		loca = binary.BigEndian.AppendUint32(loca, uint32(len(glyf)))
		bytes, bounds := glyfEntry(outline)
		glyf = append(glyf, bytes...)
		hmtx = binary.BigEndian.AppendUint16(hmtx, uint16(width))
		hmtx = binary.BigEndian.AppendUint16(hmtx, uint16(bounds[0]))
		n := 0
		for _, c := range outline {
			n += len(c)
		}
		points, contours, widest = max(points, n), max(contours, len(outline)), max(widest, width)
		box = [4]int16{min(box[0], bounds[0]), min(box[1], bounds[1]), max(box[2], bounds[2]), max(box[3], bounds[3])}
	}
	add(nil, 0)
	for _, g := range s.glyphs {
		var outline font.GlyphOutline
		if g.id != font.EmptyGlyph {
			outline, _ = s.face.GlyphDataOutline(g.id)
		}
		add(contoursOf(outline.Segments), g.width*int(s.face.Upem())/1000)
	}
	loca = binary.BigEndian.AppendUint32(loca, uint32(len(glyf)))
	count := len(s.glyphs) + 1
	// OpenType 1.9: version, revision, sum, mark, flags, units of the em, two dates, box, style, smallest size, direction, long offsets.
	head := table(uint32(0x10000), uint32(0x10000), uint32(0), uint32(0x5F0F3CF5), uint16(0), s.face.Upem(), uint64(0), uint64(0), box, uint16(0), uint16(8), int16(2), int16(1), int16(0))
	// Version, ascent, descent, gap, widest, least bearings and extent, caret, reserved, format, number of metrics.
	hhea := table(uint32(0x10000), box[3], box[1], int16(0), uint16(widest), box[0], int16(0), box[2], int16(1), int16(0), [6]int16{}, uint16(count))
	// Version, glyphs, points, contours, those of composites, zones, and what only instructions use.
	maxp := table(uint32(0x10000), uint16(count), uint16(points), uint16(contours), uint16(0), uint16(0), uint16(1), [8]uint16{})
	tables := []opentype.Table{}
	for _, t := range []struct {
		tag     string
		content []byte
	}{{"glyf", glyf}, {"head", head}, {"hhea", hhea}, {"hmtx", hmtx}, {"loca", loca}, {"maxp", maxp}} {
		padded := append(t.content, make([]byte, (4-len(t.content)%4)%4)...) // the writer lays tables where they fall
		tables = append(tables, opentype.Table{Tag: opentype.MustNewTag(t.tag), Content: padded})
	}
	return opentype.WriteTTF(tables), box
}

// table writes the fields of a table.
func table(fields ...any) []byte {
	var b bytes.Buffer
	for _, f := range fields {
		_ = binary.Write(&b, binary.BigEndian, f) // a buffer takes every write of a number
	}
	return b.Bytes()
}

// contour is a closed line of TrueType: points on it, and between them those that bend it.
type contour []glyphPoint

type glyphPoint struct {
	x, y int16
	on   bool
}

// contoursOf makes TrueType's contours of an outline.
func contoursOf(segments []opentype.Segment) (out []contour) {
	var c contour
	var last opentype.SegmentPoint
	add := func(p opentype.SegmentPoint, on bool) { c = append(c, glyphPoint{unit(p.X), unit(p.Y), on}) }
	closed := func() {
		if n := len(c); n > 1 && c[n-1] == c[0] { // a contour ends where it began without being told
			c = c[:n-1]
		}
		if len(c) > 2 {
			out = append(out, c)
		}
		c = nil
	}
	for _, s := range segments {
		switch a := s.Args; s.Op {
		case opentype.SegmentOpMoveTo:
			closed()
			add(a[0], true)
			last = a[0]
		case opentype.SegmentOpLineTo:
			add(a[0], true)
			last = a[0]
		case opentype.SegmentOpQuadTo:
			add(a[0], false)
			add(a[1], true)
			last = a[1]
		case opentype.SegmentOpCubeTo:
			bend(last, a, 2, add)
			last = a[2]
		}
	}
	closed()
	const most = math.MaxUint16 // points of a glyph; a hostile face may have more
	points := 0
	for _, c := range out {
		points += len(c)
	}
	if points > most {
		return nil
	}
	return out
}

// unit is a length in units of the em.
func unit(v float32) int16 {
	return int16(math.Round(max(-math.MaxInt16, min(float64(v), math.MaxInt16))))
}

// bend makes parabolas of a cubic curve, which it halves so many times: after two halvings a quarter of a circle as large as the
// em is off by a five-thousandth of it.
func bend(from opentype.SegmentPoint, a [3]opentype.SegmentPoint, halvings int, add func(opentype.SegmentPoint, bool)) {
	middle := func(p, q opentype.SegmentPoint) opentype.SegmentPoint {
		return opentype.SegmentPoint{X: (p.X + q.X) / 2, Y: (p.Y + q.Y) / 2}
	}
	if halvings == 0 {
		add(opentype.SegmentPoint{X: (3*(a[0].X+a[1].X) - from.X - a[2].X) / 4, Y: (3*(a[0].Y+a[1].Y) - from.Y - a[2].Y) / 4}, false)
		add(a[2], true)
		return
	}
	p, q, r := middle(from, a[0]), middle(a[0], a[1]), middle(a[1], a[2])
	pq, qr := middle(p, q), middle(q, r)
	half := middle(pq, qr)
	bend(from, [3]opentype.SegmentPoint{p, pq, half}, halvings-1, add)
	bend(half, [3]opentype.SegmentPoint{qr, r, a[2]}, halvings-1, add)
}

// glyfEntry writes a glyph: its box, the last point of each contour, no instructions, and its points as steps of two bytes.
func glyfEntry(outline []contour) (entry []byte, bounds [4]int16) {
	if len(outline) == 0 {
		return nil, bounds
	}
	bounds = [4]int16{math.MaxInt16, math.MaxInt16, math.MinInt16, math.MinInt16}
	var ends, flags, xs, ys []byte
	var x, y int16
	n := 0
	for _, c := range outline {
		for _, p := range c {
			flag := byte(0)
			if p.on {
				flag = 1
			}
			flags = append(flags, flag)
			xs = binary.BigEndian.AppendUint16(xs, uint16(p.x-x))
			ys = binary.BigEndian.AppendUint16(ys, uint16(p.y-y))
			x, y = p.x, p.y
			bounds = [4]int16{min(bounds[0], x), min(bounds[1], y), max(bounds[2], x), max(bounds[3], y)}
		}
		n += len(c)
		ends = binary.BigEndian.AppendUint16(ends, uint16(n-1))
	}
	entry = slices.Concat(table(int16(len(outline)), bounds), ends, []byte{0, 0}, flags, xs, ys)
	return append(entry, make([]byte, (4-len(entry)%4)%4)...), bounds
}
