package snapshot

import (
	"fmt"
	"slices"
	"time"

	"traybook/events"
)

// AsItCounts gives one entry as it counts, amended, with Voided naming the void that took it back. Amendments and voids
// have such a state too.
func (snap *Snapshot) AsItCounts(id events.ID) (events.Entry, error) {
	stream, err := snap.R.StreamOf(id)
	if err != nil {
		return events.Entry{}, err
	}
	raw, err := snap.R.Entries(events.Query{Stream: stream.ID})
	if err != nil {
		return events.Entry{}, err
	}
	return asItCounts(raw, id)
}

func asItCounts(raw []events.Entry, id events.ID) (events.Entry, error) {
	kind := events.Kind("")
	raw = slices.Clone(raw)
	for i := range raw {
		if raw[i].ID == id {
			kind = raw[i].Kind
			raw[i].Kind = events.MomentMarked // the fold passes over amendments and voids, and looks at the kind alone
			if kind != events.EntryAmended && kind != events.EntryVoided {
				raw[i].Kind = kind
			}
		}
	}
	for _, e := range events.FoldAll(raw) {
		if e.ID == id {
			e.Kind = kind
			return e, nil
		}
	}
	return events.Entry{}, fmt.Errorf("%w: the entry %s", events.ErrNotFound, id)
}

// AllDependents lists every act that would be impossible without the entries given, and without those in turn, in the
// order of the acts.
func (snap *Snapshot) AllDependents(entries ...events.Entry) ([]events.Entry, error) {
	gone := map[events.ID]bool{}
	for _, e := range entries {
		gone[e.ID] = true
	}
	var out []events.Entry
	for queue := slices.Clone(entries); len(queue) > 0; queue = queue[1:] {
		found, err := snap.dependentsOf(queue[0], gone)
		if err != nil {
			return nil, err
		}
		for _, e := range found {
			if !gone[e.ID] {
				gone[e.ID] = true
				out, queue = append(out, e), append(queue, e)
			}
		}
	}
	slices.SortStableFunc(out, events.Compare)
	return snap.withoutEnded(out)
}

// withoutEnded leaves out the clocks that acts ended: they are taken back with those.
func (snap *Snapshot) withoutEnded(entries []events.Entry) ([]events.Entry, error) {
	var out []events.Entry
	for _, e := range entries {
		if e.Kind == events.ClockStarted {
			ended, err := snap.ClockEndedBy(e)
			if err != nil {
				return nil, err
			}
			if len(ended) > 0 {
				continue
			}
		}
		out = append(out, e)
	}
	return out, nil
}

// Dependents lists the acts that stand on one entry alone, in the order of the acts: what names the thing that it gave
// a name to, the exposures that a reading served, the notes about it.
func (snap *Snapshot) Dependents(e events.Entry) ([]events.Entry, error) {
	found, err := snap.dependentsOf(e, map[events.ID]bool{e.ID: true})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(found, events.Compare)
	return snap.withoutEnded(found)
}

// dependentsOf lists what stands on e when the entries gone do not count.
func (snap *Snapshot) dependentsOf(e events.Entry, gone map[events.ID]bool) ([]events.Entry, error) {
	stream, err := snap.R.StreamOf(e.ID)
	if err != nil {
		return nil, err
	}
	own, err := snap.Stream(stream)
	if err != nil {
		return nil, err
	}
	s := &dependents{d: snap, gone: gone, seen: map[events.ID]bool{}}
	id := e.ID.String()
	for _, o := range own {
		if n, ok := o.Data.(*events.NoteWrittenData); ok && n.About == id {
			s.add(o)
		}
	}
	switch x := e.Data.(type) {
	case *events.LightMeteredData:
		err = s.onReading(e, x, own)
	case *events.SheetReprintedData:
		s.onSheet(x.Sheet, own, events.SheetReprinted)
	case *events.SheetDevelopedData: // of a sheet that was never exposed it is all there is
		s.onSheet(x.Sheet, own, events.SheetDeveloped, events.SheetExposed, events.SheetReprinted)
	case *events.PaperCutData:
		var t events.Entity
		var ok bool
		if t, ok, err = snap.R.Entity(x.Into); err == nil && ok {
			err = s.onEntity(t)
		}
	default:
		if introduces(e.Kind, stream.Kind) {
			err = s.onEntity(stream)
		}
	}
	return s.out, err
}

// introduces says whether a kind gives a thing its name.
func introduces(k events.Kind, t events.EntityKind) bool { return slices.Contains(givers[t], k) }

// givers are the kinds whose entries give things of a kind their names.
var givers = map[events.EntityKind][]events.Kind{
	events.Camera: {events.CameraDescribed}, events.Session: {events.SessionOpened}, events.Box: {events.PaperReceived},
	events.Bath: {events.BathMixed}, events.Picture: {events.SheetExposed}, events.Strip: {events.StripExposed},
	events.Holder: {events.HolderLoaded}, events.Order: {events.OrderTaken},
}

// dependents gathers what stands on something.
type dependents struct {
	d    *Snapshot
	gone map[events.ID]bool
	seen map[events.ID]bool
	out  []events.Entry
}

func (s *dependents) add(e events.Entry) {
	if !s.gone[e.ID] && !s.seen[e.ID] {
		s.seen[e.ID] = true
		s.out = append(s.out, e)
	}
}

// onEntity adds everything that names a thing which nothing gives its name any more.
func (s *dependents) onEntity(t events.Entity) error {
	given, err := s.d.Given(t, s.gone)
	if err != nil || given {
		return err
	}
	own, err := s.d.Stream(t)
	if err != nil {
		return err
	}
	for _, e := range own {
		s.add(e)
	}
	for _, q := range []events.Query{{Cites: t.ID}, {Box: t.ID}, {Bath: t.ID}, {Session: t.ID}} {
		if q.Box != 0 && t.Kind != events.Box || q.Bath != 0 && t.Kind != events.Bath || q.Session != 0 && t.Kind != events.Session {
			continue
		}
		found, err := s.d.Entries(q)
		if err != nil {
			return err
		}
		for _, e := range found {
			s.add(e)
		}
	}
	if t.Kind == events.Camera {
		return s.withCamera(t.Name)
	}
	return nil
}

// Given says whether an entry that counts, and is not among those gone, gives a thing its name.
func (snap *Snapshot) Given(t events.Entity, gone map[events.ID]bool) (bool, error) {
	kinds, named := givers[t.Kind]
	if !named {
		return true, nil // a sitter's name stands in the table, the book's nowhere
	}
	found, err := snap.Stream(t)
	if err != nil {
		return false, err
	}
	found = slices.DeleteFunc(found, func(e events.Entry) bool { return !slices.Contains(kinds, e.Kind) })
	if t.Kind == events.Box {
		cut, err := snap.Entries(events.Query{Cites: t.ID, Kinds: []events.Kind{events.PaperCut}})
		if err != nil {
			return false, err
		}
		found = append(found, cut...)
	}
	return slices.ContainsFunc(found, func(e events.Entry) bool {
		c, isCut := e.Data.(*events.PaperCutData)
		return !gone[e.ID] && (!isCut || c.Into == t.Name)
	}), nil
}

// onSheet adds what was done to a sheet that no entry of the kinds given tells of any more.
func (s *dependents) onSheet(sheet string, own []events.Entry, kinds ...events.Kind) {
	for _, e := range own {
		if slices.Contains(kinds, e.Kind) && events.SheetOf(e.Data) == sheet && !s.gone[e.ID] {
			return
		}
	}
	for _, e := range own {
		if events.SheetOf(e.Data) == sheet {
			s.add(e)
		}
	}
}

// byReading are the kinds that name the reading which served them.
var byReading = []events.Kind{events.SheetExposed, events.SheetReprinted, events.StripExposed}

// onReading adds what names a reading: in its own stream, in its session, and what was exposed after it anywhere.
func (s *dependents) onReading(e events.Entry, x *events.LightMeteredData, own []events.Entry) error {
	id := e.ID.String()
	look := func(o events.Entry) {
		if f, ok := events.FieldOf(o.Kind, "reading"); ok {
			if v, there := f.Value(o.Data); there && v == id {
				s.add(o)
			}
		}
	}
	for _, o := range own {
		look(o)
	}
	if x.Session != "" {
		t, ok, err := s.d.R.Entity(x.Session)
		if err != nil {
			return err
		}
		if ok {
			found, err := s.d.Entries(events.Query{Session: t.ID, Kinds: byReading})
			if err != nil {
				return err
			}
			for _, o := range found {
				look(o)
			}
		}
	}
	return s.d.scan(e.At, byReading, look)
}

// withCamera adds the acts that carry a camera.
func (s *dependents) withCamera(name string) error {
	kinds := []events.Kind{}
	for _, k := range events.Kinds {
		if _, ok := events.FieldOf(k, "camera"); ok {
			kinds = append(kinds, k)
		}
	}
	return s.d.scan(time.Time{}, kinds, func(e events.Entry) {
		if f, ok := events.FieldOf(e.Kind, "camera"); ok {
			if v, there := f.Value(e.Data); there && v == name {
				s.add(e)
			}
		}
	})
}

// scan goes through the acts of some kinds from an instant on, a page at a time. It is for mending only, where what is
// asked for has no index of its own.
func (snap *Snapshot) scan(from time.Time, kinds []events.Kind, f func(events.Entry)) error {
	const page = 2000
	for limit := page; ; {
		raw, err := snap.R.Entries(events.Query{Kinds: kinds, From: from, Limit: limit})
		if err != nil {
			return err
		}
		n, last := 0, from
		for _, e := range raw {
			if slices.Contains(kinds, e.Kind) {
				n++
				if e.At.After(last) {
					last = e.At
				}
			}
		}
		for _, e := range snap.Fold(raw, events.Fold) {
			f(e)
		}
		switch {
		case n < limit:
			return nil
		case last.Equal(from):
			limit *= 2
		default:
			from, limit = last, page
		}
	}
}
