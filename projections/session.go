package projections

import (
	"slices"
	"time"

	"traybook/events"
)

// Session is one outing, from its own entries: when it was open, where, and the readings that name no picture.
type Session struct {
	Thing    events.Thing
	Opened   *events.SessionOpenedData
	At       time.Time
	ClosedAt time.Time // zero while open
	Entries  []events.Entry
	Readings []events.Entry // that name no picture

	readings map[string][]events.Entry // by what they were taken on
}

// OpenAt says whether the session was open at an instant.
func (s *Session) OpenAt(t time.Time) bool {
	return s.Opened != nil && !s.At.After(t) && (s.ClosedAt.IsZero() || s.ClosedAt.After(t))
}

func foldSession(t events.Thing, entries []events.Entry) *Session {
	s := &Session{Thing: t, Entries: entries, readings: map[string][]events.Entry{}}
	for _, e := range entries {
		s.add(e)
	}
	return s
}

// add takes in an entry, later than all before it.
func (s *Session) add(e events.Entry) {
	switch d := e.Data.(type) {
	case *events.SessionOpenedData:
		s.Opened = d
		if s.At.IsZero() {
			s.At = e.At
		}
		s.ClosedAt = time.Time{} // opened again goes on
	case *events.SessionClosedData:
		s.ClosedAt = e.At
	case *events.LightMeteredData:
		s.Readings = append(s.Readings, e)
		s.readings[d.On] = append(s.readings[d.On], e)
	}
}

// Session folds one session by name.
func (d *Desk) Session(name string) (*Session, error) {
	if s, ok := d.sessions[name]; ok {
		return s, nil
	}
	t, err := d.thing(events.Session, name)
	if err != nil {
		return nil, err
	}
	entries, err := d.Home(t)
	if err != nil {
		return nil, err
	}
	s := foldSession(t, entries)
	d.sessions[name] = s
	d.layReadings(entries)
	return s, nil
}

// sessionsAt lists the sessions open at an instant, the one opened last first.
func (d *Desk) sessionsAt(at time.Time) ([]*Session, error) {
	// A session is kept with Last = the instant it was closed, so those closed before are not looked at.
	views, err := d.R.Views(events.ViewQuery{Kind: events.Session, To: at.UnixMicro(), LastSince: at.UnixMicro()})
	if err != nil {
		return nil, err
	}
	open, err := d.R.Views(events.ViewQuery{Kind: events.Session, OpenOnly: true})
	if err != nil {
		return nil, err
	}
	var names []string
	for _, v := range append(open, views...) {
		names = append(names, v.Thing.Name)
	}
	var out []*Session
	seen := map[string]bool{}
	for _, name := range names {
		if seen[name] {
			continue
		}
		seen[name] = true
		s, err := d.Session(name)
		if err != nil {
			return nil, err
		}
		if s.OpenAt(at) {
			out = append(out, s)
		}
	}
	sortSessions(out)
	return out, nil
}

func sortSessions(ss []*Session) {
	slices.SortStableFunc(ss, func(a, b *Session) int { return b.At.Compare(a.At) })
}

// Camera is one camera as described, and its checks.
type Camera struct {
	Thing        events.Thing
	Descriptions []events.Entry
	Checks       []events.Entry
	Entries      []events.Entry
}

// At gives the description in force at an instant: the latest before it, else the first there is.
func (c *Camera) At(t time.Time) *events.CameraDescribedData {
	if len(c.Descriptions) == 0 {
		return nil
	}
	return c.Descriptions[max(0, upTo(c.Descriptions, t)-1)].Data.(*events.CameraDescribedData)
}

// Camera folds one camera by name.
func (d *Desk) Camera(name string) (*Camera, error) {
	if c, ok := d.cameras[name]; ok {
		return c, nil
	}
	t, err := d.thing(events.Camera, name)
	if err != nil {
		return nil, err
	}
	entries, err := d.Home(t)
	if err != nil {
		return nil, err
	}
	c := &Camera{Thing: t, Entries: entries}
	for _, e := range entries {
		c.add(e)
	}
	d.cameras[name] = c
	return c, nil
}

// add takes in an entry, later than all before it.
func (c *Camera) add(e events.Entry) {
	switch e.Kind {
	case events.CameraDescribed:
		c.Descriptions = append(c.Descriptions, e)
	case events.CameraChecked:
		c.Checks = append(c.Checks, e)
	}
}
