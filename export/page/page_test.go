package page_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

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

func TestSameBytesWithManyPicturesOfOneWidth(t *testing.T) {
	pictures := make([][]byte, 40)
	for i := range pictures {
		pictures[i] = thumbnail(t, 60, 40, i)
	}
	sheet := func() []byte {
		d := page.New(options())
		d.EachCell(d.Area().Y, len(pictures), 4, 5, 3, func(i int, cell page.Rect) {
			_, err := d.Image(fmt.Sprint(i), pictures[i], cell)
			require.NoError(t, err)
		})
		return finished(t, d)
	}
	first := sheet()
	for range 5 { // the order of a map differs within a few runs
		require.True(t, bytes.Equal(first, sheet()))
	}
	assert.Equal(t, len(pictures), bytes.Count(first, []byte("/Subtype /Image")))
	assert.Equal(t, len(pictures), bytes.Count(first, []byte("/Width 60\n")))
}

func TestOnePictureTwiceIsStoredOnce(t *testing.T) {
	d := page.New(options())
	picture := thumbnail(t, 30, 20, 1)
	for i := range 3 {
		_, err := d.Image(fmt.Sprint("name ", i), picture, page.Rect{X: 20, Y: 20 + 30*float64(i), W: 30, H: 20})
		require.NoError(t, err)
	}
	assert.Equal(t, 1, bytes.Count(finished(t, d), []byte("/Subtype /Image")))
}

func TestPictureStandsInTheMiddleOfItsBox(t *testing.T) {
	d := page.New(options())
	at, err := d.Image("wide", thumbnail(t, 40, 20, 1), page.Rect{X: 10, Y: 10, W: 60, H: 60})
	require.NoError(t, err)
	assert.InDelta(t, 60, at.W, 1e-9)
	assert.InDelta(t, 30, at.H, 1e-9)
	assert.InDelta(t, 10, at.X, 1e-9)
	assert.InDelta(t, 25, at.Y, 1e-9)
}

func TestForeignPicturesAreRefused(t *testing.T) {
	good := thumbnail(t, 30, 20, 1)
	var asPNG bytes.Buffer
	require.NoError(t, png.Encode(&asPNG, image.NewGray(image.Rect(0, 0, 4, 4))))
	exif := append([]byte{0xFF, 0xD8, 0xFF, 0xE1, 0, 8, 'E', 'x', 'i', 'f', 0, 0}, good[2:]...)
	progressive := bytes.Replace(good, []byte{0xFF, 0xC0}, []byte{0xFF, 0xC2}, 1)
	var large bytes.Buffer
	require.NoError(t, jpeg.Encode(&large, image.NewGray(image.Rect(0, 0, 4001, 2)), nil))
	for name, data := range map[string][]byte{
		"nothing": nil, "two bytes": {0xFF, 0xD8}, "a PNG": asPNG.Bytes(), "cut off": good[:len(good)/2],
		"cut in its headers": append(append([]byte{}, good[:40]...), 0xFF, 0xD9), "with an orientation": exif,
		"progressive": progressive, "too wide": large.Bytes(), "too many bytes": make([]byte, 9<<20),
	} {
		t.Run(name, func(t *testing.T) {
			d := page.New(options())
			_, err := d.Image("sheet 12", data, page.Rect{X: 20, Y: 20, W: 30, H: 20})
			require.ErrorContains(t, err, `"sheet 12"`)
			require.NoError(t, d.Err(), "the document goes on without the picture")
			_, err = d.Image("sheet 13", good, page.Rect{X: 20, Y: 20, W: 30, H: 20})
			require.NoError(t, err)
			finished(t, d)
		})
	}
}

func TestColourPictureOfTheEncoderIsTaken(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 8, 6))
	img.Set(1, 1, color.RGBA{200, 10, 10, 255})
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, nil))
	w, h, err := page.CheckImage(b.Bytes())
	require.NoError(t, err)
	assert.Equal(t, []int{8, 6}, []int{w, h})
}

func TestErrorsStick(t *testing.T) {
	cases := map[string]struct {
		draw func(d *page.Doc)
		says string
	}{
		"a length that is no number": {func(d *page.Doc) { d.Line(0, 0, math.NaN(), 1, page.Pen{}) }, "NaN mm"},
		"far off the sheet":          {func(d *page.Doc) { d.Fill(page.Rect{W: 1e9}, 0) }, "a number within the sheet is needed"},
		"a link to nothing":          {func(d *page.Doc) { d.Link(page.Rect{W: 1, H: 1}, "nowhere") }, `"nowhere", which no page holds`},
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
		d.EachCell(10, 3, 2, 2, 1, func(int, page.Rect) { t.Error("drawn after an error") })
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
	require.Zero(t, d.Unprintable())
	d.NewPage()
	got := d.Text(20, 20, 0, set, "two ships 🚢🚢, one family 👨‍👩‍👧, 渡")
	assert.Equal(t, "two ships 🚢🚢, one family 👨‍👩‍👧, 渡", got, "what is returned keeps the true characters")
	require.Equal(t, 4, d.Unprintable())
	d.NewPage()
	d.Text(20, 20, 0, set, "a hidden turn \u202e here")
	require.Equal(t, 5, d.Unprintable())
	b := finished(t, d)
	assert.Equal(t, 1, bytes.Count(b, utf16("4 characters on this page are not printable")))
	assert.Equal(t, 1, bytes.Count(b, utf16("1 character on this page is not printable")))

	o.NoNote = true
	d = page.New(o)
	d.Text(20, 20, 0, set, "🚢")
	assert.NotContains(t, string(finished(t, d)), string(utf16("not printable")))
	assert.Equal(t, 1, d.Unprintable())
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

func TestTextPropertiesHold(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(r, "text")
		width := rapid.Float64Range(3, 120).Draw(r, "width")
		set := page.Set(rapid.Float64Range(4, 24).Draw(r, "size"), page.Face(rapid.IntRange(0, 2).Draw(r, "face")))

		clean := page.Clean(s)
		if !utf8.ValidString(clean) || page.Clean(clean) != clean {
			r.Fatalf("Clean(%q) = %q is not clean", s, clean)
		}
		fitted := page.Fit(width, set, s)
		if got, room := page.Width(set, fitted), math.Max(width, page.Width(set, "…")); got > room+1e-3 {
			r.Fatalf("Fit(%g, %q) is %g wide", width, s, got)
		}
		lines := page.Wrap(width, set, s)
		joined := strings.Join(lines, "")
		squeeze := func(s string) string { return strings.NewReplacer(" ", "", "\n", "").Replace(s) }
		if squeeze(joined) != squeeze(clean) {
			r.Fatalf("Wrap(%q) lost or changed something: %q", s, lines)
		}
	})
}

func TestWrapHoldsTheWidth(t *testing.T) {
	rng := rand.New(rand.NewSource(7))
	set := page.Set(8, page.Regular)
	for range 200 {
		var words []string
		for range rng.Intn(30) {
			words = append(words, strings.Repeat(string(rune('a'+rng.Intn(26))), 1+rng.Intn(40)))
		}
		width := 10 + rng.Float64()*60
		for _, line := range page.Wrap(width, set, strings.Join(words, " ")) {
			assert.LessOrEqual(t, page.Width(set, line), width+1e-3)
		}
	}
}

func FuzzText(f *testing.F) {
	for _, s := range append(names, "", "\xe2", "abc\xe2", "\xf0\x9f\x9a", "\u0301", "a\u0301\u0302\u0303", "\U0001F6A2\ufe0f", "\u202e\u2066x",
		"ש(1)ל", "\ufffe\uffff\U0010ffff", "\x00\x1b\x7f\u0085", "क्षि", "שלום(123)אbc") {
		f.Add(s, 40.0, 8.0)
	}
	f.Fuzz(func(t *testing.T, s string, width, size float64) {
		o := options()
		o.Title, o.Author, o.Subject = s, s, s
		o.Footer = page.Numbered(s)
		d := page.New(o)
		if !(size > 0 && size < 500 && width > 1 && width < 1000) {
			size, width = 8, 40
		}
		for face := page.Regular; face <= page.Mono; face++ {
			set := page.Set(size, face)
			d.Text(20, 20, width, set, s)
			d.Text(20, 20, width, set.Right().Through(), s)
			d.Para(20, 30, width, set, s, 5)
		}
		d.Bookmark(s, 0)
		d.Bookmark(s, 3)
		d.Anchor(s, 10)
		d.Link(page.Rect{X: 1, Y: 1, W: 5, H: 5}, s)
		d.Table(15, 40, 180, page.Table{Columns: []page.Column{{Head: s, Wrap: true}, {Head: "b"}}, Rows: []page.Row{{Cells: []string{s, s}}}})
		b, err := d.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		if len(b) < 1000 {
			t.Fatal("the document is too short to hold its faces")
		}
	})
}
