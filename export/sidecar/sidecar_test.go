package sidecar

import (
	"encoding/xml"
	"errors"
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
		Headline: "Fog", City: "Sundhaven", Country: "Nowhere", Location: "East quay",
		DateCreated: "2026-05-03T14:05:00+02:00", CreateDate: "2026-05-10", ModifyDate: "2026-05-11T08:00:00Z",
		MetadataDate: "2026-05-12T20:00:00+02:00", CreatorTool: "traybook 1.0",
		Numbers: []Number{{"exposure_s", "8"}, {"called_for_s", "6.5"}, {"dev_stops", "-0.3"}},
	}
}

func write(t require.TestingT, d Description) string {
	var b strings.Builder
	require.NoError(t, Write(&b, d))
	return b.String()
}

// property is one element below rdf:Description, as a stranger's reader finds
// it.
type property struct {
	name  xml.Name
	kind  string // Alt, Seq, Bag, or nothing
	lang  string
	items []string
}

const rdf = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"

func parse(t require.TestingT, text string) []property {
	dec := xml.NewDecoder(strings.NewReader(text))
	var found []property
	depth := 0
	var path []string
	for {
		token, err := dec.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch tok := token.(type) {
		case xml.StartElement:
			depth++
			path = append(path, tok.Name.Local)
			switch {
			case depth == 3:
				require.Equal(t, []string{"xmpmeta", "RDF", "Description"}, path)
				require.Equal(t, xml.Attr{Name: xml.Name{Space: rdf, Local: "about"}}, tok.Attr[0])
			case depth == 4:
				found = append(found, property{name: tok.Name, items: []string{""}})
			case depth == 5:
				require.Equal(t, rdf, tok.Name.Space)
				last := &found[len(found)-1]
				last.kind, last.items = tok.Name.Local, nil
			case depth == 6:
				require.Equal(t, xml.Name{Space: rdf, Local: "li"}, tok.Name)
				last := &found[len(found)-1]
				last.items = append(last.items, "")
				for _, a := range tok.Attr {
					require.Equal(t, "lang", a.Name.Local)
					last.lang = a.Value
				}
			}
		case xml.EndElement:
			depth--
			path = path[:depth]
		case xml.CharData:
			if depth == 4 || depth == 6 {
				last := &found[len(found)-1]
				last.items[len(last.items)-1] += string(tok)
			}
		}
	}
	require.Zero(t, depth)
	return found
}

func TestWriteReadsBack(t *testing.T) {
	const (
		dc    = "http://purl.org/dc/elements/1.1/"
		xmp   = "http://ns.adobe.com/xap/1.0/"
		photo = "http://ns.adobe.com/photoshop/1.0/"
		core  = "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"
	)
	text := write(t, sample())
	alt := func(name, v string) property {
		return property{xml.Name{Space: dc, Local: name}, "Alt", "x-default", []string{v}}
	}
	plain := func(space, name, v string) property {
		return property{name: xml.Name{Space: space, Local: name}, items: []string{v}}
	}
	assert.Equal(t, []property{
		alt("title", "The Alma at the quay"),
		alt("description", "Low water & fog,\n\"second\" plate <wet>"),
		{xml.Name{Space: dc, Local: "creator"}, "Seq", "", []string{"Ines Vahl", "Όλγα Ρω"}},
		alt("rights", "© 2026 Ines Vahl"),
		{xml.Name{Space: dc, Local: "subject"}, "Bag", "", []string{"ferry", "туман"}},
		plain(dc, "identifier", "2026-014"),
		plain(dc, "source", "2026-014N1"),
		plain(dc, "format", "image/jpeg"),
		plain(photo, "Headline", "Fog"),
		plain(photo, "City", "Sundhaven"),
		plain(photo, "Country", "Nowhere"),
		plain(core, "Location", "East quay"),
		plain(photo, "DateCreated", "2026-05-03T14:05:00+02:00"),
		plain(xmp, "CreateDate", "2026-05-10"),
		plain(xmp, "ModifyDate", "2026-05-11T08:00:00Z"),
		plain(xmp, "MetadataDate", "2026-05-12T20:00:00+02:00"),
		plain(xmp, "CreatorTool", "traybook 1.0"),
		plain(Namespace, "exposure_s", "8"),
		plain(Namespace, "called_for_s", "6.5"),
		plain(Namespace, "dev_stops", "-0.3"),
	}, parse(t, text))
	assert.Equal(t, text, write(t, sample()), "the same bytes on every run")
	assert.True(t, strings.HasPrefix(text, "<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"))
	assert.True(t, strings.HasSuffix(text, "<?xpacket end=\"w\"?>\n"))
}

func TestEmptyIsLeftOut(t *testing.T) {
	assert.Empty(t, parse(t, write(t, Description{})))
	assert.Len(t, parse(t, write(t, Description{Title: "x", Numbers: []Number{{"n", ""}}})), 1)
}

func TestName(t *testing.T) {
	assert.Equal(t, "scan.tif.xmp", Name("scan.tif"))
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
			found[p.name.Local] = p.items
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
