package export

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Source is a book laid open for export.
type Source interface {
	events.Reader
	// Each calls f with every entry in the order of arrival, one at a time; f must not read the book.
	Each(f func(events.Entry) error) error
}

// Scope narrows an export. The zero value is the whole book; at most one field is set.
type Scope struct {
	Year    int    // by the local date of the acts; a picture also counts in the year of its number
	Session string // a session's name
	Picture string // 2026-014
}

// Whole says that nothing is left out.
func (s Scope) Whole() bool { return s == Scope{} }

var (
	severalScopes = wording.Refuses("several-scopes", "an export is narrowed by one of year, session and picture, and several were given", "give one, and export again for the other")
	noYear        = wording.Refuses("no-year", "{year} is no year", "write it with four digits, such as 2026")
)

// Check refuses a scope that names more than one thing.
func (s Scope) Check() error {
	n := 0
	for _, set := range []bool{s.Year != 0, s.Session != "", s.Picture != ""} {
		if set {
			n++
		}
	}
	switch {
	case n > 1:
		return severalScopes.Refuse()
	case s.Year < 0 || s.Year > 9999:
		return noYear.Refuse(s.Year)
	}
	return nil
}

// String says it in words for a heading.
func (s Scope) String() string {
	switch {
	case s.Year != 0:
		return fmt.Sprintf("%04d", s.Year)
	case s.Session != "":
		return "session " + s.Session
	case s.Picture != "":
		return "picture " + s.Picture
	}
	return "the whole book"
}

// Selection is what a scope takes in, and the snapshot on which all of it is looked at. Only names and numbers are held, so that
// a large book stays on the disk.
type Selection struct {
	src      Source
	Snap     *snapshot.Snapshot
	Scope    Scope
	pictures []events.Entity // ascending
	sessions []events.Entity
	boxes    []events.Entity
	baths    []events.Entity
	session  events.Entity // of a scope that is one session
	readings map[events.ID]bool
}

// Choose finds what a scope takes in.
func Choose(src Source, asOf time.Time, scope Scope) (*Selection, error) {
	if err := scope.Check(); err != nil {
		return nil, err
	}
	s := &Selection{src: src, Snap: snapshot.New(src, asOf), Scope: scope, readings: map[events.ID]bool{}}
	var err error
	switch {
	case scope.Picture != "":
		err = s.onePicture()
	case scope.Session != "":
		err = s.oneSession()
	case scope.Year != 0:
		err = s.oneYear()
	default:
		err = s.everything()
	}
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(s.pictures, comparePictures)
	slices.SortStableFunc(s.boxes, compareNames)
	slices.SortStableFunc(s.baths, compareNames)
	return s, nil
}

func comparePictures(a, b events.Entity) int {
	ya, na, _ := events.PictureNumber(a.Name)
	yb, nb, _ := events.PictureNumber(b.Name)
	switch {
	case ya != yb:
		return ya - yb
	case na != nb:
		return na - nb
	}
	return strings.Compare(a.Name, b.Name)
}

// compareNames sorts box-2 before box-10.
func compareNames(a, b events.Entity) int {
	pa, na := splitNumber(a.Name)
	pb, nb := splitNumber(b.Name)
	if c := strings.Compare(pa, pb); c != 0 {
		return c
	}
	if len(na) != len(nb) {
		return len(na) - len(nb)
	}
	return strings.Compare(na, nb)
}

func splitNumber(name string) (prefix, digits string) {
	prefix = strings.TrimRight(name, "0123456789")
	return prefix, strings.TrimLeft(name[len(prefix):], "0")
}

func (s *Selection) everything() error {
	var err error
	if s.pictures, err = s.src.Entities(events.Picture); err != nil {
		return err
	}
	if s.boxes, err = s.src.Entities(events.Box); err != nil {
		return err
	}
	if s.baths, err = s.src.Entities(events.Bath); err != nil {
		return err
	}
	sessions, err := s.src.Entities(events.Session)
	if err != nil {
		return err
	}
	return s.sortSessions(sessions)
}

// sortSessions puts sessions in the order in which they were opened.
func (s *Selection) sortSessions(entities []events.Entity) error {
	type dated struct {
		entity events.Entity
		at     time.Time
	}
	list := make([]dated, 0, len(entities))
	for _, t := range entities {
		s.Snap.Tidy()
		x, err := s.Snap.Session(t.Name)
		if err != nil {
			return err
		}
		list = append(list, dated{t, x.At})
	}
	slices.SortStableFunc(list, func(a, b dated) int {
		if c := a.at.Compare(b.at); c != 0 {
			return c
		}
		return strings.Compare(a.entity.Name, b.entity.Name)
	})
	for _, x := range list {
		s.sessions = append(s.sessions, x.entity)
	}
	return nil
}

func (s *Selection) onePicture() error {
	p, err := s.Snap.Picture(s.Scope.Picture)
	if err != nil {
		return err
	}
	s.pictures = []events.Entity{p.Entity}
	return s.used()
}

func (s *Selection) oneSession() error {
	x, err := s.Snap.Session(s.Scope.Session)
	if err != nil {
		return err
	}
	s.session = x.Entity
	entries, err := s.src.Entries(events.Query{Session: x.Entity.ID})
	if err != nil {
		return err
	}
	seen := map[int64]bool{}
	for _, e := range events.Fold(entries) {
		if !workOn(e.Kind) {
			continue
		}
		stream, err := s.src.StreamOf(e.ID)
		if err != nil {
			return err
		}
		if stream.Kind == events.Picture && !seen[stream.ID] {
			seen[stream.ID] = true
			s.pictures = append(s.pictures, stream)
		}
	}
	return s.used()
}

// workOn tells the acts that make a picture one of the session in which they were done: a scan attached, a print handed
// over or a remark written during a session is about a picture of another.
func workOn(k events.Kind) bool {
	switch k {
	case events.SheetAttached, events.SheetDelivered, events.NoteWritten, events.OrderTaken, events.OrderPaid, events.OrderClosed, events.SheetStored, events.SilverRecovered:
		return false
	}
	return true
}

// oneYear takes the pictures that bear the year in their number, and older ones on which something was done in it.
func (s *Selection) oneYear() error {
	begins := time.Date(s.Scope.Year, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, -1) // whatever the offset of the place
	q := events.ViewQuery{Kind: events.Picture, LastSince: begins.UnixMicro(), To: int64(s.Scope.Year+1)*1_000_000_000 - 1}
	err := eachView(s.src, q, func(v events.View) error {
		if v.Rank/1_000_000_000 == int64(s.Scope.Year) {
			s.pictures = append(s.pictures, v.Entity)
			return nil
		}
		s.Snap.Tidy()
		p, err := s.Snap.Picture(v.Entity.Name)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(p.All, s.inYear) {
			s.pictures = append(s.pictures, v.Entity)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.used()
}

// Late says that an entry is dated after the moment of the look.
func (s *Selection) Late(e events.Entry) bool {
	return !s.Snap.AsOf.IsZero() && e.At.After(s.Snap.AsOf)
}

func (s *Selection) inYear(e events.Entry) bool { return e.At.Year() == s.Scope.Year }

const viewPage = 1000

// eachView goes through kept views page by page.
func eachView(r events.Reader, q events.ViewQuery, f func(events.View) error) error {
	q.Limit = viewPage
	done := map[int64]bool{} // of the rank on which the pages meet
	for {
		page, err := r.Views(q)
		if err != nil {
			return err
		}
		fresh := 0
		for _, v := range page {
			if done[v.Entity.ID] {
				continue
			}
			fresh++
			if err := f(v); err != nil {
				return err
			}
		}
		if len(page) < q.Limit {
			return nil
		}
		last := page[len(page)-1].Rank
		if last != q.To {
			done = map[int64]bool{}
		}
		for _, v := range page {
			if v.Rank == last {
				done[v.Entity.ID] = true
			}
		}
		if q.To = last; fresh == 0 || last == 0 {
			q.Limit *= 2 // more twins of one number than a page holds
		}
	}
}

// used finds the sessions, boxes and baths that the chosen pictures touch, with what has its own acts in the scope.
func (s *Selection) used() error {
	seen := map[string]bool{}
	var sessions []events.Entity
	add := func(kind events.EntityKind, name string, to *[]events.Entity) error {
		if name == "" || seen[name] {
			return nil
		}
		seen[name] = true
		t, ok, err := s.src.Entity(name)
		if err == nil && ok && t.Kind == kind {
			*to = append(*to, t)
		}
		return err
	}
	for _, t := range s.pictures {
		s.Snap.Tidy()
		p, err := s.Snap.Picture(t.Name)
		if err != nil {
			return err
		}
		for _, e := range p.All {
			places := events.PlacesOf(e.Data)
			if err := add(events.Box, places.Box, &s.boxes); err != nil {
				return err
			}
			if err := add(events.Bath, places.Bath, &s.baths); err != nil {
				return err
			}
			if err := add(events.Session, places.Session, &sessions); err != nil {
				return err
			}
			if s.Scope.Picture != "" {
				s.noteReading(e)
			}
		}
	}
	if s.Scope.Session != "" {
		sessions = []events.Entity{s.session}
	}
	if s.Scope.Year != 0 {
		from := time.Date(s.Scope.Year, 1, 1, 0, 0, 0, 0, time.UTC)
		for _, x := range []struct {
			kind events.EntityKind
			to   *[]events.Entity
		}{{events.Session, &sessions}, {events.Box, &s.boxes}, {events.Bath, &s.baths}} {
			q := events.ViewQuery{Kind: x.kind, RankFrom: from.AddDate(0, 0, -1).UnixMicro(), To: from.AddDate(1, 0, 1).UnixMicro()}
			err := eachView(s.src, q, func(v events.View) error {
				stream, err := s.Snap.Stream(v.Entity)
				if err != nil || !slices.ContainsFunc(stream, s.inYear) {
					return err
				}
				return add(x.kind, v.Entity.Name, x.to)
			})
			if err != nil {
				return err
			}
		}
	}
	return s.sortSessions(sessions)
}

// noteReading keeps the reading that an exposure names: it belongs to the picture's story though its stream is elsewhere.
func (s *Selection) noteReading(e events.Entry) {
	if id, err := events.ParseID(events.ReadingOf(e.Data)); err == nil {
		s.readings[id] = true
	}
}
