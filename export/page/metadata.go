package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/xml"
	"errors"
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

// The tail of a file as the library writes it: cross-reference, trailer with
// the catalog's and the information's number, place of the cross-reference.
var (
	tail = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`trailer\n<<\n/Size (\d+)\n/Root (\d+) 0 R\n/Info (\d+) 0 R\n>>\nstartxref\n(\d+)\n%%EOF\n$`)
	})
	outlines = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\n/Outlines (\d+) 0 R\n`) })
)

// withMetadata appends an incremental update (ISO 32000-1, 7.5.6) to a
// finished document: the XMP packet, a catalog that refers to it, the document
// information with zone and full Unicode, an outline with its counts, and an
// /ID. The library writes an XMP
// packet too, but no reference to it, so no reader would find it.
func withMetadata(doc []byte, o Options, levels []int) ([]byte, error) {
	at := tail().FindSubmatchIndex(doc)
	if at == nil || !bytes.HasPrefix(doc, []byte("%PDF-1.")) {
		return nil, errors.New("the document has no trailer to add its description to: the PDF library writes a form not known here")
	}
	number := func(i int) int {
		n, _ := strconv.Atoi(string(doc[at[2*i]:at[2*i+1]]))
		return n
	}
	size, root, info, previous := number(1), number(2), number(3), number(4)
	if root != info+1 || size != root+1 {
		return nil, errors.New("the document's catalog is not where it is wanted: the PDF library writes a form not known here")
	}
	packet := xmpPacket(o)
	catalog := "/Type /Catalog /Pages 1 0 R"
	start := bytes.LastIndex(doc, fmt.Appendf(nil, "\n%d 0 obj\n", root))
	if start < 0 {
		return nil, errors.New("the document's catalog is missing: the PDF library writes a form not known here")
	}
	var anew []object
	if m := outlines().FindSubmatch(doc[start:at[0]]); m != nil {
		n, err := strconv.Atoi(string(m[1]))
		if err != nil {
			return nil, errOutline
		}
		catalog += fmt.Sprintf(" /Outlines %d 0 R /PageMode /UseOutlines", n)
		if anew, err = outlineAnew(doc, levels, n, previous); err != nil {
			return nil, err
		}
	}
	catalog += fmt.Sprintf(" /Metadata %d 0 R /Lang (en) /ViewerPreferences << /DisplayDocTitle true >>", size)

	sum := sha256.Sum256(append(append([]byte{}, doc...), packet...))
	id := hex.EncodeToString(sum[:16])

	anew = append(anew,
		object{info, fmt.Appendf(nil, "<< %s >>\n", information(o))},
		object{root, fmt.Appendf(nil, "<< %s >>\n", catalog)},
		object{size, fmt.Appendf(nil, "<< /Type /Metadata /Subtype /XML /Length %d >>\nstream\n%s\nendstream\n", len(packet), packet)})
	var b, cross bytes.Buffer
	b.WriteString("%PDF-1.4") // the first version whose catalog may refer to a description
	b.Write(doc[len("%PDF-1.4"):])
	cross.WriteString("xref\n0 1\n0000000000 65535 f \n")
	for _, x := range anew {
		fmt.Fprintf(&cross, "%d 1\n%010d 00000 n \n", x.number, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%sendobj\n", x.number, x.body)
	}
	xref := b.Len()
	b.Write(cross.Bytes())
	fmt.Fprintf(&b, "trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /Prev %d /ID [<%s> <%s>] >>\nstartxref\n%d\n%%%%EOF\n",
		size+1, root, info, previous, id, id, xref)
	return b.Bytes(), nil
}

// information returns the entries of the document information dictionary.
func information(o Options) string {
	var b strings.Builder
	entry := func(key, value string) {
		if value = oneLine(value); value != "" {
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

// textString writes a string as UTF-16 with its mark, in hexadecimal, so that
// nothing needs escaping and no character is left out.
func textString(s string) string {
	var b strings.Builder
	b.WriteString("<FEFF")
	for _, u := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", u)
	}
	b.WriteString(">")
	return b.String()
}

// xmpPacket describes the document in Dublin Core, XMP basic and PDF terms.
func xmpPacket(o Options) []byte {
	var b bytes.Buffer
	text := func(s string) string {
		var e bytes.Buffer
		// A buffer takes every write; characters XML does not know become U+FFFD.
		_ = xml.EscapeText(&e, []byte(oneLine(s)))
		return e.String()
	}
	b.WriteString("<?xpacket begin=\"\uFEFF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
		`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` + "\n" +
		`<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"` +
		` xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">` + "\n" +
		"<dc:format>application/pdf</dc:format>\n")
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
