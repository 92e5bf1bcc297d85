package export

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/projections"
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
		return &projections.Refusal{Text: "an export is narrowed by one of year, session and picture, and several were given", Hint: "give one, and export again for the other"}
	case s.Year < 0 || s.Year > 9999:
		return &projections.Refusal{Text: fmt.Sprintf("%d is no year", s.Year), Hint: "write it with four digits, such as 2026"}
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

// selection is what a scope takes in, and the desk on which all of it is looked at. Only names and numbers are held, so that
// a large book stays on the disk.
type selection struct {
	src      Source
	desk     *projections.Desk
	scope    Scope
	pictures []events.Thing // ascending
	sessions []events.Thing
	boxes    []events.Thing
	baths    []events.Thing
	session  events.Thing // of a scope that is one session
	readings map[events.ID]bool
}

// choose finds what a scope takes in.
func choose(src Source, asOf time.Time, scope Scope) (*selection, error) {
	if err := scope.Check(); err != nil {
		return nil, err
	}
	s := &selection{src: src, desk: projections.NewDesk(src, asOf), scope: scope, readings: map[events.ID]bool{}}
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

func comparePictures(a, b events.Thing) int {
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
func compareNames(a, b events.Thing) int {
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

func (s *selection) everything() error {
	var err error
	if s.pictures, err = s.src.Things(events.Picture); err != nil {
		return err
	}
	if s.boxes, err = s.src.Things(events.Box); err != nil {
		return err
	}
	if s.baths, err = s.src.Things(events.Bath); err != nil {
		return err
	}
	sessions, err := s.src.Things(events.Session)
	if err != nil {
		return err
	}
	return s.sortSessions(sessions)
}

// sortSessions puts sessions in the order in which they were opened.
func (s *selection) sortSessions(things []events.Thing) error {
	type dated struct {
		thing events.Thing
		at    time.Time
	}
	list := make([]dated, 0, len(things))
	for _, t := range things {
		s.desk.Tidy()
		x, err := s.desk.Session(t.Name)
		if err != nil {
			return err
		}
		list = append(list, dated{t, x.At})
	}
	slices.SortStableFunc(list, func(a, b dated) int {
		if c := a.at.Compare(b.at); c != 0 {
			return c
		}
		return strings.Compare(a.thing.Name, b.thing.Name)
	})
	for _, x := range list {
		s.sessions = append(s.sessions, x.thing)
	}
	return nil
}

func (s *selection) onePicture() error {
	p, err := s.desk.Picture(s.scope.Picture)
	if err != nil {
		return err
	}
	s.pictures = []events.Thing{p.Thing}
	return s.used()
}

func (s *selection) oneSession() error {
	x, err := s.desk.Session(s.scope.Session)
	if err != nil {
		return err
	}
	s.session = x.Thing
	entries, err := s.src.Entries(events.Query{Session: x.Thing.ID})
	if err != nil {
		return err
	}
	seen := map[int64]bool{}
	for _, e := range events.Fold(entries) {
		if !workOn(e.Kind) {
			continue
		}
		home, err := s.src.HomeOf(e.ID)
		if err != nil {
			return err
		}
		if home.Kind == events.Picture && !seen[home.ID] {
			seen[home.ID] = true
			s.pictures = append(s.pictures, home)
		}
	}
	return s.used()
}

// workOn tells the acts that make a picture one of the session in which they were done: a scan attached, a print handed
// over or a remark written during a session is about a picture of another.
func workOn(k events.Kind) bool {
	switch k {
	case events.SheetAttached, events.SheetDelivered, events.NoteWritten:
		return false
	}
	return true
}

// oneYear takes the pictures that bear the year in their number, and older ones on which something was done in it.
func (s *selection) oneYear() error {
	begins := time.Date(s.scope.Year, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, -1) // whatever the offset of the place
	q := events.ViewQuery{Kind: events.Picture, LastSince: begins.UnixMicro(), To: int64(s.scope.Year+1)*1_000_000_000 - 1}
	err := eachView(s.src, q, func(v events.View) error {
		if v.Rank/1_000_000_000 == int64(s.scope.Year) {
			s.pictures = append(s.pictures, v.Thing)
			return nil
		}
		s.desk.Tidy()
		p, err := s.desk.Picture(v.Thing.Name)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(p.All, s.inYear) {
			s.pictures = append(s.pictures, v.Thing)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.used()
}

// late says that an entry is dated after the moment of the look.
func (s *selection) late(e events.Entry) bool {
	return !s.desk.AsOf.IsZero() && e.At.After(s.desk.AsOf)
}

func (s *selection) inYear(e events.Entry) bool { return e.At.Year() == s.scope.Year }

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
			if done[v.Thing.ID] {
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
				done[v.Thing.ID] = true
			}
		}
		if q.To = last; fresh == 0 || last == 0 {
			q.Limit *= 2 // more twins of one number than a page holds
		}
	}
}

// used finds the sessions, boxes and baths that the chosen pictures touch, with what has its own acts in the scope.
func (s *selection) used() error {
	seen := map[string]bool{}
	var sessions []events.Thing
	add := func(kind events.ThingKind, name string, to *[]events.Thing) error {
		if name == "" || seen[name] {
			return nil
		}
		seen[name] = true
		t, ok, err := s.src.Thing(name)
		if err == nil && ok && t.Kind == kind {
			*to = append(*to, t)
		}
		return err
	}
	for _, t := range s.pictures {
		s.desk.Tidy()
		p, err := s.desk.Picture(t.Name)
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
			if s.scope.Picture != "" {
				s.noteReading(e)
			}
		}
	}
	if s.scope.Session != "" {
		sessions = []events.Thing{s.session}
	}
	if s.scope.Year != 0 {
		from := time.Date(s.scope.Year, 1, 1, 0, 0, 0, 0, time.UTC)
		for _, x := range []struct {
			kind events.ThingKind
			to   *[]events.Thing
		}{{events.Session, &sessions}, {events.Box, &s.boxes}, {events.Bath, &s.baths}} {
			q := events.ViewQuery{Kind: x.kind, RankFrom: from.AddDate(0, 0, -1).UnixMicro(), To: from.AddDate(1, 0, 1).UnixMicro()}
			err := eachView(s.src, q, func(v events.View) error {
				home, err := s.desk.Home(v.Thing)
				if err != nil || !slices.ContainsFunc(home, s.inYear) {
					return err
				}
				return add(x.kind, v.Thing.Name, x.to)
			})
			if err != nil {
				return err
			}
		}
	}
	return s.sortSessions(sessions)
}

// noteReading keeps the reading that an exposure names: it belongs to the picture's story though its home is elsewhere.
func (s *selection) noteReading(e events.Entry) {
	if id, err := events.ParseID(events.ReadingOf(e.Data)); err == nil {
		s.readings[id] = true
	}
}
