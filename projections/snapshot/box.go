package snapshot

import (
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
)

// Box is one packet of paper, from its own entries.
type Box struct {
	Entity   events.Entity
	Received *events.PaperReceivedData // of a cut box: made from what it was cut from
	At       time.Time
	CutFrom  string
	Ratings  []events.Entry // paper.rated, in order
	Entries  []events.Entry // every own entry, in order
	came     []cameIn
	counts   []counted
	Spoiled  []events.Entry
	cut      []events.Entry
	Papers   map[paperUse]Timeline[Paper] // what PaperFor worked out
}

type cameIn struct {
	at     time.Time
	sheets float64
}

type counted struct {
	at     time.Time
	sheets float64
}

// foldBox folds a box's own entries and the cuttings that went into it. parent is the first box that was cut into it, nil
// for none. A box that was received stays what it was received as, whatever is cut into it later.
func foldBox(t events.Entity, own, into []events.Entry, parent *Box) *Box {
	b := &Box{Entity: t, Entries: own}
	for _, e := range own {
		if d, ok := e.Data.(*events.PaperReceivedData); ok && b.Received == nil {
			r := *d
			b.Received, b.At = &r, e.At
		}
	}
	received := b.Received != nil
	for _, e := range into {
		d, ok := e.Data.(*events.PaperCutData)
		if !ok || d.Into != t.Name {
			continue
		}
		b.came = append(b.came, cameIn{e.At, float64(d.Sheets * d.Parts)})
		if received || parent == nil || parent.Received == nil || parent.Entity.Name != d.Box {
			continue
		}
		if b.Received == nil {
			r := *parent.Received
			r.Box, r.WidthMM, r.HeightMM, r.Sheets, r.Cost = t.Name, d.WidthMM, d.HeightMM, 0, nil
			b.Received, b.At, b.CutFrom = &r, e.At, parent.Entity.Name
			b.Ratings = append(b.Ratings, parent.Ratings...)
		}
		b.Received.Sheets += d.Sheets * d.Parts
		if parent.Received.Cost != nil && parent.Received.Sheets > 0 {
			b.Received.Cost = new(ValueOr(b.Received.Cost, 0) + *parent.Received.Cost*float64(d.Sheets)/float64(parent.Received.Sheets))
		}
	}
	for _, e := range own {
		switch d := e.Data.(type) {
		case *events.PaperReceivedData:
			b.came = append(b.came, cameIn{e.At, float64(d.Sheets)})
		case *events.PaperRatedData:
			b.Ratings = append(b.Ratings, e)
		case *events.PaperCountedData:
			b.counts = append(b.counts, counted{e.At, float64(d.Sheets)})
		case *events.PaperSpoiledData:
			b.Spoiled = append(b.Spoiled, e)
		case *events.PaperCutData:
			if d.Into != t.Name {
				b.cut = append(b.cut, e)
			}
		}
	}
	slices.SortStableFunc(b.Ratings, events.Compare)
	return b
}

// taken is one act that took paper from a box.
type taken struct {
	At     time.Time
	sheet  string // counts once, however often it was exposed
	Sheets float64
}

// takings reads what the acts that cite a box took from it: exposures, prints and strips, with parts of sheets. A
// sheet exposed twice counts once, as the larger part.
func takings(users []events.Entry) []taken {
	var out []taken
	seen := map[string]int{}
	for _, e := range users {
		var t taken
		switch d := e.Data.(type) {
		case *events.SheetExposedData:
			t = taken{e.At, d.Sheet, ValueOr(d.Part, 1)}
		case *events.SheetReprintedData:
			t = taken{e.At, d.Sheet, ValueOr(d.Part, 1)}
		case *events.StripExposedData:
			t = taken{e.At, "", ValueOr(d.Part, 1)}
		default:
			continue
		}
		if t.sheet != "" {
			if i, twice := seen[t.sheet]; twice {
				out[i].Sheets = max(out[i].Sheets, t.Sheets)
				continue
			}
			seen[t.sheet] = len(out)
		}
		out = append(out, t)
	}
	return out
}

// Stock is the calculation of one box as of a moment. A count overrules what was calculated before it.
type Stock struct {
	Left     float64
	Received float64 // sheets that came in
	Exposed  float64 // taken for pictures and strips
	Spoiled  float64 // spoiled
	Cut      float64 // cut away alone
	Uses     []taken
}

func (b *Box) stock(users []events.Entry) Stock {
	m, uses := b.moved(users, 0)
	return Stock{Left: m.Left, Received: m.Came, Exposed: m.Pictures + m.Strips, Spoiled: m.Spoiled, Cut: m.Cut, Uses: uses}
}

// Movements are the sheets that came into a box in a year and went: what it held at the year's start and what came is what
// went and what is left. What a count finds missing went too; what it finds more counts below nought.
type Movements struct {
	Start    float64 `json:"start"` // sheets that they held at the year's start
	Came     float64 `json:"came"`  // parts that were cut into it included
	Pictures float64 `json:"pictures"`
	Strips   float64 `json:"strips"`
	Spoiled  float64 `json:"spoiled"`
	Cut      float64 `json:"cut"` // cut away
	Missing  float64 `json:"missing"`
	Left     float64 `json:"left"`
}

// Add adds what another box tells.
func (m *Movements) Add(o Movements) {
	m.Start += o.Start
	m.Came += o.Came
	m.Pictures += o.Pictures
	m.Strips += o.Strips
	m.Spoiled += o.Spoiled
	m.Cut += o.Cut
	m.Missing += o.Missing
	m.Left += o.Left
}

// moved goes through what came to a box and went in the year of its days, 0 for all years. A count comes after what
// happened at its moment, and overrules what was calculated until then.
func (b *Box) moved(users []events.Entry, year int) (m Movements, uses []taken) {
	uses = takings(users)
	type move struct {
		at     time.Time
		sheets float64
		sum    *float64 // nil is a count
	}
	var moves []move
	for _, c := range b.came {
		moves = append(moves, move{c.at, c.sheets, &m.Came})
	}
	for _, e := range b.Spoiled {
		moves = append(moves, move{e.At, float64(e.Data.(*events.PaperSpoiledData).Sheets), &m.Spoiled})
	}
	for _, e := range b.cut {
		moves = append(moves, move{e.At, float64(e.Data.(*events.PaperCutData).Sheets), &m.Cut})
	}
	for _, u := range uses {
		sum := &m.Pictures
		if u.sheet == "" {
			sum = &m.Strips
		}
		moves = append(moves, move{u.At, u.Sheets, sum})
	}
	for _, c := range b.counts {
		moves = append(moves, move{c.at, c.sheets, nil})
	}
	slices.SortStableFunc(moves, func(x, y move) int { return x.at.Compare(y.at) })
	for _, x := range moves {
		if year != 0 && x.at.Year() > year {
			continue
		}
		sheets, sum := x.sheets, x.sum
		switch sum {
		case nil:
			sum, sheets = &m.Missing, m.Left-x.sheets
			m.Left = x.sheets
		case &m.Came:
			m.Left += sheets
		default:
			m.Left -= sheets
		}
		if year != 0 && x.at.Year() < year {
			m.Start = m.Left
		} else {
			*sum += sheets
		}
	}
	return m, uses
}

// MovedIn tells what came to a box and went in a year.
func (snap *Snapshot) MovedIn(b *Box, year int) (Movements, error) {
	users, err := snap.Entries(events.Query{Box: b.Entity.ID})
	if err != nil {
		return Movements{}, err
	}
	m, _ := b.moved(users, year)
	return m, nil
}

// CameUntil is how many sheets came in until a moment, those that were cut into the box included.
func (b *Box) CameUntil(at time.Time) (sheets float64) {
	for _, c := range b.came {
		if !c.at.After(at) {
			sheets += c.sheets
		}
	}
	return sheets
}

// CountedSince says whether the box was counted at or after a moment: what was taken before then is no longer calculated.
func (b *Box) CountedSince(at time.Time) bool {
	return slices.ContainsFunc(b.counts, func(c counted) bool { return !at.After(c.at) })
}

// Area is the area of one sheet in square metres.
func (b *Box) Area() float64 {
	if b.Received == nil {
		return 0
	}
	a, err := calc.SheetArea(b.Received.WidthMM, b.Received.HeightMM)
	if err != nil {
		return 0
	}
	return a
}

// Box folds one box by name.
func (snap *Snapshot) Box(name string) (*Box, error) {
	if f := snap.follows; f != nil && !f.boxes.IsZero() && !snap.AsOf.Before(f.boxes) {
		clear(snap.boxes)
		f.boxes = time.Time{}
	}
	if b, ok := snap.boxes[name]; ok {
		return b, nil
	}
	t, err := snap.Entity(events.Box, name)
	if err != nil {
		return nil, err
	}
	own, into, err := snap.boxEntries(t)
	if err != nil {
		return nil, err
	}
	snap.boxes[name] = foldBox(t, own, into, nil) // as far as a box knows that was cut from one that was cut from it
	parent, err := snap.cutFrom(t, own, into)
	if err != nil {
		delete(snap.boxes, name)
		return nil, err
	}
	b := foldBox(t, own, into, parent)
	snap.boxes[name] = b
	return b, nil
}

// boxEntries gives a box's own entries and the cuttings that went into it.
func (snap *Snapshot) boxEntries(t events.Entity) (own, into []events.Entry, err error) {
	if own, err = snap.ofBox(events.Query{Stream: t.ID}); err != nil {
		return nil, nil, err
	}
	into, err = snap.ofBox(events.Query{Cites: t.ID, Kinds: []events.Kind{events.PaperCut}})
	return own, into, err
}

// ofBox is Entries for what boxes are folded from, which a follower reads anew when it comes to the first later one.
func (snap *Snapshot) ofBox(q events.Query) ([]events.Entry, error) {
	raw, err := snap.R.Entries(snap.counted(q))
	if err != nil {
		return nil, err
	}
	until, later := snap.foldUntil(raw, events.Fold)
	if f := snap.follows; f != nil && len(later) > 0 && (f.boxes.IsZero() || later[0].At.Before(f.boxes)) {
		f.boxes = later[0].At
	}
	return until, nil
}

// cutFrom is the first box that was cut into a box which was never received, nil for none.
func (snap *Snapshot) cutFrom(t events.Entity, own, into []events.Entry) (*Box, error) {
	if slices.ContainsFunc(own, func(e events.Entry) bool { return e.Kind == events.PaperReceived }) {
		return nil, nil
	}
	for _, e := range into {
		c := e.Data.(*events.PaperCutData)
		if c.Into != t.Name || c.Box == t.Name {
			continue
		}
		if pt, ok, err := snap.R.Entity(c.Box); err != nil || !ok || pt.Kind != events.Box {
			if err != nil {
				return nil, err
			}
			continue
		}
		return snap.Box(c.Box)
	}
	return nil, nil
}

// StockOf calculates what a box holds.
func (snap *Snapshot) StockOf(b *Box) (Stock, error) {
	users, err := snap.Entries(events.Query{Box: b.Entity.ID})
	if err != nil {
		return Stock{}, err
	}
	return b.stock(users), nil
}

// DirectPositive says whether the box holds reversal paper, which gives a positive in the camera; false for no box.
func (b *Box) DirectPositive() bool {
	return b != nil && b.Received != nil && b.Received.Works == "direct-positive"
}

// Variable says whether the box holds variable-contrast paper, whose range depends on filter and light; false for no box.
func (b *Box) Variable() bool {
	return b != nil && b.Received != nil && b.Received.Contrast == "variable"
}
