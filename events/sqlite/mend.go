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
	tx.standing = nil
	batch, ofBatch := batchNamed(e)
	var targets []events.Entry
	var linked []int64
	if ofBatch { // linked once, to the batch, however many entries it has
		first, err := tx.firstOf(batch, e.Seq)
		if err != nil {
			return err
		}
		linked = append(linked, -first)
	} else {
		var err error
		if targets, err = tx.targets(e); err != nil {
			return err
		}
		for i := range targets {
			linked = append(linked, targets[i].Seq)
		}
		if len(targets) == 0 { // What it names is lost, or comes later from another book: remembered under no entry.
			linked = append(linked, 0)
		}
	}
	for _, target := range linked {
		if err := tx.into.addCorrection(target, e.Seq); err != nil {
			return err
		}
	}
	if !tx.views.kept() {
		return nil // nothing is folded
	}
	if ofBatch {
		return tx.touchBatch(batch)
	}
	return tx.touchMended(e, targets)
}

// firstOf is the number of the first entry of a batch, 0 where none came before an entry. The voids of the batch are linked
// to that number, less than zero.
func (tx *Tx) firstOf(batch events.ID, before int64) (int64, error) {
	var first int64
	err := tx.tx.QueryRow("SELECT coalesce(min(seq),0) FROM entry WHERE batch=? AND seq<?", batch[:], before).Scan(&first)
	return first, translate(err)
}

// batchNamed is the batch that a void names; ok is false where it names an entry, and of an amendment.
func batchNamed(e *events.Entry) (batch events.ID, ok bool) {
	d, ok := e.Data.(*events.EntryVoidedData)
	if !ok || d.Batch == "" {
		return batch, false
	}
	batch, err := events.ParseID(d.Batch)
	return batch, err == nil
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
// twin in another chain, of its batch, or of itself while it was lost. What comes into a batch that was voided is voided too.
func (tx *Tx) mendedBefore(e *events.Entry, c columns) error {
	if tx.menders == nil {
		if any, err := tx.anyMends(); err != nil || !any {
			return err
		}
	}
	linked := false
	if joined := len(tx.chains.rows) > 1; joined {
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
			linked = true
		}
	}
	ofBatch, err := tx.batchMendedBefore(e)
	if err != nil || !linked && !ofBatch {
		return err
	}
	if tx.views.bulk != nil {
		tx.views.fromFile(c.stream)
		if c.box.Valid {
			tx.views.fromFile(c.box.Int64)
		}
	} else if ofBatch && c.box.Valid {
		tx.views.touch(c.box.Int64)
	}
	return nil
}

// batchMendedBefore says whether the batch of an entry was voided before it came in. The voids of a batch of which this is
// the first entry were remembered under none.
func (tx *Tx) batchMendedBefore(e *events.Entry) (bool, error) {
	if e.Batch.IsZero() || tx.menders != nil && len(tx.menders[e.Batch]) == 0 {
		return false, nil
	}
	first, err := tx.firstOf(e.Batch, e.Seq)
	if err != nil {
		return false, err
	}
	if first != 0 {
		if r := tx.batches[e.Batch]; r != nil {
			if err := tx.takeInto(r, e); err != nil {
				return false, err
			}
		}
		if tx.menders != nil {
			return true, nil
		}
		voids, err := tx.tx.ints("SELECT 1 FROM correction WHERE target=? LIMIT 1", -first)
		return len(voids) > 0, err
	}
	if len(tx.chains.rows) == 1 {
		return false, nil
	}
	voids, err := tx.voidsRemembered(e.Batch)
	for _, m := range voids {
		if m.id == e.ID || m.seq >= e.Seq {
			continue
		}
		if err := tx.into.addCorrection(-e.Seq, m.seq); err != nil {
			return false, err
		}
	}
	return len(voids) > 0, err
}

// voidsRemembered gives the voids of a batch that holds no entry.
func (tx *Tx) voidsRemembered(batch events.ID) ([]mender, error) {
	if tx.menders != nil {
		return tx.menders[batch], nil
	}
	kept, err := tx.tx.entries("SELECT " + entryColumns + " FROM correction m JOIN entry e ON e.seq=m.seq WHERE m.target=0")
	return naming(kept, batch), err
}

// naming gives those of some voids and amendments that name an entry or a batch.
func naming(kept []events.Entry, id events.ID) (out []mender) {
	for i := range kept {
		if named, ok := namedBy(&kept[i]); ok && named == id {
			out = append(out, mender{kept[i].Seq, kept[i].ID})
		}
	}
	return out
}

// mendersOf gives the voids and amendments that name an entry.
func (tx *Tx) mendersOf(e *events.Entry) ([]mender, error) {
	if tx.menders != nil {
		return tx.menders[e.ID], nil
	}
	kept, err := tx.tx.entries("SELECT "+entryColumns+` FROM entry e WHERE e.seq IN (
		SELECT m.seq FROM correction m WHERE m.target=0
		UNION SELECT m.seq FROM entry t JOIN correction m ON m.target=t.seq WHERE t.id=?1 AND t.seq<?2)`, e.ID[:], e.Seq)
	return naming(kept, e.ID), err
}

// targets gives the kept entries that a void or an amendment names; none for the void of a batch.
func (tx *Tx) targets(e *events.Entry) ([]events.Entry, error) {
	if _, ofBatch := batchNamed(e); ofBatch {
		return nil, nil
	}
	target, ok := namedBy(e)
	if !ok {
		return nil, nil
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
	for batch := range reached.batches {
		if err := tx.touchBatch(batch); err != nil {
			return err
		}
	}
	return nil
}

// reach is what an entry counts in, by mending others and those others again: streams, boxes that it takes paper from, and
// batches.
type reach struct {
	streams, boxes entitySet
	batches        map[events.ID]bool
}

func (r *reach) addBatch(batch events.ID) {
	if r.batches == nil {
		r.batches = map[events.ID]bool{}
	}
	r.batches[batch] = true
}

func (r *reach) add(o *reach) {
	r.streams.add(o.streams.ids...)
	r.boxes.add(o.boxes.ids...)
	for batch := range o.batches {
		r.addBatch(batch)
	}
}

// batchReach is what the entries of a batch count in, worked out once in a write.
type batchReach struct {
	reach
	due      []int64 // streams and boxes that are not waiting to be folded
	touching bool
}

// touchBatch has everything folded again, from the file, that the entries of a batch count in.
func (tx *Tx) touchBatch(batch events.ID) error {
	r := tx.batches[batch]
	if r == nil {
		members, err := tx.tx.entries("SELECT "+entryColumns+" FROM entry e WHERE e.batch=?", batch[:])
		if err != nil {
			return err
		}
		if tx.batches == nil {
			tx.batches, tx.inBatches = map[events.ID]*batchReach{}, map[int64][]*batchReach{}
		}
		r = &batchReach{}
		tx.batches[batch] = r
		for i := range members {
			if err := tx.takeInto(r, &members[i]); err != nil {
				return err
			}
		}
	}
	if r.touching { // a batch that holds a void of itself
		return nil
	}
	r.touching = true
	defer func() { r.touching = false }()
	for _, id := range r.due {
		tx.views.fromFile(id)
	}
	r.due = nil
	for other := range r.batches {
		if err := tx.touchBatch(other); err != nil {
			return err
		}
	}
	return nil
}

// takeInto adds what an entry counts in to what its batch does.
func (tx *Tx) takeInto(r *batchReach, e *events.Entry) error {
	streams, boxes := len(r.streams.ids), len(r.boxes.ids)
	if err := tx.reachOf(e, &r.reach); err != nil {
		return err
	}
	for _, id := range append(r.streams.ids[streams:len(r.streams.ids):len(r.streams.ids)], r.boxes.ids[boxes:]...) {
		r.due = append(r.due, id)
		tx.inBatches[id] = append(tx.inBatches[id], r)
	}
	return nil
}

// foldedOf notes that a thing was folded: a void of a batch that it is in has it folded again.
func (tx *Tx) foldedOf(id int64) {
	for _, r := range tx.inBatches[id] {
		r.due = append(r.due, id)
	}
}

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
			into.add(known)
			continue
		}
		if batch, ofBatch := batchNamed(t); ofBatch {
			into.addBatch(batch)
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
