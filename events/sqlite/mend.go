package sqlite

import (
	"slices"

	"traybook/events"
)

// corrections are the voids and amendments of a book, and what they name.
type corrections struct {
	file     *statements
	names    *nameIndex
	chains   *chains
	meanings *meanings
	into     derivedRows
	views    *views

	remembered *remembered
	any        *bool // there are some; nil before that was asked, as with ofBatches
	ofBatches  *bool // some of them void a batch

	menders   menders // many entries at once: by what they name, nil else
	reached   map[int64]*reach
	standing  map[int64][]events.Entry  // voids of a batch that count, by their target; emptied when a void comes in
	batches   map[events.ID]*batchReach // what the batches count in that were voided in this write
	inBatches map[int64][]*batchReach   // those that a thing is in
}

// mend links a void or an amendment to what it names, and has the streams of that folded again.
func (c *corrections) mend(e *events.Entry) error {
	if e.Kind != events.EntryVoided && e.Kind != events.EntryAmended {
		return nil
	}
	if c.menders != nil {
		c.menders.add(e)
	}
	c.standing = nil
	batch, ofBatch := batchNamed(e)
	var targets []events.Entry
	var linked []int64
	if ofBatch { // linked once, to the batch, however many entries it has
		first, err := c.firstOf(batch, e.Seq)
		if err != nil {
			return err
		}
		linked = append(linked, -first)
	} else {
		var err error
		if targets, err = c.targets(e); err != nil {
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
		if err := c.link(target, e.Seq); err != nil {
			return err
		}
	}
	if !c.views.kept() {
		return nil // nothing is folded
	}
	if ofBatch {
		return c.touchBatch(batch)
	}
	return c.touchMended(e, targets)
}

// link notes that an entry voids or amends another, or, less than zero, the batch of which that is the first.
func (c *corrections) link(target, by int64) error {
	if c.any = new(true); target < 0 {
		c.ofBatches = new(true)
	}
	c.remembered.forgetAll()
	if n := c.remembered.newest; n != nil {
		n.mended[target] = true
	}
	return c.into.addCorrection(target, by)
}

// firstOf is the number of the first entry of a batch, 0 where none came before an entry. The voids of the batch are linked
// to that number, less than zero.
func (c *corrections) firstOf(batch events.ID, before int64) (int64, error) {
	var first int64
	err := c.file.QueryRow("SELECT coalesce(min(seq),0) FROM entry WHERE batch=? AND seq<?", batch[:], before).Scan(&first)
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
func (c *corrections) gatherMenders() error {
	c.menders = menders{}
	kept, err := c.file.entries("SELECT " + entryColumns + " FROM entry e WHERE e.seq IN (SELECT m.seq FROM correction m) ORDER BY e.seq")
	for i := range kept {
		c.menders.add(&kept[i])
	}
	return err
}

// mendedBefore links an entry that came from another book to the voids and amendments that were here first: of its
// twin in another chain, of its batch, or of itself while it was lost. What comes into a batch that was voided is voided too.
func (c *corrections) mendedBefore(e *events.Entry, at columns) error {
	if c.menders == nil {
		if any, err := c.anyMends(); err != nil || !any {
			return err
		}
	}
	linked := false
	if joined := len(c.chains.rows) > 1; joined {
		found, err := c.mendersOf(e)
		if err != nil {
			return err
		}
		for _, m := range found {
			if m.id == e.ID || m.seq >= e.Seq {
				continue
			}
			if err := c.link(e.Seq, m.seq); err != nil {
				return err
			}
			linked = true
		}
	}
	ofBatch, err := c.batchMendedBefore(e)
	if err != nil || !linked && !ofBatch {
		return err
	}
	if c.views.bulk != nil {
		c.views.fromFile(at.stream)
		if at.box.Valid {
			c.views.fromFile(at.box.Int64)
		}
	} else if ofBatch && at.box.Valid {
		c.views.touch(at.box.Int64)
	}
	return nil
}

// batchMendedBefore says whether the batch of an entry was voided before it came in. The voids of a batch of which this is
// the first entry were remembered under none.
func (c *corrections) batchMendedBefore(e *events.Entry) (bool, error) {
	if e.Batch.IsZero() || c.menders != nil && len(c.menders[e.Batch]) == 0 {
		return false, nil
	}
	first, err := c.firstOf(e.Batch, e.Seq)
	if err != nil {
		return false, err
	}
	if first != 0 {
		if r := c.batches[e.Batch]; r != nil {
			if err := c.takeInto(r, e); err != nil {
				return false, err
			}
		}
		if c.menders != nil {
			return true, nil
		}
		voids, err := c.file.ints("SELECT 1 FROM correction WHERE target=? LIMIT 1", -first)
		return len(voids) > 0, err
	}
	if len(c.chains.rows) == 1 {
		return false, nil
	}
	voids, err := c.voidsRemembered(e.Batch)
	for _, m := range voids {
		if m.id == e.ID || m.seq >= e.Seq {
			continue
		}
		if err := c.link(-e.Seq, m.seq); err != nil {
			return false, err
		}
	}
	return len(voids) > 0, err
}

// voidsRemembered gives the voids of a batch that holds no entry.
func (c *corrections) voidsRemembered(batch events.ID) ([]mender, error) {
	if c.menders != nil {
		return c.menders[batch], nil
	}
	kept, err := c.file.entries("SELECT " + entryColumns + " FROM correction m JOIN entry e ON e.seq=m.seq WHERE m.target=0")
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
func (c *corrections) mendersOf(e *events.Entry) ([]mender, error) {
	if c.menders != nil {
		return c.menders[e.ID], nil
	}
	kept, err := c.file.entries("SELECT "+entryColumns+` FROM entry e WHERE e.seq IN (
		SELECT m.seq FROM correction m WHERE m.target=0
		UNION SELECT m.seq FROM entry t JOIN correction m ON m.target=t.seq WHERE t.id=?1 AND t.seq<?2)`, e.ID[:], e.Seq)
	return naming(kept, e.ID), err
}

// targets gives the kept entries that a void or an amendment names; none for the void of a batch.
func (c *corrections) targets(e *events.Entry) ([]events.Entry, error) {
	if _, ofBatch := batchNamed(e); ofBatch {
		return nil, nil
	}
	target, ok := namedBy(e)
	if !ok {
		return nil, nil
	}
	return c.file.entries("SELECT "+entryColumns+" FROM entry e WHERE e.id=? AND e.seq<?", target[:], e.Seq)
}

// touchMended has everything folded again that what a void or an amendment names counts in: its stream, the boxes it takes
// from, and, where it is itself a void or an amendment, what that mends.
func (c *corrections) touchMended(by *events.Entry, targets []events.Entry) error {
	reached := &reach{}
	for i := range targets {
		if err := c.reachOf(&targets[i], reached); err != nil {
			return err
		}
	}
	if c.menders != nil {
		if c.reached == nil {
			c.reached = map[int64]*reach{}
		}
		c.reached[by.Seq] = reached
	}
	for _, stream := range reached.streams.ids {
		c.views.countMended(stream, by, false)
	}
	for _, box := range reached.boxes.ids {
		c.views.countMended(box, by, true)
	}
	for batch := range reached.batches {
		if err := c.touchBatch(batch); err != nil {
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
func (c *corrections) touchBatch(batch events.ID) error {
	r := c.batches[batch]
	if r == nil {
		members, err := c.file.entries("SELECT "+entryColumns+" FROM entry e WHERE e.batch=?", batch[:])
		if err != nil {
			return err
		}
		if c.batches == nil {
			c.batches, c.inBatches = map[events.ID]*batchReach{}, map[int64][]*batchReach{}
		}
		r = &batchReach{}
		c.batches[batch] = r
		for i := range members {
			if err := c.takeInto(r, &members[i]); err != nil {
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
		c.views.fromFile(id)
	}
	r.due = nil
	for other := range r.batches {
		if err := c.touchBatch(other); err != nil {
			return err
		}
	}
	return nil
}

// takeInto adds what an entry counts in to what its batch does.
func (c *corrections) takeInto(r *batchReach, e *events.Entry) error {
	streams, boxes := len(r.streams.ids), len(r.boxes.ids)
	if err := c.reachOf(e, &r.reach); err != nil {
		return err
	}
	for _, id := range append(r.streams.ids[streams:len(r.streams.ids):len(r.streams.ids)], r.boxes.ids[boxes:]...) {
		r.due = append(r.due, id)
		c.inBatches[id] = append(c.inBatches[id], r)
	}
	return nil
}

// foldedOf notes that a thing was folded: a void of a batch that it is in has it folded again.
func (c *corrections) foldedOf(id int64) {
	for _, r := range c.inBatches[id] {
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
func (c *corrections) reachOf(e *events.Entry, into *reach) error {
	seen := map[int64]bool{}
	for queue := []events.Entry{*e}; len(queue) > 0; queue = queue[1:] {
		t := &queue[0]
		if seen[t.Seq] {
			continue
		}
		seen[t.Seq] = true
		if err := c.placesOf(t, into); err != nil {
			return err
		}
		if known := c.reached[t.Seq]; known != nil {
			into.add(known)
			continue
		}
		if batch, ofBatch := batchNamed(t); ofBatch {
			into.addBatch(batch)
			continue
		}
		up, err := c.targets(t)
		if err != nil {
			return err
		}
		queue = append(queue, up...) // each stands before what mends it, so this ends
	}
	return nil
}

// placesOf adds the stream of an entry and the boxes that it takes paper from.
func (c *corrections) placesOf(e *events.Entry, into *reach) error {
	stream, err := c.names.streamOf(e.ID)
	if err != nil {
		return err
	}
	into.streams.add(stream.ID)
	p := events.PlacesOf(e.Data)
	for _, r := range append([]events.Ref{{Kind: events.Box, Name: p.Box}}, p.Others...) {
		if r.Kind != events.Box || r.Name == "" {
			continue
		}
		t, err := c.meanings.byChain(r, e)
		if err != nil {
			return err
		}
		into.boxes.add(t.ID)
	}
	return nil
}

// withMenders adds the voids and amendments of what was found, and theirs in turn; counted is as in events.Query.
func (c *corrections) withMenders(last found, counted bool) ([]events.Entry, error) {
	all := last.entries
	var have map[int64]bool
	batches := map[events.ID]bool{}
	for { // menders may be mended: those of one round are asked for together
		var ofBatches []int64 // an entry of each batch that is new
		for i := range last.entries {
			if e := &last.entries[i]; !e.Batch.IsZero() && !batches[e.Batch] {
				batches[e.Batch] = true
				ofBatches = append(ofBatches, e.Seq)
			}
		}
		voided, err := c.voidedBatches(ofBatches)
		if err != nil {
			return nil, err
		}
		targets := last.mended
		if !counted {
			targets = slices.Concat(targets, voided)
		}
		menders, err := c.mendersAt(targets)
		if err != nil {
			return nil, err
		}
		if counted {
			for _, target := range voided {
				standing, err := c.standingAt(target)
				if err != nil {
					return nil, err
				}
				menders.entries = append(menders.entries, standing...) // whatever names them, they stand
			}
		}
		if len(menders.entries) == 0 {
			return all, nil
		}
		if have == nil {
			have = make(map[int64]bool, len(all))
			for i := range all {
				have[all[i].Seq] = true
			}
		}
		last = found{mended: slices.DeleteFunc(menders.mended, func(seq int64) bool { return have[seq] })}
		for _, e := range menders.entries {
			if !have[e.Seq] {
				have[e.Seq] = true
				last.entries = append(last.entries, e)
			}
		}
		all = append(all, last.entries...)
	}
}

// mendersAt gives the voids and amendments that are linked to some targets.
func (c *corrections) mendersAt(targets []int64) (found, error) {
	if len(targets) == 0 {
		return found{}, nil
	}
	return c.file.found("SELECT "+foundColumns+" FROM json_each(?) j CROSS JOIN correction m ON m.target=j.value CROSS JOIN entry e ON e.seq=m.seq", listed(targets))
}

// voidedBatches gives, of the batches of some entries, the targets of those that were ever voided.
func (c *corrections) voidedBatches(of []int64) ([]int64, error) {
	if len(of) == 0 {
		return nil, nil
	}
	if any, err := c.anyOfBatches(); err != nil || !any {
		return nil, err
	}
	return c.file.ints(`SELECT k.target FROM (SELECT -(SELECT min(f.seq) FROM entry f WHERE f.batch=t.batch) AS target
		FROM json_each(?) j CROSS JOIN entry t ON t.seq=j.value) k WHERE EXISTS (SELECT 1 FROM correction m WHERE m.target=k.target)`, listed(of))
}

// standingAt gives the voids of a batch that count, by their target. What a batch's voids come to is worked out once for all
// the things that it is of.
func (c *corrections) standingAt(target int64) ([]events.Entry, error) {
	if out, known := c.standing[target]; known {
		return out, nil
	}
	first, err := c.file.entryAt(-target)
	if err != nil {
		return nil, err
	}
	voids, err := c.mendersAt([]int64{target})
	if err != nil {
		return nil, err
	}
	if c.standing == nil {
		c.standing = map[int64][]events.Entry{}
	}
	c.standing[target] = voids.entries // all of them where one of them is of the batch itself
	all, err := c.withMenders(voids, true)
	if err != nil {
		delete(c.standing, target)
		return nil, err
	}
	c.standing[target] = events.StandingVoids(first.Batch, all)
	return c.standing[target], nil
}

// anyMends says whether something voids or amends anything.
func (c *corrections) anyMends() (bool, error) {
	return c.file.once(&c.any, "SELECT EXISTS (SELECT 1 FROM correction)")
}

// anyOfBatches says whether something voids a batch.
func (c *corrections) anyOfBatches() (bool, error) {
	return c.file.once(&c.ofBatches, "SELECT EXISTS (SELECT 1 FROM correction WHERE target<0)")
}

// once asks a question of yes or no where its answer is not known yet.
func (s *statements) once(known **bool, text string) (bool, error) {
	if *known == nil {
		var is bool
		if err := s.QueryRow(text).Scan(&is); err != nil {
			return false, translate(err)
		}
		*known = &is
	}
	return **known, nil
}
