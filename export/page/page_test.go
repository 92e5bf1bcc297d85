package page_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/export/page"
)

func finished(t testing.TB, d *page.Doc) []byte {
	t.Helper()
	b, err := d.Bytes()
	require.NoError(t, err)
	return b
}

func TestSameBytesOnEveryRun(t *testing.T) {
	for _, size := range []string{"A4", "Letter"} {
		for _, landscape := range []bool{false, true} {
			t.Run(fmt.Sprint(size, landscape), func(t *testing.T) {
				o := options()
				o.Size, o.Landscape = size, landscape
				first := finished(t, everything(t, o))
				assert.Equal(t, first, finished(t, everything(t, o)))
			})
		}
	}
}

func TestErrorsStick(t *testing.T) {
	cases := map[string]struct {
		draw func(d *page.Doc)
		says string
	}{
		"a length that is no number": {func(d *page.Doc) { d.Line(0, 0, math.NaN(), 1, page.Pen{}) }, "NaN mm"},
		"far off the sheet":          {func(d *page.Doc) { d.Fill(page.Rect{W: 1e9}, 0) }, "a number within the sheet is needed"},
		"a link to nothing":          {func(d *page.Doc) { d.Link(page.Rect{W: 1, H: 1}, "nowhere", func() {}) }, `"nowhere", which no page holds`},
		"an anchor given twice":      {func(d *page.Doc) { d.Anchor("a", 1); d.Anchor("a", 2) }, "given twice"},
		"a table too wide": {func(d *page.Doc) {
			d.Table(15, 15, 50, page.Table{Columns: []page.Column{{Width: 40}, {Width: 40}}})
		}, "make one narrower"},
		"more cells than columns": {func(d *page.Doc) {
			d.Table(15, 15, 50, page.Table{Columns: []page.Column{{}}, Rows: []page.Row{{Cells: []string{"a", "b"}}}})
		}, "no more cells than columns"},
		"no columns":           {func(d *page.Doc) { d.Table(15, 15, 50, page.Table{}) }, "at least one"},
		"an axis of no length": {func(d *page.Doc) { d.Chart(page.Rect{W: 50, H: 50}, page.Axis{}, page.Axis{Max: 1}) }, "cannot be drawn"},
		"a logarithm of 0": {func(d *page.Doc) {
			d.Chart(page.Rect{W: 50, H: 50}, page.Axis{Max: 1, Log: true}, page.Axis{Max: 1})
		}, "above 0"},
		"a QR code too small": {func(d *page.Doc) { d.QR(20, 20, 4, "2026-014") }, "give it more room"},
		"a QR code too long":  {func(d *page.Doc) { d.QR(20, 20, 100, strings.Repeat("x", 5000)) }, "use a shorter text"},
		"a stack without a legend": {func(d *page.Doc) {
			d.StackedBars(page.Rect{W: 50, H: 50}, nil, []page.Stack{{Parts: []float64{1}}})
		}, "give a word for each"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			d := page.New(options())
			d.NewPage()
			c.draw(d)
			d.Text(20, 20, 50, page.Set(8, page.Regular), "drawn after the error")
			_, err := d.Bytes()
			require.ErrorContains(t, err, c.says)
			assert.Equal(t, err, d.Err())
		})
	}
}

func TestOptionsAreChecked(t *testing.T) {
	for says, change := range map[string]func(*page.Options){
		"use A4 or Letter": func(o *page.Options) { o.Size = "Foolscap" },
		"has no date":      func(o *page.Options) { o.Created = time.Time{} },
		"leaves no room":   func(o *page.Options) { o.Margin = 100 },
	} {
		o := options()
		change(&o)
		d := page.New(o)
		d.Text(10, 10, 10, page.Set(8, page.Regular), "nothing")
		d.Need(10, 10)
		_, err := d.Bytes()
		require.ErrorContains(t, err, says)
	}
}

func TestAfterTheEnd(t *testing.T) {
	d := page.New(options())
	first := finished(t, d)
	assert.Equal(t, first, finished(t, d), "a second call returns the same")
	d.NewPage()
	require.ErrorContains(t, d.Err(), "finished")
}

func TestEmptyDocumentHasOnePage(t *testing.T) {
	o := options()
	o.Uncompressed = true
	b := finished(t, page.New(o))
	assert.Contains(t, string(b), "/Count 1\n")
}

func TestUnprintableCharactersAreCountedAndTold(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	set := page.Set(9, page.Regular)
	d.NewPage()
	d.Text(20, 20, 0, set, "nothing amiss: Ελένη, Ярослав, ½ ′ →")
	d.NewPage()
	got := d.Text(20, 20, 0, set, "two ships 🚢🚢, one family 👨‍👩‍👧, 渡")
	assert.Equal(t, "two ships 🚢🚢, one family 👨‍👩‍👧, 渡", got, "what is returned keeps the true characters")
	d.NewPage()
	d.Text(20, 20, 0, set, "a hidden turn \u202e here")
	b := finished(t, d)
	assert.Equal(t, 1, bytes.Count(b, utf16("4 characters on this page are in no typeface")))
	assert.Equal(t, 1, bytes.Count(b, utf16("1 character on this page is in no typeface")))
	assert.Equal(t, 2, bytes.Count(b, utf16(" in no typeface")), "nothing is said of the first page")

	o.Uncompressed = true
	o.NoteAt = func(n int) (float64, float64, float64) { return 40, 250 + float64(n), 100 }
	d = page.New(o)
	d.Text(20, 20, 0, set, "🚢")
	assert.Regexp(t, `BT 113\.39 \S+ Td \(1 character on this page`, strings.Join(eventstest.PDFObjects(finished(t, d)), ""))

	o.NoNote = true
	d = page.New(o)
	d.Text(20, 20, 0, set, "🚢")
	assert.NotContains(t, string(finished(t, d)), string(utf16("in no typeface")))
}

// utf16 gives a text of ASCII as the content of a page holds it.
func utf16(s string) []byte {
	var b []byte
	for _, c := range []byte(s) {
		b = append(b, 0, c)
	}
	return b
}

func TestFooterKnowsTheNumberOfPages(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	for range 11 {
		d.NewPage()
	}
	b := finished(t, d)
	for n := 1; n <= 11; n++ {
		assert.Equal(t, 1, bytes.Count(b, append(utf16(fmt.Sprintf("page %d of 11", n)), ')')), n)
	}
}

// The pages of a document are packed, but where they are asked for as plain text.
func TestPagesArePacked(t *testing.T) {
	o := options()
	packed := finished(t, everything(t, o))
	o.Uncompressed = true
	plain := finished(t, everything(t, o))
	assert.Contains(t, string(plain), " Td (")
	assert.NotContains(t, string(packed), " Td (")
	assert.Less(t, len(packed), len(plain)*3/4)
}
