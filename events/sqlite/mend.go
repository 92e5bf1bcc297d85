package sqlite

import "traybook/events"

// mend links a void or an amendment to what it names, and has the streams of that folded again.
func (tx *Tx) mend(e *events.Entry) error {
	if e.Kind != events.EntryVoided && e.Kind != events.EntryAmended {
		return nil
	}
	if tx.menders != nil {
		tx.menders.add(e)
	}
	targets, err := tx.targets(e)
	if err != nil {
		return err
	}
	if len(targets) == 0 {
		// What it names is lost, or comes later from another book: remembered under no entry.
		return tx.into.addCorrection(0, e.Seq)
	}
	for i := range targets {
		if err := tx.into.addCorrection(targets[i].Seq, e.Seq); err != nil {
			return err
		}
	}
	if !tx.views.kept() {
		return nil // nothing is folded
	}
	return tx.touchMended(e, targets)
}

// menders are the voids and amendments that came by in a write of many entries, by what they name: an entry, or a batch.
// Without it each entry of a joined book would be held against every void of the other's.
type menders map[events.ID][]mender

type mender struct {
	seq int64
	id  events.ID
}

func (m menders) add(e *events.Entry) {
	if named, ok := namedBy(e); ok {
		m[named] = append(m[named], mender{e.Seq, e.ID})
	}
}

// namedBy is the entry or the batch that a void or an amendment names.
func namedBy(e *events.Entry) (events.ID, bool) {
	text := ""
	switch d := e.Data.(type) {
	case *events.EntryAmendedData:
		text = d.Entry
	case *events.EntryVoidedData:
		text = d.Entry
		if d.Batch != "" {
			text = d.Batch
		}
	}
	id, err := events.ParseID(text)
	return id, err == nil
}

// gatherMenders reads those that the book holds already. One that goes through its entries anew meets them on the way.
func (tx *Tx) gatherMenders() error {
	tx.menders = menders{}
	kept, err := tx.tx.entries("SELECT " + entryColumns + " FROM entry e WHERE e.seq IN (SELECT m.seq FROM correction m) ORDER BY e.seq")
	for i := range kept {
		tx.menders.add(&kept[i])
	}
	return err
}

// mendedBefore links an entry that came from another book to the voids and amendments that were here first: of its
// twin in another chain, of its batch, or of itself while it was lost.
func (tx *Tx) mendedBefore(e *events.Entry, c columns) error {
	if len(tx.chains.rows) == 1 {
		return nil
	}
	found, err := tx.mendersOf(e)
	if err != nil {
		return err
	}
	for _, m := range found {
		if m.id == e.ID || m.seq >= e.Seq {
			continue
		}
		if err := tx.into.addCorrection(e.Seq, m.seq); err != nil {
			return err
		}
		if tx.views.bulk != nil {
			tx.views.fromFile(c.stream)
			if c.box.Valid {
				tx.views.fromFile(c.box.Int64)
			}
		}
	}
	return nil
}

// mendersOf gives the voids and amendments that name an entry or its batch. Of a batch those of its first entry are
// those of all: each entry that joined it later was linked to them.
func (tx *Tx) mendersOf(e *events.Entry) ([]mender, error) {
	if tx.menders != nil {
		out := tx.menders[e.ID]
		if !e.Batch.IsZero() {
			out = append(out[:len(out):len(out)], tx.menders[e.Batch]...)
		}
		return out, nil
	}
	kept, err := tx.tx.entries("SELECT "+entryColumns+` FROM entry e WHERE e.seq IN (
		SELECT m.seq FROM correction m WHERE m.target=0
		UNION SELECT m.seq FROM entry t JOIN correction m ON m.target=t.seq WHERE t.id=?1 AND t.seq<?3
		UNION SELECT m.seq FROM correction m WHERE m.target=(SELECT min(t.seq) FROM entry t WHERE t.batch=?2 AND t.seq<?3))`, e.ID[:], batchColumn(e.Batch), e.Seq)
	var out []mender
	for i := range kept {
		if named, ok := namedBy(&kept[i]); ok && (named == e.ID || named == e.Batch) {
			out = append(out, mender{kept[i].Seq, kept[i].ID})
		}
	}
	return out, err
}

// targets gives the kept entries that a void or an amendment names.
func (tx *Tx) targets(e *events.Entry) ([]events.Entry, error) {
	var id string
	switch d := e.Data.(type) {
	case *events.EntryAmendedData:
		id = d.Entry
	case *events.EntryVoidedData:
		if d.Batch != "" {
			batch, err := events.ParseID(d.Batch)
			if err != nil {
				return nil, err
			}
			return tx.tx.entries("SELECT "+entryColumns+" FROM entry e WHERE e.batch=? AND e.seq<?", batch[:], e.Seq)
		}
		id = d.Entry
	default:
		return nil, nil
	}
	target, err := events.ParseID(id)
	if err != nil {
		return nil, err
	}
	return tx.tx.entries("SELECT "+entryColumns+" FROM entry e WHERE e.id=? AND e.seq<?", target[:], e.Seq)
}

// touchMended has everything folded again that what a void or an amendment names counts in: its stream, the boxes it takes
// from, and, where it is itself a void or an amendment, what that mends.
func (tx *Tx) touchMended(by *events.Entry, targets []events.Entry) error {
	reached := &reach{}
	for i := range targets {
		if err := tx.reachOf(&targets[i], reached); err != nil {
			return err
		}
	}
	if tx.bulk != nil {
		if tx.reached == nil {
			tx.reached = map[int64]*reach{}
		}
		tx.reached[by.Seq] = reached
	}
	for _, stream := range reached.streams.ids {
		tx.views.countMended(stream, by, false)
	}
	for _, box := range reached.boxes.ids {
		tx.views.countMended(box, by, true)
	}
	return nil
}

// reach is what an entry counts in, by mending others and those others again: streams, and boxes that it takes paper from.
type reach struct{ streams, boxes entitySet }

// entitySet is a set of things in the order in which they came.
type entitySet struct {
	ids  []int64
	seen map[int64]bool
}

func (s *entitySet) add(ids ...int64) {
	for _, id := range ids {
		if s.seen == nil {
			s.seen = map[int64]bool{}
		}
		if !s.seen[id] {
			s.seen[id] = true
			s.ids = append(s.ids, id)
		}
	}
}

// reachOf adds what an entry counts in. What the menders of this write reach is known already.
func (tx *Tx) reachOf(e *events.Entry, into *reach) error {
	seen := map[int64]bool{}
	for queue := []events.Entry{*e}; len(queue) > 0; queue = queue[1:] {
		t := &queue[0]
		if seen[t.Seq] {
			continue
		}
		seen[t.Seq] = true
		if err := tx.placesOf(t, into); err != nil {
			return err
		}
		if known := tx.reached[t.Seq]; known != nil {
			into.streams.add(known.streams.ids...)
			into.boxes.add(known.boxes.ids...)
			continue
		}
		up, err := tx.targets(t)
		if err != nil {
			return err
		}
		queue = append(queue, up...) // each stands before what mends it, so this ends
	}
	return nil
}

// placesOf adds the stream of an entry and the boxes that it takes paper from.
func (tx *Tx) placesOf(e *events.Entry, into *reach) error {
	stream, err := tx.StreamOf(e.ID)
	if err != nil {
		return err
	}
	into.streams.add(stream.ID)
	p := events.PlacesOf(e.Data)
	for _, r := range append([]events.Ref{{Kind: events.Box, Name: p.Box}}, p.Others...) {
		if r.Kind != events.Box || r.Name == "" {
			continue
		}
		t, err := tx.meanings.byChain(r, e)
		if err != nil {
			return err
		}
		into.boxes.add(t.ID)
	}
	return nil
}
