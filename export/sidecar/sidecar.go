// Package sidecar describes a picture as XMP (ISO 16684-1): by Dublin Core, the terms of IPTC and those of Exif where they
// fit, and an own namespace for what the trade counts beside. It is written into a small file beside a scan, which itself is
// never touched, and into pictures that the program makes itself.
package sidecar

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/big"
	"path"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// Namespace is that of the terms of the trade, prefix "tray". It names and leads nowhere: a UUID (RFC 9562) is nobody else's
// and asks for no domain. FORMAT.md tells each term.
const Namespace = "urn:uuid:c534a703-781d-4d78-a8ac-f43f2a82dc53#"

// Naming is how a sidecar is called after its file.
type Naming string

// The two usual ways.
const (
	BesideFull Naming = "scan.tif.xmp" // the whole name and .xmp, so that scan.jpg has another
	BesideStem Naming = "scan.xmp"     // .xmp in the place of the ending
)

const ending = ".xmp"

// Name is that of the sidecar of a file, never its own: what is kept as scan.xmp is described in scan.xmp.xmp.
func (n Naming) Name(file string) string {
	if own := path.Ext(file); n == BesideStem && own != ending {
		return strings.TrimSuffix(file, own) + ending
	}
	return file + ending
}

// Number is one term of the trade: its name and its value as text. The unit belongs into the name, as in exposure_s.
type Number struct{ Name, Value string }

// Place is where a photograph was made. Degrees, north and east positive; nil where they are not known.
type Place struct {
	Name     string
	Lat, Lon *float64
}

// Contact is how the creator is reached.
type Contact struct{ Mail, Phone, Address string }

// Description is what is said of a picture. What is empty is left out.
type Description struct {
	Title       string   // dc:title
	Description string   // dc:description, the caption
	Creator     []string // dc:creator, in order
	Contact     Contact  // Iptc4xmpCore:CreatorContactInfo
	Rights      string   // dc:rights, the copyright notice
	Subject     []string // dc:subject, the keywords
	Identifier  string   // dc:identifier: the picture's number
	Source      string   // dc:source: the number of what this was made from
	Format      string   // dc:format: the media type of the picture file
	Headline    string   // photoshop:Headline
	Label       string   // xmp:Label: what became of the sheet
	Place       Place    // Iptc4xmpExt:LocationCreated, Iptc4xmpCore:Location and exif:GPSLatitude, exif:GPSLongitude

	// Dates are those of ISO 8601 as XMP has them: they may stop at the year, month or day; a time may lack its offset.
	Dates       []string // dc:date: those of the life of the sheet, in their order
	DateCreated string   // photoshop:DateCreated and exif:DateTimeOriginal: when the photograph was made
	CreateDate  string   // xmp:CreateDate and exif:DateTimeDigitized: when the scan was made
	// MetadataDate is xmp:MetadataDate: the newest entry this was taken from.
	MetadataDate string
	CreatorTool  string // xmp:CreatorTool: what wrote this

	// The exposure by which the photograph was made; 0 where it is not known.
	ExposureS float64 // exif:ExposureTime, seconds
	F         float64 // exif:FNumber, as engraved
	Index     float64 // exif:ExposureIndex

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
    xmlns:exif="http://ns.adobe.com/exif/1.0/"
    xmlns:Iptc4xmpCore="http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"
    xmlns:Iptc4xmpExt="http://iptc.org/std/Iptc4xmpExt/2008-02-29/"
    xmlns:tray="` + Namespace + `">
`

const tail = `  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
`

// Write writes the description as a packet: UTF-8, the same bytes for the same description.
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
	s.dates(d.Dates)
	s.text("dc:identifier", d.Identifier)
	s.text("dc:source", d.Source)
	s.text("dc:format", d.Format)
	s.text("photoshop:Headline", d.Headline)
	s.date("photoshop:DateCreated", d.DateCreated)
	s.date("xmp:CreateDate", d.CreateDate)
	s.date("xmp:MetadataDate", d.MetadataDate)
	s.text("xmp:CreatorTool", d.CreatorTool)
	s.text("xmp:Label", d.Label)
	s.contact(d.Contact)
	s.place(d.Place)
	s.date("exif:DateTimeOriginal", d.DateCreated)
	s.date("exif:DateTimeDigitized", d.CreateDate)
	s.text("exif:ExposureTime", rational(d.ExposureS))
	s.text("exif:FNumber", rational(d.F))
	s.text("exif:ExposureIndex", rational(d.Index))
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
	s.dated(name, value)
	s.text(name, value)
}

func (s *sheet) dated(name, value string) {
	if value != "" && !date().MatchString(value) {
		s.fail(fmt.Errorf("%s: %q is not a date such as 2026-05 or 2026-05-03T14:05:00+02:00", name, value))
	}
}

func (s *sheet) dates(values []string) {
	for _, v := range values {
		s.dated("dc:date", v)
	}
	s.list("dc:date", "rdf:Seq", values)
}

// contact writes the structure of the creator's contact; its parts are plain texts.
func (s *sheet) contact(c Contact) {
	if c == (Contact{}) {
		return
	}
	s.raw("   <Iptc4xmpCore:CreatorContactInfo rdf:parseType=\"Resource\">\n")
	s.text("Iptc4xmpCore:CiAdrExtadr", c.Address)
	s.text("Iptc4xmpCore:CiEmailWork", c.Mail)
	s.text("Iptc4xmpCore:CiTelWork", c.Phone)
	s.raw("   </Iptc4xmpCore:CreatorContactInfo>\n")
}

// place writes the place as a list of one structure, and once more in the older terms, which more programs read.
func (s *sheet) place(p Place) {
	if p == (Place{}) {
		return
	}
	degrees := func() {
		if p.Lat != nil && p.Lon != nil {
			s.text("exif:GPSLatitude", coordinate(*p.Lat, "NS"))
			s.text("exif:GPSLongitude", coordinate(*p.Lon, "EW"))
		}
	}
	s.raw("   <Iptc4xmpExt:LocationCreated><rdf:Bag><rdf:li rdf:parseType=\"Resource\">\n")
	s.text("Iptc4xmpExt:Sublocation", p.Name)
	degrees()
	s.raw("   </rdf:li></rdf:Bag></Iptc4xmpExt:LocationCreated>\n")
	s.text("Iptc4xmpCore:Location", p.Name)
	degrees()
}

// coordinate is a GPSCoordinate of XMP: degrees, minutes with their decimals, and the letter of the direction.
func coordinate(degrees float64, directions string) string {
	way := directions[:1]
	if degrees < 0 {
		way, degrees = directions[1:], -degrees
	}
	millionths := int64(math.Round(degrees * 60e6)) // of a minute of arc: 2 mm on the ground
	return fmt.Sprintf("%d,%d.%06d%s", millionths/60e6, millionths/1e6%60, millionths%1e6, way)
}

// rational is a Rational of Exif, "1/125", "" for 0: two whole numbers of 32 bits, as many decimals kept as go into them.
func rational(v float64) string {
	for decimals := 9; v > 0 && decimals >= 0; decimals-- {
		r, ok := new(big.Rat).SetString(strconv.FormatFloat(v, 'f', decimals, 64))
		if ok && r.Sign() > 0 && r.Num().BitLen() <= 32 && r.Denom().BitLen() <= 32 {
			return r.String()
		}
	}
	return ""
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
