package sqlite

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"traybook/events"
)

// When many entries come in at once, asking the file for the entries of each stream takes longer than all else together.
// What belongs to a thing mostly lies close together, so the entries of things that begin inside the write are held in
// memory for a while and folded from there: when nothing was added for a stretch, at the end, or when someone asks for a
// view. A thing that was in the book before, or gets more after it was folded, is folded from the file at the end.
type bulkFold struct {
	base  int64  // things with a larger number begin inside this write
	state []byte // of each of them, by its number less base
	open  map[int64]*held
	seen  int64 // entries that went by
}

const (
	notBegun byte = iota
	liesOpen
	letGo // what comes later is folded from the file
)

// How many entries go by without one for a thing before it is folded, and between two looks for such things: a few
// weeks of hard work, so that a box and a week's bath lie open until they are used up, and some ten thousand entries
// are held.
var idleAfter, lookEvery int64 = 8192, 1024

// held is what one thing's view is folded from.
type held struct {
	own   []events.Entry // its entries, and what amends or voids them
	users []events.Entry // of a box: what takes paper from it, and what mends that
	last  int64
	fresh bool // changed since it was last folded
}

// Many says that many entries follow in this write, of which the caller knows that the book holds none. The guard that
// looks this up for each is lifted until the write ends; nobody else can write meanwhile.
func (tx *Tx) Many() { tx.bulk = &bulkLoad{sure: true} }

// bulkLoad is a write of many entries.
type bulkLoad struct {
	sure   bool // the book holds none of them
	begun  bool // the first of them is here
	lifted bool // the guard of new entries is lifted until the end of the write
}

// bulkCache is how much of the file is held in memory while many entries come in, in KiB: the index of ids is hit all
// over, and pages that do not fit are written and read again and again.
const bulkCache = 96 << 10

// begin lays the gathering out before the first of many entries gives a name.
func (tx *Tx) begin() error {
	if tx.bulk == nil || tx.bulk.begun {
		return nil
	}
	tx.bulk.begun = true
	if _, err := tx.file.Exec(fmt.Sprintf("PRAGMA cache_size=-%d", bulkCache)); err != nil {
		return translate(err)
	}
	if tx.bulk.sure {
		if _, err := tx.file.Exec("DROP TRIGGER IF EXISTS entry_is_new"); err != nil {
			return translate(err)
		}
		tx.bulk.lifted = true
	}
	var last int64
	if err := tx.file.QueryRow("SELECT coalesce(max(id),0) FROM entity").Scan(&last); err != nil {
		return translate(err)
	}
	tx.names.all, tx.remembered.newest = last == 0, &newest{mended: map[int64]bool{}}
	if tx.views.kept() {
		tx.views.bulk = &bulkFold{base: last, open: map[int64]*held{}}
	}
	return tx.corrections.gatherMenders()
}

// stateOf is the place where the state of a thing is kept, nil for one that was there before.
func (g *bulkFold) stateOf(id int64) *byte {
	i := id - g.base - 1
	if i < 0 {
		return nil
	}
	if n := int(i) + 1 - len(g.state); n > 0 {
		g.state = append(g.state, make([]byte, n)...)
	}
	return &g.state[i]
}

// holds gives what is held of a thing, nil where it must be folded from the file.
func (v *views) holds(id int64) *held {
	g := v.bulk
	v.noteChanged(id)
	state := g.stateOf(id)
	if state == nil || *state == letGo {
		v.touch(id)
		return nil
	}
	if *state == notBegun {
		*state, g.open[id] = liesOpen, &held{}
	}
	h := g.open[id]
	h.last, h.fresh = g.seen, true
	return h
}

// fromFile has a thing folded from the file, whatever is held of it.
func (v *views) fromFile(id int64) {
	if g := v.bulk; g != nil {
		delete(g.open, id)
		if state := g.stateOf(id); state != nil {
			*state = letGo
		}
	}
	v.touch(id)
}

// count has the streams folded that a kept entry counts in.
func (v *views) count(e *events.Entry, c columns) error {
	switch {
	case !v.kept():
		return nil
	case v.bulk == nil:
		v.touch(c.stream)
		if c.box.Valid {
			return v.touchLowBox(c.box.Int64)
		}
		return nil
	}
	v.holdOwn(c.stream, e)
	if c.box.Valid {
		v.holdUser(c.box.Int64, e)
	}
	if v.bulk.seen++; v.bulk.seen%lookEvery == 0 {
		return v.foldIdle()
	}
	return nil
}

func (v *views) holdOwn(id int64, e *events.Entry) {
	if h := v.holds(id); h != nil {
		h.own = addOnce(h.own, e)
	}
}

func (v *views) holdUser(id int64, e *events.Entry) {
	if h := v.holds(id); h != nil {
		h.users = addOnce(h.users, e)
	}
}

func addOnce(list []events.Entry, e *events.Entry) []events.Entry {
	if n := len(list); n > 0 && list[n-1].Seq == e.Seq {
		return list
	}
	return append(list, *e)
}

// countCited has a box folded that an entry names beside its stream: it may have been cut from, or into.
func (v *views) countCited(id int64, e *events.Entry) {
	switch {
	case v.bulk == nil:
		v.touch(id)
	case e.Kind == events.PaperCut:
		v.fromFile(id)
	default:
		v.holds(id)
	}
}

// countMended has a thing folded that an entry counts in which by amends or voids. takes says that the entry took paper
// from it.
func (v *views) countMended(id int64, by *events.Entry, takes bool) {
	switch {
	case v.bulk == nil:
		v.touch(id)
	case takes:
		v.holdUser(id, by)
	default:
		v.holdOwn(id, by)
	}
}

// foldIdle folds what nothing was added to for a while, and lets go of it.
func (v *views) foldIdle() error {
	g := v.bulk
	var idle []int64
	for id, h := range g.open {
		if g.seen-h.last >= idleAfter {
			idle = append(idle, id)
		}
	}
	slices.Sort(idle)
	return v.foldHeld(idle)
}

func (v *views) foldHeld(ids []int64) error {
	g := v.bulk
	for _, id := range ids {
		if err := v.foldFrom(id, g.open[id]); err != nil {
			return err
		}
		delete(g.open, id)
		*g.stateOf(id) = letGo
	}
	return nil
}

func (v *views) foldFrom(id int64, h *held) error {
	if !v.kept() || !h.fresh {
		return nil
	}
	t, err := v.names.numbered(id)
	if err != nil {
		return err
	}
	view, err := v.folder.Fold(t, heldReader{v.book, id, h})
	if err != nil {
		return fmt.Errorf("%s: %w", t.Name, err)
	}
	h.fresh = false
	return v.keep(view)
}

// settle folds, of some things, what changed inside a write, for someone who asks for their views meanwhile. What changed
// of others waits: a long stream is not folded anew for every question about a short one.
func (v *views) settle(ids ...int64) error {
	if !v.settles() {
		return nil
	}
	v.settling = true // what is folded may itself look at views
	defer func() { v.settling = false }()
	for _, id := range ids {
		if v.bulk != nil {
			if h := v.bulk.open[id]; h != nil && h.fresh {
				if err := v.foldFrom(id, h); err != nil {
					return err
				}
			}
		}
		if v.isTouch[id] {
			if err := v.foldStream(id); err != nil {
				return err
			}
		}
	}
	return nil
}

// settles says whether views are folded when they are asked for.
func (v *views) settles() bool { return !v.settling && v.kept() && !v.ro }

// noteChanged keeps which things of a kind changed, but for pictures, of which there are many and no list is asked for.
func (v *views) noteChanged(id int64) {
	t, err := v.names.numbered(id)
	if err != nil || t.Kind == events.Picture {
		return // whoever asks for it is told
	}
	kind := t.Kind
	maps.DeleteFunc(v.lists, func(q events.ViewQuery, _ []events.View) bool { return q.Kind == kind })
	if v.changed[kind] == nil {
		if v.changed == nil {
			v.changed = map[events.EntityKind]map[int64]bool{}
		}
		v.changed[kind] = map[int64]bool{}
	}
	v.changed[kind][id] = true
}

// settleKind is settle for all things of a kind.
func (v *views) settleKind(kind events.EntityKind) error {
	if !v.settles() {
		return nil
	}
	ids := slices.Collect(maps.Keys(v.changed[kind]))
	delete(v.changed, kind)
	if kind == events.Picture {
		if v.bulk != nil {
			ids = slices.AppendSeq(ids, maps.Keys(v.bulk.open))
		}
		ids = slices.AppendSeq(ids, maps.Keys(v.isTouch))
		var wrong error
		ids = slices.DeleteFunc(ids, func(id int64) bool {
			t, err := v.names.numbered(id)
			wrong = errors.Join(wrong, err)
			return t.Kind != kind
		})
		if wrong != nil {
			return wrong
		}
	}
	slices.Sort(ids)
	return v.settle(ids...)
}

// endBulkFold folds what still lies open.
func (v *views) endBulkFold() error {
	if v.bulk == nil {
		return nil
	}
	ids := make([]int64, 0, len(v.bulk.open))
	for id := range v.bulk.open {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	err := v.foldHeld(ids)
	v.bulk = nil
	return err
}

// heldReader answers from memory what a view is folded from, and all else from the file.
type heldReader struct {
	*Tx
	id   int64
	held *held
}

// Entries runs a query.
func (r heldReader) Entries(q events.Query) ([]events.Entry, error) {
	whole := len(q.Kinds) == 0 && q.From.IsZero() && q.To.IsZero() && q.Limit == 0 && !q.Newest
	switch {
	case whole && q.Stream == r.id:
		return r.meanings.shown(r.held.own)
	case whole && q.Box == r.id:
		return r.meanings.shown(r.held.users)
	case q.Cites == r.id && len(q.Kinds) == 1 && q.Kinds[0] == events.PaperCut:
		return nil, nil // what was cut is folded from the file
	}
	return r.Tx.Entries(q)
}
