package snapshot

import (
	"slices"
	"time"

	"traybook/events"
)

// Snapshot is one look at a book as of a moment: what lies open on it was read once and is not read again. A zero AsOf sees
// everything, also acts dated ahead.
type Snapshot struct {
	R    events.Reader
	AsOf time.Time

	Room      int  // how much may lie open before it is tidied
	mended    bool // amendments and voids count, whenever they were made
	pictures  map[int64]*Picture
	boxes     map[string]*Box
	baths     map[string]*Bath
	sessions  map[string]*Session
	cameras   map[string]*Camera
	readings  map[string]*events.Entry
	courses   map[int64]*bathCourse
	inSession map[sessionKind]actsIn
	cuts      map[int64]map[string]cut // by stream and part
	ahead     *bool
	late      *lateThings
	follows   *following      // of a follower: what it keeps in step
	Sitters   map[string]bool // of a follower: the references in the table of sitters, to which acts add none
}

// New lays a book open as of a moment.
func New(r events.Reader, asOf time.Time) *Snapshot {
	return &Snapshot{R: r, AsOf: asOf, Room: roomInSnapshot, pictures: map[int64]*Picture{}, boxes: map[string]*Box{}, baths: map[string]*Bath{},
		sessions: map[string]*Session{}, cameras: map[string]*Camera{}, readings: map[string]*events.Entry{}, courses: map[int64]*bathCourse{}, cuts: map[int64]map[string]cut{}, inSession: map[sessionKind]actsIn{}}
}

// roomInSnapshot is how much may lie open on a snapshot before it is cleared: a year's pictures with what they were made with, so
// that what looks at a year more than once reads it once; little enough that a whole book passes over the snapshot.
const roomInSnapshot = 2000

// Tidy clears the snapshot where too much lies open on it. It is for those who go through many pictures, between two of them:
// what was read stays as it is for who holds it, and is read anew when it is asked for again.
func (snap *Snapshot) Tidy() {
	if snap.crowded() {
		fresh := New(snap.R, snap.AsOf)
		fresh.Room, fresh.ahead, fresh.late, fresh.mended = snap.Room, snap.ahead, snap.late, snap.mended
		*snap = *fresh
	}
}

func (snap *Snapshot) crowded() bool {
	return len(snap.pictures)+len(snap.sessions)+len(snap.boxes)+len(snap.baths) > snap.Room
}

// NewForAct lays a book open for an act of a moment: what was done later is not there, but what is there is as it was
// put right since. An act that is written down late must not follow a reading that was taken back meanwhile.
func NewForAct(r events.Reader, at time.Time) *Snapshot {
	snap := New(r, at)
	snap.mended = true
	return snap
}

// Entries runs a query and folds what it finds, as of the snapshot's moment: neither acts nor amendments nor voids that
// came later count.
func (snap *Snapshot) Entries(q events.Query) ([]events.Entry, error) {
	raw, err := snap.R.Entries(snap.counted(q))
	if err != nil {
		return nil, err
	}
	return snap.Fold(raw, events.Fold), nil
}

// counted asks for the voids of a batch as they count, where all of them do.
func (snap *Snapshot) counted(q events.Query) events.Query {
	q.Counted = snap.AsOf.IsZero() || snap.mended
	return q
}

// Fold folds entries up to the moment of the snapshot, by the function given.
func (snap *Snapshot) Fold(raw []events.Entry, fold func([]events.Entry) []events.Entry) []events.Entry {
	until, _ := snap.foldUntil(raw, fold)
	return until
}

// foldUntil is Fold, with what comes after the snapshot's moment besides.
func (snap *Snapshot) foldUntil(raw []events.Entry, fold func([]events.Entry) []events.Entry) (until, later []events.Entry) {
	if snap.AsOf.IsZero() {
		return fold(raw), nil
	}
	late := func(e events.Entry) bool { return e.At.After(snap.AsOf) }
	mends := func(e events.Entry) bool { return e.Kind == events.EntryAmended || e.Kind == events.EntryVoided }
	if !snap.mended {
		raw = slices.DeleteFunc(slices.Clone(raw), func(e events.Entry) bool { return mends(e) && late(e) })
	}
	all := fold(raw) // in their order
	n := upTo(all, snap.AsOf)
	return all[:n:n], all[n:]
}

// OfWhole is a snapshot that sees the whole book. Where nothing lies ahead of this one's moment, what lies open on this one
// lies open on that as well.
func (snap *Snapshot) OfWhole() (*Snapshot, error) {
	if ahead, err := snap.Ahead(); ahead || err != nil {
		return New(snap.R, time.Time{}), err
	}
	whole := *snap
	whole.AsOf = time.Time{}
	return &whole, nil
}

// Stream gives the folded entries of one thing.
func (snap *Snapshot) Stream(t events.Entity) ([]events.Entry, error) {
	return snap.Entries(events.Query{Stream: t.ID})
}

// openStream is Stream for what is kept lying open: a follower takes in the later entries when their time has come.
func (snap *Snapshot) openStream(t events.Entity) ([]events.Entry, error) {
	raw, err := snap.R.Entries(snap.counted(events.Query{Stream: t.ID}))
	if err != nil {
		return nil, err
	}
	until, later := snap.foldUntil(raw, events.Fold)
	if snap.follows != nil {
		snap.follows.keepLater(t.ID, later)
		snap.follows.prints[t.ID] = largestPrint(raw)
	}
	return until, nil
}

// StreamAll gives them with the voided in their places.
func (snap *Snapshot) StreamAll(t events.Entity) ([]events.Entry, error) {
	raw, err := snap.R.Entries(snap.counted(events.Query{Stream: t.ID}))
	if err != nil {
		return nil, err
	}
	return snap.Fold(raw, events.FoldAll), nil
}

// Entity finds a thing of a kind by name.
func (snap *Snapshot) Entity(kind events.EntityKind, name string) (events.Entity, error) {
	t, ok, err := snap.R.Entity(name)
	if err != nil {
		return t, err
	}
	if !ok {
		return t, NoSuch(kind, name)
	}
	if t.Kind != kind {
		return t, AnotherKind(t, kind)
	}
	return t, nil
}

// layReadings keeps the readings of a stream that was read whole, so that what they served need not look for them.
func (snap *Snapshot) layReadings(stream int64, entries []events.Entry) {
	for i := range entries {
		snap.layReading(stream, &entries[i])
	}
	if snap.follows != nil {
		snap.follows.laid[stream] = true
	}
}

func (snap *Snapshot) layReading(stream int64, e *events.Entry) {
	if e.Kind != events.LightMetered {
		return
	}
	id := e.ID.String()
	if f := snap.follows; f != nil {
		e = new(*e) // the list that it stands in may close up over a voided one
		f.readings[stream] = append(f.readings[stream], id)
	}
	snap.readings[id] = e
}

// Reading finds a light reading by its entry's id; nil where it is gone (voided) or is no reading.
func (snap *Snapshot) Reading(id string) (*events.Entry, error) {
	if id == "" {
		return nil, nil
	}
	if e, ok := snap.readings[id]; ok {
		return e, nil
	}
	found, err := snap.R.Find(id)
	if err != nil {
		return nil, err
	}
	for _, e := range found {
		if e.Kind != events.LightMetered {
			continue
		}
		stream, err := snap.R.StreamOf(e.ID)
		if err != nil {
			return nil, err
		}
		if err := snap.layReadingsAt(stream); err != nil {
			return nil, err
		}
	}
	e := snap.readings[id]
	if snap.follows == nil { // a follower may come to the time of one
		snap.readings[id] = e
	}
	return e, nil
}

// layReadingsAt keeps the readings of a stream. A session and a picture keep theirs when they are laid open.
func (snap *Snapshot) layReadingsAt(stream events.Entity) (err error) {
	switch stream.Kind {
	case events.Session:
		_, err = snap.Session(stream.Name)
		return err
	case events.Picture:
		_, err = snap.PictureOf(stream)
		return err
	}
	if snap.follows != nil && snap.follows.laid[stream.ID] {
		snap.catchUp(stream.ID, func(events.Entry) {})
		return nil
	}
	entries, err := snap.openStream(stream)
	if err == nil {
		snap.layReadings(stream.ID, entries)
	}
	return err
}

// Metered is the data of a reading.
func Metered(e *events.Entry) *events.LightMeteredData { return e.Data.(*events.LightMeteredData) }

// ValueOr is the value, or def where there is none.
func ValueOr(p *float64, def float64) float64 {
	if p == nil {
		return def
	}
	return *p
}
