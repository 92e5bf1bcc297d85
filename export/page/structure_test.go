package page_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/export/page"
)

// document is a PDF read the way a reader does: from its end, along the
// cross-references.
type document struct {
	data    []byte
	offsets map[int]int
	trailer string
}

var (
	startXref = regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`)
	previous  = regexp.MustCompile(`/Prev (\d+)`)
)

func readDocument(t *testing.T, data []byte) document {
	t.Helper()
	d := document{data: data, offsets: map[int]int{}}
	m := startXref.FindSubmatch(data)
	require.NotNil(t, m, "the document has an end")
	for at := number(t, string(m[1])); ; {
		rest := string(data[at:])
		require.True(t, strings.HasPrefix(rest, "xref\n"), "a cross-reference stands at %d", at)
		end := strings.Index(rest, "trailer\n")
		require.Positive(t, end)
		lines := strings.Split(rest[5:end], "\n")
		for i := 0; i < len(lines)-1; {
			var first, count int
			_, err := fmt.Sscan(lines[i], &first, &count)
			require.NoError(t, err)
			i++
			for k := range count {
				entry := lines[i+k]
				require.Len(t, entry, 19, "an entry and its end are 20 bytes")
				if _, newer := d.offsets[first+k]; entry[17] == 'n' && !newer {
					d.offsets[first+k] = number(t, entry[:10])
				}
			}
			i += count
		}
		trailer := rest[end : end+strings.Index(rest[end:], "startxref")]
		if d.trailer == "" {
			d.trailer = trailer
		}
		p := previous.FindStringSubmatch(trailer)
		if p == nil {
			break
		}
		at = number(t, p[1])
	}
	for n, at := range d.offsets {
		require.True(t, bytes.HasPrefix(data[at:], fmt.Appendf(nil, "%d 0 obj", n)), "object %d stands at %d", n, at)
	}
	return d
}

func number(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

// object returns an object's text.
func (d document) object(t *testing.T, n int) string {
	t.Helper()
	at, known := d.offsets[n]
	require.True(t, known, "object %d exists", n)
	return string(d.data[at : at+bytes.Index(d.data[at:], []byte("endobj"))])
}

// follow returns the number of the object a dictionary refers to, 0 for none.
func follow(t *testing.T, dictionary, key string) int {
	t.Helper()
	m := regexp.MustCompile(key + ` (\d+) 0 R`).FindStringSubmatch(dictionary)
	if m == nil {
		return 0
	}
	return number(t, m[1])
}

func TestEveryReferenceLeadsToAnObject(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := readDocument(t, finished(t, everything(t, o)))
	reference := regexp.MustCompile(`(\d+) 0 R`)
	for n := range d.offsets {
		object := d.object(t, n)
		if i := strings.Index(object, "stream\n"); i >= 0 {
			object = object[:i]
		}
		for _, m := range reference.FindAllStringSubmatch(object, -1) {
			assert.Contains(t, d.offsets, number(t, m[1]), "from object %d", n)
		}
	}
}

func TestMetadataHangsOnTheCatalog(t *testing.T) {
	o := options()
	o.Title = "Skerrow & <the> ferry 📷 \x1b]"
	data := finished(t, everything(t, o))
	d := readDocument(t, data)
	catalog := d.object(t, follow(t, d.trailer, "/Root"))
	assert.True(t, bytes.HasPrefix(data, []byte("%PDF-1.7\n%\xE2\xE3\xCF\xD3\n")))
	packet := d.object(t, follow(t, catalog, "/Metadata"))
	assert.Contains(t, packet, "/Type /Metadata /Subtype /XML")
	body := packet[strings.Index(packet, "stream\n")+7 : strings.Index(packet, "\nendstream")]
	assert.Equal(t, length(t, packet, "/Length"), len(body))

	type list struct {
		Alt []string `xml:"Alt>li"`
		Seq []string `xml:"Seq>li"`
	}
	var got struct {
		Description struct {
			Title   list   `xml:"http://purl.org/dc/elements/1.1/ title"`
			Creator list   `xml:"http://purl.org/dc/elements/1.1/ creator"`
			Format  string `xml:"http://purl.org/dc/elements/1.1/ format"`
			Created string `xml:"http://ns.adobe.com/xap/1.0/ CreateDate"`
			Changed string `xml:"http://ns.adobe.com/xap/1.0/ ModifyDate"`
			Tool    string `xml:"http://ns.adobe.com/xap/1.0/ CreatorTool"`
		} `xml:"RDF>Description"`
	}
	require.NoError(t, xml.Unmarshal([]byte(body), &got))
	assert.Equal(t, []string{`Skerrow & <the> ferry 📷 \x1B]`}, got.Description.Title.Alt)
	assert.Equal(t, []string{"Ingrid Vallö"}, got.Description.Creator.Seq)
	assert.Equal(t, "application/pdf", got.Description.Format)
	assert.Equal(t, "2026-05-17T14:30:05Z", got.Description.Created)
	assert.Equal(t, "2026-05-17T14:30:05Z", got.Description.Changed)
	assert.Equal(t, "traybook", got.Description.Tool)

	info := d.object(t, follow(t, d.trailer, "/Info"))
	assert.Contains(t, info, "/CreationDate (D:20260517143005+00'00')")
	assert.Contains(t, info, "/Title <FEFF0053006B", "in UTF-16")
	assert.Contains(t, info, "D83DDCF7", "the camera above U+FFFF as two halves")
}

// length returns a number that stands in a dictionary itself.
func length(t *testing.T, dictionary, key string) int {
	t.Helper()
	m := regexp.MustCompile(key + ` (\d+) `).FindStringSubmatch(dictionary)
	require.NotNil(t, m)
	return number(t, m[1])
}

func TestIdentityFollowsTheContent(t *testing.T) {
	id := regexp.MustCompile(`/ID \[<([0-9a-f]{32})> <([0-9a-f]{32})>\]`)
	of := func(title string, at time.Time, text string) string {
		o := options()
		o.Title, o.Created = title, at
		d := page.New(o)
		d.Text(20, 20, 0, page.Set(9, page.Regular), text)
		m := id.FindSubmatch(finished(t, d))
		require.NotNil(t, m)
		require.Equal(t, m[1], m[2])
		return string(m[1])
	}
	first := of("a", moment, "x")
	assert.Equal(t, first, of("a", moment, "x"))
	assert.Equal(t, first, of("a", moment.In(time.FixedZone("", 7200)), "x"), "the same instant")
	assert.NotEqual(t, first, of("b", moment, "x"))
	assert.NotEqual(t, first, of("a", moment.Add(time.Second), "x"))
	assert.NotEqual(t, first, of("a", moment, "y"))
}

func TestOutlineIsATree(t *testing.T) {
	for name, levels := range map[string][]int{
		"usual": {0, 1, 1, 0, 1, 2, 2, 1, 0}, "begins deep": {3, 1, 0}, "leaps": {0, 4, 0, 9, 9}, "one": {0}, "below zero": {-2, 1},
	} {
		t.Run(name, func(t *testing.T) {
			d := page.New(options())
			for i, level := range levels {
				d.NewPage()
				d.Bookmark(fmt.Sprint("entry ", i), level)
			}
			doc := readDocument(t, finished(t, d))
			catalog := doc.object(t, follow(t, doc.trailer, "/Root"))
			root := follow(t, catalog, "/Outlines")
			require.NotZero(t, root)
			seen := map[int]bool{}
			var walk func(parent int)
			walk = func(parent int) {
				last, below := 0, 0
				for at := follow(t, doc.object(t, parent), "/First"); at != 0; at = follow(t, doc.object(t, at), "/Next") {
					require.False(t, seen[at], "entry %d is met once", at)
					seen[at] = true
					assert.Equal(t, parent, follow(t, doc.object(t, at), "/Parent"))
					assert.Equal(t, last, follow(t, doc.object(t, at), "/Prev"))
					walk(at)
					last = at
					below++
				}
				count := regexp.MustCompile(`/Count (-?\d+)`).FindStringSubmatch(doc.object(t, parent))
				switch {
				case parent == root:
					assert.Equal(t, fmt.Sprint(below), count[1], "as many stand outermost")
				case below > 0:
					assert.Equal(t, fmt.Sprint(-below), count[1], "closed, and as many lie below")
				default:
					assert.Nil(t, count, "nothing below, nothing to count")
				}
				assert.Equal(t, last, follow(t, doc.object(t, parent), "/Last"))
			}
			walk(root)
			assert.Len(t, seen, len(levels))
		})
	}
}

func TestLinkLeadsToThePageOfItsAnchor(t *testing.T) {
	d := page.New(options())
	d.Link(page.Rect{X: 20, Y: 20, W: 30, H: 5}, "later", func() {})
	for range 3 {
		d.NewPage()
	}
	d.Anchor("later", 100)
	doc := readDocument(t, finished(t, d))
	kids := regexp.MustCompile(`/Kids \[([^\]]*)\]`).FindStringSubmatch(doc.object(t, 1))
	pages := regexp.MustCompile(`\d+ 0 R`).FindAllString(kids[1], -1)
	require.Len(t, pages, 4)
	assert.Contains(t, doc.linkOn(t, pages[0]), fmt.Sprintf("/Dest [%s /XYZ 0 558.43 null]", pages[3]), "100 mm under the upper edge")
}

// linkOn is the one link of a page.
func (d document) linkOn(t *testing.T, page string) string {
	t.Helper()
	m := regexp.MustCompile(`/Annots \[(\d+) 0 R \]`).FindStringSubmatch(d.object(t, number(t, strings.TrimSuffix(page, " 0 R"))))
	require.NotNil(t, m, "page %s has one link", page)
	return d.object(t, number(t, m[1]))
}

// A row of a table that names a page is a link over its whole width; one that names none is no link.
func TestARowLeadsToItsAnchor(t *testing.T) {
	d := page.New(options())
	a := d.Area()
	d.Table(a.X, a.Y, a.W, page.Table{Columns: []page.Column{{Head: "picture"}}, Rows: []page.Row{
		{Cells: []string{"2026-001"}, Anchor: "later"}, {Cells: []string{"all in all"}}}})
	d.NewPage()
	d.Anchor("later", 100)
	doc := readDocument(t, finished(t, d))
	kids := regexp.MustCompile(`/Kids \[([^\]]*)\]`).FindStringSubmatch(doc.object(t, 1))
	pages := regexp.MustCompile(`\d+ 0 R`).FindAllString(kids[1], -1)
	assert.Contains(t, doc.linkOn(t, pages[0]), fmt.Sprintf("/Dest [%s ", pages[1]))
}

// A link that leads nowhere is told with the first page that holds one, and a name that is given twice with the second.
func TestALinkIsToldWithItsPage(t *testing.T) {
	d := page.New(options())
	d.NewPage()
	for range 3 {
		d.NewPage()
		d.Link(page.Rect{X: 20, Y: 20, W: 30, H: 5}, "nowhere", func() {})
	}
	_, err := d.Bytes()
	require.EqualError(t, err, `a link on page 2 leads to "nowhere", which no page holds: place the anchor or leave out the link`)
	d = page.New(options())
	d.Anchor("quay", 10)
	d.NewPage()
	d.Anchor("quay", 20)
	_, err = d.Bytes()
	require.EqualError(t, err, `the anchor "quay" is given twice, the second time on page 2: give each place its own name`)
}

// A link covers what it was given, on the sheet of its document.
func TestALinkCoversItsBox(t *testing.T) {
	d := page.New(options())
	d.Link(page.Rect{X: 20, Y: 30, W: 40, H: 5}, "here", func() {})
	d.Anchor("here", 100)
	doc := readDocument(t, finished(t, d))
	kids := regexp.MustCompile(`/Kids \[(\d+) 0 R`).FindStringSubmatch(doc.object(t, 1))
	mm := 72 / 25.4
	assert.Contains(t, doc.linkOn(t, kids[1]), fmt.Sprintf("/Rect [%.2f %.2f %.2f %.2f]", 20*mm, (297-30)*mm, 60*mm, (297-35)*mm))
}

// What a link, a head of a table or a paragraph of two types says comes in words that stay apart, as they do on the page.
func TestWordsOfOneElementStayApart(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	text := page.Set(9, page.Regular)
	d.Anchor("later", 0)
	d.Link(page.Rect{X: 20, Y: 20, W: 60, H: 12}, "later", func() {
		d.Para(20, 20, 18, text, "steps to the water", 0)
		d.Text(60, 20, 20, text.Right(), "10")
	})
	d.Paragraph(func() {
		d.Para(20, 40, 100, text, "the mole", 0)
		d.Text(60, 40, 20, text, "in May")
	})
	d.Table(20, 60, 60, page.Table{Columns: []page.Column{{Head: "called for by the reading", Width: 15}, {Head: "done"}}, Rows: []page.Row{{Cells: []string{"4 s", "5 s"}}}})
	told := eventstest.PDFStructure(finished(t, d))
	assert.Regexp(t, `(?m)^ *Link: steps to the water 10  → /Dest`, told)
	assert.Regexp(t, `(?m)^ *P: the mole in May $`, told)
	assert.Regexp(t, `(?m)^ *TH /Scope /Column: called for by the reading$`, told)
}

// A title of the outline is drawn by the reader's program, with its own faces: it stands there as it was written, whatever the
// document could draw, but for marks of direction.
func TestATitleOfTheOutlineIsWhatWasWritten(t *testing.T) {
	d := page.New(options())
	titles := map[string]string{"the quay": "(the quay)", `a (b) \`: "<FEFF006100200028006200290020005C>", "ferry 🚢": "<FEFF006600650072007200790020D83DDEA2>",
		page.Isolated("בחר") + ", 2": "<FEFF05D105D705E8002C00200032>"}
	d.NewPage()
	for title := range titles {
		d.Bookmark(title, 0)
	}
	data := string(finished(t, d))
	for _, want := range titles {
		assert.Contains(t, data, "<</Title "+want+"\n/Parent")
	}
}
