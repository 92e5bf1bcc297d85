package page

import (
	"fmt"
	"strconv"
)

// A document tells what stands on its pages in the order in which it is drawn (ISO 32000-1, 14.7 and 14.8), so that it can
// be read to who does not see it: a text is a paragraph, or a heading by its Type; a table has its rows and heads; a picture,
// a chart, a scale, a code says in words what it shows. Lines, boxes and greys that belong to none of these, running heads
// and feet are decoration and are not told.

// An element is one part of the structure.
type element struct {
	kind string // a standard structure type
	alt  string // what stands there in words, for a figure
	box  Rect   // of a figure, on its page
	page int    // of its first content; of a figure the page of its box
	cell string // attributes of a table's cell, as they stand in the document
	up   *element
	kids []kid

	object int // its number in the document, once that is written; 0 where it is left out
}

// A kid is another element, or one of the contents of a page, or one of its links.
type kid struct {
	element *element
	page    int
	number  int // among the contents, or the links, of the page, from 0
	link    bool
}

// decoration takes the ink that is not told.
var decoration = &element{kind: "Artifact"}

// structure is what a document tells, while it is drawn.
type structure struct {
	root, at *element           // the whole, and the element that the next ones stand in
	leaf     *element           // takes the ink; nil where each text is a paragraph and loose ink is decoration
	open     *element           // whose marked content stands open on the page
	marks    map[int][]*element // by page, each of its contents
	links    map[int][]*element // by page, each of its links
	headings []int              // levels of those that the next one may stand under
}

func newStructure() structure {
	root := &element{kind: "Document"}
	return structure{root: root, at: root, marks: map[int][]*element{}, links: map[int][]*element{}}
}

// add makes an element at the end of the open one.
func (s *structure) add(kind string) *element {
	e := &element{kind: kind, up: s.at}
	s.at.kids = append(s.at.kids, kid{element: e})
	return e
}

// with sets the attributes of a table's cell; nil has none.
func (e *element) with(attributes string) {
	if e != nil {
		e.cell = attributes
	}
}

// takesTexts says of the element that takes the ink that it may hold several texts, of which each is told behind the last.
func (e *element) takesTexts() bool { return e != nil && (e.kind == "P" || e.kind == "Link") }

// into has step draw into an element.
func (s *structure) into(e *element, step func()) {
	leaf := s.leaf
	s.leaf = e
	step()
	s.leaf = leaf
}

// told has step draw a new element, which it returns. What is drawn as part of another, or as decoration, is no element of
// its own: then it returns nil.
func (s *structure) told(kind string, step func()) *element {
	if s.leaf != nil {
		step()
		return nil
	}
	e := s.add(kind)
	s.into(e, step)
	return e
}

// under has step make elements that stand in a new one, which it returns; nil as with told.
func (s *structure) under(kind string, step func()) *element {
	if s.leaf != nil {
		step()
		return nil
	}
	at, e := s.at, s.add(kind)
	s.at = e
	step()
	s.at = at
	return e
}

// kindOf is what a text is: a heading stands directly under the last one of an outer level, whatever levels lie between,
// since a reader goes from heading to heading.
func (s *structure) kindOf(t Type) string {
	if t.Level == 0 || s.leaf != nil {
		return "P"
	}
	for len(s.headings) > 0 && s.headings[len(s.headings)-1] >= t.Level {
		s.headings = s.headings[:len(s.headings)-1]
	}
	s.headings = append(s.headings, t.Level)
	return fmt.Sprintf("H%d", len(s.headings))
}

// linked notes the element of a link that has just been placed; nil makes one without words.
func (d *Doc) linked(e *element) {
	if e == nil {
		e = d.add("Link")
	}
	e.kids = append(e.kids, kid{page: d.page, number: len(d.links[d.page]), link: true})
	d.links[d.page] = append(d.links[d.page], e)
}

// Paragraph makes one paragraph of the texts that step draws, as where a name and its date are set in two types.
func (d *Doc) Paragraph(step func()) { d.told("P", step) }

// Item draws a point of a list, its mark at x and its words further in by indent, on as many lines as they need, and returns
// the y under it. Points that follow each other are one list.
func (d *Doc) Item(x, y, width, indent float64, t Type, mark, s string) float64 {
	at := d.at
	if list := at.last(); list != nil && list.kind == "L" {
		d.at = list
	} else if d.leaf == nil {
		d.at = d.add("L")
	}
	d.under("LI", func() {
		d.told("Lbl", func() { d.Text(x, y, indent, t, mark) })
		d.told("LBody", func() { y = d.Para(x+indent, y, width-indent, t, s, 0) })
	})
	d.at = at
	return y
}

// last is the last element in one, nil for none.
func (e *element) last() *element {
	if len(e.kids) == 0 {
		return nil
	}
	return e.kids[len(e.kids)-1].element
}

// Figure makes one picture of all that step draws within a box of one page, texts included. alt says in words what it
// shows.
func (d *Doc) Figure(box Rect, alt string, step func()) {
	d.figure(box, func() string {
		step()
		return alt
	})
}

// figure is Figure for what knows its words when it is drawn.
func (d *Doc) figure(box Rect, step func() (alt string)) *element {
	var alt string
	e := d.told("Figure", func() { alt = step() })
	if e != nil {
		e.alt, e.box, e.page = alt, box, d.page
	}
	return e
}

// Decoration leaves what step draws out of what is told: a folio, a word that stands there a second time.
func (d *Doc) Decoration(step func()) { d.into(decoration, step) }

// mark sees that what is drawn next is marked as part of the element that takes the ink.
func (d *Doc) mark() {
	e := d.leaf
	if e == nil {
		e = decoration
	}
	if d.open == e {
		return
	}
	d.unmark()
	d.open = e
	if e == decoration {
		d.pdf.RawWriteStr("/Artifact BMC")
		return
	}
	n := len(d.marks[d.page])
	d.marks[d.page] = append(d.marks[d.page], e)
	e.kids = append(e.kids, kid{page: d.page, number: n})
	if e.page == 0 {
		e.page = d.page
	}
	d.pdf.RawWriteStr("/" + e.kind + " <</MCID " + strconv.Itoa(n) + ">> BDC")
}

// unmark ends the marked content of the open page.
func (d *Doc) unmark() {
	if d.open != nil {
		d.pdf.RawWriteStr("EMC")
		d.open = nil
	}
}
