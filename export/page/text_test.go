package page_test

import (
	"fmt"
	"math"
	"math/rand"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"traybook/events/eventstest"
	"traybook/export/page"
)

var builtIn = page.NewFaces()

func TestTextPropertiesHold(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(r, "text")
		width := rapid.Float64Range(3, 120).Draw(r, "width")
		set := page.Set(rapid.Float64Range(4, 24).Draw(r, "size"), page.Face(rapid.IntRange(0, 4).Draw(r, "face")))

		clean := page.Clean(s)
		if !utf8.ValidString(clean) || page.Clean(clean) != clean {
			r.Fatalf("Clean(%q) = %q is not clean", s, clean)
		}
		fitted := builtIn.Fit(width, set, s)
		if got, room := builtIn.Width(set, fitted), math.Max(width, builtIn.Width(set, "…")); got > room+1e-3 {
			r.Fatalf("Fit(%g, %q) is %g wide", width, s, got)
		}
		lines := builtIn.Wrap(width, set, s)
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
		for _, line := range builtIn.Wrap(width, set, strings.Join(words, " ")) {
			assert.LessOrEqual(t, builtIn.Width(set, line), width+1e-3)
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
		for face := page.Regular; face <= page.Italic; face++ {
			set := page.Set(size, face)
			d.Text(20, 20, width, set, s)
			d.Text(20, 20, width, set.Right(), s)
			d.Para(20, 30, width, set, s, 5)
		}
		d.Bookmark(s, 0)
		d.Bookmark(s, 3)
		d.Anchor(s, 10)
		d.Link(page.Rect{X: 1, Y: 1, W: 5, H: 5}, s, func() {})
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

func FuzzMeasure(f *testing.F) {
	for _, s := range names {
		f.Add(s, 40.0)
	}
	f.Fuzz(func(t *testing.T, s string, width float64) {
		set := page.Set(8, page.Bold)
		builtIn.Fit(width, set, s)
		lines := builtIn.Wrap(width, set, s)
		if len(lines) == 0 {
			t.Fatal("no line at all")
		}
		for _, line := range lines {
			if page.Clean(line) != line {
				t.Fatalf("the line %q is not clean", line)
			}
		}
	})
}

func FuzzImage(f *testing.F) {
	f.Add(thumbnail(f, 20, 10, 1))
	f.Add([]byte{0xFF, 0xD8, 0xFF, 0xD9})
	f.Fuzz(func(t *testing.T, data []byte) {
		d := page.New(options())
		_, err := d.Image("foreign", data, page.Rect{X: 20, Y: 20, W: 50, H: 50})
		if _, end := d.Bytes(); end != nil {
			t.Fatalf("the document is lost (%v) after the answer %v", end, err)
		}
	})
}

func TestClean(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"plain":               {"f/125 at 6 m", "f/125 at 6 m"},
		"composed":            {"Vallo\u0308", "Vallö"},
		"truncated":           {"abc\xe2", "abc\uFFFD"},
		"a terminal's escape": {"\x1b[31mred", `\x1B[31mred`},
		"line ends":           {"a\r\nb\rc\u2028d", "a\nb\nc\nd"},
		"tab":                 {"a\tb", "a b"},
		"8-bit control":       {"a\u009bb", `a\x9Bb`},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, c.want, page.Clean(c.in)) })
	}
}

func TestFit(t *testing.T) {
	set := page.Set(8, page.Regular)
	for name, c := range map[string]struct {
		in    string
		width float64
		want  string
	}{
		"room enough":              {"ferry", 30, "ferry"},
		"just its width":           {"ferry", builtIn.Width(set, "ferry"), "ferry"},
		"a hair less":              {"ferry", builtIn.Width(set, "ferry") - 0.01, "fe…"},
		"no space before the dots": {"the ferry", builtIn.Width(set, "the …") + 0.1, "the…"},
		"no room at all":           {"ferry", 0.1, "…"},
		"marks stay on letters":    {"q\u0331q\u0331q\u0331q\u0331", builtIn.Width(set, "qq…") + 0.1, "q\u0331q\u0331…"},
		"two lines on one":         {"low\nwater", 30, "low water"},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, c.want, builtIn.Fit(c.width, set, c.in)) })
	}
}

func TestWrap(t *testing.T) {
	set := page.Set(8, page.Regular)
	wide := builtIn.Width(set, "the long quay") + 0.1
	for name, c := range map[string]struct {
		in   string
		want []string
	}{
		"nothing":        {"", []string{""}},
		"one line":       {"the long quay", []string{"the long quay"}},
		"two lines":      {"the long quay at low water", []string{"the long quay", "at low water"}},
		"an empty line":  {"a\n\nb", []string{"a", "", "b"}},
		"no-break space": {"the old long\u00a0quay", []string{"the old", "long\u00a0quay"}},
		"after a hyphen": {"deckhand-ferryman", []string{"deckhand-", "ferryman"}},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, c.want, builtIn.Wrap(wide, set, c.in)) })
	}
}

func TestWidthOfMonoIsOneForAll(t *testing.T) {
	set := page.Set(8, page.Mono)
	assert.InDelta(t, builtIn.Width(set, "iiii"), builtIn.Width(set, "WWWW"), 1e-9)
	assert.Less(t, builtIn.Width(page.Set(8, page.Regular), "iiii"), builtIn.Width(page.Set(8, page.Regular), "WWWW"))
}

// A name that runs to the left leaves the numbers beside it where they are, on one line and where it is broken over two; its
// marks leave no trace on the page and none in what is copied from it.
func TestWhatIsIsolatedMovesNothing(t *testing.T) {
	set := page.Set(9, page.Regular)
	drawn := func(draw func(d *page.Doc)) string {
		o := options()
		o.Uncompressed = true
		d := page.New(o)
		draw(d)
		pdf := finished(t, d)
		assert.NotContains(t, string(pdf), "<2068>")
		return strings.Join(eventstest.PDFObjects(pdf), "")
	}
	for _, name := range []string{"בחר יפה", "بحر", "רחוב 12"} {
		line := page.Isolated(name) + ", 12 sheets, 3:00"
		got := drawn(func(d *page.Doc) { d.Text(20, 20, 0, set, line) })
		assert.Contains(t, got, "(, 12 sheets, 3:00) Tj", name)
		assert.InDelta(t, builtIn.Width(set, name)+builtIn.Width(set, ", 12 sheets, 3:00"), builtIn.Width(set, line), 1e-6)
		assert.Equal(t, line, page.IsolatedWithin(line), "isolated already")
	}
	assert.Equal(t, "the mole", page.Isolated("the mole"))
	broken := drawn(func(d *page.Doc) {
		d.Para(20, 20, builtIn.Width(set, "to בחר בחר")+0.1, set, "to "+page.Isolated("בחר בחר בחר")+", 2 s", 0)
	})
	assert.Contains(t, broken, "(, 2 s) Tj")
	drawn(func(d *page.Doc) { d.Text(20, 20, 0, set, "בחר \u2068mole\u2069 בחר") })
	for sentence, want := range map[string]string{
		"12 to Asta, 3:00":             "12 to Asta, 3:00",
		"2 to בחר בחר, 3:00":           "2 to \u2068בחר בחר\u2069, 3:00",
		"2 to בחר 7 בחר":               "2 to \u2068בחר 7 בחר\u2069",
		"בחר at the mole, by בְּ, 4 s": "\u2068בחר\u2069 at the mole, by \u2068בְּ\u2069, 4 s",
	} {
		assert.Equal(t, want, page.IsolatedWithin(sentence))
	}
	for said, want := range map[string]string{
		"12 at the mole":         "12 at the mole",
		"בחר, 12 of them":        "\u2068בחר\u2069, 12 of them",
		"בחר יפה, f/8, בחר יפה!": "\u2068בחר יפה, f/8, בחר יפה!\u2069",
	} {
		assert.Equal(t, want, page.Quoted(said))
		assert.Equal(t, "2 s; "+want, page.IsolatedWithin("2 s; "+page.Quoted(said)), "what stands apart already stays as it is")
	}
}

// What is set apart runs on the lines behind its first one as its first letter does, whatever letter they begin with.
func TestWhatIsIsolatedRunsOneWayOnEveryLine(t *testing.T) {
	set := page.Set(9, page.Regular)
	for begins, beside := range map[string]bool{"בחר בחר": false, "by the mole": true} {
		o := options()
		o.Uncompressed = true
		d := page.New(o)
		d.Para(20, 20, max(builtIn.Width(set, "to "+begins), builtIn.Width(set, "at quay, בחר"))+0.1, set, "to \u2068"+begins+" at quay, בחר\u2069", 0)
		at := regexp.MustCompile(`BT (\S+) \S+ Td \([^)]*at quay`).FindStringSubmatch(strings.Join(eventstest.PDFObjects(finished(t, d)), ""))
		if assert.NotNil(t, at, begins) {
			assert.Equal(t, beside, at[1] == "56.69", "%s: it stands at %s", begins, at[1])
		}
	}
}

// Neither a range of figures nor an f-number is broken, and the lines behind the first one of a paragraph stand in by as much as its type says.
func TestRangesStayWholeAndLinesHang(t *testing.T) {
	set := page.Set(9, page.Regular)
	for width := 8.0; width < 60; width++ {
		for _, line := range builtIn.Wrap(width, set, "Harbour glossy 10–16, 20–32, 36–44, 48–56, 60–68, 72 – 78, 84–92, f/11 planned and f/5.6 set") {
			assert.False(t, strings.HasSuffix(line, "–") && !strings.HasSuffix(line, " –") || strings.HasSuffix(line, "/"), line)
		}
	}
	set.Hang = 5
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	text := strings.Repeat("the old net mender ", 6)
	width := builtIn.Width(set, "the old net mender the old") + 5.1
	d.Para(20, 20, width, set, text, 0)
	var xs []string
	for _, m := range regexp.MustCompile(`BT (\S+) \S+ Td \(`).FindAllStringSubmatch(strings.Join(eventstest.PDFObjects(finished(t, d)), ""), -1) {
		xs = append(xs, m[1])
	}
	assert.Equal(t, []string{"56.69", "70.87", "70.87", "70.87"}, xs[:4])
	assert.Equal(t, float64(len(builtIn.Wrap(width-5, set, text)))*page.LineHeight(9), builtIn.ParaHeight(width, set, text, 0))
}

// A paragraph breaks as it would in faces that have broken nothing before, however many were kept since, whatever its type.
func TestLinesDoNotDependOnWhatWasBrokenBefore(t *testing.T) {
	var used page.Faces
	texts := []string{"the ferry was early, and the light behind it", "f/125 at 6 m", "שלום, the quay at 14:30"}
	for i := range 5000 {
		used.Wrap(30, page.Set(8, page.Regular), fmt.Sprint(texts[i%len(texts)], i))
	}
	for _, text := range texts {
		for _, width := range []float64{9, 20, 21, 60} {
			for _, face := range []page.Face{page.Regular, page.Bold, page.Serif} {
				for _, size := range []float64{6.5, 7, 13} {
					want := new(page.Faces).Wrap(width, page.Set(size, face), text)
					for range 2 {
						assert.Equal(t, want, used.Wrap(width, page.Set(size, face), text))
					}
				}
			}
		}
	}
}
