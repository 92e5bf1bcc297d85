package pages

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// BookOptions say how a book of pictures is printed. Of LogOptions the size may be A5 too; without originals there are no plates.
type BookOptions struct {
	LogOptions
	Title string // "" is the year, or the years
	// Plates keeps the plates until the book is written; nil is memory.
	Plates interface {
		io.Writer
		io.ReaderAt
	}
}

var noPictures = wording.Refuses("no-pictures", "there is no picture in {scope}", "a book needs one: choose another year, or leave --year out")

// yearBook is a book of pictures while it is drawn: pages to read and to give away, a picture a spread, in two halves that
// mirror each other.
type yearBook struct {
	*logBook
	form
	o        BookOptions
	title    string
	contents [][]flowLine // by page
	chapters []*chapter
	plates   chan plateJob
	// What the back matter needs, gathered while the pictures are told.
	terms       map[string]map[string][]int // pages by term by kind
	camerasUsed map[string]bool
}

// chapter is one session, or several with little in them, under one opening on two pages.
type chapter struct {
	groups []*logGroup
	page   int // its left side
}

// notes are the pictures of a chapter in their order.
func (c *chapter) notes() (out []*pictureNote) {
	for _, g := range c.groups {
		out = append(out, g.notes...)
	}
	return out
}

// YearBook draws a book of pictures and writes it: front matter, an opening of each session with its light, a spread for
// each picture with the plate at its true size, papers and baths, an index. The same book and options give the same bytes.
func YearBook(src export.Source, asOf time.Time, scope export.Scope, o BookOptions, w io.Writer) error {
	b, err := newLogBook(src, asOf, scope, o.LogOptions)
	if err != nil {
		return err
	}
	if err := b.survey(); err != nil {
		return err
	}
	if len(b.all) == 0 {
		return noPictures.Refuse(scope.String())
	}
	k := &yearBook{logBook: b, o: o, form: formOf(o.Size), title: o.Title, plates: make(chan plateJob, 2)}
	if k.title == "" {
		k.title = k.years()
	}
	b.doc = page.New(page.Options{
		Size: o.Size, Margin: k.outer, Title: k.title, Author: b.owner, Created: o.Created, Uncompressed: o.Uncompressed, Faces: o.Faces,
		Subject: "pictures at their true size, with how each was made", Pictures: o.Plates, NoteAt: k.noteAt,
	})
	if err := b.doc.Err(); err != nil {
		return err
	}
	k.plan()
	if err := b.drawWhile(k.tell); err != nil {
		return err
	}
	return b.doc.Finish(w)
}

// years calls the book by the years of its pictures.
func (k *yearBook) years() string {
	first, last := k.all[0].at.Year(), k.all[0].at.Year()
	for _, n := range k.all {
		first, last = min(first, n.at.Year()), max(last, n.at.Year())
	}
	switch {
	case k.chosen.Scope.Year != 0:
		return fmt.Sprintf("The year %d", k.chosen.Scope.Year)
	case first == last:
		return fmt.Sprintf("The year %d", first)
	}
	return fmt.Sprintf("The years %d%s%d", first, wording.Dash, last)
}

// The bounds of a chapter: a session with so many pictures has one to itself, no more sessions share one, and no more
// pictures have room on its opening.
const (
	ownChapter   = 3
	mostSessions = 4
	mostPictures = 24
)

// plan parts the sessions into chapters and gives every chapter and picture its pages, so that what stands before them
// can name them.
func (k *yearBook) plan() {
	for _, g := range k.groups {
		if len(g.notes) == 0 {
			continue
		}
		last := len(k.chapters) - 1
		if last >= 0 && len(g.notes) < ownChapter {
			if c := k.chapters[last]; len(c.notes()) < ownChapter && len(c.groups) < mostSessions {
				c.groups = append(c.groups, g)
				continue
			}
		}
		for from := 0; from < len(g.notes); from += mostPictures {
			part := &logGroup{session: g.session, notes: g.notes[from:min(len(g.notes), from+mostPictures)]}
			k.chapters = append(k.chapters, &chapter{groups: []*logGroup{part}})
		}
	}
	const before = 4 // half title, the year, title, how to read
	k.contents = k.tableOfContents()
	at := before + len(k.contents) + 1
	for _, c := range k.chapters {
		c.page = at
		at += 2
		for _, n := range c.notes() {
			n.page = at
			at += 2
		}
	}
}

// tell goes through the book and hands on what is to be drawn of it. Plates are made on the way, one at a time.
func (k *yearBook) tell() error {
	var making sync.WaitGroup
	defer making.Wait()
	defer close(k.plates)
	making.Go(k.makePlates)
	k.steps <- k.frontMatter
	for _, c := range k.chapters {
		if err := k.tellChapter(c); err != nil {
			return err
		}
	}
	colophon, err := k.colophon()
	if err != nil {
		return err
	}
	index, err := k.index()
	if err != nil {
		return err
	}
	k.steps <- func() { k.backMatter(colophon, index) }
	return nil
}

func (k *yearBook) tellChapter(c *chapter) error {
	light := make([][]lightRow, len(c.groups))
	for i, g := range c.groups {
		if g.session == nil {
			continue
		}
		var err error
		if light[i], err = k.readingsOf(g.session); err != nil {
			return err
		}
	}
	var spreads []*spread
	for _, g := range c.groups {
		for _, n := range g.notes {
			k.snap.Tidy()
			s, err := k.tellSpread(n)
			if err != nil {
				return err
			}
			s.head = joined(", ", g.place(), dayOf(n.at))
			k.noteTerms(s, g, c)
			spreads = append(spreads, s)
		}
	}
	k.steps <- func() { k.opening(c, light, spreads) }
	for _, s := range spreads {
		if err := k.askForPlate(s); err != nil {
			return err
		}
		k.steps <- func() {
			k.plate(s)
			k.leaf(s)
		}
	}
	return nil
}

// place is what a session is called: where it was, else its name.
func (g *logGroup) place() string {
	switch {
	case g.session == nil:
		return "Pictures of no session"
	case g.session.Opened != nil && g.session.Opened.Place != "":
		return upper(g.session.Opened.Place)
	}
	return "Session " + g.session.Entity.Name
}

// upper is a text as it begins a line: its first letter in the form that begins a name, which Georgian has none of.
func upper(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	if r == utf8.RuneError {
		return s
	}
	return string(unicode.ToTitle(r)) + s[size:]
}

// sheetWords is a sheet within its picture: the negative, print 2.
func sheetWords(s *snapshot.Sheet) string {
	if n, ok := strings.CutPrefix(s.Part, "p"); ok {
		return "print " + n
	}
	return "the negative"
}

// verdictWords tell what was decided of a sheet.
func verdictWords(j *events.SheetJudgedData) string {
	switch {
	case j == nil:
		return "was not judged"
	case j.Verdict == "keep":
		return "was kept"
	case j.Verdict == "redo":
		return "was to be made again"
	case j.Verdict == "reject":
		return "was rejected"
	}
	return j.Verdict
}

// symptomWords are symptoms as they are read.
func symptomWords(symptoms []string) string { return strings.ReplaceAll(joinWords(symptoms), "-", " ") }
