package pages_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
	"traybook/projections/wording"
)

const (
	longName = "The ferry with both deckhands, the harbour master's dog, forty-one crates of herring and, as far as anybody can tell from the coal steps at low water, the whole of the pilots' choir"
	greek    = "Ελένη Παπαδοπούλου-Χατζηγεωργίου στο λιμάνι"
	cyrillic = "Паромщик Ярослав Ёлкин у причала № 3"
	unbroken = "Longunbrokenwordwithoutanyspacewhichhastobedividedsomewhereandnobodyknowswhereexactly"
)

// hardLines is a book that strains every page: long and foreign names, a picture with nine prints, numbers of four
// digits, sheets of which the log says next to nothing, a sheet that was taken back.
func hardLines() string {
	var b strings.Builder
	line := func(kind, at, data string, args ...any) {
		fmt.Fprintf(&b, `{"kind":%q,"at":"2026-07-%s:00+02:00","data":{%s}}`+"\n", kind, at, fmt.Sprintf(data, args...))
	}
	line("book.opened", "01T08:00", `"zone":"Europe/Oslo","owner":%q`, greek+", "+longName)
	line("camera.described", "01T08:01", `"camera":"box-cam","focal_mm":180,"f_widest":5.6,"f_smallest":45`)
	line("paper.received", "01T08:02", `"box":"box-1","name":%q,"base":"rc","width_mm":90,"height_mm":120,"sheets":1000,"index":4`, unbroken)
	line("bath.mixed", "01T08:03", `"bath":"dev-1","role":"developer","name":%q,"volume_ml":1000,"time_s":60`, longName)
	line("session.opened", "01T09:00", `"session":"a-session-with-a-name-as-long-as-allowed","camera":"box-cam","place":%q,"helper":%q,"text":%q`, longName, cyrillic, longName)
	line("light.metered", "01T09:01", `"on":"scene","mode":"reflected","f":16,"time_s":2,"index":4,"session":"a-session-with-a-name-as-long-as-allowed"`)
	for i, subject := range []string{longName, greek, cyrillic, unbroken, ""} {
		line("sheet.exposed", fmt.Sprintf("01T10:%02d", i), `"picture":"2026-%d","box":"box-1","f":16,"time_s":2,"subject":%q,"session":"a-session-with-a-name-as-long-as-allowed"`, 998+i, subject)
	}
	for i := range 9 {
		line("sheet.reprinted", fmt.Sprintf("01T11:%02d", i), `"picture":"2026-998","box":"box-1","f":11,"time_s":20,"sheet":"2026-998p%d","session":"a-session-with-a-name-as-long-as-allowed"`, i+1)
		line("sheet.judged", fmt.Sprintf("01T12:%02d", i), `"sheet":"2026-998p%d","verdict":"redo","symptoms":["too-dark","streaks-dark","water-marks","finger-marks","one-side-light","fogged-highlights"],"text":%q`, i+1, longName)
	}
	fmt.Fprintf(&b, `{"kind":"sheet.exposed","at":"2026-07-02T10:00:00+02:00","id":"000000000000000000000000000000aa","data":{"picture":"2026-1003","box":"box-1","f":16,"time_s":2,"subject":"taken back"}}`+"\n")
	fmt.Fprintf(&b, `{"kind":"entry.voided","at":"2026-07-02T10:05:00+02:00","data":{"entry":"000000000000000000000000000000aa"}}`+"\n")
	return b.String()
}

func ofUTF16(s string) []byte {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		for _, c := range []byte{byte(u >> 8), byte(u)} {
			if c == '\\' || c == '(' || c == ')' {
				b = append(b, '\\')
			}
			b = append(b, c)
		}
	}
	return b
}

var textAt = regexp.MustCompile(`BT (-?[\d.]+) (-?[\d.]+) Td`)

// onThePage wants every text to begin on the sheet; none is drawn past its own room by the page layer.
func onThePage(t *testing.T, pdf []byte, size string) {
	t.Helper()
	w, h := 595.28, 841.89
	if size == "Letter" {
		w, h = 612, 792
	}
	found := textAt.FindAllSubmatch(pdf, -1)
	require.NotEmpty(t, found)
	for _, m := range found {
		x, err := strconv.ParseFloat(string(m[1]), 64)
		require.NoError(t, err)
		y, err := strconv.ParseFloat(string(m[2]), 64)
		require.NoError(t, err)
		require.True(t, x >= 0 && x <= w && y >= 0 && y <= h, "a text stands at %.0f, %.0f", x, y)
	}
}

func TestHardNamesStandInFull(t *testing.T) {
	b := booktest.FromLines(t, hardLines())
	for _, size := range []string{"A4", "Letter"} {
		t.Run(size, func(t *testing.T) {
			pdf := logOf(t, b, export.Scope{}, pages.LogOptions{Size: size, Uncompressed: true})
			onThePage(t, pdf, size)
			for _, number := range []string{"2026-998", "2026-999", "2026-1000", "2026-1001", "2026-1002", "p9"} {
				require.Contains(t, string(pdf), string(ofUTF16(number)), number)
			}
			for _, word := range []string{"choir", "λιμάνι", "причала"} { // the last words of what is long
				require.Contains(t, string(pdf), string(ofUTF16(word)), word)
			}
			require.NotContains(t, string(pdf), string(ofUTF16("taken back")))
			require.NotContains(t, string(pdf), string(ofUTF16("not printable")))
			require.Equal(t, 9, bytes.Count(pdf, ofUTF16("Redo")))
		})
	}
}

func TestAPictureOfNinePrintsHasItsPage(t *testing.T) {
	b := booktest.FromLines(t, hardLines())
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		o := pages.LogOptions{Created: booktest.Recorded, Uncompressed: true}
		pdf, err := pages.PicturePage(tx, booktest.Recorded, "2026-998", pages.PictureOptions{LogOptions: o, Why: []string{longName}})
		require.NoError(t, err)
		onThePage(t, pdf, "A4")
		for i := range 9 {
			require.Contains(t, string(pdf), string(ofUTF16(fmt.Sprintf("2026-998p%d", i+1))))
		}
		pdf, err = pages.PicturePage(tx, booktest.Recorded, "2026-1002", pages.PictureOptions{LogOptions: o})
		require.NoError(t, err)
		require.NotContains(t, string(pdf), string(ofUTF16("Why it came")))
		_, err = pages.PicturePage(tx, booktest.Recorded, "2026-777", pages.PictureOptions{LogOptions: o})
		var no *wording.Refusal
		require.ErrorAs(t, err, &no)
		return nil
	}))
}

const withScan = `{"kind":"sheet.attached","at":"2026-06-07T10:00:00+02:00","data":{"sheet":"2026-001n","sha256":"DIGEST","media":"image/jpeg","bytes":1000,"of":"negative"}}
{"kind":"sheet.attached","at":"2026-06-07T10:01:00+02:00","data":{"sheet":"2026-001p1","sha256":"DIGEST","media":"image/jpeg","bytes":1000,"of":"print"}}
`

func TestScansStandWhereTheyAreKnown(t *testing.T) {
	var picture bytes.Buffer
	img := image.NewGray(image.Rect(0, 0, 60, 80))
	for i := range img.Pix {
		img.Pix[i] = color.Gray{Y: uint8(i)}.Y
	}
	require.NoError(t, jpeg.Encode(&picture, img, nil))
	b := booktest.FromLines(t, booktest.CaseLines(t, "good-picture")+strings.ReplaceAll(withScan, "DIGEST", strings.Repeat("ab", 32)))
	for _, c := range []struct {
		name   string
		thumb  func(string) ([]byte, bool)
		kept   bool
		images int
		says   string
	}{
		{"drawn", func(string) ([]byte, bool) { return picture.Bytes(), true }, false, 2, ""},
		{"no small picture", func(string) ([]byte, bool) { return nil, false }, true, 0, "kept without a small picture: "},
		{"nor an original", func(string) ([]byte, bool) { return nil, false }, false, 0, "scan not at hand: "},
		{"not a picture", func(string) ([]byte, bool) { return []byte("no jpeg"), true }, true, 0, "scan unreadable: tones predicted"},
		{"nobody to ask", nil, true, 0, "scan not at hand: tones predicted"},
	} {
		t.Run(c.name, func(t *testing.T) {
			kept := func(x *events.SheetAttachedData) bool { return x.Media == "image/jpeg" && c.kept }
			pdf := logOf(t, b, export.Scope{}, pages.LogOptions{Thumb: c.thumb, Kept: kept, Uncompressed: true})
			require.Equal(t, c.images, bytes.Count(pdf, []byte(" Do Q")))
			if c.says != "" {
				require.Equal(t, 2, bytes.Count(pdf, ofUTF16(c.says)))
			}
			if c.name == "no small picture" {
				told := eventstest.PDFStructure(pdf)
				require.Regexp(t, `kept without a small picture: 2026-001n\.jpg, image/jpeg, 1 kB; tones predicted`, told)
				require.Regexp(t, `kept without a small picture: 2026-001p1\.jpg, image/jpeg, 1 kB; tones predicted`, told)
			}
			require.Equal(t, pdf, logOf(t, b, export.Scope{}, pages.LogOptions{Thumb: c.thumb, Kept: kept, Uncompressed: true}))
		})
	}
}

// The page of a picture, and the log where it is asked to, take a scan from the original, as fine as paper shows where it is
// drawn, and from the small picture where the original is not as it was.
func TestScansAreAsFineAsPaper(t *testing.T) {
	for name, c := range map[string]struct {
		draw func(*sqlite.Tx, pages.LogOptions) ([]byte, error)
		over float64 // pixels
	}{
		"the page of a picture": {func(tx *sqlite.Tx, o pages.LogOptions) ([]byte, error) {
			return pages.PicturePage(tx, booktest.Recorded, "2026-001", pages.PictureOptions{LogOptions: o})
		}, 900},
		"the log": {func(tx *sqlite.Tx, o pages.LogOptions) ([]byte, error) {
			return pages.Log(tx, booktest.Recorded, export.Scope{}, o)
		}, 500},
	} {
		t.Run(name, func(t *testing.T) { scansAreFine(t, c.draw, c.over) })
	}
}

func scansAreFine(t *testing.T, draw func(*sqlite.Tx, pages.LogOptions) ([]byte, error), over float64) {
	line, original := scanOf(t, "2026-001p1", 2400, 1800)
	var small bytes.Buffer
	require.NoError(t, jpeg.Encode(&small, image.NewGray(image.Rect(0, 0, 400, 300)), nil))
	b := booktest.FromLines(t, booktest.CaseLines(t, "good-picture")+line)
	finest := func() (pixels, perInch float64) {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			pdf, err := draw(tx, pages.LogOptions{Created: booktest.Recorded, Uncompressed: true,
				Thumb: func(string) ([]byte, bool) { return small.Bytes(), true },
				Original: func(digest string) *export.Scan {
					assert.Equal(t, original.Data.SHA256, digest)
					return original
				}})
			require.NoError(t, err)
			m := regexp.MustCompile(`/Subtype /Image\s+/Width (\d+)`).FindSubmatch(pdf)
			require.NotNil(t, m)
			pixels, _ = strconv.ParseFloat(string(m[1]), 64)
			width, err := strconv.ParseFloat(drawnImage.FindStringSubmatch(string(pdf))[1], 64)
			perInch = pixels / width * 72
			return err
		}))
		return pixels, perInch
	}
	pixels, perInch := finest()
	require.Greater(t, pixels, over)
	require.InDelta(t, 300, perInch, 2)
	require.NoError(t, os.WriteFile(original.Path, []byte("another"), 0o600))
	pixels, _ = finest()
	require.Equal(t, 400.0, pixels)
}

func TestLabelsOfASessionAreOfThePrintsMadeInIt(t *testing.T) {
	lines := booktest.CaseLines(t, "print-wrong-aperture")
	first := strings.SplitN(lines, `"session":"`, 2)[1]
	first = first[:strings.Index(first, `"`)]
	b := booktest.FromLines(t, lines+`{"kind":"session.opened","at":"2026-06-20T10:00:00+02:00","data":{"session":"later","camera":"`+cameraIn(lines)+`"}}
{"kind":"sheet.toned","at":"2026-06-20T10:10:00+02:00","data":{"sheet":"2026-001p1","bath":"tone","session":"later"}}
{"kind":"bath.mixed","at":"2026-06-20T10:05:00+02:00","data":{"bath":"tone","role":"toner","name":"brown","volume_ml":500}}
`)
	for session, want := range map[string]int{first: 1, "later": 0} {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			_, n, err := pages.Labels(tx, booktest.Recorded, export.Scope{Session: session}, pages.LabelOptions{Created: booktest.Recorded,
				LabelSheet: pages.LabelSheet{Rows: 8, Cols: 3, Top: 12, Left: 7}})
			if want == 0 {
				require.ErrorContains(t, err, "nothing to label")
				return nil
			}
			require.Equal(t, want, n, session)
			return err
		}))
	}
}

// cameraIn is the camera that lines describe.
func cameraIn(lines string) string {
	_, after, _ := strings.Cut(lines, `"camera":"`)
	name, _, _ := strings.Cut(after, `"`)
	return name
}

// A label has all of its words as long as it has room for them, and no line of it begins or ends with what parts two.
func TestLabelsShortenNothingThatHasRoom(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error { _, err := tx.AddSitter("Mattis and Ylva", ""); return err }))
	booktest.AddActs(t, b, `session.opened 2026-05-02T09:30:00 "session":"day-1","camera":"quay-box"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","box":"box-1","f":8,"time_s":2,"session":"day-1","camera":"quay-box","sitter":"sitter-1","subject":"Nets drying, and the whole of the inner harbour with the ferry, two pilots and a dredger"
sheet.exposed 2026-05-02T10:02:00 "picture":"2026-002","box":"box-1","f":8,"time_s":2,"session":"day-1","camera":"quay-box","sitter":"sitter-1","subject":"The children on the rail"`)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		pdf, _, err := pages.Labels(tx, booktest.Recorded, export.Scope{}, pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 8, Cols: 3, Top: 12, Left: 7},
			Envelopes: true, Created: booktest.Recorded, Uncompressed: true, Sitter: func(string) string { return "Mattis and Ylva" }})
		require.NoError(t, err)
		var lines []string
		for _, w := range wordsOf(t, pdf)[0] {
			lines = append(lines, w.text)
			require.Equal(t, w.text, strings.Trim(w.text, "·… "))
		}
		require.Subset(t, lines, []string{"Nets drying, and the whole of the", "inner harbour with the ferry, two", "pilots and a dredger", "The children on the rail", "Mattis and Ylva", "f/8 2 s · box-1"})
		return nil
	}))
}

// What is in a bottle, and which of several it is, stands in full.
func TestTheLabelOfABottleShortensNothing(t *testing.T) {
	name := "hydroquinone and phenidone print developer after the pilot's own recipe, 1 of 2"
	pdf, err := pages.Bottles([]pages.Bottle{{Name: name, Lines: []string{"developer, 1 l; with the harbour master's water, which is as hard as his ledger, and with nothing else that anybody on the mole can think of, cold", "for 2026-05-02"},
		Cautions: []string{"Irritates skin and eyes, and can make skin sensitive.", "Gloves and goggles; no food or drink near it; out of reach of children. The maker's sheet comes first."}}}, "A4", booktest.Recorded, nil)
	require.NoError(t, err)
	told := eventstest.PDFStructure(pdf)
	require.Contains(t, told, "1 of 2")
	require.Contains(t, told, "can think of, cold")
	require.Contains(t, told, "comes first.")
	require.NotContains(t, told, "…")
}

func TestLabelsKeepToTheirSheet(t *testing.T) {
	b := booktest.FromLines(t, hardLines())
	labels := func(o pages.LabelOptions) ([]byte, int, error) {
		var pdf []byte
		var n int
		o.Created, o.Uncompressed = booktest.Recorded, true
		err := b.Read(func(tx *sqlite.Tx) (err error) {
			pdf, n, err = pages.Labels(tx, booktest.Recorded, export.Scope{}, o)
			return err
		})
		return pdf, n, err
	}
	for _, c := range []struct {
		name  string
		o     pages.LabelOptions
		n     int
		pages int
	}{
		{"one a print", pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 8, Cols: 3, Top: 12, Left: 7, GapX: 3}}, 9, 1},
		{"used ones skipped", pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 4, Cols: 2, Top: 12, Left: 7, Skip: 7}}, 9, 2},
		{"more skipped than a sheet has", pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 4, Cols: 2, Top: 12, Left: 7, Skip: 8}}, 9, 2},
		{"envelopes, small", pages.LabelOptions{LabelSheet: pages.LabelSheet{Size: "Letter", Rows: 20, Cols: 4, Top: 10, Left: 8}, Envelopes: true}, 5, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			pdf, n, err := labels(c.o)
			require.NoError(t, err)
			require.Equal(t, c.n, n)
			require.Equal(t, c.pages, bytes.Count(pdf, []byte("/Type /Page\n")))
			onThePage(t, pdf, c.o.Size)
		})
	}
	for name, c := range map[string]struct {
		sheet pages.LabelSheet
		says  string
	}{
		"no rows":       {pages.LabelSheet{Cols: 3}, "a label sheet of 0 rows and 3 columns cannot be"},
		"too many":      {pages.LabelSheet{Rows: 60, Cols: 3}, "a label would be "},
		"all margin":    {pages.LabelSheet{Rows: 1, Cols: 1, Left: 104}, "a label would be "},
		"below nothing": {pages.LabelSheet{Rows: 8, Cols: 3, Top: -1}, "margins, gaps and labels to skip cannot be below 0"},
		"no such paper": {pages.LabelSheet{Rows: 8, Cols: 3, Size: "B5"}, "B5"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := labels(pages.LabelOptions{LabelSheet: c.sheet})
			require.ErrorContains(t, err, c.says)
			require.True(t, wording.Refused(err))
		})
	}
	t.Run("nothing to label", func(t *testing.T) {
		empty := booktest.FromLines(t, booktest.TwoYears[:strings.Index(booktest.TwoYears, `{"kind":"session`)])
		require.NoError(t, empty.Read(func(tx *sqlite.Tx) error {
			_, _, err := pages.Labels(tx, booktest.Recorded, export.Scope{}, pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 8, Cols: 3}, Created: booktest.Recorded})
			require.ErrorContains(t, err, "nothing to label")
			return nil
		}))
	})
}
