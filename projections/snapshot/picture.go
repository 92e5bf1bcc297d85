package snapshot

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/calc"
	"traybook/events"
)

// Generations of a sheet.
const (
	Negative = "negative"
	Positive = "positive"
)

// States of a sheet, in the order of the work.
const (
	Exposed   = "exposed"
	Developed = "developed"
	Rinsed    = "rinsed"
	Fixed     = "fixed"
	Washed    = "washed"
	Dried     = "dried"
	Toned     = "toned"
	Delivered = "delivered"
	Reversing = "reversing" // between its two developments
)

// Picture is one subject on one negative with every print made from it, folded from its own entries alone.
type Picture struct {
	Entity  events.Entity
	Session string
	Camera  string
	Subject string
	Sitter  string
	First   time.Time
	Last    time.Time
	Entries []events.Entry // of no single sheet: readings, notes on the picture
	Sheets  []*Sheet       // the negative first, then the prints by number
	All     []events.Entry // every entry, in order

	parts    map[string]*Sheet         // the sheets by their parts
	Readings map[string][]events.Entry // of no single sheet, by what they were taken on
	Asked    Asked
}

// Asked tells of the prints on each box, from each judgement that asked for a change on, which of those judged so until then
// was exposed last. Who asks for it works it out from the entries that came since.
type Asked struct {
	ByBox map[string]Timeline[*Sheet]
	Of    map[*Sheet]bool // those in it
	Seen  int             // entries of All
}

// Sheet is one piece of paper and what was done to it.
type Sheet struct {
	Name       string
	Part       string // n, p1, p2 …
	Generation string
	Box        string
	State      string
	Entries    []events.Entry
	Exposures  []events.Entry // sheet.exposed or sheet.reprinted
	Developed  []events.Entry
	Rinsed     []events.Entry
	Fixed      []events.Entry
	Washed     []events.Entry
	Judged     []events.Entry
	Reversals  []events.Entry // the steps that make a positive of it
	Second     []events.Entry // developments after its second exposure: the first made the negative, which was bleached

	Sums Sums // what was added up along it; nothing yet where an entry came since
}

// Sums are what the fixings and the washes of a sheet add up to, entry by entry, so that none of them is gone through
// again for each that follows. Who asks for one works it out.
type Sums struct {
	FixedS     []float64 // seconds in the fixer up to each fixing, it included
	FixedShare []float64 // the same as shares of what was called for
	Washes     []WashSum
}

// WashSum is what the washes since the last fixing add up to at one of them.
type WashSum struct {
	Before float64         // what those before it gave, as a share of what they called for
	Left   calc.WashReport // after it
	Known  bool            // false where nothing can be said of what is left
}

// Exposure is the sheet's first exposure, nil where none is written.
func (s *Sheet) Exposure() *events.Entry {
	if len(s.Exposures) == 0 {
		return nil
	}
	return &s.Exposures[0]
}

// Verdict is what was last said of the sheet, nil where nobody has judged it.
func (s *Sheet) Verdict() *events.SheetJudgedData {
	if len(s.Judged) == 0 {
		return nil
	}
	return s.Judged[len(s.Judged)-1].Data.(*events.SheetJudgedData)
}

// WashedSince are the washes of the sheet after its last fixing: only they take that fixer out again.
func (s *Sheet) WashedSince() []events.Entry {
	if len(s.Fixed) == 0 {
		return s.Washed
	}
	last := s.Fixed[len(s.Fixed)-1]
	for i, w := range s.Washed {
		if events.Compare(w, last) > 0 {
			return s.Washed[i:]
		}
	}
	return nil
}

// UpTo is the sheet with the fixings and washes up to an entry of it.
func (s *Sheet) UpTo(e events.Entry) *Sheet {
	out := *s
	out.Sums = Sums{}
	keep := func(list []events.Entry) []events.Entry {
		n := 0
		for n < len(list) && events.Compare(list[n], e) <= 0 {
			n++
		}
		return list[:n]
	}
	out.Fixed, out.Washed = keep(s.Fixed), keep(s.Washed)
	return &out
}

// FixedAgain says that the sheet went into the fixer after its wash and was not washed since.
func (s *Sheet) FixedAgain() bool {
	return len(s.Washed) > 0 && len(s.Fixed) > 0 && len(s.WashedSince()) == 0
}

// Waits says that the sheet is exposed and not yet developed; nobody develops what was thrown away.
func (s *Sheet) Waits() bool { return len(s.Exposures) > 0 && len(s.Developed) == 0 && !s.Thrown() }

// Thrown says that the sheet was rejected, and nothing more is done to it.
func (s *Sheet) Thrown() bool { return s.Verdict() != nil && s.Verdict().Verdict == "reject" }

// Reversed says that the sheet had its second exposure, by which it becomes a positive.
func (s *Sheet) Reversed() bool {
	return slices.ContainsFunc(s.Reversals, func(e events.Entry) bool { return e.Data.(*events.SheetReversedData).Stage == "expose" })
}

// Positive says whether a sheet of a box is a positive: a print, a direct positive, one that was reversed.
func (s *Sheet) Positive(b *Box) bool {
	return s.Generation == Positive || s.Reversed() || b.DirectPositive()
}

// NegativeSheet is the picture's negative, nil before it is exposed.
func (p *Picture) NegativeSheet() *Sheet { return p.Sheet("n") }

// Sheet finds a sheet by its part: n, p1 …
func (p *Picture) Sheet(part string) *Sheet {
	return p.parts[part]
}

// foldPicture sorts a picture's folded entries into sheets. It is pure.
func foldPicture(t events.Entity, entries []events.Entry) *Picture {
	p := &Picture{Entity: t, All: entries, parts: map[string]*Sheet{}, Readings: map[string][]events.Entry{}}
	for _, e := range entries {
		p.add(e)
	}
	return p
}

// append takes in an entry, later than all before it.
func (p *Picture) append(e events.Entry) {
	p.All = append(p.All, e)
	p.add(e)
}

// add puts an entry, later than all before it, where it belongs.
func (p *Picture) add(e events.Entry) {
	if p.First.IsZero() {
		p.First = e.At
	}
	p.Last = e.At
	part := PartOf(e.Data)
	if part == "" {
		p.Entries = append(p.Entries, e)
		if r, ok := e.Data.(*events.LightMeteredData); ok {
			p.Readings[r.On] = append(p.Readings[r.On], e)
		}
		return
	}
	s := p.sheetOf(part)
	if s.add(e); len(s.Exposures) == 1 && len(s.Judged) > 0 { // judged before it was exposed
		p.Asked = Asked{}
	}
	p.describe(e)
}

// describe takes over what an exposure says of the picture where none before it said it.
func (p *Picture) describe(e events.Entry) {
	if d, ok := e.Data.(*events.SheetExposedData); ok {
		p.Session, p.Camera = cmp.Or(p.Session, d.Session), cmp.Or(p.Camera, d.Camera)
		p.Subject, p.Sitter = cmp.Or(p.Subject, d.Subject), cmp.Or(p.Sitter, d.Sitter)
	}
}

// sheetOf finds the sheet of a part, and lays a new one in its place: n, p1, p2 … p10.
func (p *Picture) sheetOf(part string) *Sheet {
	if s := p.parts[part]; s != nil {
		return s
	}
	s := &Sheet{Name: events.Sheet(p.Entity.Name, part), Part: part, Generation: Positive}
	if part == "n" {
		s.Generation = Negative
	}
	i, _ := slices.BinarySearchFunc(p.Sheets, part, func(s *Sheet, part string) int {
		return cmp.Or(cmp.Compare(len(s.Part), len(part)), cmp.Compare(s.Part, part))
	})
	p.Sheets, p.parts[part] = slices.Insert(p.Sheets, i, s), s
	return s
}

// PartOf is n, p1 … of the sheet an entry is about, "" where it is about the whole picture.
func PartOf(d events.Data) string {
	name := events.SheetOf(d)
	if n, ok := d.(*events.NoteWrittenData); ok {
		name = n.About
	}
	_, part, ok := events.SplitSheet(name)
	if !ok {
		return ""
	}
	return part
}

func (s *Sheet) add(e events.Entry) {
	s.Entries, s.Sums = append(s.Entries, e), Sums{}
	switch d := e.Data.(type) {
	case *events.SheetExposedData:
		s.Exposures, s.Box = append(s.Exposures, e), cmp.Or(s.Box, d.Box)
		s.reach(Exposed)
	case *events.SheetReprintedData:
		s.Exposures, s.Box = append(s.Exposures, e), cmp.Or(s.Box, d.Box)
		s.reach(Exposed)
	case *events.SheetReversedData:
		s.Reversals = append(s.Reversals, e)
		if StateOrder[s.State] < StateOrder[Fixed] {
			s.State = Reversing
		}
	case *events.SheetDevelopedData:
		if s.Reversed() {
			s.Second = append(s.Second, e)
			s.reach(Developed)
			break
		}
		s.Developed = append(s.Developed, e)
		s.reach(Developed)
	case *events.SheetRinsedData:
		s.Rinsed = append(s.Rinsed, e)
		s.reach(Rinsed)
	case *events.SheetFixedData:
		s.Fixed = append(s.Fixed, e)
		if s.State != Delivered { // after its wash it has a wash before it again
			s.State = ""
		}
		s.reach(Fixed)
	case *events.SheetWashedData:
		s.Washed = append(s.Washed, e)
		s.reach(Washed)
	case *events.SheetDriedData:
		s.reach(Dried)
	case *events.SheetTonedData:
		s.reach(Toned)
	case *events.SheetDeliveredData:
		if d.As == "" { // else the sheet stayed
			s.reach(Delivered)
		}
	case *events.SheetJudgedData:
		s.Judged = append(s.Judged, e)
	}
}

// StateOrder ranks the states of a sheet by how far it came.
var StateOrder = map[string]int{"": 0, Exposed: 1, Reversing: 1, Developed: 2, Rinsed: 3, Fixed: 4, Washed: 5, Dried: 6, Toned: 7, Delivered: 8}

// reach moves the state on; what is done again does not move it back.
func (s *Sheet) reach(state string) {
	if StateOrder[state] > StateOrder[s.State] {
		s.State = state
	}
}

// Picture folds one picture.
func (snap *Snapshot) Picture(name string) (*Picture, error) {
	t, err := snap.Entity(events.Picture, name)
	if err != nil {
		return nil, err
	}
	return snap.PictureOf(t)
}

// PictureOf is the picture of an entity; Picture finds it by name.
func (snap *Snapshot) PictureOf(t events.Entity) (*Picture, error) {
	if p, ok := snap.pictures[t.ID]; ok {
		snap.catchUp(t.ID, p.append)
		return p, nil
	}
	entries, err := snap.openStream(t)
	if err != nil {
		return nil, err
	}
	p := foldPicture(t, entries)
	snap.pictures[t.ID] = p
	snap.layReadings(t.ID, entries)
	return p, nil
}

// SheetByName folds the picture of a sheet and gives both.
func (snap *Snapshot) SheetByName(name string) (*Picture, *Sheet, error) {
	pic, part, ok := events.SplitSheet(name)
	if !ok {
		return nil, nil, notASheet.Refuse(name)
	}
	p, err := snap.Picture(pic)
	if err != nil {
		return nil, nil, err
	}
	s := p.Sheet(part)
	if s == nil {
		return p, nil, NoSuchSheet.Refuse(name, pic)
	}
	return p, s, nil
}

// LargestPrint is the largest number that a print of a picture has borne in any of its entries, voided ones included; 0 for
// none.
func (snap *Snapshot) LargestPrint(t events.Entity) (int, error) {
	if snap.follows != nil {
		_, err := snap.PictureOf(t)
		return snap.follows.prints[t.ID], err
	}
	raw, err := snap.R.Entries(events.Query{Stream: t.ID})
	return largestPrint(raw), err
}

func largestPrint(entries []events.Entry) (largest int) {
	for _, e := range entries {
		largest = max(largest, PrintNumber(e.Data))
	}
	return largest
}

// PrintNumber is the number of the print that an act belongs to, 0 where it belongs to none.
func PrintNumber(data events.Data) int {
	if part := PartOf(data); strings.HasPrefix(part, "p") {
		if n, err := strconv.Atoi(part[1:]); err == nil {
			return n
		}
	}
	return 0
}
