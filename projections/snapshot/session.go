package snapshot

import (
	"cmp"
	"slices"
	"sort"
	"time"

	"traybook/events"
)

// Session is one outing, from its own entries: when it was open, where, and the readings that name no picture.
type Session struct {
	Entity   events.Entity
	Opened   *events.SessionOpenedData
	At       time.Time
	ClosedAt time.Time // zero while open
	Entries  []events.Entry
	Readings []events.Entry // that name no picture

	ReadingsByUse map[string][]events.Entry // by what they were taken on

	prints     inSession
	Served     map[string]Served // by the reading: what PrintsIn tells of, as far as SeenPrints
	SeenPrints int
}

// Served tells which prints a reading served: the first, and the first of another picture than that one's.
type Served struct{ First, Other events.Entry }

// OpenAt says whether the session was open at an instant.
func (s *Session) OpenAt(t time.Time) bool {
	return s.Opened != nil && !s.At.After(t) && (s.ClosedAt.IsZero() || s.ClosedAt.After(t))
}

func foldSession(t events.Entity, entries []events.Entry) *Session {
	s := &Session{Entity: t, Entries: entries, ReadingsByUse: map[string][]events.Entry{}}
	for _, e := range entries {
		s.add(e)
	}
	return s
}

// appendTo takes in an entry of a session, later than all before it. Where it changes when the session ended, what that
// took out of the trays is to be found out anew.
func (snap *Snapshot) appendTo(s *Session, e events.Entry) {
	again := e.Kind == events.SessionOpened && s.Opened != nil || e.Kind == events.SessionClosed && !s.ClosedAt.IsZero()
	if again {
		clear(snap.courses)
	}
	s.Entries = append(s.Entries, e)
	s.add(e)
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
		s.ReadingsByUse[d.On] = append(s.ReadingsByUse[d.On], e)
	}
}

// Session folds one session by name.
func (snap *Snapshot) Session(name string) (*Session, error) {
	if s, ok := snap.sessions[name]; ok {
		snap.catchUp(s.Entity.ID, func(e events.Entry) { snap.appendTo(s, e) })
		return s, nil
	}
	t, err := snap.Entity(events.Session, name)
	if err != nil {
		return nil, err
	}
	entries, err := snap.openStream(t)
	if err != nil {
		return nil, err
	}
	s := foldSession(t, entries)
	snap.sessions[name] = s
	if snap.follows != nil {
		snap.follows.sessions.opensLater(s, snap.follows.later[t.ID])
	}
	snap.layReadings(t.ID, entries)
	return s, nil
}

// SessionsAt lists the sessions open at an instant, the one opened last first.
func (snap *Snapshot) SessionsAt(at time.Time) ([]*Session, error) {
	open, err := snap.R.Views(events.ViewQuery{Kind: events.Session, OpenOnly: true})
	if err != nil {
		return nil, err
	}
	ahead := true
	if at.Equal(snap.AsOf) {
		if ahead, err = snap.Ahead(); err != nil {
			return nil, err
		}
	}
	var views []events.View
	if ahead { // A session is kept with Last = the instant it was closed, so those closed before are not looked at.
		if views, err = snap.R.Views(events.ViewQuery{Kind: events.Session, To: at.UnixMicro(), LastSince: at.UnixMicro()}); err != nil {
			return nil, err
		}
	}
	var names []string
	for _, v := range append(open, views...) {
		names = append(names, v.Entity.Name)
	}
	var out []*Session
	seen := map[string]bool{}
	for _, name := range names {
		if seen[name] {
			continue
		}
		seen[name] = true
		s, err := snap.Session(name)
		if err != nil {
			return nil, err
		}
		if s.OpenAt(at) {
			out = append(out, s)
		}
	}
	SortSessions(out)
	return out, nil
}

// SortSessions puts the latest session first.
func SortSessions(ss []*Session) {
	slices.SortStableFunc(ss, func(a, b *Session) int { return b.At.Compare(a.At) })
}

// Camera is one camera as described, and its checks.
type Camera struct {
	Entity       events.Entity
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
func (snap *Snapshot) Camera(name string) (*Camera, error) {
	if c, ok := snap.cameras[name]; ok {
		snap.catchUp(c.Entity.ID, c.append)
		return c, nil
	}
	t, err := snap.Entity(events.Camera, name)
	if err != nil {
		return nil, err
	}
	entries, err := snap.openStream(t)
	if err != nil {
		return nil, err
	}
	c := &Camera{Entity: t, Entries: entries}
	for _, e := range entries {
		c.add(e)
	}
	snap.cameras[name] = c
	return c, nil
}

// append takes in an entry, later than all before it.
func (c *Camera) append(e events.Entry) {
	c.Entries = append(c.Entries, e)
	c.add(e)
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

// StateOf reads how a picture stands at the snapshot's moment; of a picture that is not there, nothing.
func (snap *Snapshot) StateOf(picture string) (PictureState, error) {
	t, ok, err := snap.R.Entity(picture)
	if err != nil || !ok {
		return PictureState{}, err
	}
	v, ok, err := snap.R.View(t)
	if err != nil || !ok {
		return PictureState{}, err
	}
	st, _, err := snap.PictureState(v)
	return st, err
}

// actsIn are the acts of a kind in a session.
type actsIn struct {
	written []events.Entry             // by the moment of the act, as they were written
	count   map[events.ID]events.Entry // as they count
}

// NextIn gives the next acts of a kind in a session from a moment on: of so many as were written those that count. All of them are
// read at once and kept lying open, since who asks of one reading asks of the others.
func (snap *Snapshot) NextIn(session events.Entity, kind events.Kind, from time.Time, most int) ([]events.Entry, error) {
	if snap.follows != nil { // they grow under it
		return snap.Entries(events.Query{Session: session.ID, Kinds: []events.Kind{kind}, From: from, Limit: most})
	}
	key := sessionKind{session.ID, kind}
	in, read := snap.inSession[key]
	if !read {
		raw, err := snap.R.Entries(snap.counted(events.Query{Session: session.ID, Kinds: []events.Kind{kind}}))
		if err != nil {
			return nil, err
		}
		in.count = map[events.ID]events.Entry{}
		for _, e := range raw {
			if e.Kind == kind {
				in.written = append(in.written, e)
			}
		}
		slices.SortStableFunc(in.written, func(a, b events.Entry) int {
			return cmp.Or(cmp.Compare(a.At.UnixMicro(), b.At.UnixMicro()), cmp.Compare(a.Seq, b.Seq))
		})
		for _, e := range snap.Fold(raw, events.Fold) {
			in.count[e.ID] = e
		}
		snap.inSession[key] = in
	}
	i := sort.Search(len(in.written), func(i int) bool { return in.written[i].At.UnixMicro() >= from.UnixMicro() })
	var out []events.Entry
	for _, e := range in.written[i:min(i+most, len(in.written))] {
		if e, counts := in.count[e.ID]; counts {
			out = append(out, e)
		}
	}
	return out, nil
}

// sessionKind is a kind of acts in one session.
type sessionKind struct {
	session int64
	kind    events.Kind
}
