package snapshot

import (
	"slices"
	"time"

	"traybook/events"
)

// takeOut takes an act that was just voided out of what lies open, in its place. out is false where that cannot be done and
// what lies open is to be read anew: for a void of a void, of an act that was amended, of one that opens or closes a
// session, of one that does not count at the snapshot's moment, and of one on a thing that does not lie open,
// exposures left out.
func (snap *Snapshot) takeOut(entry string) (out bool, err error) {
	id, err := events.ParseID(entry)
	if err != nil {
		return false, nil
	}
	found, err := snap.R.Find(id.String())
	if err != nil || len(found) != 1 {
		return false, err
	}
	t, err := snap.R.StreamOf(id)
	if err != nil {
		return false, err
	}
	switch t.Kind {
	case events.Picture:
		p := snap.pictures[t.ID]
		if p == nil && exposedOn(found[0]) != "" { // it may have been exposed before the file
			return snap.takeOutUnread(t, id)
		}
		if p == nil {
			return false, nil
		}
		snap.catchUp(t.ID, p.append)
		i, there := placeOf(p.All, found[0])
		if !there || len(p.All[i].Amended) > 0 {
			return false, nil
		}
		e := p.All[i]
		p.takeOut(i)
		snap.takeOutOfPicture(p, e)
		return true, nil
	case events.Session:
		s := snap.sessions[t.Name]
		if s == nil {
			return false, nil
		}
		snap.catchUp(t.ID, func(e events.Entry) { snap.appendTo(s, e) })
		i, there := placeOf(s.Entries, found[0])
		if !there || len(s.Entries[i].Amended) > 0 || found[0].Kind == events.SessionOpened || found[0].Kind == events.SessionClosed {
			return false, nil
		}
		snap.takeOutOfSession(s, s.Entries[i])
		return true, nil
	}
	return false, nil
}

// placeOf finds an entry among others that stand in their order.
func placeOf(entries []events.Entry, e events.Entry) (int, bool) {
	i, there := slices.BinarySearchFunc(entries, e, events.Compare)
	return i, there && entries[i].ID == e.ID
}

// without takes an entry out of others that stand in their order.
func without(entries []events.Entry, e events.Entry) []events.Entry {
	if i, there := placeOf(entries, e); there {
		return slices.Delete(entries, i, i+1)
	}
	return entries
}

// takeOutOfSession takes an act that names no picture out of its session.
func (snap *Snapshot) takeOutOfSession(s *Session, e events.Entry) {
	s.Entries = without(s.Entries, e)
	x, ok := e.Data.(*events.LightMeteredData)
	if !ok {
		return
	}
	s.Readings, s.ReadingsByUse[x.On] = without(s.Readings, e), without(s.ReadingsByUse[x.On], e)
	delete(snap.readings, e.ID.String())
	s.servedAnew(e.At)
}

// takeOutUnread is takeOut for an exposure of a picture that does not lie open.
func (snap *Snapshot) takeOutUnread(t events.Entity, id events.ID) (out bool, err error) {
	all, err := snap.StreamAll(t)
	if err != nil {
		return false, err
	}
	i := slices.IndexFunc(all, func(e events.Entry) bool { return e.ID == id })
	if i < 0 || len(all[i].Amended) > 0 {
		return false, nil
	}
	p, err := snap.PictureOf(t)
	if err != nil {
		return false, err
	}
	snap.takeOutOfPicture(p, all[i])
	return true, nil
}

// takeOutOfPicture takes an act that is on its picture no more out of all that followed from it.
func (snap *Snapshot) takeOutOfPicture(p *Picture, e events.Entry) {
	f, t, s := snap.follows, p.Entity, p.Sheet(PartOf(e.Data))
	delete(snap.readings, e.ID.String())
	for key := range newestKeys(e) {
		delete(f.newest, key)
	}
	if len(f.later[t.ID]) > 0 {
		delete(f.ever, t.ID)
	} else if parts, known := f.ever[t.ID]; known && PartOf(e.Data) != "" {
		delete(parts, PartOf(e.Data))
		if s != nil {
			parts[s.Part] = Ever{len(s.Exposures) > 0, len(s.Developed) > 0}
		}
	}
	if e.Kind == events.SheetExposed || e.Kind == events.SheetReprinted {
		snap.takeOutCut(t, PartOf(e.Data), s)
	}
	if b := snap.baths[events.PlacesOf(e.Data).Bath]; b != nil {
		if c := snap.courses[b.Entity.ID]; c != nil && !c.takeOut(e) {
			delete(snap.courses, b.Entity.ID)
		}
	}
	f.waits.takeOut(t, s, e)
	snap.takeOutOfPrints(p, e)
}

// takeOut takes out the act at a place.
func (p *Picture) takeOut(i int) {
	e := p.All[i]
	p.All = slices.Delete(p.All, i, i+1)
	p.First, p.Last = time.Time{}, time.Time{}
	if n := len(p.All); n > 0 {
		p.First, p.Last = p.All[0].At, p.All[n-1].At
	}
	s := p.Sheet(PartOf(e.Data))
	if s == nil {
		p.Entries = without(p.Entries, e)
		if r, ok := e.Data.(*events.LightMeteredData); ok {
			p.Readings[r.On] = without(p.Readings[r.On], e)
		}
	} else {
		asked := len(s.Judged) > 0
		left := without(s.Entries, e)
		*s = Sheet{Name: s.Name, Part: s.Part, Generation: s.Generation}
		for _, e := range left {
			s.add(e)
		}
		if len(left) == 0 {
			delete(p.parts, s.Part)
			p.Sheets = slices.DeleteFunc(p.Sheets, func(x *Sheet) bool { return x == s })
		}
		if asked {
			p.Asked = Asked{}
		}
	}
	if i < p.Asked.Seen {
		p.Asked.Seen--
	}
	if e.Kind == events.SheetExposed {
		p.Session, p.Camera, p.Subject, p.Sitter = "", "", "", ""
		for _, e := range p.All {
			p.describe(e)
		}
	}
}

// takeOutCut keeps in step what a sheet was made of, without one of its exposures.
func (snap *Snapshot) takeOutCut(t events.Entity, part string, s *Sheet) {
	if s != nil && len(s.Exposures) > 0 {
		delete(snap.cuts, t.ID)
	} else {
		delete(snap.cuts[t.ID], part)
	}
	if s != nil && slices.ContainsFunc(s.Entries, func(e events.Entry) bool { return events.PlacesOf(e.Data).Bath != "" }) {
		clear(snap.courses) // it lay there with another size
	}
}

// takeOut takes a stay out; out is false where the course is to be read anew: it may have been the only one of a session.
func (c *bathCourse) takeOut(e events.Entry) (out bool) {
	if _, there := placeOf(c.came, e); there {
		c.came = without(c.came, e)
		return true
	}
	i, there := slices.BinarySearchFunc(c.Uses, e, func(u bathUse, e events.Entry) int { return events.Compare(u.Entry, e) })
	if !there {
		return false
	}
	u, turn := c.Uses[i], trayTurn{at: e.At, rank: 1}
	another := func(x bathUse) bool { return x.session == u.session }
	if u.session != "" && !slices.ContainsFunc(c.Uses[i+1:], another) && !slices.ContainsFunc(c.Uses[:i], another) {
		return false
	}
	after, _ := slices.BinarySearchFunc(c.turns, turn, func(x, turn trayTurn) int {
		if inTurn(x, turn) <= 0 {
			return -1
		}
		return 1
	})
	for after--; after >= 0 && !c.turns[after].tray; after-- { // of those at one instant the stays come last
	}
	if after < 0 || inTurn(c.turns[after], turn) != 0 {
		return false
	}
	turns, uses := slices.Clone(c.turns[after+1:]), slices.Clone(c.Uses[i+1:])
	c.turns = c.turns[:after]
	c.addTurns(turns)
	for _, x := range c.Uses[i:] {
		if c.first[x.Sheet] >= i {
			delete(c.first, x.Sheet)
		}
	}
	for j := range uses {
		uses[j].Again = false
	}
	c.Uses = c.Uses[:i]
	c.addUses(uses)
	return true
}

// takeOut takes in that an act on a sheet counts no more; s is the sheet without it, nil for none.
func (w *waitingSheets) takeOut(t events.Entity, s *Sheet, e events.Entry) {
	if !w.asked || PartOf(e.Data) == "" {
		return
	}
	place := func(exposed events.Entry) (int, bool) {
		return slices.BinarySearchFunc(w.sheets, exposed, func(x waitingSheet, e events.Entry) int { return events.Compare(x.exposed, e) })
	}
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		if s != nil && len(s.Exposures) > 0 {
			*w = waitingSheets{}
		} else if i, there := place(e); there {
			w.sheets = slices.Delete(w.sheets, i, i+1)
		}
	case events.SheetDeveloped:
		if s == nil || !s.Waits() {
			return
		}
		w.add(waitingSheet{t, s.Part, s.Exposures[0]})
	case events.SheetJudged:
		if s != nil && len(s.Exposures) > 0 && len(s.Developed) == 0 {
			*w = waitingSheets{}
		}
	}
}

// takeOutOfPrints takes an act on a picture out of what the sessions tell of their prints.
func (snap *Snapshot) takeOutOfPrints(p *Picture, e events.Entry) {
	for _, s := range snap.sessions {
		if e.Kind == events.SheetReprinted {
			s.takeOutPrint(e)
		}
		// Which reading served a print depends on what came before it on its picture, and on when that was developed first.
		if n := len(p.Sheets); n > 0 && p.Sheets[n-1].Part != "n" {
			if e.Kind == events.SheetDeveloped {
				s.servedAnew(time.Time{})
			} else {
				s.servedAnew(e.At)
			}
		}
	}
}

// takeOutPrint takes a print out of those that were made in the session.
func (s *Session) takeOutPrint(e events.Entry) {
	s.prints.later = without(s.prints.later, e)
	i, there := placeOf(s.prints.done, e)
	if !there {
		return
	}
	s.prints.done = slices.Delete(s.prints.done, i, i+1)
	if i >= s.SeenPrints {
		return
	}
	if s.SeenPrints--; i < s.SeenPrints {
		s.Served, s.SeenPrints = nil, 0
		return
	}
	for reading, served := range s.Served { // the last that was seen
		switch e.ID {
		case served.First.ID:
			delete(s.Served, reading)
		case served.Other.ID:
			served.Other = events.Entry{}
			s.Served[reading] = served
		}
	}
}

// servedAnew has it found out again what prints the readings served, where one that is not before a moment was looked at.
func (s *Session) servedAnew(at time.Time) {
	if n := s.SeenPrints; n > 0 && !s.prints.done[n-1].At.Before(at) {
		s.Served, s.SeenPrints = nil, 0
	}
}
