package sidecar

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image"
	"image/jpeg"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func sample() Description {
	return Description{
		Title: "The Alma at the quay", Description: "Low water & fog,\n\"second\" plate <wet>",
		Creator: []string{"Ines Vahl", "Όλγα Ρω"}, Rights: "© 2026 Ines Vahl",
		Subject: []string{"ferry", "туман"}, Identifier: "2026-014", Source: "2026-014N1", Format: "image/jpeg",
		Contact:  Contact{Mail: "ines@quay.example", Phone: "+47 22 00 00 00", Address: "The mole 3"},
		Headline: "Fog", Label: "keep", Place: Place{Name: "East quay", Lat: &[]float64{59.913868}[0], Lon: &[]float64{-10.752245}[0]},
		Dates: []string{"2026-05-03T14:05:00+02:00", "2026-05-04"}, DateCreated: "2026-05-03T14:05:00+02:00", CreateDate: "2026-05-10",
		MetadataDate: "2026-05-12T20:00:00+02:00", CreatorTool: "traybook 1.0", ExposureS: 0.008, F: 5.6, Index: 3,
		Numbers: []Number{{"exposure_s", "8"}, {"called_for_s", "6.5"}, {"dev_stops", "-0.3"}},
	}
}

func write(t require.TestingT, d Description) string {
	var b strings.Builder
	require.NoError(t, Write(&b, d))
	return b.String()
}

// property is one element below rdf:Description, as a stranger's reader finds it: its text, the items of its list, or the
// parts of its structure, whichever it has.
type property struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Text    string     `xml:",chardata"`
	Inside  []property `xml:",any"`
}

// told is a property as one line: of a list its sort and its items, of a structure its parts.
func (p property) told() string {
	var attrs, inside []string
	for _, a := range p.Attrs {
		attrs = append(attrs, " "+a.Name.Local+"="+a.Value)
	}
	for _, i := range p.Inside {
		inside = append(inside, i.told())
	}
	text := p.Text
	if len(inside) > 0 {
		text = "[" + strings.Join(inside, ", ") + "]"
	}
	return p.XMLName.Local + strings.Join(attrs, "") + " " + text
}

func parse(t require.TestingT, text string) []property {
	var packet struct {
		XMLName xml.Name `xml:"adobe:ns:meta/ xmpmeta"`
		RDF     struct {
			Description struct {
				About      string     `xml:"http://www.w3.org/1999/02/22-rdf-syntax-ns# about,attr"`
				Properties []property `xml:",any"`
			} `xml:"http://www.w3.org/1999/02/22-rdf-syntax-ns# Description"`
		} `xml:"http://www.w3.org/1999/02/22-rdf-syntax-ns# RDF"`
	}
	require.NoError(t, xml.Unmarshal([]byte(text), &packet))
	return packet.RDF.Description.Properties
}

// items are the texts of a property: its own, or those of its list.
func (p property) items() []string {
	if len(p.Inside) == 0 {
		return []string{p.Text}
	}
	var out []string
	for _, li := range p.Inside[0].Inside {
		out = append(out, li.Text)
	}
	return out
}

func TestWriteReadsBack(t *testing.T) {
	text := write(t, sample())
	var told []string
	for _, p := range parse(t, text) {
		told = append(told, p.XMLName.Space+" "+p.told())
	}
	const (
		dc    = "http://purl.org/dc/elements/1.1/ "
		xmp   = "http://ns.adobe.com/xap/1.0/ "
		photo = "http://ns.adobe.com/photoshop/1.0/ "
		core  = "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/ "
		ext   = "http://iptc.org/std/Iptc4xmpExt/2008-02-29/ "
		exif  = "http://ns.adobe.com/exif/1.0/ "
	)
	// The types are those of ISO 16684-1 (dc, xmp), ISO 16684-2 with Exif 2.32 for XMP (exif), the IPTC Photo Metadata Standard (the rest).
	assert.Equal(t, []string{
		dc + "title [Alt [li lang=x-default The Alma at the quay]]",
		dc + "description [Alt [li lang=x-default Low water & fog,\n\"second\" plate <wet>]]",
		dc + "creator [Seq [li Ines Vahl, li Όλγα Ρω]]",
		dc + "rights [Alt [li lang=x-default © 2026 Ines Vahl]]",
		dc + "subject [Bag [li ferry, li туман]]",
		dc + "date [Seq [li 2026-05-03T14:05:00+02:00, li 2026-05-04]]",
		dc + "identifier 2026-014",
		dc + "source 2026-014N1",
		dc + "format image/jpeg",
		photo + "Headline Fog",
		photo + "DateCreated 2026-05-03T14:05:00+02:00",
		xmp + "CreateDate 2026-05-10",
		xmp + "MetadataDate 2026-05-12T20:00:00+02:00",
		xmp + "CreatorTool traybook 1.0",
		xmp + "Label keep",
		core + "CreatorContactInfo parseType=Resource [CiAdrExtadr The mole 3, CiEmailWork ines@quay.example, CiTelWork +47 22 00 00 00]",
		ext + "LocationCreated [Bag [li parseType=Resource [Sublocation East quay, GPSLatitude 59,54.832080N, GPSLongitude 10,45.134700W]]]",
		core + "Location East quay",
		exif + "GPSLatitude 59,54.832080N",
		exif + "GPSLongitude 10,45.134700W",
		exif + "DateTimeOriginal 2026-05-03T14:05:00+02:00",
		exif + "DateTimeDigitized 2026-05-10",
		exif + "ExposureTime 1/125",
		exif + "FNumber 28/5",
		exif + "ExposureIndex 3/1",
		Namespace + " exposure_s 8",
		Namespace + " called_for_s 6.5",
		Namespace + " dev_stops -0.3",
	}, told)
	assert.Equal(t, text, write(t, sample()), "the same bytes on every run")
	assert.True(t, strings.HasPrefix(text, "<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"))
	assert.True(t, strings.HasSuffix(text, "<?xpacket end=\"w\"?>\n"))
}

// A Rational is two whole numbers of 32 bits, as near as they come.
func TestRational(t *testing.T) {
	for v, want := range map[float64]string{0: "", -1: "", 8: "8/1", 5.81: "581/100", 1.0 / 3: "333333333/1000000000", 86400.25: "345601/4", 0.0001: "1/10000", 1e-12: "", 4e9: "4000000000/1", 5e9: ""} {
		assert.Equal(t, want, rational(v), "%g", v)
	}
}

func TestCoordinate(t *testing.T) {
	for v, want := range map[float64]string{0: "0,0.000000N", -0.5: "0,30.000000S", 89.99999999999: "90,0.000000N", 59.5: "59,30.000000N"} {
		assert.Equal(t, want, coordinate(v, "NS"), "%g", v)
	}
}

func TestEmptyIsLeftOut(t *testing.T) {
	assert.Empty(t, parse(t, write(t, Description{})))
	assert.Len(t, parse(t, write(t, Description{Title: "x", Numbers: []Number{{"n", ""}}})), 1)
}

func TestName(t *testing.T) {
	assert.Equal(t, string(BesideFull), BesideFull.Name("scan.tif"))
	assert.Equal(t, string(BesideStem), BesideStem.Name("scan.tif"))
	assert.Equal(t, "ab/scan.tif.xmp", Naming("").Name("ab/scan.tif"))
	assert.Equal(t, "a.b/scan.xmp", BesideStem.Name("a.b/scan"))
	assert.Equal(t, "scan.xmp.xmp", BesideStem.Name("scan.xmp"))
}

func TestEmbed(t *testing.T) {
	var picture bytes.Buffer
	require.NoError(t, jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 5, 4)), nil))
	raw := picture.Bytes()
	with, err := Embed(raw, sample())
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(with))
	require.NoError(t, err)
	assert.Equal(t, image.Rect(0, 0, 5, 4), img.Bounds())
	packet := write(t, sample())
	assert.Equal(t, string(raw[:2])+"\xff\xe1"+string([]byte{byte((len(packet) + 31) >> 8), byte(len(packet) + 31)})+"http://ns.adobe.com/xap/1.0/\x00"+packet+string(raw[2:]), string(with))
	_, err = Embed([]byte("PNG"), sample())
	assert.EqualError(t, err, "it is no JPEG")
	_, err = Embed(raw, Description{CreateDate: "3.5.2026"})
	assert.ErrorContains(t, err, "xmp:CreateDate")
	long := sample()
	long.Title = strings.Repeat("x", 65502-len(packet)+len(long.Title))
	_, err = Embed(raw, long)
	assert.NoError(t, err)
	long.Title += "x"
	_, err = Embed(raw, long)
	assert.ErrorIs(t, err, ErrTooLong)
}

func TestRefused(t *testing.T) {
	for name, c := range map[string]struct {
		d    Description
		says string
	}{
		"bytes":          {Description{Title: "\xff"}, "dc:title is not valid UTF-8"},
		"bytes in list":  {Description{Creator: []string{"\xff"}}, "dc:creator is not valid UTF-8"},
		"clock alone":    {Description{DateCreated: "14:05"}, `photoshop:DateCreated: "14:05" is not a date`},
		"local date":     {Description{CreateDate: "3.5.2026"}, "xmp:CreateDate"},
		"blank in name":  {Description{Numbers: []Number{{"a b", "1"}}}, "cannot name a number"},
		"prefix in name": {Description{Numbers: []Number{{"dc:a", "1"}}}, "cannot name a number"},
		"digit first":    {Description{Numbers: []Number{{"1a", "1"}}}, "cannot name a number"},
		"twice":          {Description{Numbers: []Number{{"a", "1"}, {"a", "2"}}}, "two numbers of a sidecar are named a"},
	} {
		t.Run(name, func(t *testing.T) {
			var b strings.Builder
			require.ErrorContains(t, Write(&b, c.d), c.says)
			assert.Empty(t, b.String())
		})
	}
	require.ErrorContains(t, Write(io.Discard, Description{Dates: []string{"2026", "soon"}}), "dc:date: \"soon\" is not a date")
	for _, d := range []string{"2026", "2026-05", "2026-05-03", "2026-05-03T14:05", "2026-05-03T14:05:06.5Z"} {
		require.NoError(t, Write(io.Discard, Description{CreateDate: d}), d)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("medium full") }

func TestFailingMedium(t *testing.T) {
	require.EqualError(t, Write(full{}, sample()), "medium full")
	long := sample()
	long.Description = strings.Repeat("x", 10_000)
	require.EqualError(t, Write(full{}, long), "medium full")
}

// allowed keeps what XML 1.0 can hold; the rest becomes U+FFFD.
func allowed(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' || r == '\n' || r == '\r' || (r >= 0x20 && r <= 0xd7ff) || (r >= 0xe000 && r <= 0xfffd) || r >= 0x10000 {
			return r
		}
		return '\ufffd'
	}, s)
}

func TestAnyTextReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Description{
			Title:   rapid.String().Draw(t, "title"),
			Subject: rapid.SliceOfN(rapid.String(), 1, 3).Draw(t, "subject"),
			Numbers: []Number{{"note", rapid.String().Draw(t, "note")}},
		}
		found := map[string][]string{}
		for _, p := range parse(t, write(t, d)) {
			found[p.XMLName.Local] = p.items()
		}
		if d.Title != "" {
			require.Equal(t, []string{allowed(d.Title)}, found["title"])
		}
		for i, s := range d.Subject {
			require.Equal(t, allowed(s), found["subject"][i])
		}
		if v := d.Numbers[0].Value; v != "" {
			require.Equal(t, []string{allowed(v)}, found["note"])
		}
	})
}

// What does not show but is obeyed stands by its number, wherever it stands in a text; what shows stands as it is.
func TestWhatDoesNotShowStandsByItsNumber(t *testing.T) {
	for text, want := range map[string]string{
		"\u202eab": "&#x202E;ab", "a\u202eb": "a&#x202E;b", "ab\u2066": "ab&#x2066;", "\u007fa": "&#x7F;a", "\u0080": "&#x80;", "\u0081\u0082": "&#x81;&#x82;", "\u009f": "&#x9F;", "~a\u00a0": "~a\u00a0", "\u200f": "&#x200F;",
	} {
		assert.Contains(t, write(t, Description{Headline: text}), ">"+want+"<", "%q", text)
	}
}
