// Package sidecar writes what is known of a picture into a small file beside
// it, as XMP (ISO 16684-1): Dublin Core and IPTC Core where their terms fit,
// and an own namespace for the numbers of the trade. The picture itself is
// never touched.
package sidecar

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// Namespace is that of the trade's numbers, prefix "tray". It names, it leads
// nowhere: the top domain "example" belongs to nobody (RFC 2606).
const Namespace = "https://traybook.example/ns/tray/1#"

// Name is that of the sidecar of a file: scan.tif.xmp beside scan.tif, so that
// scan.jpg has another.
func Name(file string) string { return file + ".xmp" }

// Number is one number of the trade: a name and its value as text. The unit
// belongs into the name, as in exposure_s.
type Number struct{ Name, Value string }

// Description is what a sidecar says. What is empty is left out.
type Description struct {
	Title       string   // dc:title
	Description string   // dc:description, the caption
	Creator     []string // dc:creator, in order
	Rights      string   // dc:rights, the copyright notice
	Subject     []string // dc:subject, the keywords
	Identifier  string   // dc:identifier: the picture's number
	Source      string   // dc:source: the number of what this was made from
	Format      string   // dc:format: the media type of the picture file

	Headline string // photoshop:Headline
	City     string // photoshop:City
	Country  string // photoshop:Country
	Location string // Iptc4xmpCore:Location, the place within the city

	// Dates are those of ISO 8601 as XMP has them: they may stop at the year,
	// month or day; a time may lack its offset.
	DateCreated string // photoshop:DateCreated: when the photograph was made
	CreateDate  string // xmp:CreateDate: when the scan was made
	ModifyDate  string // xmp:ModifyDate: when the scan was last changed
	// MetadataDate is xmp:MetadataDate: the newest entry this was taken from.
	MetadataDate string
	CreatorTool  string // xmp:CreatorTool: what wrote the sidecar

	// Numbers stand in the own namespace, in their order.
	Numbers []Number
}

var (
	date = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`^[0-9]{4}(-[0-9]{2}(-[0-9]{2}(T[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?(Z|[+-][0-9]{2}:[0-9]{2})?)?)?)?$`)
	})
	term = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.-]*$`) })
)

const head = "<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
	`<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about=""
    xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/"
    xmlns:Iptc4xmpCore="http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"
    xmlns:tray="` + Namespace + `">
`

const tail = `  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
`

// Write writes the sidecar: UTF-8, the same bytes for the same description.
// Characters that XML cannot hold become U+FFFD.
//
// Errors: a text that is not UTF-8; a date of another shape; a number whose
// name cannot be one or is given twice; w fails.
func Write(w io.Writer, d Description) error {
	s := &sheet{w: bufio.NewWriter(w)}
	s.raw(head)
	s.language("dc:title", d.Title)
	s.language("dc:description", d.Description)
	s.list("dc:creator", "rdf:Seq", d.Creator)
	s.language("dc:rights", d.Rights)
	s.list("dc:subject", "rdf:Bag", d.Subject)
	s.text("dc:identifier", d.Identifier)
	s.text("dc:source", d.Source)
	s.text("dc:format", d.Format)
	s.text("photoshop:Headline", d.Headline)
	s.text("photoshop:City", d.City)
	s.text("photoshop:Country", d.Country)
	s.text("Iptc4xmpCore:Location", d.Location)
	s.date("photoshop:DateCreated", d.DateCreated)
	s.date("xmp:CreateDate", d.CreateDate)
	s.date("xmp:ModifyDate", d.ModifyDate)
	s.date("xmp:MetadataDate", d.MetadataDate)
	s.text("xmp:CreatorTool", d.CreatorTool)
	seen := map[string]bool{}
	for _, n := range d.Numbers {
		switch {
		case !term().MatchString(n.Name):
			s.fail(fmt.Errorf("%q cannot name a number of a sidecar: use letters, digits and '_'", n.Name))
		case seen[n.Name]:
			s.fail(fmt.Errorf("two numbers of a sidecar are named %s", n.Name))
		}
		seen[n.Name] = true
		s.text("tray:"+n.Name, n.Value)
	}
	s.raw(tail)
	if s.err != nil {
		return s.err
	}
	return s.w.Flush()
}

// sheet keeps the first error, so that Write reads as the list that it is.
type sheet struct {
	w   *bufio.Writer
	err error
}

func (s *sheet) fail(err error) {
	if s.err == nil {
		s.err = err
	}
}

func (s *sheet) raw(text string) {
	if s.err == nil {
		_, s.err = s.w.WriteString(text)
	}
}

func (s *sheet) escaped(name, text string) {
	if !utf8.ValidString(text) {
		s.fail(fmt.Errorf("%s is not valid UTF-8", name))
	}
	for s.err == nil && text != "" {
		n := strings.IndexFunc(text, hidden)
		if n < 0 {
			n = len(text)
		}
		if s.err = xml.EscapeText(s.w, []byte(text[:n])); n == len(text) {
			return
		}
		r, size := utf8.DecodeRuneInString(text[n:])
		s.raw(fmt.Sprintf("&#x%X;", r))
		text = text[n+size:]
	}
}

// hidden says that a character does not show but is obeyed by a screen: DEL, the
// controls above it, and the marks that turn the direction of writing. XML lets
// them stand; by their number they mean the same.
func hidden(r rune) bool {
	return r >= 0x7f && (unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r))
}

func (s *sheet) text(name, value string) {
	if value == "" {
		return
	}
	s.raw("   <" + name + ">")
	s.escaped(name, value)
	s.raw("</" + name + ">\n")
}

func (s *sheet) date(name, value string) {
	if value != "" && !date().MatchString(value) {
		s.fail(fmt.Errorf("%s: %q is not a date such as 2026-05 or 2026-05-03T14:05:00+02:00", name, value))
	}
	s.text(name, value)
}

// language writes a text that might have other languages, of which there is
// one, the default.
func (s *sheet) language(name, value string) {
	if value == "" {
		return
	}
	s.raw("   <" + name + "><rdf:Alt><rdf:li xml:lang=\"x-default\">")
	s.escaped(name, value)
	s.raw("</rdf:li></rdf:Alt></" + name + ">\n")
}

func (s *sheet) list(name, kind string, values []string) {
	if len(values) == 0 {
		return
	}
	s.raw("   <" + name + "><" + kind + ">")
	for _, v := range values {
		s.raw("<rdf:li>")
		s.escaped(name, v)
		s.raw("</rdf:li>")
	}
	s.raw("</" + kind + "></" + name + ">\n")
}
