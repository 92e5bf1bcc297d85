package projections

import (
	"fmt"
	"slices"
	"time"

	"traybook/events"
)

// Desk is one look at a book as of a moment: what lies open on it was read once and is not read again. A zero AsOf sees
// everything, also acts dated ahead.
type Desk struct {
	R    events.Reader
	AsOf time.Time

	room     int  // how much may lie open before it is tidied
	mended   bool // amendments and voids count, whenever they were made
	pictures map[int64]*Picture
	boxes    map[string]*Box
	baths    map[string]*Bath
	sessions map[string]*Session
	cameras  map[string]*Camera
	readings map[string]*events.Entry
	courses  map[int64]*bathCourse
	cuts     map[int64]map[string]cut // by home and part
	ahead    *bool
	cutOff   bool            // something read was later than the desk's moment, and left out
	whole    *Desk           // of a follower: the desk that sees the whole book
	follows  *openSessions   // of a follower: what sessions may be open
	sitters  map[string]bool // of a follower: the references in the table of sitters, to which acts add none
	prints   map[int64]int   // of a follower: the largest number that a print of each picture has borne
}

// NewDesk lays a book open as of a moment.
func NewDesk(r events.Reader, asOf time.Time) *Desk {
	return &Desk{R: r, AsOf: asOf, room: roomOnDesk, pictures: map[int64]*Picture{}, boxes: map[string]*Box{}, baths: map[string]*Bath{},
		sessions: map[string]*Session{}, cameras: map[string]*Camera{}, readings: map[string]*events.Entry{}, courses: map[int64]*bathCourse{}, cuts: map[int64]map[string]cut{}}
}

// roomOnDesk is how much may lie open on a desk before it is cleared: a year's pictures with what they were made with, so
// that what looks at a year more than once reads it once; little enough that a whole book passes over the desk.
const roomOnDesk = 2000

// Tidy clears the desk where too much lies open on it. It is for those who go through many pictures, between two of them:
// what was read stays as it is for who holds it, and is read anew when it is asked for again.
func (d *Desk) Tidy() {
	if d.crowded() {
		fresh := NewDesk(d.R, d.AsOf)
		fresh.room, fresh.ahead, fresh.mended = d.room, d.ahead, d.mended
		*d = *fresh
	}
}

func (d *Desk) crowded() bool {
	return len(d.pictures)+len(d.sessions)+len(d.boxes)+len(d.baths) > d.room
}

// NewDeskForAct lays a book open for an act of a moment: what was done later is not there, but what is there is as it was
// put right since. An act that is written down late must not follow a reading that was taken back meanwhile.
func NewDeskForAct(r events.Reader, at time.Time) *Desk {
	d := NewDesk(r, at)
	d.mended = true
	return d
}

// entries runs a query and folds what it finds, as of the desk's moment: neither acts nor amendments nor voids that
// came later count.
func (d *Desk) entries(q events.Query) ([]events.Entry, error) {
	raw, err := d.R.Entries(q)
	if err != nil {
		return nil, err
	}
	return d.fold(raw, events.Fold), nil
}

func (d *Desk) fold(raw []events.Entry, fold func([]events.Entry) []events.Entry) []events.Entry {
	if d.AsOf.IsZero() {
		return fold(raw)
	}
	late := func(e events.Entry) bool { return e.At.After(d.AsOf) }
	mends := func(e events.Entry) bool { return e.Kind == events.EntryAmended || e.Kind == events.EntryVoided }
	if !d.mended {
		raw = slices.DeleteFunc(slices.Clone(raw), func(e events.Entry) bool { return mends(e) && late(e) })
	}
	all := fold(raw)
	until := slices.DeleteFunc(all, late)
	d.cutOff = d.cutOff || len(until) < len(all)
	return until
}

// ofWhole is a desk that sees the whole book.
func (d *Desk) ofWhole() *Desk {
	if d.whole != nil {
		return d.whole
	}
	return NewDesk(d.R, time.Time{})
}

// Home gives the folded entries of one thing.
func (d *Desk) Home(t events.Thing) ([]events.Entry, error) {
	return d.entries(events.Query{Home: t.ID})
}

// HomeAll gives them with the voided in their places.
func (d *Desk) HomeAll(t events.Thing) ([]events.Entry, error) {
	raw, err := d.R.Entries(events.Query{Home: t.ID})
	if err != nil {
		return nil, err
	}
	return d.fold(raw, events.FoldAll), nil
}

// thing finds a thing of a kind by name.
func (d *Desk) thing(kind events.ThingKind, name string) (events.Thing, error) {
	t, ok, err := d.R.Thing(name)
	if err != nil {
		return t, err
	}
	if !ok {
		return t, &Refusal{Text: fmt.Sprintf("there is no %s %q", kind, name), Hint: whereToLook(kind)}
	}
	if t.Kind != kind {
		return t, &Refusal{Text: fmt.Sprintf("%q is a %s, not a %s", name, t.Kind, kind), Hint: whereToLook(kind)}
	}
	return t, nil
}

func whereToLook(kind events.ThingKind) string {
	switch kind {
	case events.Box:
		return "`traybook stock` lists the boxes, `traybook paper receive` brings one in"
	case events.Bath:
		return "`traybook baths` lists the baths, `traybook bath mix` makes one"
	case events.Session:
		return "`traybook sessions` lists the sessions, `traybook session open` begins one"
	case events.Picture:
		return "`traybook pictures` lists the pictures"
	case events.Camera:
		return "`traybook camera describe` describes one"
	case events.Holder:
		return "`traybook load` loads one"
	case events.Strip:
		return "`traybook strip` exposes one"
	}
	return ""
}

// layReadings keeps the readings of a home that was read whole, so that what they served need not look for them.
func (d *Desk) layReadings(entries []events.Entry) {
	for i, e := range entries {
		if e.Kind == events.LightMetered {
			d.readings[e.ID.String()] = &entries[i]
		}
	}
}

// reading finds a light reading by its entry's id; nil where it is gone (voided) or is no reading.
func (d *Desk) reading(id string) (*events.Entry, error) {
	if id == "" {
		return nil, nil
	}
	if e, ok := d.readings[id]; ok {
		return e, nil
	}
	d.readings[id] = nil
	found, err := d.R.Find(id)
	if err != nil {
		return nil, err
	}
	for _, e := range found {
		if e.Kind != events.LightMetered {
			continue
		}
		home, err := d.R.HomeOf(e.ID)
		if err != nil {
			return nil, err
		}
		if err := d.layReadingsAt(home); err != nil {
			return nil, err
		}
	}
	return d.readings[id], nil
}

// layReadingsAt keeps the readings of a home.
func (d *Desk) layReadingsAt(home events.Thing) (err error) {
	var entries []events.Entry
	switch home.Kind {
	case events.Session:
		var s *Session
		if s, err = d.Session(home.Name); err == nil {
			entries = s.Entries
		}
	case events.Picture:
		var p *Picture
		if p, err = d.pictureOf(home); err == nil {
			entries = p.All
		}
	default:
		entries, err = d.Home(home)
	}
	d.layReadings(entries)
	return err
}

func metered(e *events.Entry) *events.LightMeteredData { return e.Data.(*events.LightMeteredData) }

func orF(p *float64, def float64) float64 {
	if p == nil {
		return def
	}
	return *p
}
