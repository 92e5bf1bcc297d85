package eventstest

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"
)

// ArchivalRule is one rule of PDF/A-2b: its clause in ISO 19005-2:2011, what it asks, and where a file breaks it, "" where
// it holds. The clauses are those by which the public profile of veraPDF for PDF/A-2B orders its checks; rules of what the
// program never writes are one each, that it is not there.
type ArchivalRule struct {
	Clause, Asks string
	broken       func(f *pdfFile) string
}

// PDFArchival tells which rules of PDF/A-2b a file breaks, and which of the order in which it is read: each with its clause.
func PDFArchival(pdf []byte) []string {
	f := readPDF(pdf)
	for _, rule := range ArchivalRules {
		if where := rule.broken(f); where != "" {
			f.fault(rule.Clause, "%s: %s", rule.Asks, where)
		}
	}
	return f.faults
}

// ArchivalRules are the rules. How objects, streams and strings are set (6.1.4, 6.1.6, 6.1.7.1, 6.1.9) is held while they
// are read.
var ArchivalRules = []ArchivalRule{
	{"6.1.2", "a header of PDF 1.0 to 1.7 at the first byte, then a comment of four bytes above 127", func(f *pdfFile) string {
		return unless(regexp.MustCompile(`^%PDF-1\.[0-7]\n%[\x80-\xFF]{4}`).Match(latin(f.data[:min(20, len(f.data))])), "it begins otherwise")
	}},
	{"6.1.3", "a trailer with an identity of two strings", func(f *pdfFile) string {
		id := f.array(f.trailer["ID"])
		return unless(len(id) == 2 && len(bytesOf(id[0])) >= 16 && len(bytesOf(id[1])) >= 16, "there is none")
	}},
	{"6.1.3", "no encryption", func(f *pdfFile) string { return unless(f.trailer["Encrypt"] == nil, "the trailer names one") }},
	{"6.1.5", "the document information says what the XMP packet says", informationAgrees},
	{"6.1.7.1", "no stream that lies outside the file", func(f *pdfFile) string {
		return f.first(func(d pdfDict, stream bool) bool {
			return stream && (d["F"] != nil || d["FFilter"] != nil || d["FDecodeParms"] != nil)
		})
	}},
	{"6.1.7.2", "only filters of the standard, and not LZW", func(f *pdfFile) string {
		return f.first(func(d pdfDict, stream bool) bool {
			return stream && d["Filter"] != nil && d["Filter"] != pdfName("FlateDecode") && d["Filter"] != pdfName("DCTDecode")
		})
	}},
	{"6.1.8", "names of fonts and of structure in UTF-8", func(f *pdfFile) string {
		return f.first(func(d pdfDict, _ bool) bool {
			for _, key := range []string{"BaseFont", "FontName", "S"} {
				if name, is := d[key].(pdfName); is && !utf8.ValidString(string(name)) {
					return true
				}
			}
			return false
		})
	}},
	{"6.1.10", "no picture within the contents of a page", func(f *pdfFile) string { return f.uses("BI") }},
	{"6.1.12", "no permissions", func(f *pdfFile) string { return unless(f.root()["Perms"] == nil, "the catalog names some") }},
	{"6.1.13", "numbers, strings, names and objects within what a reader must take", tooLarge},
	{"6.1.13", "no more than 28 saved graphics states", func(f *pdfFile) string {
		return f.onPage(func(p pdfPage) string { return unless(p.deepest <= 28, fmt.Sprint(p.deepest)) })
	}},
	{"6.1.13", "pages of 3 to 14400 units a side", func(f *pdfFile) string {
		return f.onPage(func(p pdfPage) string {
			box := f.array(p.pdfDict["MediaBox"])
			if box == nil {
				box = f.array(f.dict(p.pdfDict["Parent"])["MediaBox"])
			}
			if len(box) != 4 {
				return "a page has no box"
			}
			for i := range 2 {
				if side := number(box[i+2]) - number(box[i]); side < 3 || side > 14400 {
					return fmt.Sprint(side)
				}
			}
			return ""
		})
	}},
	{"6.2.2", "only operators of the standard, each page with the resources that it names", contentsHold},
	{"6.2.3", "one intent of output with an ICC profile of a screen or printer", outputIntent},
	{"6.2.4.3", "colours of the device only where the intent of output is RGB, none of CMYK", func(f *pdfFile) string {
		for _, op := range []string{"k", "K", "cs", "CS", "scn", "SCN", "sc", "SC"} {
			if where := f.uses(op); where != "" {
				return where
			}
		}
		return f.first(func(d pdfDict, _ bool) bool {
			return d["Subtype"] == pdfName("Image") && d["ColorSpace"] != pdfName("DeviceGray") && d["ColorSpace"] != pdfName("DeviceRGB")
		})
	}},
	{"6.2.5", "no transfer functions, no halftones", func(f *pdfFile) string {
		return f.first(func(d pdfDict, _ bool) bool {
			return d["TR"] != nil || d["TR2"] != nil || d["HTP"] != nil || d["HalftoneType"] != nil
		})
	}},
	{"6.2.6", "no rendering intent of one's own", func(f *pdfFile) string { return cmp.Or(f.uses("ri"), f.firstWith("RI"), f.firstWith("Intent")) }},
	{"6.2.8", "pictures without alternates, OPI or interpolation", func(f *pdfFile) string {
		return f.first(func(d pdfDict, _ bool) bool {
			return d["Subtype"] == pdfName("Image") && (d["Alternates"] != nil || d["OPI"] != nil || d["Interpolate"] == true)
		})
	}},
	{"6.2.9", "no PostScript, no form that refers to another file", func(f *pdfFile) string {
		return f.first(func(d pdfDict, _ bool) bool {
			return d["Subtype"] == pdfName("PS") || d["Subtype2"] != nil || d["Subtype"] == pdfName("Form") && (d["Ref"] != nil || d["PS"] != nil || d["OPI"] != nil)
		})
	}},
	{"6.2.10", "no transparency, for no page says in which space it would blend", func(f *pdfFile) string {
		return f.first(func(d pdfDict, _ bool) bool {
			return d["SMask"] != nil || d["BM"] != nil || d["ca"] != nil || d["CA"] != nil || d["S"] == pdfName("Transparency")
		})
	}},
	{"6.2.11.2", "every font with its type, subtype and name", func(f *pdfFile) string {
		return f.eachFont(func(_ string, outer, inner pdfDict, _ map[int]bool) string {
			if outer["Type"] != pdfName("Font") || outer["Subtype"] != pdfName("Type0") || inner["Type"] != pdfName("Font") ||
				inner["Subtype"] != pdfName("CIDFontType2") || outer["BaseFont"] == nil || outer["BaseFont"] != inner["BaseFont"] {
				return "it lacks one, or is of another kind"
			}
			return ""
		})
	}},
	{"6.2.11.3", "composite fonts by Identity-H with a map to their glyphs", func(f *pdfFile) string {
		return f.eachFont(func(_ string, outer, inner pdfDict, _ map[int]bool) string {
			return unless(outer["Encoding"] == pdfName("Identity-H") && inner["CIDToGIDMap"] != nil, "it is encoded otherwise, or has no map")
		})
	}},
	{"6.2.11.4.1", "every font embedded, with each glyph that is shown", func(f *pdfFile) string {
		return f.eachGlyph(func(t *fontProgram, code int, glyph, _ int) string {
			if t == nil {
				return "it is not embedded"
			}
			return unless(glyph < t.glyphs, fmt.Sprintf("%04X", code))
		})
	}},
	{"6.2.11.4.2", "a subset is named as one, and has no list of its glyphs that could be wrong", func(f *pdfFile) string {
		return f.eachFont(func(_ string, outer, inner pdfDict, _ map[int]bool) string {
			name, _ := outer["BaseFont"].(pdfName)
			d := f.dict(inner["FontDescriptor"])
			return unless(regexp.MustCompile(`^[A-Z]{6}\+.`).MatchString(string(name)) && d["FontName"] == name && d["CIDSet"] == nil && d["CharSet"] == nil, string(name))
		})
	}},
	{"6.2.11.5", "the widths of the font and those of its program agree", func(f *pdfFile) string {
		return f.eachGlyph(func(t *fontProgram, code int, glyph, width int) string {
			if t == nil {
				return ""
			}
			in := float64(t.advance(glyph)) * 1000 / float64(t.unitsPerEm)
			return unless(math.Abs(in-float64(width)) <= 1, fmt.Sprintf("%04X is %d wide, %.1f in the program", code, width, in))
		})
	}},
	{"6.2.11.7", "each code that is shown means a character", func(f *pdfFile) string {
		return f.eachFont(func(_ string, outer, _ pdfDict, _ map[int]bool) string {
			return unless(bytes.Contains(f.content(outer["ToUnicode"]), []byte("endcmap")), "it has no map to Unicode")
		})
	}},
	{"6.2.11.8", "no glyph that stands for a missing one", func(f *pdfFile) string {
		return f.eachGlyph(func(_ *fontProgram, code int, glyph, _ int) string {
			return unless(glyph != 0, fmt.Sprintf("%04X", code))
		})
	}},
	{"6.3.1", "links alone", func(f *pdfFile) string {
		return f.eachLink(func(d pdfDict) string { return unless(d["Subtype"] == pdfName("Link"), "another annotation") })
	}},
	{"6.3.2", "annotations that are printed and not hidden", func(f *pdfFile) string {
		return f.eachLink(func(d pdfDict) string { return unless(d["F"] == 4.0, fmt.Sprint(d["F"])) })
	}},
	{"6.4", "no form", func(f *pdfFile) string { return unless(f.root()["AcroForm"] == nil, "the catalog names one") }},
	{"6.5", "no action, neither of a link nor by itself", func(f *pdfFile) string {
		return cmp.Or(f.firstWith("AA"), f.firstWith("OpenAction"), f.eachLink(func(d pdfDict) string { return unless(d["A"] == nil && d["Dest"] != nil, "a link acts") }))
	}},
	{"6.6.2", "an XMP packet in UTF-8, unpacked, of terms of published schemas", packetHolds},
	{"6.6.4", "part 2, conformance B", func(f *pdfFile) string {
		p := f.packet()
		return unless(p["http://www.aiim.org/pdfa/ns/id/ part"] == "2" && p["http://www.aiim.org/pdfa/ns/id/ conformance"] == "B", "it says otherwise")
	}},
	{"6.8", "no file within", func(f *pdfFile) string {
		return cmp.Or(f.firstWith("EF"), f.firstWith("EmbeddedFiles"), f.firstWith("AF"))
	}},
	{"6.9", "no optional content", func(f *pdfFile) string { return f.firstWith("OCProperties") }},
	{"6.10", "no alternate presentations, no transitions", func(f *pdfFile) string {
		return cmp.Or(f.firstWith("AlternatePresentations"), f.firstWith("PresSteps"))
	}},
	{"6.11", "no requirements of a reader", func(f *pdfFile) string { return unless(f.root()["Requirements"] == nil, "the catalog names some") }},

	// ISO 32000-1, 14.7 and 14.8, of which level A would ask (ISO 19005-2, 6.7).
	{"6.7", "the document says that it is tagged, and in which language", func(f *pdfFile) string {
		return unless(f.dict(f.root()["MarkInfo"])["Marked"] == true && len(bytesOf(f.root()["Lang"])) > 0, "it does not")
	}},
	{"6.7", "all that is drawn is part of an element or decoration, begun and ended in one place", func(f *pdfFile) string {
		return f.onPage(func(p pdfPage) string { return cmp.Or(p.torn, p.loose) })
	}},
	{"6.7", "each content of a page and each link leads to the element that holds it, and back", structureHolds},
}

func unless(holds bool, where string) string {
	if holds {
		return ""
	}
	return where
}

// latin reads bytes as characters of the same number.
func latin(b []byte) []byte {
	var out []byte
	for _, c := range b {
		out = utf8.AppendRune(out, rune(c))
	}
	return out
}

func bytesOf(v any) []byte { b, _ := v.([]byte); return b }

func number(v any) float64 { n, _ := v.(float64); return n }

func (f *pdfFile) root() pdfDict { return f.dict(f.trailer["Root"]) }

// each goes through every dictionary of the file, those within others too, in the order of the objects.
func (f *pdfFile) each(see func(object int, v any)) {
	var walk func(n int, v any)
	walk = func(n int, v any) {
		see(n, v)
		switch v := v.(type) {
		case pdfDict:
			for _, x := range v {
				walk(n, x)
			}
		case pdfStream:
			for _, x := range v.pdfDict {
				walk(n, x)
			}
		case []any:
			for _, x := range v {
				walk(n, x)
			}
		}
	}
	for _, n := range slices.Sorted(maps.Keys(f.objects)) {
		walk(n, f.objects[n])
	}
}

// first tells the first object of which a dictionary is as asked.
func (f *pdfFile) first(is func(d pdfDict, stream bool) bool) (where string) {
	f.each(func(n int, v any) {
		d, plain := v.(pdfDict)
		s, stream := v.(pdfStream)
		if stream {
			d = s.pdfDict
		}
		if where == "" && (plain || stream) && is(d, stream) {
			where = fmt.Sprint("object ", n)
		}
	})
	return where
}

func (f *pdfFile) firstWith(key string) string {
	return f.first(func(d pdfDict, _ bool) bool { return d[key] != nil })
}

func (f *pdfFile) onPage(broken func(p pdfPage) string) string {
	for i, p := range f.pages {
		if where := broken(p); where != "" {
			return fmt.Sprintf("page %d: %s", i+1, where)
		}
	}
	return unless(len(f.pages) > 0, "there are no pages")
}

func (f *pdfFile) uses(operator string) string {
	for i, p := range f.pages {
		if p.operators[operator] {
			return fmt.Sprintf("page %d: %s", i+1, operator)
		}
	}
	return ""
}

func (f *pdfFile) eachLink(broken func(d pdfDict) string) string {
	return f.onPage(func(p pdfPage) string {
		for _, a := range f.array(p.pdfDict["Annots"]) {
			if where := broken(f.dict(a)); where != "" {
				return where
			}
		}
		return ""
	})
}

// tooLarge holds the limits of implementations (ISO 32000-1, annex C).
func tooLarge(f *pdfFile) (where string) {
	const objects, text, name, whole, real = 8388607, 32767, 127, math.MaxInt32, 3.403e38
	f.each(func(n int, v any) {
		large := false
		switch v := v.(type) {
		case float64:
			large = math.Abs(v) > real || v == math.Trunc(v) && math.Abs(v) > whole
		case []byte:
			large = len(v) > text
		case pdfName:
			large = len(v) > name
		case pdfDict:
			for key := range v {
				large = large || len(key) > name
			}
		}
		if large && where == "" {
			where = fmt.Sprint("object ", n)
		}
	})
	return cmp.Or(where, unless(len(f.objects) <= objects, "too many objects"))
}

const standardOperators = " b B b* B* BDC BI BMC BT BX c cm CS cs d d0 d1 Do DP EI EMC ET EX f F f* G g gs h i ID j J K k l m M MP n q Q re RG rg ri s S SC sc SCN scn sh T* Tc Td TD Tf Tj TJ TL Tm Tr Ts Tw Tz v w W W* y ' \" "

func contentsHold(f *pdfFile) string {
	return f.onPage(func(p pdfPage) string {
		for op := range p.operators {
			if !strings.Contains(standardOperators, " "+op+" ") {
				return "operator " + op
			}
		}
		fonts := f.dict(f.dict(p.pdfDict["Resources"])["Font"])
		for name := range p.codes {
			if f.dict(fonts[name]) == nil {
				return "font " + name
			}
		}
		return ""
	})
}

// outputIntent holds the profile, too (ISO 15076-1, 7.2 and 7.3): its size, version, class, space, and that each of its tags
// lies within it.
func outputIntent(f *pdfFile) string {
	intents := f.array(f.root()["OutputIntents"])
	if len(intents) != 1 {
		return fmt.Sprint(len(intents), " intents")
	}
	intent := f.dict(intents[0])
	p := f.content(intent["DestOutputProfile"])
	switch {
	case intent["S"] != pdfName("GTS_PDFA1"), len(bytesOf(intent["OutputConditionIdentifier"])) == 0, intent["DestOutputProfileRef"] != nil:
		return "the intent is not of PDF/A"
	case len(p) < 132, int(binary.BigEndian.Uint32(p)) != len(p), p[8] < 2, p[8] > 4, string(p[36:40]) != "acsp":
		return "the profile is none"
	case string(p[12:24]) != "mntrRGB XYZ ", f.dict(intent["DestOutputProfile"])["N"] != 3.0:
		return "the profile is of another class or space"
	}
	var tags []string
	for i := range int(binary.BigEndian.Uint32(p[128:])) {
		entry := p[132+12*i:]
		at, size := binary.BigEndian.Uint32(entry[4:]), binary.BigEndian.Uint32(entry[8:])
		if at%4 != 0 || int(at+size) > len(p) {
			return "a tag lies outside the profile"
		}
		tags = append(tags, string(entry[:4]))
	}
	for _, tag := range []string{"desc", "cprt", "wtpt", "chad", "rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC"} {
		if !slices.Contains(tags, tag) {
			return "the profile lacks " + tag
		}
	}
	return ""
}

// packet reads the XMP packet: by schema and name, what each term says first.
func (f *pdfFile) packet() map[string]string {
	out := map[string]string{}
	d := xml.NewDecoder(bytes.NewReader(f.content(f.root()["Metadata"])))
	var path []string
	for {
		switch t, err := d.Token(); t := t.(type) {
		case xml.StartElement:
			path = append(path, t.Name.Space+" "+t.Name.Local)
		case xml.EndElement:
			path = path[:len(path)-1]
		case xml.CharData:
			if text := strings.TrimSpace(string(t)); text != "" && len(path) > 3 && out[path[3]] == "" {
				out[path[3]] = text
			}
		case nil:
			if err != nil && err.Error() != "EOF" {
				out["broken"] = err.Error()
			}
			return out
		}
	}
}

func packetHolds(f *pdfFile) string {
	s, _ := f.get(f.root()["Metadata"]).(pdfStream)
	switch {
	case s.pdfDict["Type"] != pdfName("Metadata") || s.pdfDict["Subtype"] != pdfName("XML") || s.pdfDict["Filter"] != nil:
		return "there is none, or it is packed"
	case !utf8.Valid(s.raw) || !bytes.HasPrefix(s.raw, []byte("<?xpacket begin=")) || !bytes.HasSuffix(s.raw, []byte("?>")):
		return "it is no packet"
	case regexp.MustCompile(`<\?xpacket[^?]*(bytes|encoding)=`).Match(s.raw):
		return "its head bears what has been given up"
	}
	for term := range f.packet() {
		schema, name, _ := strings.Cut(term, " ")
		known := map[string]string{"http://purl.org/dc/elements/1.1/": "format title creator description", "http://ns.adobe.com/pdf/1.3/": "Producer",
			"http://ns.adobe.com/xap/1.0/": "CreateDate ModifyDate MetadataDate CreatorTool", "http://www.aiim.org/pdfa/ns/id/": "part conformance"}[schema]
		if !slices.Contains(strings.Fields(known), name) {
			return term
		}
	}
	return ""
}

func informationAgrees(f *pdfFile) string {
	info, p := f.dict(f.trailer["Info"]), f.packet()
	for key, term := range map[string]string{"Title": "http://purl.org/dc/elements/1.1/ title", "Author": "http://purl.org/dc/elements/1.1/ creator",
		"Subject": "http://purl.org/dc/elements/1.1/ description", "Creator": "http://ns.adobe.com/xap/1.0/ CreatorTool",
		"Producer": "http://ns.adobe.com/pdf/1.3/ Producer", "CreationDate": "http://ns.adobe.com/xap/1.0/ CreateDate", "ModDate": "http://ns.adobe.com/xap/1.0/ ModifyDate"} {
		said := pdfText(bytesOf(info[key]))
		if at, err := time.Parse("D:20060102150405-07'00'", said); err == nil {
			said = at.UTC().Format(time.RFC3339)
		}
		if said != p[term] {
			return fmt.Sprintf("%s: %q and %q", key, said, p[term])
		}
	}
	return ""
}

// pdfText reads a string of text.
func pdfText(b []byte) string {
	if !bytes.HasPrefix(b, []byte{0xFE, 0xFF}) {
		return string(b)
	}
	var units []uint16
	for i := 2; i+1 < len(b); i += 2 {
		units = append(units, binary.BigEndian.Uint16(b[i:]))
	}
	return string(utf16.Decode(units))
}

// eachFont goes through the fonts that are shown on a page, with the codes shown in each.
func (f *pdfFile) eachFont(broken func(name string, outer, inner pdfDict, codes map[int]bool) string) string {
	codes := map[string]map[int]bool{}
	var outer = map[string]pdfDict{}
	for _, p := range f.pages {
		for name, shown := range p.codes {
			outer[name] = f.dict(f.dict(f.dict(p.pdfDict["Resources"])["Font"])[name])
			if codes[name] == nil {
				codes[name] = map[int]bool{}
			}
			maps.Copy(codes[name], shown)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(outer)) {
		var inner pdfDict
		if below := f.array(outer[name]["DescendantFonts"]); len(below) == 1 {
			inner = f.dict(below[0])
		}
		if where := broken(name, outer[name], inner, codes[name]); where != "" {
			return fmt.Sprintf("font %s: %s", name, where)
		}
	}
	return ""
}

// eachGlyph goes through the codes that are shown: the program of the font, nil where none is embedded, the glyph, and the
// width that the font gives it.
func (f *pdfFile) eachGlyph(broken func(t *fontProgram, code, glyph, width int) string) string {
	return f.eachFont(func(_ string, _, inner pdfDict, codes map[int]bool) string {
		program := readFont(f.content(f.dict(inner["FontDescriptor"])["FontFile2"]))
		glyphs, widths := f.content(inner["CIDToGIDMap"]), f.widths(inner)
		for _, code := range slices.Sorted(maps.Keys(codes)) {
			glyph := code
			if inner["CIDToGIDMap"] != pdfName("Identity") {
				if glyph = 0; 2*code+1 < len(glyphs) {
					glyph = int(binary.BigEndian.Uint16(glyphs[2*code:]))
				}
			}
			width, known := widths[code]
			if !known {
				width = int(number(inner["DW"]))
			}
			if where := broken(program, code, glyph, width); where != "" {
				return where
			}
		}
		return ""
	})
}

// widths reads the widths of a font (ISO 32000-1, 9.7.4.3).
func (f *pdfFile) widths(font pdfDict) map[int]int {
	out := map[int]int{}
	w := f.array(font["W"])
	for i := 0; i+1 < len(w); {
		from := int(number(w[i]))
		if list, is := w[i+1].([]any); is {
			for n, v := range list {
				out[from+n] = int(number(v))
			}
			i += 2
			continue
		}
		if i+2 >= len(w) {
			break
		}
		for code := from; code <= int(number(w[i+1])); code++ {
			out[code] = int(number(w[i+2]))
		}
		i += 3
	}
	return out
}

// fontProgram is what is asked of a TrueType file.
type fontProgram struct {
	glyphs, unitsPerEm, metrics int
	hmtx                        []byte
}

func readFont(b []byte) *fontProgram {
	tables := map[string][]byte{}
	if len(b) < 12 {
		return nil
	}
	for i := range int(binary.BigEndian.Uint16(b[4:])) {
		entry := b[12+16*i:]
		at, size := int(binary.BigEndian.Uint32(entry[8:])), int(binary.BigEndian.Uint32(entry[12:]))
		if at+size > len(b) {
			return nil
		}
		tables[string(entry[:4])] = b[at : at+size]
	}
	if len(tables["head"]) < 54 || len(tables["hhea"]) < 36 || len(tables["maxp"]) < 6 || tables["glyf"] == nil || tables["loca"] == nil {
		return nil
	}
	return &fontProgram{glyphs: int(binary.BigEndian.Uint16(tables["maxp"][4:])), unitsPerEm: int(binary.BigEndian.Uint16(tables["head"][18:])),
		metrics: int(binary.BigEndian.Uint16(tables["hhea"][34:])), hmtx: tables["hmtx"]}
}

// advance is the width of a glyph in units of the em; -1 where the program has none.
func (t *fontProgram) advance(glyph int) int {
	at := 4 * min(glyph, t.metrics-1)
	if at < 0 || at+1 >= len(t.hmtx) {
		return -1
	}
	return int(binary.BigEndian.Uint16(t.hmtx[at:]))
}

// structureHolds goes from each page to its elements by the tree of parents, and sees that each of them holds the content
// that led there; and from the root to every element, each of whose figures has words.
func structureHolds(f *pdfFile) string {
	tree := f.dict(f.root()["StructTreeRoot"])
	parents := map[int]any{}
	nums := f.array(f.dict(tree["ParentTree"])["Nums"])
	for i := 0; i+1 < len(nums); i += 2 {
		parents[int(number(nums[i]))] = nums[i+1]
	}
	met := map[pdfRef]bool{}
	var walk func(at, up any) string
	walk = func(at, up any) string {
		ref, _ := at.(pdfRef)
		e := f.dict(at)
		if e == nil || e["P"] != up || met[ref] {
			return fmt.Sprintf("element %d hangs loose", ref)
		}
		met[ref] = true
		if e["S"] == pdfName("Figure") && len(bytesOf(e["Alt"])) == 0 {
			return fmt.Sprintf("figure %d has no words", ref)
		}
		for _, k := range f.array(e["K"]) {
			if _, below := k.(pdfRef); below {
				if where := walk(k, at); where != "" {
					return where
				}
			}
		}
		return ""
	}
	if where := walk(tree["K"], f.root()["StructTreeRoot"]); where != "" {
		return where
	}
	return f.onPage(func(p pdfPage) string {
		elements := f.array(parents[int(number(p.pdfDict["StructParents"]))])
		if len(elements) != len(p.marks) {
			return fmt.Sprintf("%d contents, %d elements", len(p.marks), len(elements))
		}
		for n := range p.marks {
			if n >= len(elements) || !met[elements[n].(pdfRef)] || !f.holds(f.dict(elements[n]), p, n) {
				return fmt.Sprint("content ", n)
			}
		}
		for _, a := range f.array(p.pdfDict["Annots"]) {
			e, _ := parents[int(number(f.dict(a)["StructParent"]))].(pdfRef)
			if !met[e] || !slices.ContainsFunc(f.array(f.dict(e)["K"]), func(k any) bool { d, _ := k.(pdfDict); return d["Obj"] == a }) {
				return "a link is told nowhere"
			}
		}
		return ""
	})
}

// holds says whether an element holds content n of a page.
func (f *pdfFile) holds(e pdfDict, p pdfPage, n int) bool {
	return slices.ContainsFunc(f.array(e["K"]), func(k any) bool {
		if d, is := k.(pdfDict); is {
			return d["MCID"] == float64(n) && d["Pg"] == p.ref
		}
		return k == float64(n) && e["Pg"] == p.ref
	})
}
