package projections

import (
	"time"

	"traybook/events"
)

// follower takes acts into a book one after another, in the order of their time, and keeps what lies open on two desks in
// step with them: one as of each act, one of the whole book. Without it each act of a file would read its picture and its
// session again from their beginning.
type follower struct {
	r          events.Reader
	act, whole *Desk
}

func newFollower(r events.Reader) *follower {
	f := &follower{r: r}
	f.clear()
	return f
}

// clear begins again with nothing read.
func (f *follower) clear() {
	f.whole = NewDesk(f.r, time.Time{})
	var sitters map[string]bool
	if f.act != nil {
		sitters = f.act.sitters
	}
	f.act = NewDeskForAct(f.r, time.Time{})
	f.act.sitters = sitters
	f.act.whole, f.act.follows, f.act.prints = f.whole, &openSessions{}, map[int64]int{}
}

// deskAt is the desk for an act of a moment. What was left out as later must be read anew, and so must what lies open
// where an act is earlier than the one before it: a void comes after what it names, whenever it is dated.
func (f *follower) deskAt(at time.Time) *Desk {
	if f.act.cutOff || at.Before(f.act.AsOf) || f.whole.crowded() || f.act.crowded() {
		f.clear()
	}
	f.act.AsOf, f.act.ahead = at, nil
	return f.act
}

// follow takes in an act that was just appended.
func (f *follower) follow(e events.Entry) error {
	p := events.PlacesOf(e.Data)
	if e.Kind == events.EntryVoided || e.Kind == events.EntryAmended {
		return f.mended(p)
	}
	home := p.Home.Name
	if p.Entry != "" || p.Home.Kind == "" {
		t, err := f.r.HomeOf(e.ID)
		if err != nil {
			return err
		}
		home = t.Name
	}
	t, ok, err := f.r.Thing(home)
	if err != nil || !ok {
		return err
	}
	for _, d := range []*Desk{f.act, f.whole} {
		d.follow(t, e)
		if p.Bath != "" {
			if b := d.baths[p.Bath]; b != nil {
				delete(d.courses, b.Thing.ID)
			}
		}
	}
	return nil
}

// mended lets go of what an amendment or a void may change.
func (f *follower) mended(p events.Places) error {
	id, err := events.ParseID(p.Entry)
	if err != nil { // a batch
		f.clear()
		return nil
	}
	home, err := f.r.HomeOf(id)
	if err != nil {
		return err
	}
	for _, d := range []*Desk{f.act, f.whole} {
		d.letGo(home)
		clear(d.courses)
		clear(d.readings)
	}
	return nil
}

// follow puts an act into what lies open of its home.
func (d *Desk) follow(t events.Thing, e events.Entry) {
	if d.follows != nil && e.Kind == events.SessionOpened {
		d.follows.add(t.Name)
	}
	if n, known := d.prints[t.ID]; known {
		d.prints[t.ID] = max(n, printNumber(e.Data))
	}
	delete(d.cuts, t.ID)
	fits := false
	switch t.Kind {
	case events.Picture:
		p := d.pictures[t.ID]
		if fits = p != nil && follows(p.All, e); fits {
			p.All = append(p.All, e)
			p.add(e)
		}
	case events.Session:
		s := d.sessions[t.Name]
		if fits = s != nil && follows(s.Entries, e); fits {
			s.Entries = append(s.Entries, e)
			s.add(e)
		}
	case events.Camera:
		c := d.cameras[t.Name]
		if fits = c != nil && follows(c.Entries, e); fits {
			c.Entries = append(c.Entries, e)
			c.add(e)
		}
	}
	if !fits {
		d.letGo(t)
	}
	if e.Kind == events.LightMetered {
		d.readings[e.ID.String()] = &e
	}
}

// follows says whether an entry comes after all those given.
func follows(entries []events.Entry, e events.Entry) bool {
	return len(entries) == 0 || events.Compare(entries[len(entries)-1], e) < 0
}

// letGo has a thing read anew when it is asked for again.
func (d *Desk) letGo(t events.Thing) {
	delete(d.pictures, t.ID)
	delete(d.cuts, t.ID)
	delete(d.sessions, t.Name)
	delete(d.cameras, t.Name)
	switch t.Kind {
	case events.Bath:
		delete(d.baths, t.Name)
		delete(d.courses, t.ID)
	case events.Box: // those that were cut from it as well
		clear(d.boxes)
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

// lastOpened is, of the sessions open at a moment, the one opened last; nil for none.
func (d *Desk) lastOpened(at time.Time) (*Session, error) {
	if d.follows == nil {
		open, err := d.sessionsAt(at)
		if err != nil || len(open) == 0 {
			return nil, err
		}
		return open[0], nil
	}
	o := d.follows
	if !o.asked {
		open, err := d.sessionsAt(at)
		if err != nil {
			return nil, err
		}
		for i := len(open) - 1; i >= 0; i-- {
			o.names = append(o.names, open[i].Thing.Name)
		}
		o.asked = true
	}
	for n := len(o.names); n > 0; n = len(o.names) {
		s, err := d.Session(o.names[n-1])
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
