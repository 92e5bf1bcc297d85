package pages

import (
	"errors"
	"fmt"
	"math"
	"os"

	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/export"
	"traybook/export/page"
	"traybook/export/scan"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// How plates go into a book: so fine as paper shows (300 points to the inch, common practice), and with little lost.
const (
	plateDPI     = 300
	plateQuality = 88
)

// spread is what the two pages of a picture tell.
type spread struct {
	toldPicture
	head    string // running head: where and when
	best    *card  // the plate; nil where no sheet counts
	sheet   sheetSize
	turned  bool
	plate   chan madePlate
	acts    []actGroup
	learnt  []saying
	session *snapshot.Session
}

// sheetSize is the paper of a plate in mm, its long side as the scan's lies; 0 where it is not known.
type sheetSize struct{ w, h float64 }

// plateJob is a plate that is to be made of its original.
type plateJob struct {
	original *export.Scan
	longMM   float64
	turned   bool
	kept     string // what is told of an original of which no plate can be made
	made     chan<- madePlate
}

type madePlate struct {
	jpeg    []byte
	missing string // why there is none
}

// plateOf chooses the sheet that stands for a picture: one that was kept before any other, one with a scan before one
// without, a print before the negative, the later print.
func plateOf(cs []card) (best *card) {
	worth := func(c *card) (n int) {
		for i, good := range []bool{c.s.Part != "n", c.scan != nil, c.verdict == "keep"} {
			if good {
				n += 1 << i
			}
		}
		return n
	}
	for i := range cs {
		if best == nil || worth(&cs[i]) >= worth(best) {
			best = &cs[i]
		}
	}
	return best
}

// tellSpread reads what the two pages of a picture tell.
func (k *yearBook) tellSpread(n *pictureNote) (*spread, error) {
	p, err := k.snap.Picture(n.entity.Name)
	if err != nil {
		return nil, err
	}
	cards, err := k.cardsOf(p)
	if err != nil {
		return nil, err
	}
	s := &spread{toldPicture: toldPicture{note: n, p: p, cards: cards}, best: plateOf(cards), plate: make(chan madePlate, 1)}
	if p.Session != "" {
		if s.session, err = wording.IgnoreMissing(k.snap.Session(p.Session)); err != nil {
			return nil, err
		}
	}
	if s.sheet, err = k.sheetOf(s); err != nil {
		return nil, err
	}
	if s.acts, err = k.actsOf(s); err != nil {
		return nil, err
	}
	d, err := why.Why(k.snap, n.entity.Name)
	if err != nil {
		return nil, err
	}
	s.learnt = learntFrom(p, d)
	return s, nil
}

// sheetOf is how large the plate is, lying or upright as its scan, or where it has none, as that of another sheet of the
// picture.
func (k *yearBook) sheetOf(s *spread) (size sheetSize, err error) {
	if s.best == nil {
		return size, nil
	}
	_, box, err := calledfor.PaperAt(k.snap, s.best.s)
	if box, err = wording.IgnoreMissing(box, err); err != nil {
		return size, err
	}
	if box != nil && box.Received != nil {
		size = sheetSize{box.Received.WidthMM, box.Received.HeightMM}
	}
	seen := s.best.pixels()
	for i := range s.cards {
		if seen.w == 0 {
			seen = s.cards[i].pixels()
		}
	}
	if seen.w != seen.h && (seen.w > seen.h) != (size.w > size.h) {
		size = sheetSize{size.h, size.w}
	}
	return size, nil
}

// pixels is the size of a card's scan in pixels; 0 where it has none or does not tell.
func (c *card) pixels() (size sheetSize) {
	if c.scan == nil || c.scan.WidthPX == nil || c.scan.HeightPX == nil {
		return size
	}
	return sheetSize{float64(*c.scan.WidthPX), float64(*c.scan.HeightPX)}
}

// fitted is the part of a box that a small picture of a sheet fills, from the left edge: of the proportions of its scan, else
// of those of the plate.
func (s *spread) fitted(box page.Rect, c card) page.Rect {
	size := c.pixels()
	if size.w <= 0 || size.h <= 0 {
		size = s.sheet
	}
	if c.small == nil && c.original == nil {
		const most = 1.6 // of one side over the other, so that words have room
		size = sheetSize{math.Min(size.w, most*size.h), math.Min(size.h, most*size.w)}
	}
	if size.w <= 0 || size.h <= 0 {
		return box
	}
	scale := math.Min(box.W/size.w, box.H/size.h)
	box.W, box.H = size.w*scale, size.h*scale
	return box
}

// askForPlate has the plate made.
func (k *yearBook) askForPlate(s *spread) error {
	if s.best == nil {
		s.plate <- madePlate{missing: "No sheet of this picture counts any more."}
		return nil
	}
	c := s.best
	at, turned, _ := k.place(s.sheet)
	s.turned = turned
	switch {
	case c.scan == nil:
		s.plate <- madePlate{missing: "No scan of " + sheetWords(c.s) + " was attached."}
	case k.o.Original == nil || k.o.Original(c.scan.SHA256) == nil:
		s.plate <- madePlate{missing: "The scan of " + sheetWords(c.s) + " is not at hand."}
	default:
		kept := "The scan of " + sheetWords(c.s) + " is kept, and cannot be shown: " + originalWords(c.s, c.scan) + "."
		k.plates <- plateJob{k.o.Original(c.scan.SHA256), math.Max(at.W, at.H), turned, kept, s.plate}
	}
	return nil
}

// makePlates makes one plate after another, so that memory holds one picture.
func (k *yearBook) makePlates() {
	for job := range k.plates {
		jpeg, err := makePlate(job)
		made := madePlate{jpeg: jpeg}
		switch {
		case errors.Is(err, errUnseen):
			made.missing = job.kept
		case err != nil:
			made.missing = upper(err.Error()) + "."
		}
		job.made <- made
	}
}

var errUnseen = errors.New("the scan cannot be shown, for its file is of a sort that is only kept, or too large")

// makePlate reads an original and makes it as fine as the paper shows at its size.
func makePlate(job plateJob) ([]byte, error) {
	s := *job.original
	if err := s.Look(); err != nil {
		return nil, fmt.Errorf("the scan cannot be read")
	}
	switch s.State {
	case export.ScanMissing:
		return nil, fmt.Errorf("the scan is not where it was kept")
	case export.ScanAltered:
		return nil, fmt.Errorf("the scan was altered since it was attached")
	}
	f, err := atomicfile.OpenPlain(s.Path)
	if err != nil {
		return nil, fmt.Errorf("the scan cannot be read")
	}
	defer f.Close()
	return reduced(f, job)
}

func reduced(f *os.File, job plateJob) ([]byte, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, fmt.Errorf("the scan cannot be read")
	}
	img, head, err := scan.Decode(f, info.Size())
	if err != nil {
		return nil, errUnseen
	}
	orientation := head.Orientation
	if job.turned {
		orientation = scan.Turned(orientation)
	}
	t, err := scan.Reduced(img, orientation, int(math.Ceil(job.longMM/25.4*plateDPI)), plateQuality)
	return t.JPEG, err
}

// room is where a plate may stand on a left page: into the margins, but clear of spine, edges and caption.
func (k *yearBook) room() page.Rect {
	s := k.doc.Sheet()
	const edge, spine = 6.0, 12.0
	return page.Rect{X: edge, Y: edge, W: s.W - edge - spine, H: k.at(float64(k.rows())-1) - edge}
}

// place finds where a sheet stands: at its true size where it has room, upright or turned, else as large as it can be.
func (k *yearBook) place(size sheetSize) (at page.Rect, turned bool, scale float64) {
	room := k.room()
	scale = 1
	if size.w <= 0 || size.h <= 0 { // not known: as large as the text
		size, scale = sheetSize{k.wide(), k.doc.Sheet().H - k.top - k.bottom - 3*k.lead}, 0
	}
	switch {
	case size.w <= room.W && size.h <= room.H:
	case size.h <= room.W && size.w <= room.H:
		size, turned = sheetSize{size.h, size.w}, true
	default:
		scale = math.Min(room.W/size.w, room.H/size.h)
		size = sheetSize{size.w * scale, size.h * scale}
	}
	x := k.outer + (k.wide()-size.w)/2
	x = math.Max(room.X, math.Min(x, room.Right()-size.w))
	const optical = 0.45 // a picture in the very middle seems to sink
	y := math.Max(room.Y, math.Min(k.top+(k.at(float64(k.rows())-3)-k.top-size.h)*optical, room.Bottom()-size.h))
	return page.Rect{X: x, Y: y, W: size.w, H: size.h}, turned, scale
}

// plate draws the left page of a picture.
func (k *yearBook) plate(s *spread) {
	d := k.doc
	b := k.turn("")
	d.Anchor("picture:"+s.p.Entity.Name, 0)
	d.Bookmark(joined(" ", s.p.Entity.Name, s.p.Subject), 1)
	at, turned, scale := k.place(s.sheet)
	made := <-s.plate
	shown := at
	if made.jpeg != nil {
		box, err := d.Image(joined(", ", "scan of "+s.best.s.Name, s.p.Subject), made.jpeg, at)
		if err != nil {
			made.missing = "The scan cannot be shown."
		}
		shown = box
	}
	if made.missing != "" {
		shown = at
		d.Figure(at, "the outline of a sheet without a scan", func() { d.Box(at, page.Pen{Width: 0.15, Grey: 0.6}) })
	}
	x := math.Min(shown.X, b.X+b.W/2) // under its left edge
	row := math.Min(k.row(shown.Bottom()+0.5*k.lead), float64(k.rows())-1)
	row = k.para(x, row, b.Right()-x, k.note, k.captionOf(s), 1)
	k.para(x, row, b.Right()-x, k.note.In(0.3), sizeNote(s, made, turned, scale), 1)
}

// captionOf names the plate.
func (k *yearBook) captionOf(s *spread) string {
	if s.best == nil {
		return s.p.Entity.Name
	}
	paper := ""
	if s.best.paper != "" {
		paper = "on " + s.best.paper
	}
	return joined(" ", s.p.Entity.Name+",", sheetWords(s.best.s), paper)
}

// sizeNote says at what size the plate stands, and why it is empty where it is.
func sizeNote(s *spread, made madePlate, turned bool, scale float64) string {
	size := "The size of its sheet is not known"
	if s.sheet.w > 0 {
		size = wording.Number(s.sheet.w) + " × " + wording.Number(s.sheet.h) + " mm"
		switch {
		case scale < 1:
			size = "At " + wording.Percent(scale) + " of " + size
		default:
			size += ", true size"
		}
	}
	if turned && made.missing == "" {
		size += ", lying on its side"
	}
	return joined(" ", made.missing, size+".")
}

// actGroup is the acts on one sheet.
type actGroup struct {
	title string
	rows  [][]string
}

// actsOf lists what was done to the negative and to the plate, beside what it called for.
func (k *yearBook) actsOf(s *spread) ([]actGroup, error) {
	var out []actGroup
	for i := range s.cards {
		c := &s.cards[i]
		if c.s.Part != "n" && c != s.best && (s.best == nil || c.s.Name != s.best.s.Name) {
			continue
		}
		g := actGroup{title: upper(joined(" on ", sheetWords(c.s), c.paper))}
		for _, e := range c.s.Entries {
			row, err := k.act(s.p, c, e)
			if err != nil {
				return nil, err
			}
			if row != nil {
				g.rows = append(g.rows, row)
			}
		}
		if len(g.rows) > 0 {
			out = append(out, g)
		}
	}
	return out, nil
}

// act tells one act on a sheet: what, done, called for, off by; nil of one without a time.
func (k *yearBook) act(p *snapshot.Picture, c *card, e events.Entry) ([]string, error) {
	what := actWords[e.Kind]
	if what == "" {
		return nil, nil
	}
	s, err := calledfor.StepOf(k.snap, p, e)
	if err != nil {
		return nil, err
	}
	if s.SetF > 0 {
		what += " at f/" + wording.Number(s.SetF)
	}
	if x, ok := e.Data.(*events.SheetExposedData); ok && x.Filter != "" {
		what += ", " + x.Filter
	}
	if bath := events.PlacesOf(e.Data).Bath; bath != "" {
		what += " in " + bath
	}
	if s.TempC != 0 {
		what += ", " + wording.Number(s.TempC) + " °C"
	}
	row := []string{what, "", "", ""}
	if s.DoneS != nil {
		row[1] = wording.Seconds(*s.DoneS)
	}
	if call, ok := s.Call(); ok {
		row[2] = call.Brief()
	}
	if s.DeviationStops != nil && s.DoneS != nil && s.CalledForS != nil {
		row[3] = wording.OffBy(e.Kind, *s.CalledForS, *s.DoneS, *s.DeviationStops, s.Before)
	}
	if e.Kind == events.SheetWashed {
		row[0] = washText(&snapshot.Sheet{Washed: []events.Entry{e}})
	}
	return row, nil
}

var actWords = map[events.Kind]string{
	events.SheetExposed: "exposed", events.SheetReprinted: "printed", events.SheetDeveloped: "developed", events.SheetRinsed: "rinsed",
	events.SheetFixed: "fixed", events.SheetWashed: "washed", events.SheetToned: "toned", events.SheetReversed: "reversed",
}
