package page

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf16"
)

// producer names the program in the document.
const producer = "traybook"

var outlines = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\n/Outlines (\d+) 0 R\n`) })

// complete gives a document, as the library leaves it, what it lacks: its structure, the XMP packet, the colours that its
// numbers mean, a catalog that refers to these, the document information with zone and full Unicode, an outline with its
// counts, the names of subset fonts, and an /ID. The library writes an XMP packet too, but no reference to it, so no reader
// would find it. Pictures take the places of their stand-ins.
func (d *Doc) complete(doc []byte) (parts, error) {
	p, err := apart(doc)
	if err != nil {
		return p, err
	}
	if err := p.putIn(d.images); err != nil {
		return p, err
	}
	if err := p.embed(d.subsets); err != nil {
		return p, err
	}
	if !d.options.Uncompressed {
		if err := p.compress(); err != nil {
			return p, err
		}
	}
	if err := p.nameFonts(); err != nil {
		return p, err
	}
	told, err := p.tell(d.structure, d.page, d.h)
	if err != nil {
		return p, err
	}
	catalog := "/Type /Catalog /Pages 1 0 R"
	if m := outlines().FindSubmatch(p.objects[p.root]); m != nil {
		root, err := strconv.Atoi(string(m[1]))
		if err != nil || root >= len(p.objects) {
			return p, errForm
		}
		if err := p.writeOutline(d.bookmarks, root); err != nil {
			return p, err
		}
		catalog += fmt.Sprintf(" /Outlines %d 0 R /PageMode /UseOutlines", root)
	}
	catalog += fmt.Sprintf(" /Lang (en) /ViewerPreferences << /DisplayDocTitle true >> /MarkInfo << /Marked true >> /StructTreeRoot %d 0 R", told)
	catalog += fmt.Sprintf(" /Metadata %d 0 R", p.stream("/Type /Metadata /Subtype /XML", xmpPacket(d.options)))
	catalog += fmt.Sprintf(" /OutputIntents [<< /Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (%s) /Info (%s) /DestOutputProfile %d 0 R >>]",
		colourSpace, colourSpace, p.stream("/N 3", sRGB()))
	p.objects[p.info] = fmt.Appendf(nil, "<< %s >>\n", information(d.options))
	p.objects[p.root] = fmt.Appendf(nil, "<< %s >>\n", catalog)
	return p, nil
}

// information returns the entries of the document information dictionary.
func information(o Options) string {
	var b strings.Builder
	entry := func(key, value string) {
		if value = bare(oneLine(value)); value != "" {
			fmt.Fprintf(&b, "/%s %s ", key, textString(value))
		}
	}
	entry("Title", o.Title)
	entry("Author", o.Author)
	entry("Subject", o.Subject)
	entry("Creator", producer)
	entry("Producer", producer)
	date := o.Created.UTC().Format("20060102150405") + "+00'00'"
	fmt.Fprintf(&b, "/CreationDate (D:%s) /ModDate (D:%s)", date, date)
	return b.String()
}

// textString writes a string: plain letters as they are, any other as UTF-16
// with its mark, in hexadecimal, so that nothing needs escaping and no
// character is left out.
func textString(s string) string {
	if plain(s) && !strings.ContainsAny(s, `()\`) {
		return "(" + s + ")"
	}
	var b strings.Builder
	b.WriteString("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", u)
	}
	b.WriteString(">")
	return b.String()
}

// xmpPacket describes the document in Dublin Core, XMP basic and PDF terms, and says that it is PDF/A-2b.
func xmpPacket(o Options) []byte {
	var b bytes.Buffer
	text := func(s string) string {
		var e bytes.Buffer
		// A buffer takes every write; characters XML does not know become U+FFFD.
		_ = xml.EscapeText(&e, []byte(bare(oneLine(s))))
		return e.String()
	}
	b.WriteString("<?xpacket begin=\"\uFEFF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
		`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` + "\n" +
		`<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"` +
		` xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">` + "\n" +
		"<pdfaid:part>2</pdfaid:part>\n<pdfaid:conformance>B</pdfaid:conformance>\n<dc:format>application/pdf</dc:format>\n")
	if o.Title != "" {
		fmt.Fprintf(&b, "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">%s</rdf:li></rdf:Alt></dc:title>\n", text(o.Title))
	}
	if o.Author != "" {
		fmt.Fprintf(&b, "<dc:creator><rdf:Seq><rdf:li>%s</rdf:li></rdf:Seq></dc:creator>\n", text(o.Author))
	}
	if o.Subject != "" {
		fmt.Fprintf(&b, "<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">%s</rdf:li></rdf:Alt></dc:description>\n", text(o.Subject))
	}
	date := o.Created.UTC().Format(time.RFC3339)
	for _, field := range []string{"CreateDate", "ModifyDate", "MetadataDate"} {
		fmt.Fprintf(&b, "<xmp:%s>%s</xmp:%s>\n", field, date, field)
	}
	fmt.Fprintf(&b, "<xmp:CreatorTool>%s</xmp:CreatorTool>\n<pdf:Producer>%s</pdf:Producer>\n", producer, producer)
	b.WriteString("</rdf:Description>\n</rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>")
	return b.Bytes()
}
