package pages_test

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/page"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

// word is a text as it stands on a page: its base line from the lower left corner and its size, points.
type word struct {
	text    string
	x, y    float64
	size, w float64
}

var (
	sizeOf = regexp.MustCompile(`^BT /\S+ ([\d.]+) Tf ET$`)
	wordAt = regexp.MustCompile(`^BT (-?[\d.]+) (-?[\d.]+) Td \((.*)\) Tj ET$`)
)

// wordsOf reads the texts of each page, in the order in which they are drawn, and wants that nothing strikes them out.
func wordsOf(t testing.TB, pdf []byte) (out [][]word) {
	t.Helper()
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return v
	}
	for _, object := range eventstest.PDFObjects(pdf) {
		var words []word
		size := 0.0
		for _, line := range strings.Split(object, "\n") {
			if m := sizeOf.FindStringSubmatch(line); m != nil {
				size = number(m[1])
			} else if m := wordAt.FindStringSubmatch(line); m != nil {
				text := strings.TrimSpace(m[3]) // a line keeps the space at which it was broken
				words = append(words, word{text, number(m[1]), number(m[2]), size, page.NewFaces().Width(page.Set(size, page.Regular), text) * 72 / 25.4})
			}
		}
		if words != nil {
			out = append(out, words)
			assert.Empty(t, crossed(object, words), "words that a slanting line goes through")
		}
	}
	require.NotEmpty(t, out)
	return out
}

var slanting = regexp.MustCompile(`(?m)^(-?[\d.]+) (-?[\d.]+) m (-?[\d.]+) (-?[\d.]+) l S$`)

// crossed are the words of a page that a slanting line goes through, as one that strikes a sheet out.
func crossed(page string, words []word) (out []string) {
	for _, m := range slanting.FindAllStringSubmatch(page, -1) {
		var at [4]float64
		for i := range at {
			at[i], _ = strconv.ParseFloat(m[i+1], 64)
		}
		if at[0] == at[2] || at[1] == at[3] {
			continue
		}
		for _, w := range words {
			const steps = 200
			for i := range steps + 1 {
				along := float64(i) / steps
				x, y := at[0]+along*(at[2]-at[0]), at[1]+along*(at[3]-at[1])
				if x > w.x && x < w.x+w.w && y > w.y && y < w.y+0.6*w.size {
					out = append(out, w.text)
					break
				}
			}
		}
	}
	return out
}

// margin is that of the log's pages, points; what stands below it is the foot line.
const margin = 13 * 72 / 25.4

// wellLaid wants of each page that it is a third full at least, the last one apart, that every title has something under
// it, that no word lies on another and that none leaves the frame.
func wellLaid(t *testing.T, pdf []byte, size string) {
	t.Helper()
	width, height := 595.28, 841.89
	if size == "Letter" {
		width, height = 612, 792
	}
	all := wordsOf(t, pdf)
	for n, words := range all {
		var body []word
		lowest := height
		for _, w := range words {
			if w.y >= margin-1 {
				body = append(body, w)
				lowest = min(lowest, w.y)
			}
			assert.True(t, w.x >= margin-0.5 && w.x+w.w <= width-margin+0.5 && w.y <= height-margin, "page %d: %q leaves the frame: it stands from %.1f to %.1f, at %.1f", n+1, w.text, w.x, w.x+w.w, w.y)
		}
		if n < len(all)-1 {
			assert.LessOrEqual(t, lowest, height-margin-(height-2*margin)/3, "page %d of %d ends in its first third", n+1, len(all))
		}
		for i, w := range body {
			followed := w.size < 9
			for j, other := range body {
				followed = followed || other.y < w.y && other.y > w.y-90
				if j <= i || w.text == "" || other.text == "" {
					continue
				}
				across := min(w.x+w.w, other.x+other.w) - max(w.x, other.x)
				up := min(w.y+0.6*w.size, other.y+0.6*other.size) - max(w.y, other.y)
				assert.False(t, across > 0.5 && up > 0.5, "page %d: %q lies on %q", n+1, w.text, other.text)
			}
			assert.True(t, followed, "page %d: nothing stands under the title %q", n+1, w.text)
		}
	}
}

// longWords is a book of forty pictures in nine scripts, with remarks of one line to three pages.
func longWords() string {
	var b strings.Builder
	b.WriteString(booktest.Harbour)
	subjects := []string{"The ferry at the coal steps", greek, cyrillic, "Վաղինակի նավը նավահանգստում", "გემი ნავსადგურში", "סירה בנמל", "قارب في الميناء", "港のフェリー", "항구의 배"}
	for i := range 40 {
		at := func(minute int) string { return fmt.Sprintf("2026-05-%02dT%02d:%02d:00", 2+i/8, 10+i%8, minute) }
		if i%8 == 0 {
			fmt.Fprintf(&b, "\nsession.opened 2026-05-%02dT09:30:00 \"session\":\"day-%d\",\"camera\":\"quay-box\",\"text\":%q", 2+i/8, i/8, strings.Repeat("the tide was low ", 1+i))
		}
		fmt.Fprintf(&b, "\nsheet.exposed %s \"picture\":\"2026-%03d\",\"box\":\"box-1\",\"f\":8,\"time_s\":2,\"session\":\"day-%d\",\"camera\":\"quay-box\",\"subject\":%q", at(1), i+1, i/8, subjects[i%9])
		said := strings.Repeat(subjects[i%9]+", as it was said at the quay. ", 1+i%7*i)
		said = string([]rune(said)[:min(3999, len([]rune(said)))]) // the most that a text holds
		fmt.Fprintf(&b, "\nsheet.judged %s \"sheet\":\"2026-%03dn\",\"verdict\":\"redo\",\"symptoms\":[\"fogged-highlights\",\"one-side-light\"],\"text\":%q", at(20), i+1, said)
		for p := range i % 4 {
			fmt.Fprintf(&b, "\nsheet.reprinted %s \"picture\":\"2026-%03d\",\"box\":\"box-1\",\"f\":11,\"time_s\":20,\"session\":\"day-%d\",\"camera\":\"quay-box\",\"text\":\"hand timer: %d s over\"", at(30+p), i+1, i/8, p+1)
		}
	}
	for n := range 3 { // days on which nothing was done
		fmt.Fprintf(&b, "\nsession.opened 2026-06-%02dT09:30:00 \"session\":\"idle-%d\",\"camera\":\"quay-box\"", n+1, n)
	}
	return b.String()
}

func TestEveryPageOfTheLogIsWellLaid(t *testing.T) {
	var life strings.Builder
	_, err := eventstest.WriteLife(&life, 100*12, 7)
	require.NoError(t, err)
	for name, b := range map[string]*sqlite.Book{
		"a season": booktest.Season(t), "hard names": booktest.FromLines(t, hardLines()), "long words": booktest.FromActs(t, longWords()),
		"a life": booktest.FromLines(t, life.String()), "two years": booktest.FromLines(t, booktest.TwoYears), "rare things": booktest.FromActs(t, booktest.RareDay),
	} {
		for _, size := range []string{"A4", "Letter"} {
			t.Run(name+" on "+size, func(t *testing.T) {
				for _, scope := range []export.Scope{{}, {Year: 2026}} {
					wellLaid(t, logOf(t, b, scope, pages.LogOptions{Size: size, Uncompressed: true}), size)
				}
			})
		}
	}
}

func TestEveryPageOfAPictureIsWellLaid(t *testing.T) {
	b := booktest.FromLines(t, hardLines())
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		for _, name := range []string{"2026-998", "2026-1002"} {
			o := pages.LogOptions{Created: booktest.Recorded, Uncompressed: true}
			pdf, err := pages.PicturePage(tx, booktest.Recorded, name, pages.PictureOptions{LogOptions: o, Why: []string{longName, strings.Repeat(longName+" ", 30)}})
			require.NoError(t, err)
			wellLaid(t, pdf, "A4")
		}
		return nil
	}))
}

// What a hand timer noted of a time is no remark; a day on which nothing was done is a line.
func TestTheLogTellsWhatWasSaid(t *testing.T) {
	pdf := logOf(t, booktest.FromActs(t, longWords()), export.Scope{}, pages.LogOptions{Uncompressed: true})
	text := strings.Join(eventstest.PDFObjects(pdf), "")
	require.NotContains(t, text, "hand timer")
	require.NotContains(t, text, "fogged-highlights")
	require.Contains(t, text, "fogged highlights")
	require.Contains(t, text, "(n redo, p1 exposed, p2 exposed, p3 exposed)", "the index has room for it on one line")
	for n := range 3 {
		require.Regexp(t, fmt.Sprintf(`idle-%d · [^)]* · nothing was exposed`, n), text)
	}
}

// A name that runs to the left stands behind the number that leads its line, and the numbers behind it keep their places.
func TestANameThatRunsToTheLeftMovesNoNumber(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
session.opened 2026-05-02T09:30:00 "session":"day-1","camera":"quay-box","place":"בנמל"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","box":"box-1","f":8,"time_s":2,"session":"day-1","camera":"quay-box","subject":"סירה"
sheet.judged 2026-05-02T10:20:00 "sheet":"2026-001n","verdict":"redo","text":"סירה, 12 of them"`)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		pdf, err := pages.PicturePage(tx, booktest.Recorded, "2026-001", pages.PictureOptions{LogOptions: pages.LogOptions{Created: booktest.Recorded, Uncompressed: true}})
		require.NoError(t, err)
		var told []string
		for _, w := range wordsOf(t, pdf)[0] {
			if w.text == "2026-001 ·" {
				require.InDelta(t, margin, w.x, 0.1)
			}
			told = append(told, w.text)
		}
		require.Contains(t, told, "2026-001 ·")
		require.Contains(t, strings.Join(told, "\n"), ", 12 of them")
		return nil
	}))
}

// A remark that is written in letters which run to the left keeps its order around what it holds of others: what it begins with
// stands to the right of it, in the log and in the table of a picture.
func TestARemarkThatRunsToTheLeftKeepsItsOrder(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
session.opened 2026-05-02T09:30:00 "session":"day-1","camera":"quay-box"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","box":"box-1","f":8,"time_s":2,"session":"day-1","camera":"quay-box"
sheet.judged 2026-05-02T10:20:00 "sheet":"2026-001n","verdict":"redo","text":"ים abc סירה בנמל סירה בנמל"`)
	behind := page.NewFaces().Width(page.Set(7, page.Regular), "סירה בנמל סירה בנמל") * 72 / 25.4
	o := pages.LogOptions{Created: booktest.Recorded, Uncompressed: true}
	var picture []byte
	require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
		picture, err = pages.PicturePage(tx, booktest.Recorded, "2026-001", pages.PictureOptions{LogOptions: o})
		return err
	}))
	for _, pdf := range [][]byte{picture, logOf(t, b, export.Scope{}, o)} {
		found := 0
		for _, words := range wordsOf(t, pdf) {
			for i, w := range words {
				if w.text == "abc" {
					before := words[i-1]
					require.Regexp(t, `(judged:|redo;)$`, before.text)
					require.InDelta(t, before.x+before.w+behind, w.x, 6)
					found++
				}
			}
		}
		require.Equal(t, 1, found)
	}
}

// The last few entries of a picture do not go to a page of their own: its sheets and its tones stand somewhat lower instead.
func TestAFewEntriesMakeNoPage(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
session.opened 2026-05-02T09:30:00 "session":"day-1","camera":"quay-box"
light.metered 2026-05-02T09:40:00 "on":"scene","mode":"reflected","f":8,"time_s":2,"index":3,"session":"day-1"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","box":"box-1","f":8,"time_s":2,"session":"day-1","camera":"quay-box"`)
	moment := regexp.MustCompile(`^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d$`)
	one, two := 0, 0
	for n := range 45 {
		booktest.AddActs(t, b, fmt.Sprintf(`note.written 2026-05-03T10:%02d:00 "about":"2026-001","text":"seen again"`, n))
		if n < 15 {
			continue
		}
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			pdf, err := pages.PicturePage(tx, booktest.Recorded, "2026-001", pages.PictureOptions{LogOptions: pages.LogOptions{Created: booktest.Recorded, Uncompressed: true}, Why: []string{"It was found good."}})
			require.NoError(t, err)
			drawn := wordsOf(t, pdf)
			rows := 0
			for _, w := range drawn[len(drawn)-1] {
				if moment.MatchString(w.text) {
					rows++
				}
			}
			if len(drawn) == 1 {
				one++
				require.Equal(t, n+2, rows)
			} else {
				two++
				require.Greater(t, rows, 5, "%d entries", n+2)
			}
			return nil
		}))
	}
	require.NotZero(t, one)
	require.NotZero(t, two)
}
