package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// LogOptions say how the log is printed.
type LogOptions struct {
	Size    string    // A4 or Letter; "" is A4
	Created time.Time // the moment the pages stand for; required, for no clock is asked
	Head    string    // hash of the newest entry, for the foot of each page
	// Thumb gives the small picture of a scan by its digest; nil where there are none.
	Thumb func(sha256 string) (jpeg []byte, ok bool)
	// Kept says whether the original of a scan still stands where it was kept, asked of one without a small picture; nil where
	// that cannot be known.
	Kept func(*events.SheetAttachedData) bool
	// Original finds the original of a scan by its digest, of which its picture is then made as fine as paper shows: at the
	// size of a row a small picture of 400 points has 170 to 300 to the inch. Nil, and one that cannot be read, leave the
	// small one.
	Original func(sha256 string) *export.Scan
	// Sitter gives the name behind a reference, "" where it is not known; nil prints references alone.
	Sitter       func(ref string) string
	Faces        *page.Faces   // nil for those built in
	Uncompressed bool          // page contents as plain text, for comparison
	Beside       export.Source // a second look at the same state of the book, for a year to be added up by two; nil where there is one
}

// Tally is a word with how often it came.
type Tally struct {
	Label string
	Count int
}

// logBook is the log while it is drawn. What is asked of the book is asked first, and drawn by steps that ask nothing, so
// that one processor reads and calculates while another draws.
type logBook struct {
	steps  chan func() // in the order in which they are drawn
	src    export.Source
	o      LogOptions
	chosen *export.Selection
	snap   *snapshot.Snapshot
	doc    *page.Doc
	y      float64 // under what is drawn, mm
	owner  string
	year   *report.YearReport // what the year told came to, nil where none is
	groups []*logGroup
	byName map[string]*pictureNote
	all    []*pictureNote
}

// logGroup is one session with the pictures told under it.
type logGroup struct {
	session *snapshot.Session // nil for pictures of no session
	notes   []*pictureNote
}

// pictureNote is what the summary and the indexes need of a picture, so that the picture itself need not be held.
type pictureNote struct {
	entity  events.Entity
	at      time.Time
	subject string
	sitters []string
	sheets  []sheetNote
	page    int
}

type sheetNote struct {
	part, verdict, state string
	symptoms             []string
}

func newLogBook(src export.Source, asOf time.Time, scope export.Scope, o LogOptions) (*logBook, error) {
	chosen, err := export.Choose(src, asOf, scope)
	if err != nil {
		return nil, err
	}
	owner, err := export.OwnerOf(src)
	return &logBook{src: src, chosen: chosen, snap: chosen.Snap, o: o, owner: owner.Owner, byName: map[string]*pictureNote{}}, err
}

// Log draws the contact sheets of a book: a summary, each session with its light and its pictures, the paper, the
// baths, and indexes. The same book and options give the same bytes.
func Log(src export.Source, asOf time.Time, scope export.Scope, o LogOptions) ([]byte, error) {
	b, err := newLogBook(src, asOf, scope, o)
	if err != nil {
		return nil, err
	}
	if err := b.drawWhile(b.tell); err != nil {
		return nil, err
	}
	return b.doc.Bytes()
}

// drawWhile draws the steps that tell hands on while it goes on telling.
func (b *logBook) drawWhile(tell func() error) error {
	b.steps = make(chan func(), 4)
	drawn := events.Beside(func() {
		defer func() {
			for range b.steps { // a fault of the drawing must not leave the telling waiting
			}
		}()
		for step := range b.steps {
			step()
		}
	})
	err := tell()
	close(b.steps)
	drawn()
	return err
}

// tell goes through what was chosen and hands on what is to be drawn of it.
func (b *logBook) tell() error {
	title := "Log of " + b.chosen.Scope.String()
	b.steps <- func() {
		b.doc = page.New(page.Options{
			Size: b.o.Size, Margin: pageMargin, Title: title, Author: b.owner, Created: b.o.Created, Uncompressed: b.o.Uncompressed, Faces: b.o.Faces,
			Subject: "negatives and prints with the numbers by which they were made",
			Footer:  page.Numbered(footText(title, b.o.Head)),
		})
		b.doc.Open(page.Bold, page.Regular) // while the book is read
	}
	if err := b.survey(); err != nil {
		return err
	}
	if err := b.sumUp(); err != nil {
		return err
	}
	b.steps <- func() { b.titlePage(title) }
	for _, g := range b.groups {
		s, err := b.tellSession(g)
		if err != nil {
			return err
		}
		b.steps <- func() { b.sessionPages(s) }
	}
	b.steps <- b.yearPages
	if err := b.stockPages(); err != nil {
		return err
	}
	if err := b.bathPages(); err != nil {
		return err
	}
	b.steps <- b.indexPages
	return nil
}

// sumUp adds up the year that is told, if one is.
func (b *logBook) sumUp() error {
	year := b.chosen.Scope.Year
	if year == 0 {
		return nil
	}
	var r report.YearReport
	var err error
	if b.o.Beside != nil {
		r, err = report.YearByTwo(b.snap, snapshot.New(b.o.Beside, b.snap.AsOf), year)
	} else {
		r, err = report.Year(b.snap, year, report.Causes(b.snap))
	}
	b.year = &r
	return err
}

const pageMargin = 13 // mm

func footText(title, head string) string {
	if head == "" {
		return title
	}
	return title + " · chain head " + head
}

// survey reads through the chosen pictures once and notes where each will be told.
func (b *logBook) survey() error {
	groups := map[string]*logGroup{}
	err := b.chosen.EachSession(func(s *snapshot.Session) error {
		g := &logGroup{session: s}
		groups[s.Entity.Name] = g
		b.groups = append(b.groups, g)
		return nil
	})
	if err != nil {
		return err
	}
	loose := &logGroup{}
	err = b.chosen.EachPicture(func(p *snapshot.Picture) error {
		n := noteOf(p)
		b.byName[p.Entity.Name] = n
		b.all = append(b.all, n)
		g := groups[p.Session]
		for i := 0; g == nil && i < len(p.All); i++ {
			if c := events.CarriedOf(p.All[i].Data); c != nil {
				g = groups[c.Session]
			}
		}
		if g == nil {
			g = loose
		}
		g.notes = append(g.notes, n)
		return nil
	})
	if err != nil {
		return err
	}
	if len(loose.notes) > 0 {
		b.groups = append(b.groups, loose)
	}
	return nil
}

func noteOf(p *snapshot.Picture) *pictureNote {
	n := &pictureNote{entity: p.Entity, at: p.First, subject: p.Subject}
	if s := p.NegativeSheet(); s != nil && s.Exposure() != nil {
		n.at = s.Exposure().At
	}
	add := func(ref string) {
		if ref != "" && !slices.Contains(n.sitters, ref) {
			n.sitters = append(n.sitters, ref)
		}
	}
	add(p.Sitter)
	for _, e := range p.All {
		if x, ok := e.Data.(*events.SheetDeliveredData); ok {
			add(x.To)
		}
	}
	for _, s := range p.Sheets {
		x := sheetNote{part: s.Part, state: s.State}
		if j := s.Verdict(); j != nil {
			x.verdict, x.symptoms = j.Verdict, j.Symptoms
		}
		n.sheets = append(n.sheets, x)
	}
	return n
}

// sitterName is a reference with the name behind it.
func (o LogOptions) sitterName(ref string) string {
	if ref == "" || o.Sitter == nil {
		return ref
	}
	if name := o.Sitter(ref); name != "" {
		return page.Isolated(name) + " (" + ref + ")"
	}
	return ref
}

// tally counts words and puts the most frequent first, equals by name.
func tally(words []string) []Tally {
	counts := map[string]int{}
	for _, w := range words {
		counts[w]++
	}
	out := make([]Tally, 0, len(counts))
	for w, n := range counts {
		out = append(out, Tally{w, n})
	}
	slices.SortFunc(out, func(a, b Tally) int { return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Label, b.Label)) })
	return out
}

func barsOf(ts []Tally) []page.Bar {
	bars := make([]page.Bar, len(ts))
	for i, t := range ts {
		bars[i] = page.Bar{Label: t.Label, Value: float64(t.Count), Note: fmt.Sprint(t.Count)}
	}
	return bars
}

func dayOf(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2 January 2006")
}

func dateOf(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2006-01-02")
}

// joined writes the parts that are there on one line. One that holds letters which run to the left moves none of the others.
func joined(sep string, parts ...string) string {
	parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
	if len(parts) > 1 {
		for i, s := range parts {
			parts[i] = page.Isolated(s)
		}
	}
	return strings.Join(parts, sep)
}
