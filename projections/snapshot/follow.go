package snapshot

import (
	"time"

	"traybook/events"
)

// Follower takes acts into a book one after another, in the order of their time, and keeps what lies open on two snapshots in
// step with them: one as of each act, one of the whole book. Without it each act of a file would read its picture and its
// session again from their beginning.
type Follower struct {
	r          events.Reader
	act, whole *Snapshot
}

func NewFollower(r events.Reader) *Follower {
	f := &Follower{r: r}
	f.clear()
	return f
}

// clear begins again with nothing read.
func (f *Follower) clear() {
	f.whole = New(f.r, time.Time{})
	var sitters map[string]bool
	if f.act != nil {
		sitters = f.act.Sitters
	}
	f.act = NewForAct(f.r, time.Time{})
	f.act.Sitters = sitters
	f.act.whole, f.act.Follows, f.act.Prints = f.whole, &openSessions{}, map[int64]int{}
}

// SnapshotAt is the snapshot for an act of a moment. What was left out as later must be read anew, and so must what lies open
// where an act is earlier than the one before it: a void comes after what it names, whenever it is dated.
func (f *Follower) SnapshotAt(at time.Time) *Snapshot {
	if f.act.cutOff || at.Before(f.act.AsOf) || f.whole.crowded() || f.act.crowded() {
		f.clear()
	}
	f.act.AsOf, f.act.ahead = at, nil
	return f.act
}

// Follow takes in an act that was just appended.
func (f *Follower) Follow(e events.Entry) error {
	p := events.PlacesOf(e.Data)
	if e.Kind == events.EntryVoided || e.Kind == events.EntryAmended {
		return f.mended(p)
	}
	stream := p.Stream.Name
	if p.Entry != "" || p.Stream.Kind == "" {
		t, err := f.r.StreamOf(e.ID)
		if err != nil {
			return err
		}
		stream = t.Name
	}
	t, ok, err := f.r.Entity(stream)
	if err != nil || !ok {
		return err
	}
	for _, snap := range []*Snapshot{f.act, f.whole} {
		snap.follow(t, e)
		if e.Kind == events.SessionOpened || e.Kind == events.SessionClosed { // its end takes baths out of their trays
			clear(snap.courses)
		}
		if p.Bath != "" {
			if b := snap.baths[p.Bath]; b != nil {
				delete(snap.courses, b.Entity.ID)
			}
		}
	}
	return nil
}

// mended lets go of what an amendment or a void may change.
func (f *Follower) mended(p events.Places) error {
	id, err := events.ParseID(p.Entry)
	if err != nil { // a batch
		f.clear()
		return nil
	}
	stream, err := f.r.StreamOf(id)
	if err != nil {
		return err
	}
	for _, snap := range []*Snapshot{f.act, f.whole} {
		snap.letGo(stream)
		clear(snap.courses)
		clear(snap.readings)
	}
	return nil
}

// follow puts an act into what lies open of its stream.
func (snap *Snapshot) follow(t events.Entity, e events.Entry) {
	if snap.Follows != nil && e.Kind == events.SessionOpened {
		snap.Follows.add(t.Name)
	}
	if n, known := snap.Prints[t.ID]; known {
		snap.Prints[t.ID] = max(n, PrintNumber(e.Data))
	}
	delete(snap.cuts, t.ID)
	fits := false
	switch t.Kind {
	case events.Picture:
		p := snap.pictures[t.ID]
		if fits = p != nil && follows(p.All, e); fits {
			p.All = append(p.All, e)
			p.add(e)
		}
	case events.Session:
		s := snap.sessions[t.Name]
		if fits = s != nil && follows(s.Entries, e); fits {
			s.Entries = append(s.Entries, e)
			s.add(e)
		}
	case events.Camera:
		c := snap.cameras[t.Name]
		if fits = c != nil && follows(c.Entries, e); fits {
			c.Entries = append(c.Entries, e)
			c.add(e)
		}
	}
	if !fits {
		snap.letGo(t)
	}
	if e.Kind == events.LightMetered {
		snap.readings[e.ID.String()] = &e
	}
}

// follows says whether an entry comes after all those given.
func follows(entries []events.Entry, e events.Entry) bool {
	return len(entries) == 0 || events.Compare(entries[len(entries)-1], e) < 0
}

// letGo has a thing read anew when it is asked for again.
func (snap *Snapshot) letGo(t events.Entity) {
	delete(snap.pictures, t.ID)
	delete(snap.cuts, t.ID)
	delete(snap.sessions, t.Name)
	delete(snap.cameras, t.Name)
	switch t.Kind {
	case events.Bath:
		delete(snap.baths, t.Name)
		delete(snap.courses, t.ID)
	case events.Box: // those that were cut from it as well
		clear(snap.boxes)
	}
}

// openSessions are the sessions that may be open, in the order in which they were opened.
type openSessions struct {
	asked bool
	names []string
}

func (o *openSessions) add(name string) {
	if o.asked {
		o.names = append(o.names, name)
	}
}

// LastOpened is, of the sessions open at a moment, the one opened last; nil for none.
func (snap *Snapshot) LastOpened(at time.Time) (*Session, error) {
	if snap.Follows == nil {
		open, err := snap.SessionsAt(at)
		if err != nil || len(open) == 0 {
			return nil, err
		}
		return open[0], nil
	}
	o := snap.Follows
	if !o.asked {
		open, err := snap.SessionsAt(at)
		if err != nil {
			return nil, err
		}
		for i := len(open) - 1; i >= 0; i-- {
			o.names = append(o.names, open[i].Entity.Name)
		}
		o.asked = true
	}
	for n := len(o.names); n > 0; n = len(o.names) {
		s, err := snap.Session(o.names[n-1])
		if err != nil {
			return nil, err
		}
		if s.OpenAt(at) {
			return s, nil
		}
		o.names = o.names[:n-1] // closed, and no later act of the file finds it open but by opening it again
	}
	return nil, nil
}
