// Package page draws printed pages: type, lines, greys, tables, small charts
// and pictures on A4, Letter or A6, as a PDF. It knows paper and ink and nothing
// of the notebook, and it is the only package that knows the PDF library.
//
// Lengths are in millimetres from the upper left corner of the sheet, type
// sizes in points, greys from 0 (black) to 1 (white). There is no colour: every
// page must survive a black-and-white printer. The same calls give the same
// bytes, on every run.
//
// A document is PDF/A-2b (ISO 19005-2), and tells what stands on its pages in
// the order in which it is drawn.
//
// Errors stick: after the first one the calls do nothing, and Err and Bytes
// report it.
package page

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/jung-kurt/gofpdf"
)

// Options says what sheet the document stands on and what it is called.
type Options struct {
	Size      string    // "A4" (the default), "Letter", "A5" or "A6"
	Landscape bool      // the long side across
	Margin    float64   // on all four sides, mm; 0 means 15
	Title     string    // the document's title
	Author    string    // may be empty
	Subject   string    // one sentence, may be empty
	Created   time.Time // the time the document stands for; required, since it takes no clock's
	// Footer gives the two ends of the line under each page. Nil leaves it
	// out. See Numbered.
	Footer func(page, pages int) (left, right string)
	// NoNote leaves out the line which says how many characters of a page no
	// face could print; the caller then tells of Unprintable himself.
	NoNote bool
	// NoteAt gives the left end, the upper edge and the width of that line on a page, mm. Nil is under the lower margin.
	NoteAt       func(page int) (x, y, width float64)
	Uncompressed bool // page contents as plain text, for comparison
	// Pictures keeps the pictures until the document is written, so that memory need not hold those of a whole year; nil
	// is memory. It is written to end to end and read at any place.
	Pictures interface {
		io.Writer
		io.ReaderAt
	}
	Faces *Faces // nil for those built in
}

// Numbered is a Footer with a text to the left and "page x of y" to the right.
func Numbered(left string) func(page, pages int) (string, string) {
	return func(page, pages int) (string, string) {
		return left, fmt.Sprintf("page %d of %d", page, pages)
	}
}

// Doc is a document being drawn. Make one with New.
type Doc struct {
	*Faces
	options   Options
	pdf       *gofpdf.Fpdf
	w, h      float64 // of the sheet, mm
	margin    float64
	page      int // 1-based, 0 before the first
	top       float64
	head      func(d *Doc, y float64) float64
	inHead    bool
	chosen    chosen
	added     [faces]bool            // faces that the library has been given
	drawn     [faces][1 << 10]uint64 // of each face the runes that the library has drawn, a bit each
	operator  []byte                 // made last, used again
	below     float64                // height of the sheet as the library has it, mm
	missing   map[int]int            // characters without a glyph, by page
	subsets   map[Face]*subset       // of the faces in which shaped text stands
	images    map[string]laidAside   // by what the library is given in their place
	kept      int64                  // bytes of pictures outside memory
	anchors   map[string]*anchor
	wanted    []string // anchors in the order of first mention
	outlined  int      // level of the last bookmark, -1 before the first
	bookmarks []bookmark
	structure
	err     error
	out     []byte
	written bool
}

// chosen remembers what the open page's content has chosen, so that nothing is chosen twice. Before the first choice a
// grey is -1 and a size or width 0.
type chosen struct {
	page       int
	face       Face
	size       float64
	fill, line int     // greys
	width      float64 // of lines
	dashed     bool
}

// now is what the open page has chosen: nothing when it was turned to.
func (d *Doc) now() *chosen {
	if d.chosen.page != d.page {
		d.chooseAnew()
	}
	return &d.chosen
}

func (d *Doc) chooseAnew() { d.chosen = chosen{page: d.page, fill: -1, line: -1, dashed: true} }

// New begins a document. What is wrong with the options is reported by Err.
func New(options Options) *Doc {
	if options.Faces == nil {
		options.Faces = NewFaces()
	}
	d := &Doc{
		Faces: options.Faces, options: options, margin: options.Margin, outlined: -1,
		missing: map[int]int{}, subsets: map[Face]*subset{}, images: map[string]laidAside{}, anchors: map[string]*anchor{}, structure: newStructure(),
	}
	if d.margin == 0 {
		d.margin = 15
	}
	switch options.Size {
	case "", "A4":
		d.w, d.h = 210, 297
	case "Letter":
		d.w, d.h = 215.9, 279.4
	case "A5":
		d.w, d.h = 148, 210
	case "A6":
		d.w, d.h = 105, 148
	default:
		d.fail(fmt.Errorf("paper size %q is not known: use A4 or Letter", Clean(options.Size)))
		return d
	}
	orientation := "P"
	size := gofpdf.SizeType{Wd: d.w, Ht: d.h}
	if options.Landscape {
		orientation, d.w, d.h = "L", d.h, d.w
	}
	if options.Created.IsZero() {
		d.fail(errors.New("the document has no date: give it the time of the newest entry it shows"))
		return d
	}
	if d.margin < 0 || d.margin > d.w/3 {
		d.fail(fmt.Errorf("a margin of %g mm leaves no room on the sheet: use 0 to %g mm", d.margin, math.Floor(d.w/3)))
		return d
	}
	d.top = d.margin
	d.do("the document", func() {
		d.pdf = gofpdf.NewCustom(&gofpdf.InitType{OrientationStr: orientation, UnitStr: "mm", Size: size})
		_, d.below = d.pdf.GetPageSize()
		d.pdf.SetCatalogSort(true)
		d.pdf.SetCompression(false) // done at the end, for all pages at once
		d.pdf.SetCreationDate(options.Created.UTC())
		d.pdf.SetModificationDate(options.Created.UTC())
		d.pdf.SetProducer(producer, false)
		d.pdf.SetAutoPageBreak(false, 0)
		d.pdf.SetMargins(0, 0, 0)
	})
	return d
}

// Err returns the first error, or nil.
func (d *Doc) Err() error { return d.err }

func (d *Doc) fail(err error) {
	if d.err == nil {
		d.err = err
	}
}

// do runs one drawing step: a panic of the PDF library becomes the
// document's error, and so does an error it keeps.
func (d *Doc) do(what string, step func()) {
	if d.err != nil {
		return
	}
	if d.written {
		d.fail(errors.New("the document is finished: draw before asking for its bytes"))
		return
	}
	defer func() {
		if r := recover(); r != nil {
			d.fail(fmt.Errorf("%s on page %d cannot be drawn: %v", what, d.page, r))
		} else if d.pdf != nil && d.pdf.Err() {
			d.fail(fmt.Errorf("%s on page %d cannot be drawn: %w", what, d.page, d.pdf.Error()))
		}
	}()
	step()
}

// draw is place for a step that leaves ink on the page.
func (d *Doc) draw(what string, lengths []float64, step func()) {
	d.place(what, lengths, func() {
		d.mark()
		step()
	})
}

// place is do for a step that belongs to a page: it opens the first page, and
// refuses lengths that are no numbers or far off any sheet.
func (d *Doc) place(what string, lengths []float64, step func()) {
	for _, v := range lengths {
		if math.IsNaN(v) || math.Abs(v) > 1e5 {
			d.fail(fmt.Errorf("%s on page %d has the position or length %g mm: a number within the sheet is needed", what, d.page, v))
			return
		}
	}
	if d.page == 0 {
		d.NewPage()
	}
	d.do(what, step)
}

// NewPage begins the next page and draws the running head on it, if one is
// set.
func (d *Doc) NewPage() {
	d.do("the page", func() {
		d.unmark()
		d.pdf.AddPage()
		d.page = d.pdf.PageNo()
		d.top = d.margin
	})
	if d.err == nil && d.head != nil && !d.inHead {
		d.inHead = true
		d.Decoration(func() { d.top = d.head(d, d.margin) })
		d.inHead = false
	}
}

// SetHead sets what is drawn at the top of every following page, till it is
// set anew; nil ends it. It is given the upper margin and returns the y under
// what it drew.
func (d *Doc) SetHead(head func(d *Doc, y float64) float64) { d.head = head }

// Page returns the number of the open page, 0 before the first.
func (d *Doc) Page() int { return d.page }

// Sheet returns the whole sheet.
func (d *Doc) Sheet() Rect { return Rect{0, 0, d.w, d.h} }

// Area returns what the margins, and the running head of the open page, leave.
func (d *Doc) Area() Rect {
	return Rect{d.margin, d.top, d.w - 2*d.margin, d.h - d.margin - d.top}
}

// Need returns y if a block of the given height fits between it and the lower
// margin, else it begins a page and returns its top.
func (d *Doc) Need(y, height float64) float64 {
	if d.page > 0 && y+height <= d.h-d.margin+slack {
		return y
	}
	d.NewPage()
	return d.top
}

// Bytes finishes the document and returns it. A second call returns the same
// bytes.
func (d *Doc) Bytes() ([]byte, error) {
	if d.out != nil {
		return d.out, d.err
	}
	var b bytes.Buffer
	if err := d.Finish(&b); err != nil {
		return nil, err
	}
	d.out = b.Bytes()
	return d.out, nil
}

// Finish finishes the document and writes it, once. Pictures that lie outside memory go through it one by one.
func (d *Doc) Finish(w io.Writer) error {
	if d.page == 0 && d.err == nil {
		d.NewPage()
	}
	d.checkAnchors()
	if d.damaged {
		d.fail(errDamaged)
	}
	d.do("the document", d.unmark)
	d.Decoration(d.finishPages)
	d.do("the document", func() {
		var b bytes.Buffer
		if err := d.pdf.Output(&b); err != nil {
			return // kept by the library, reported by do
		}
		p, err := d.complete(b.Bytes())
		if err == nil {
			err = p.write(w)
		}
		if err != nil {
			d.fail(err)
		}
	})
	d.written = true
	return d.err
}

// finishPages writes the lines under the pages, now that their number is
// known.
func (d *Doc) finishPages() {
	pages := d.page
	small := Set(6.5, Regular).In(0.3)
	line := LineHeight(small.Size)
	for n := 1; n <= pages && d.err == nil; n++ {
		d.do("the footer", func() { d.pdf.SetPage(n) })
		d.page = n
		y := d.h - d.margin + math.Min(3, d.margin/4)
		width := d.w - 2*d.margin
		if d.options.Footer != nil {
			left, right := d.options.Footer(n, pages)
			room := math.Min(d.Width(small, right), width*0.6)
			d.Text(d.margin, y, width-room-4, small, left)
			d.Text(d.margin+width-room, y, room, small.Right(), right)
			y += line
		}
		if k := d.missing[n]; k > 0 && !d.options.NoNote {
			note := "%d characters on this page are in no typeface at hand and stand as ▯"
			if k == 1 {
				note = "%d character on this page is in no typeface at hand and stands as ▯"
			}
			x := d.margin
			if d.options.NoteAt != nil {
				x, y, width = d.options.NoteAt(n)
			}
			d.Text(x, y, width, small, fmt.Sprintf(note, k))
		}
		d.do("the footer", d.unmark)
	}
	// The library counts the pages by the one that is open.
	d.do("the document", func() { d.pdf.SetPage(pages) })
	d.page = pages
}
