package pages_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

const (
	heldPages = "testdata/pages.txt"
	heldBook  = "testdata/book.txt"
)

// onPages tells what stands on each page of a document: every word and where it stands, in points, and a sum of all other
// strokes; of what is no page, the strokes themselves.
func onPages(pdf []byte) string {
	var b strings.Builder
	for _, object := range eventstest.PDFObjects(pdf) {
		if !strings.Contains(object, " Td (") {
			b.WriteString(object)
			continue
		}
		var other []string
		number, _, _ := strings.Cut(object, ":")
		fmt.Fprintf(&b, "%s:\n", number)
		for _, line := range strings.Split(object, "\n") {
			if rest, words := strings.CutPrefix(line, "BT "); words && strings.Contains(line, " Td (") {
				at, text, _ := strings.Cut(strings.TrimSuffix(rest, " Tj ET"), " Td ")
				fmt.Fprintf(&b, "%s %s\n", at, text)
			} else {
				other = append(other, line)
			}
		}
		fmt.Fprintf(&b, "%d strokes %.6x\n", len(other), sha256.Sum256([]byte(strings.Join(other, "\n"))))
	}
	return b.String()
}

// held are documents, told page by page.
type held struct {
	t   *testing.T
	got strings.Builder
	// told are those of which what a screen reader tells is held in its order; the others are drawn by the same steps.
	told []string
}

// document tells one document, drawn of a book, or of nothing. It is drawn besides with every reading of the book failing
// in its turn.
func (h *held) document(name string, b *sqlite.Book, draw func(src export.Source) ([]byte, error)) {
	const leading = 12 // of a document of many pages, so many parts are held in words; of the others a sum
	t := h.t
	var pdf []byte
	ids := []string{}
	if b == nil {
		var err error
		pdf, err = draw(nil)
		require.NoError(t, err, name)
	} else {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
			if err := tx.Each(func(e events.Entry) error { ids = append(ids, e.ID.String()); return nil }); err != nil {
				return err
			}
			return met.Tear(t, tx, func(r *eventstest.Torn) error {
				drawn, err := draw(tornSource{r, tx})
				if err == nil {
					pdf = drawn
				}
				return err
			})
		}), name)
	}
	require.Empty(t, eventstest.PDFArchival(pdf), name)
	text := onPages(pdf)
	if slices.Contains(h.told, name) {
		text += eventstest.PDFStructure(pdf)
	}
	for i, id := range ids { // an id follows from what is written, so that each new word would move it
		text = strings.ReplaceAll(text, id[:8], fmt.Sprintf("entry%03d", i+1))
	}
	if parts := regexp.MustCompile(`(?m)^\d+:`).FindAllStringIndex(text, -1); strings.HasSuffix(name, "of many pages") {
		leading := leading
		if name != "the log of a year of many pages" {
			leading = 0
		}
		var short strings.Builder
		short.WriteString(text[:parts[leading][0]])
		for i, at := range parts[leading:] {
			end := len(text)
			if next := leading + i + 1; next < len(parts) {
				end = parts[next][0]
			}
			fmt.Fprintf(&short, "%s %.6x\n", text[at[0]:at[1]], sha256.Sum256([]byte(text[at[1]:end])))
		}
		text = short.String()
	}
	fmt.Fprintf(&h.got, "==== %s\n%s", name, text)
}

const spoken = "Ane of the mole"

func sitter(ref string) string { return map[string]string{"sitter-1": spoken}[ref] }

// amendedOuting is an outing with paper and baths that cost something, and what was put right and added behind it.
func amendedOuting(t *testing.T) *sqlite.Book {
	priced := strings.NewReplacer(`"sheets":100,"index":3`, `"sheets":100,"index":3,"cost":250,"currency":"NOK"`, `"capacity_m2":1,"life_h":8`, `"capacity_m2":1,"life_h":8,"cost":30,"currency":"NOK"`)
	outing := booktest.FromActs(t, priced.Replace(booktest.Outing)+`
sheet.judged 2026-05-02T10:41:30 "sheet":"2026-003n","verdict":"reject","symptoms":["all-black"],"text":"the cap was off"
paper.spoiled 2026-05-02T10:42:00 "box":"box-1","sheets":2
sheet.worked 2026-05-02T10:43:00 "sheet":"2026-001p2","how":"spotted"
sheet.tested 2026-05-02T10:44:00 "sheet":"2026-001p2","test":"hypo","result":"trace"
note.written 2026-05-02T10:45:00 "about":"2026-001","text":"the mate blinked"`)
	find := func(kind events.Kind, nth int) (id string) {
		require.NoError(t, outing.Read(func(tx *sqlite.Tx) error {
			return tx.Each(func(e events.Entry) error {
				if e.Kind == kind {
					if nth--; nth == -1 {
						id = e.ID.String()
					}
				}
				return nil
			})
		}))
		return id
	}
	booktest.AddActs(t, outing, `sheet.exposed 2026-05-03T09:40:00 "picture":"2026-005","box":"box-1","f":8,"time_s":6,"session":"lighthouse","camera":"quay-box","subject":"the lamp"
light.metered 2026-05-03T09:45:00 "on":"scene","mode":"incident","lux":9000,"session":"lighthouse","zone_stops":1,"light":"sun","filter":"yellow"
light.metered 2026-05-03T09:50:00 "on":"scene","mode":"reflected","ev":9,"index":100,"session":"lighthouse"
light.metered 2026-05-03T09:55:00 "on":"scene","mode":"reflected","cd_m2":300,"session":"lighthouse"
note.written 2026-05-03T09:56:00 "about":"2026-005","text":"nothing is left of it but this"`)
	booktest.AddActs(t, outing, `entry.voided 2026-05-03T10:00:00 "entry":"`+find(events.SheetExposed, 4)+`"
entry.amended 2026-05-03T10:01:00 "entry":"`+find(events.SheetExposed, 0)+`","set":{"subject":"the mate"}
entry.amended 2026-05-03T10:02:00 "entry":"`+find(events.SheetExposed, 0)+`","set":{"time_s":8}
entry.voided 2026-05-03T10:03:00 "entry":"`+find(events.SheetDried, 0)+`"`)
	return outing
}

// What stands on the log, the labels, the page of a picture, the sheets for the wall is held word by word where it stands: a
// figure, a column or a line moves only where that is meant.
func TestEveryWordStandsWhereItStood(t *testing.T) {
	outing := amendedOuting(t)
	season := booktest.Season(t)
	good := booktest.FromLines(t, booktest.CaseLines(t, "good-picture")+strings.ReplaceAll(withScan, "DIGEST", strings.Repeat("ab", 32)))
	h := held{t: t, told: []string{"the log as of noon", "the page of 2026-001", "labels, envelopes false", "cards", "labels of bottles", "sheets for the wall", "from the scene to the print"}}
	hold := h.document
	o := pages.LogOptions{Created: booktest.Recorded, Head: strings.Repeat("4f", 32), Sitter: sitter}
	letter := o
	letter.Size, letter.Sitter = "Letter", nil
	for name, scope := range map[string]export.Scope{"the log of an outing": {}} {
		hold(name, outing, func(src export.Source) ([]byte, error) { return pages.Log(src, booktest.Recorded, scope, o) })
	}
	hold("the log of one session", outing, func(src export.Source) ([]byte, error) {
		return pages.Log(src, booktest.Recorded, export.Scope{Session: "lighthouse"}, letter)
	})
	hold("the log as of noon", outing, func(src export.Source) ([]byte, error) {
		return pages.Log(src, booktest.Oslo(t, "2026-05-02T10:12:30"), export.Scope{}, letter)
	})
	hold("the log of two years", booktest.FromLines(t, booktest.TwoYears), func(src export.Source) ([]byte, error) {
		return pages.Log(src, booktest.Recorded, export.Scope{Year: 2026}, letter)
	})
	hold("the log of a year of many pages", season, func(src export.Source) ([]byte, error) {
		return pages.Log(src, booktest.Recorded, export.Scope{Year: 2026}, letter)
	})
	hold("the log with scans", good, func(src export.Source) ([]byte, error) { return pages.Log(src, booktest.Recorded, export.Scope{}, o) })
	hold("the log of hard names", booktest.FromLines(t, hardLines()), func(src export.Source) ([]byte, error) {
		return pages.Log(src, booktest.Recorded, export.Scope{}, letter)
	})
	rare := booktest.FromActs(t, booktest.RareDay)
	hold("the log of rare things", rare, func(src export.Source) ([]byte, error) { return pages.Log(src, booktest.Recorded, export.Scope{}, o) })
	hold("the log of rare things as of their noon", rare, func(src export.Source) ([]byte, error) {
		return pages.Log(src, booktest.Oslo(t, "2026-05-02T12:00:00"), export.Scope{Picture: "2026-003"}, letter)
	})
	hold("labels of rare things", rare, func(src export.Source) ([]byte, error) {
		pdf, _, err := pages.Labels(src, booktest.Recorded, export.Scope{}, pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 8, Cols: 3, Top: 12, Left: 7}, Created: booktest.Recorded, Sitter: sitter})
		return pdf, err
	})
	// More prints than a row holds, and than a page does; more boxes, baths and readings than one does.
	var often, much strings.Builder
	for n := range 31 {
		at := func(minute int) string { return fmt.Sprintf("2026-05-02T%02d:%02d:00", 11+n/6, n%6*10+minute) }
		fmt.Fprintf(&often, `
sheet.reprinted %s "picture":"2026-001","box":"box-1","f":11,"time_s":%d,"session":"mole","camera":"quay-box"
sheet.developed %s "sheet":"2026-001p%d","bath":"dev-1","time_s":60,"session":"mole"
sheet.judged %s "sheet":"2026-001p%d","verdict":"redo","symptoms":["too-dark","flat"],"stops":0.5`, at(0), 10+n, at(1), n+1, at(2), n+1)
		fmt.Fprintf(&much, `
paper.received 2026-05-01T09:%02d:00 "box":"more-%d","name":"pier paper","base":"fb","width_mm":90,"height_mm":120,"sheets":%d,"index":2
paper.spoiled 2026-05-01T10:%02d:00 "box":"more-%d","sheets":%d
bath.mixed 2026-05-01T11:%02d:00 "bath":"stop-%d","role":"stop","name":"sour water","volume_ml":500,"time_s":10
bath.tested 2026-05-01T12:%02d:00 "bath":"stop-%d","test":"temperature","value":%d`, n, n, 10+n, n, n, 1+n%7, n, n, n, n, 15+n%9)
	}
	printed := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate")+often.String())
	hold("the page of a negative printed often, of many pages", printed, func(src export.Source) ([]byte, error) {
		return pages.PicturePage(src, booktest.Recorded, "2026-001", pages.PictureOptions{LogOptions: o})
	})
	for _, boxes := range []int{17, 24, 31} {
		some := strings.Join(strings.Split(much.String(), "\n")[:1+4*boxes], "\n")
		hold(fmt.Sprintf("the log of %d boxes, of many pages", boxes+1), booktest.FromActs(t, booktest.Harbour+some), func(src export.Source) ([]byte, error) {
			return pages.Log(src, booktest.Recorded, export.Scope{}, letter)
		})
	}
	var baths strings.Builder // more than have room in one frame
	for n := range 51 {
		fmt.Fprintf(&baths, `
bath.mixed 2026-05-02T%02d:%02d:00 "bath":"many-%d","role":"developer","name":"print developer","volume_ml":200,"time_s":60,"capacity_m2":0.1`, 11+n/50, n%50, n)
	}
	hold("the log of 53 baths, of many pages", booktest.FromActs(t, booktest.Harbour+baths.String()), func(src export.Source) ([]byte, error) {
		return pages.Log(src, booktest.Recorded, export.Scope{}, letter)
	})
	for _, picture := range []string{"2026-001", "2026-003", "2026-005"} {
		hold("the page of "+picture, outing, func(src export.Source) ([]byte, error) {
			return pages.PicturePage(src, booktest.Recorded, picture, pages.PictureOptions{LogOptions: o, Why: []string{"The negative got 1.17 stops too much.", "Next time: read again."}})
		})
	}
	sheet := pages.LabelSheet{Rows: 8, Cols: 3, Top: 12, Left: 7, GapX: 3, GapY: 1, Skip: 2}
	for _, envelopes := range []bool{false, true} {
		hold(fmt.Sprintf("labels, envelopes %t", envelopes), outing, func(src export.Source) ([]byte, error) {
			pdf, _, err := pages.Labels(src, booktest.Recorded, export.Scope{}, pages.LabelOptions{LabelSheet: sheet, Envelopes: envelopes, Created: booktest.Recorded, Sitter: sitter})
			return pdf, err
		})
	}
	hold("small labels", outing, func(src export.Source) ([]byte, error) {
		pdf, _, err := pages.Labels(src, booktest.Recorded, export.Scope{}, pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 16, Cols: 4, Top: 12, Left: 7}, Created: booktest.Recorded, Sitter: sitter})
		return pdf, err
	})
	hold("cards", outing, func(src export.Source) ([]byte, error) {
		pdf, _, err := pages.Cards(src, booktest.Recorded, export.Scope{}, pages.CardOptions{Created: booktest.Recorded, Sitter: sitter})
		return pdf, err
	})
	hold("labels of bottles", nil, func(export.Source) ([]byte, error) {
		one := pages.Bottle{Name: "rapid fixer, 1 of 2", Lines: []string{"fixer, 1 l, 1+4: 200 ml and 800 ml of water"}, Cautions: []string{strings.Repeat("Never into a drain. ", 40), "Gloves."}}
		return pages.Bottles(slices.Repeat([]pages.Bottle{one}, 11), "A4", booktest.Recorded, nil)
	})
	wall := pages.Wall{Created: booktest.Recorded,
		Baths:    []pages.WallBath{{Name: "dev-1", BathCall: calc.BathCall{NominalS: 60, NominalC: 20, Q10: 2, Used: 0.4}}, {Name: "fix-1", BathCall: calc.BathCall{Fixer: true, NominalS: 120, NominalC: 20, Q10: 2}}},
		Rail:     &pages.WallRail{FocalMM: 135, F: 8, COCMM: 0.2, Pupil: 1},
		Papers:   []pages.WallPaper{{Name: "box-1", Index: 3}},
		Filters:  []pages.WallFilter{{Name: "yellow", Factor: 4}},
		Cautions: []string{"Acid into water, never water into acid."}}
	hold("sheets for the wall", nil, func(export.Source) ([]byte, error) { return wall.PDF() })
	curve := func(r float64) calc.Curve {
		c, err := calc.NewCurve(2, r, calc.DefaultDmin, calc.DefaultDmaxGlossy)
		require.NoError(t, err)
		return c
	}
	tones := calc.TwoGenerations{Neg: calc.NewSheet(curve(110), calc.CameraFlare), Print: calc.NewSheet(curve(160), calc.CopyFlare)}
	tones.Neg.ExposureStops, tones.Neg.PreFlashShare = 0.7, 0.5
	tones.Print.ExposureStops, tones.Print.PreFlashShare = -0.4, 0.6
	hold("from the scene to the print", nil, func(export.Source) ([]byte, error) {
		return pages.Quadrants{Created: booktest.Recorded, Tones: tones, Words: "paper of P 500"}.PDF()
	})
	eventstest.Hold(t, heldPages, h.got.String())
}

// So does what stands in a book of pictures, in each of its sizes, with plates and without.
func TestEveryWordOfABookStandsWhereItStood(t *testing.T) {
	h := held{t: t, told: []string{"an outing"}}
	hold := func(name, size string, b *sqlite.Book, scans ...*export.Scan) {
		o := pages.BookOptions{LogOptions: pages.LogOptions{Created: booktest.Recorded, Uncompressed: true, Size: size, Sitter: sitter}}
		o.Original = func(digest string) *export.Scan {
			if i := slices.IndexFunc(scans, func(s *export.Scan) bool { return s.Data.SHA256 == digest }); i >= 0 {
				return scans[i]
			}
			return nil
		}
		h.document(name, b, func(src export.Source) ([]byte, error) {
			var out bytes.Buffer
			err := pages.YearBook(src, booktest.Recorded, export.Scope{}, o, &out)
			return out.Bytes(), err
		})
	}
	outing := amendedOuting(t)
	hold("an outing", "A5", outing)
	hold("an outing, A4, of many pages", "A4", outing)
	hold("rare things", "Letter", booktest.FromActs(t, booktest.RareDay))
	hold("two years, of many pages", "A5", booktest.FromLines(t, booktest.TwoYears))
	hold("a season, of many pages", "A5", booktest.Season(t))
	hold("hard names, of many pages", "A4", booktest.FromLines(t, hardLines()))
	// Where the sun neither sets nor rises; over midnight; with a remark; without a session; more readings than a page holds; sheets larger than it.
	var readings strings.Builder
	for n := range 60 {
		fmt.Fprintf(&readings, "light.metered 2026-06-20T11:%02d:00 \"on\":\"scene\",\"mode\":\"incident\",\"lux\":%d,\"session\":\"cape\"\n", n, 9000+100*n)
	}
	hold("north", "A5", booktest.FromActs(t, `book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
paper.received 2026-05-01T08:01:00 "box":"box-1","name":"Harbour","base":"rc","width_mm":240,"height_mm":300,"sheets":99,"index":4
paper.received 2026-05-01T08:02:00 "box":"box-2","name":"Harbour","base":"rc","width_mm":150,"height_mm":100,"sheets":99,"index":4
session.opened 2026-06-20T11:00:00 "session":"cape","place":"The cape","lat":71.1,"lon":25.8,"sky":"clear","text":"the ferry waited"
`+readings.String()+`sheet.exposed 2026-06-20T12:00:00 "picture":"2026-001","box":"box-1","f":16,"time_s":2,"session":"cape"
sheet.exposed 2026-06-20T12:05:00 "picture":"2026-002","box":"box-2","f":16,"time_s":2,"session":"cape"
sheet.exposed 2026-06-20T12:10:00 "picture":"2026-003","box":"box-1","f":16,"time_s":2,"session":"cape"
session.closed 2026-06-21T01:00:00 "session":"cape"
sheet.exposed 2026-06-21T12:00:00 "picture":"2026-004","box":"box-1","f":16,"time_s":4
sheet.exposed 2026-06-21T12:10:00 "picture":"2026-005","box":"box-1","f":16,"time_s":4
sheet.exposed 2026-06-21T12:20:00 "picture":"2026-006","box":"box-1","f":16,"time_s":4
session.opened 2026-12-20T11:00:00 "session":"polar","place":"The cape","lat":71.1,"lon":25.8,"sky":"dark","text":"by lamp"
sheet.exposed 2026-12-20T12:00:00 "picture":"2026-007","box":"box-2","f":8,"time_s":40,"session":"polar"
session.opened 2026-12-22T11:00:00 "session":"quay","place":"The quay","text":"by lamp, too"
sheet.exposed 2026-12-22T12:00:00 "picture":"2026-008","box":"box-2","f":8,"time_s":40,"session":"quay"`))
	for _, w := range []int{600, 1100} { // upright, and across
		line, scan := scanOf(t, "2026-001p1", w, 800)
		hold(fmt.Sprintf("a plate %d wide", w), "A5", booktest.FromLines(t, booktest.CaseLines(t, "good-picture")+line), scan)
	}
	eventstest.Hold(t, heldBook, h.got.String())
}
