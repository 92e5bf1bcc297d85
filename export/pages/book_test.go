package pages_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
	"traybook/projections/wording"
)

// pictureBook draws the book of pictures of a log, page contents as plain text.
func pictureBook(t testing.TB, b *sqlite.Book, scope export.Scope, o pages.BookOptions) ([]byte, error) {
	t.Helper()
	var out bytes.Buffer
	err := b.Read(func(tx *sqlite.Tx) error {
		o.Created, o.Uncompressed = booktest.Recorded, true
		return pages.YearBook(tx, booktest.Recorded, scope, o, &out)
	})
	return out.Bytes(), err
}

var pageContent = regexp.MustCompile(`(?s)<</Length \d+>>\nstream\n(.*?)\nendstream`)

// contents are what stands on each page, the first at 0.
func contents(pdf []byte) (out []string) {
	for _, m := range pageContent.FindAllSubmatch(pdf, -1) {
		if bytes.Contains(m[1], []byte("BT ")) {
			out = append(out, string(m[1]))
		}
	}
	return out
}

// scanOf lays a scan beside nothing, and gives the line that attaches it and where it stands.
func scanOf(t testing.TB, sheet string, w, h int) (string, *export.Scan) {
	t.Helper()
	var b bytes.Buffer
	img := image.NewGray(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = uint8(i % w * 255 / w)
	}
	require.NoError(t, jpeg.Encode(&b, img, nil))
	sum := sha256.Sum256(b.Bytes())
	digest := hex.EncodeToString(sum[:])
	path := filepath.Join(t.TempDir(), "scan.jpg")
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
	line := fmt.Sprintf(`{"kind":"sheet.attached","at":"2026-06-07T10:00:00+02:00","data":{"sheet":%q,"sha256":%q,"media":"image/jpeg","bytes":%d,"of":"print","width_px":%d,"height_px":%d}}`+"\n",
		sheet, digest, b.Len(), w, h)
	return line, &export.Scan{Data: &events.SheetAttachedData{SHA256: digest, Bytes: int64(b.Len())}, Path: path}
}

var drawnImage = regexp.MustCompile(`q ([\d.]+) 0 0 ([\d.]+) `)

// A plate stands at the size of its sheet, whatever the scan's and the page's, and where it cannot the page says so.
func TestAPlateStandsAtItsTrueSize(t *testing.T) {
	const mm = 72 / 25.4
	for _, c := range []struct {
		name          string
		sheet         string // in the lines of the box
		size          string
		w, h          int // of the scan
		spoil         func(t *testing.T, path string)
		wantW, wantH  float64
		says, saysNot string
	}{
		{"small", `"width_mm":90,"height_mm":120`, "A5", 600, 800, nil, 90, 120, "true size", "lying"},
		{"across", `"width_mm":90,"height_mm":120`, "A5", 800, 600, nil, 120, 90, "true size", "lying"},
		{"turned", `"width_mm":120,"height_mm":170`, "A5", 850, 600, nil, 120, 170, "lying on its side", "At "},
		{"larger than the page", `"width_mm":240,"height_mm":300`, "A4", 480, 600, nil, 192, 240, "% of 240 × 300 mm", "true size"},
		{"altered", `"width_mm":90,"height_mm":120`, "A5", 600, 800, func(t *testing.T, path string) {
			require.NoError(t, os.WriteFile(path, []byte("another"), 0o600))
		}, 0, 0, "The scan was altered since it was attached. 90 × 120 mm, true size.", "At "},
		{"gone", `"width_mm":90,"height_mm":120`, "Letter", 600, 800, func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) }, 0, 0, "The scan is not where it was kept.", "At "},
	} {
		t.Run(c.name, func(t *testing.T) {
			line, scan := scanOf(t, "2026-001p1", c.w, c.h)
			lines := regexp.MustCompile(`"width_mm":\d+,"height_mm":\d+`).ReplaceAllString(booktest.CaseLines(t, "good-picture"), c.sheet)
			if c.spoil != nil {
				c.spoil(t, scan.Path)
			}
			b := booktest.FromLines(t, lines+line)
			o := pages.BookOptions{LogOptions: pages.LogOptions{Size: c.size, Original: func(digest string) *export.Scan {
				if digest == scan.Data.SHA256 {
					return scan
				}
				return nil
			}}}
			pdf, err := pictureBook(t, b, export.Scope{}, o)
			require.NoError(t, err)
			again, err := pictureBook(t, b, export.Scope{}, o)
			require.NoError(t, err)
			require.True(t, bytes.Equal(pdf, again))
			all := contents(pdf)
			at := slices.IndexFunc(all, func(s string) bool { return strings.Contains(s, string(ofUTF16("2026-001, print\u00a01 on"))) })
			require.Positive(t, at)
			assert.Equal(t, 1, at%2, "on a left page")
			plate := all[at]
			assert.True(t, strings.Contains(plate, string(ofUTF16(strings.ReplaceAll(c.says, "0 mm", "0\u00a0mm")))), c.says)
			assert.False(t, strings.Contains(plate, string(ofUTF16(c.saysNot))), c.saysNot)
			m := drawnImage.FindStringSubmatch(plate)
			if c.wantW == 0 {
				require.Nil(t, m)
				assert.True(t, strings.Contains(plate, fmt.Sprintf("%.2f -%.2f re S", 90*mm, 120*mm)), "its outline")
				return
			}
			require.NotNil(t, m)
			w, _ := strconv.ParseFloat(m[1], 64)
			h, _ := strconv.ParseFloat(m[2], 64)
			if strings.Contains(c.says, "%") {
				assert.InDelta(t, c.wantW/c.wantH, w/h, 0.01)
				assert.Less(t, h, c.wantH*1.2*mm)
				return
			}
			assert.InDelta(t, c.wantW*mm, w, 0.02)
			assert.InDelta(t, c.wantH*mm, h, 0.02)
		})
	}
}

// Long and foreign words, many prints, a picture without words: all stands on its page, pictures begin on left pages, and
// no page is left all but empty.
func TestABookOfHardNames(t *testing.T) {
	b := booktest.FromLines(t, hardLines())
	for size, sheet := range map[string][2]float64{"A5": {419.53, 595.28}, "A4": {595.28, 841.89}, "Letter": {612, 792}} {
		t.Run(size, func(t *testing.T) {
			pdf, err := pictureBook(t, b, export.Scope{Year: 2026}, pages.BookOptions{LogOptions: pages.LogOptions{Size: size}, Title: "Skerrow by hand"})
			require.NoError(t, err)
			all := contents(pdf)
			for i, content := range all {
				var ys []float64
				for _, m := range textAt.FindAllStringSubmatch(content, -1) {
					x, _ := strconv.ParseFloat(m[1], 64)
					y, _ := strconv.ParseFloat(m[2], 64)
					assert.True(t, x >= 0 && x <= sheet[0] && y >= 0 && y <= sheet[1], "page %d: a text stands at %.0f, %.0f", i+1, x, y)
					ys = append(ys, y)
				}
				slices.Sort(ys)
				if i >= 4 {
					ys = ys[1:] // the page's number
				}
				require.NotEmpty(t, ys, i+1)
				assert.Less(t, ys[0], sheet[1]*2/3, "page %d is less than a third full", i+1)
			}
			for i := range 5 {
				name := fmt.Sprintf("2026-%d", 998+i)
				at := slices.IndexFunc(all, func(s string) bool {
					return strings.Contains(s, string(ofUTF16(name+", the negative"))) || strings.Contains(s, string(ofUTF16(name+", print")))
				})
				assert.Equal(t, 1, at%2, name)
			}
			assert.False(t, strings.Contains(all[2], "("+string(ofUTF16("choir"))), "one word alone under the owner's name")
			for _, word := range []string{"λιμάνι", "причала", "Colophon", "Index", "Skerrow by hand", "4 earlier prints not shown"} {
				assert.True(t, bytes.Contains(pdf, ofUTF16(word)), word)
			}
		})
	}
}

// Sessions with a picture or two share an opening, in words; one with more has its own.
func TestSmallSessionsShareAnOpening(t *testing.T) {
	lines := "book.opened 2026-05-01T08:00:00 \"zone\":\"Europe/Oslo\"\n" +
		"paper.received 2026-05-01T08:01:00 \"box\":\"box-1\",\"name\":\"Harbour\",\"base\":\"rc\",\"width_mm\":90,\"height_mm\":120,\"sheets\":99,\"index\":4"
	n := 0
	for i, pictures := range []int{1, 2, 4, 1} {
		lines += fmt.Sprintf("\nsession.opened 2026-05-%02dT09:00:00 \"session\":\"s-%d\",\"place\":\"Mole %d\",\"lat\":58.84,\"lon\":10.13,\"sky\":\"clear\"", 2+i, i, i)
		for j := range pictures {
			n++
			lines += fmt.Sprintf("\nsheet.exposed 2026-05-%02dT10:%02d:00 \"picture\":\"2026-%03d\",\"box\":\"box-1\",\"f\":16,\"time_s\":2,\"session\":\"s-%d\"", 2+i, j, n, i)
		}
	}
	pdf, err := pictureBook(t, booktest.FromActs(t, lines), export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}})
	require.NoError(t, err)
	all := contents(pdf)
	holds := func(page int, word string) bool { return strings.Contains(all[page-1], string(ofUTF16(word))) }
	const front = 5
	assert.True(t, holds(front+1, "Mole\u00a00") || holds(front+1, "Mole 0"))
	assert.True(t, holds(front+1, "Mole 1"), "shares it")
	assert.False(t, holds(front+1, "Mole 2"))
	assert.True(t, holds(front+1, "The sun rose at "))
	assert.True(t, holds(front+3, "2026-001, the negative"))
	assert.True(t, holds(front+9, "Mole 2"), "after three pictures")
	assert.Len(t, all, front+3*2+8*2+2)
}

func TestABookNeedsAPicture(t *testing.T) {
	b := booktest.FromLines(t, booktest.CaseLines(t, "good-picture"))
	_, err := pictureBook(t, b, export.Scope{Year: 1999}, pages.BookOptions{})
	require.ErrorContains(t, err, "there is no picture in 1999")
	require.True(t, wording.Refused(err))
	_, err = pictureBook(t, b, export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "B5"}})
	require.ErrorContains(t, err, "B5")
	_, err = pictureBook(t, b, export.Scope{}, pages.BookOptions{Plates: full{}, LogOptions: pages.LogOptions{Original: func(string) *export.Scan { return nil }}})
	require.NoError(t, err, "nothing was laid aside")
}

// full has no room for a plate.
type full struct{}

func (full) Write([]byte) (int, error)         { return 0, errors.New("no room") }
func (full) ReadAt([]byte, int64) (int, error) { return 0, errors.New("nothing there") }

// A long saying is cut where its leaf ends, and does not leave the leaf bare.
func TestALongSayingIsCutAndTold(t *testing.T) {
	pdf, err := pictureBook(t, booktest.FromActs(t, longWords()), export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}})
	require.NoError(t, err)
	cut := 0
	for i, content := range contents(pdf) {
		if strings.Contains(content, string(ofUTF16("The log has more."))) {
			shaped := strings.Contains(content, "] TJ ET") // where a saying runs to the left its ellipsis is a glyph
			assert.True(t, shaped || strings.Contains(content, string(ofUTF16("…"))), "page %d", i+1)
			cut++
		}
	}
	require.Positive(t, cut)
}

// What a page tells of characters that no typeface has stands under its number and begins where its text does.
func TestMissingCharactersAreToldUnderThePagesNumber(t *testing.T) {
	b := booktest.FromActs(t, longWords())
	for size, edges := range map[string][2]float64{"A5": {39.69, 56.69}, "A4": {62.36, 85.04}, "Letter": {68.03, 90.71}} {
		pdf, err := pictureBook(t, b, export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: size}})
		require.NoError(t, err)
		told := 0
		for n, words := range wordsOf(t, pdf) {
			for _, w := range words {
				if !strings.Contains(w.text, "in no typeface") {
					continue
				}
				told++
				assert.InDelta(t, edges[(n+1)%2], w.x, 0.01, "%s, page %d", size, n+1)
				at := slices.IndexFunc(words, func(w word) bool { return w.text == fmt.Sprint(n+1) && w.y < 90 })
				if assert.GreaterOrEqual(t, at, 0, "%s, page %d", size, n+1) {
					assert.Less(t, w.y, words[at].y-w.size, "%s, page %d: the number stands on it", size, n+1)
				}
			}
		}
		assert.Greater(t, told, 5, size)
	}
}

// A book is set with apostrophes, one full stop to a quotation, letters as its languages begin a name, and room under a title
// of two lines.
func TestABookIsSetWithCare(t *testing.T) {
	season, err := pictureBook(t, booktest.Season(t), export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A4"}})
	require.NoError(t, err)
	gap := 0.0
	for _, words := range wordsOf(t, season) {
		for i, w := range words {
			if strings.HasPrefix(w.text, "harbour with the Skerrow Maid") && w.size == 18 {
				gap = w.y - words[i+1].y
			}
		}
	}
	assert.Greater(t, gap, 1.4*15, "under a title of two lines")
	text := strings.Join(contents(season), "")
	assert.True(t, strings.Contains(text, string(ofUTF16("The mate’s hands and the bell rope, again"))))
	assert.False(t, strings.Contains(text, string(ofUTF16("mate's"))), "an apostrophe")
	small, err := pictureBook(t, booktest.Season(t), export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}})
	require.NoError(t, err)
	assert.False(t, strings.Contains(strings.Join(contents(small), ""), string(ofUTF16("1 act more"))), "it has room itself where a line has that tells of it")

	b := booktest.FromActs(t, booktest.Harbour+`
session.opened 2026-05-02T09:30:00 "session":"day-1","camera":"quay-box","text":"was it the tide? "
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","box":"box-1","f":8,"time_s":2,"session":"day-1","subject":"გემი ნავსადგურში"
sheet.judged 2026-05-02T10:20:00 "sheet":"2026-001n","verdict":"redo","text":"as it was said... "`)
	pdf, err := pictureBook(t, b, export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}})
	require.NoError(t, err)
	text = strings.Join(contents(pdf), "")
	for _, word := range []string{"“was it the tide?”", "“as it was said...”", "გემი"} {
		assert.True(t, strings.Contains(text, string(ofUTF16(word))), word)
	}
	assert.False(t, strings.Contains(text, string(ofUTF16("▯"))), "Georgian has no capitals that begin a name")
}

// The outline of a plate without a scan lies as the scan of another sheet of its picture.
func TestAnOutlineLiesAsTheNegative(t *testing.T) {
	const mm = 72 / 25.4
	for w, across := range map[int]bool{600: false, 1100: true} {
		line, _ := scanOf(t, "2026-001n", w, 800)
		lines := regexp.MustCompile(`"width_mm":\d+,"height_mm":\d+`).ReplaceAllString(booktest.CaseLines(t, "good-picture"), `"width_mm":90,"height_mm":120`)
		b := booktest.FromLines(t, lines+strings.Replace(line, `"of":"print"`, `"of":"negative"`, 1))
		pdf, err := pictureBook(t, b, export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}})
		require.NoError(t, err)
		all := strings.Join(contents(pdf), "")
		assert.Equal(t, !across, strings.Contains(all, fmt.Sprintf("%.2f -%.2f re S", 90*mm, 120*mm)))
		assert.Equal(t, across, strings.Contains(all, fmt.Sprintf("%.2f -%.2f re S", 120*mm, 90*mm)))
	}
}

// Upright pictures fill the width of an opening as lying ones do, their words on as many lines as have room.
func TestUprightPicturesFillAnOpening(t *testing.T) {
	pdf, err := pictureBook(t, booktest.FromActs(t, longWords()), export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}})
	require.NoError(t, err)
	const right, mm = 148 - 14, 72 / 25.4
	most := 0.0
	for _, m := range regexp.MustCompile(`([\d.]+) [\d.]+ ([\d.]+) -([\d.]+) re S`).FindAllStringSubmatch(contents(pdf)[8], -1) {
		x, _ := strconv.ParseFloat(m[1], 64)
		w, _ := strconv.ParseFloat(m[2], 64)
		h, _ := strconv.ParseFloat(m[3], 64)
		assert.Greater(t, h, w)
		most = max(most, x+w)
	}
	assert.InDelta(t, right*mm, most, 3)
	assert.True(t, strings.Contains(contents(pdf)[8], "("+string(ofUTF16("at the coal steps"))), "words under a picture go on")
}

// A book with little to tell has no page whose words end in its first third.
func TestASmallBookLeavesNoPageBare(t *testing.T) {
	b := booktest.FromActs(t, "book.opened 2026-05-01T08:00:00 \"zone\":\"Europe/Oslo\"\n"+
		"paper.received 2026-05-01T08:01:00 \"box\":\"box-1\",\"name\":\"Harbour\",\"base\":\"rc\",\"width_mm\":90,\"height_mm\":120,\"sheets\":99,\"index\":4\n"+
		`session.opened 2026-05-02T09:00:00 "session":"mole"
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":16,"time_s":2,"session":"mole"`)
	for size, height := range map[string]float64{"A5": 595.28, "A4": 841.89, "Letter": 792} {
		pdf, err := pictureBook(t, b, export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: size}})
		require.NoError(t, err)
		for n, words := range wordsOf(t, pdf) {
			lowest := height
			for _, w := range words {
				if w.text != fmt.Sprint(n+1) {
					lowest = min(lowest, w.y)
				}
			}
			assert.Less(t, lowest, height*2/3, "%s, page %d", size, n+1)
		}
	}
}

// As many pictures as an opening holds stand above the page's number, their own numbers whole.
func TestManyPicturesHaveRoomOnAnOpening(t *testing.T) {
	lines := booktest.Harbour
	for i := range 96 {
		lines += fmt.Sprintf("\nsheet.exposed 2026-05-02T%02d:%02d:00 \"picture\":\"2026-%03d\",\"box\":\"box-1\",\"f\":8,\"time_s\":2,\"session\":\"mole\",\"subject\":\"the pilot boat at the coal steps\"", 10+i/30, i%30, i+1)
	}
	b := booktest.FromActs(t, lines)
	for _, size := range []string{"A5", "A4", "Letter"} {
		pdf, err := pictureBook(t, b, export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: size}})
		require.NoError(t, err)
		openings := 0
		for n, words := range wordsOf(t, pdf) {
			whole, folio, lowest := 0, 0.0, 1000.0
			for _, w := range words {
				switch {
				case w.text == fmt.Sprint(n+1) && w.y < 90:
					folio = w.y
				case strings.HasPrefix(w.text, "2026-") && w.size < 10:
					whole++
					assert.Regexp(t, `^2026-\d\d\d`, w.text, "%s, page %d", size, n+1)
					fallthrough
				default:
					lowest = min(lowest, w.y)
				}
			}
			if whole == 24 && n > 20 { // behind the contents and the first of them
				openings++
				assert.Greater(t, lowest, folio+18, "%s, page %d", size, n+1)
			}
		}
		assert.Equal(t, 3, openings, size)
	}
}

// What was said in a script that runs to the left stands apart from the words before it, on each of its lines.
func TestASayingThatRunsToTheLeftStandsApart(t *testing.T) {
	pdf, err := pictureBook(t, booktest.FromActs(t, booktest.Harbour+`
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","box":"box-1","f":8,"time_s":2,"session":"mole","subject":"boat"
sheet.judged 2026-05-02T10:20:00 "sheet":"2026-001n","verdict":"redo","text":"הסירה הגיעה (f/8) למזח"`), export.Scope{}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}})
	require.NoError(t, err)
	text := contents(pdf)[8]
	said := strings.Index(text, string(ofUTF16("The negative: ")))
	require.Positive(t, said)
	// Within words that run to the left its brackets are theirs; else they would stand with it, and part the words.
	assert.True(t, strings.Contains(text[said:], "("+string(ofUTF16("f/8"))+") Tj"))
}
