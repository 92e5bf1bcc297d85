package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"os"

	"traybook/events"
)

// Merged says what joining another book brought.
type Merged struct {
	Imported
	Chains     int      // chains that were not here before
	TwiceNamed []string // names that both books gave, as this one shows the other's: 2026-014@2
	Sitters    int      // rows brought for references that the other book's entries hold
	Erased     int      // rows left out, of people who were erased here
	Renumbered []string // rows of this book that no entry held, under their new references: sitter-2 is sitter-9
	Thumbnails int
}

// Merge joins another book into this one, in one transaction. Entries are one by their hash; every chain is kept whole,
// and where two plain copies of one book both went on, both branches are. A name that both gave stays what it was here,
// and the other's is shown with @2 (@3 …), without a byte of either being changed; the same holds for the references of
// sitters. An entry that both hold under one id (an extract was imported before) counts once. Names and contacts of
// sitters and the small pictures of scans come along, but nobody who was erased here. Joining again brings what is new.
//
// It is refused when either book is damaged (events.ErrDamaged). other is best opened to be looked at only.
func (b *Book) Merge(other *Book, progress func(done, total int64)) (Merged, error) {
	var m Merged
	mine, err1 := os.Stat(b.path)
	theirs, err2 := os.Stat(other.path)
	if err1 == nil && err2 == nil && os.SameFile(mine, theirs) {
		return m, errors.New("a book cannot be joined with itself")
	}
	var total int64
	for _, x := range []*Book{b, other} {
		r, err := x.Verify(VerifyOptions{})
		if err != nil {
			return m, err
		}
		if !r.OK {
			return m, fmt.Errorf("%w: %s: %s; nothing was joined, `traybook verify` tells all", events.ErrDamaged, x.path, r.Problems[0].Text)
		}
		total = r.Events
	}
	err := b.Write(func(tx *Tx) error {
		return other.Read(func(from *Tx) error {
			j := &joiner{tx: tx, from: from, things: map[int64]thingRow{}, out: &m}
			return j.join(total, progress)
		})
	})
	if err != nil {
		return Merged{}, err
	}
	return m, nil
}

// joiner carries entries from one book to another.
type joiner struct {
	tx, from *Tx
	things   map[int64]thingRow // of the other book, by its number there: what they are here
	erased   []events.SitterRow // of the other book: people who were erased here
	out      *Merged
}

func (j *joiner) join(total int64, progress func(done, total int64)) error {
	tx := j.tx
	if err := tx.loadChains(); err != nil {
		return err
	}
	if err := j.from.loadChains(); err != nil {
		return err
	}
	if err := j.makeRoom(); err != nil {
		return err
	}
	chains := len(tx.chains.rows)
	tx.bulk = true
	done := int64(0)
	for page, err := range j.from.pages(true) {
		if err != nil {
			return err
		}
		for i := range page {
			if err := page[i].err; err != nil {
				return fmt.Errorf("%w: %w", events.ErrDamaged, err)
			}
			if err := j.entry(page[i].entry, page[i].unfit); err != nil {
				return fmt.Errorf("entry %s: %w", page[i].entry.ID, err)
			}
		}
		if done += int64(len(page)); progress != nil {
			progress(done, total)
		}
	}
	j.out.Chains = len(tx.chains.rows) - chains
	if err := j.sitters(); err != nil {
		return err
	}
	return j.thumbnails()
}

// entry takes one entry in, unless it is here. unfit is what the reader of lines has against it.
func (j *joiner) entry(e events.Entry, unfit error) error {
	there := e // as the other book holds it
	seq, err := j.tx.has(&e)
	if err != nil {
		return err
	}
	if seq != 0 {
		j.out.Known++
		return nil
	}
	if unfit != nil {
		return fmt.Errorf("it breaks a rule: %w; nothing was joined: `traybook salvage` makes a book without it, which can be", unfit)
	}
	if err := j.tx.place(&e, true); err != nil {
		return err
	}
	j.out.Added++
	return j.tx.insert(&e, func(tx *Tx, r events.Ref, e *events.Entry) (events.Thing, error) {
		row, ok, err := j.from.meant(r, &there)
		if err != nil {
			return events.Thing{}, err
		}
		if !ok {
			return events.Thing{}, fmt.Errorf("%w: nothing is called %q in the other book", events.ErrDamaged, r.Name)
		}
		here, ok, err := j.here(row, r, e)
		if err != nil {
			return events.Thing{}, err
		}
		if ok {
			return tx.agree(here, r, e)
		}
		return j.fresh(row, r, e)
	})
}

// here finds what a thing of the other book is in this one: what the entry that first named it names here.
func (j *joiner) here(row thingRow, r events.Ref, e *events.Entry) (thingRow, bool, error) {
	if known, ok := j.things[row.id]; ok {
		return known, true, nil
	}
	tx := j.tx
	if r.Kind == events.Book {
		rows, err := tx.bearers(events.BookThing)
		if err != nil || len(rows) == 0 {
			return thingRow{}, false, err
		}
		return rows[0], true, nil
	}
	first, err := j.from.idAt(row.seq)
	if err != nil {
		return thingRow{}, false, err
	}
	// Not e itself, which is in the file when what it names beside its home is looked for.
	twin, err := scanEntry(tx.tx.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.id=? AND e.seq<>? ORDER BY e.seq LIMIT 1", first[:], e.Seq))
	if errors.Is(err, sql.ErrNoRows) {
		if first != e.ID {
			return thingRow{}, false, fmt.Errorf("%w: the entry that first named %q is not there", events.ErrDamaged, r.Name)
		}
		return thingRow{}, false, nil
	}
	if err != nil {
		return thingRow{}, false, translate(err)
	}
	// The twin may write the name otherwise only in its rank; it is the same name without it.
	bare, _ := splitRank(r.Name)
	for _, ref := range refsOf(&twin) {
		if b, _ := splitRank(ref.Name); b == bare {
			known, ok, err := tx.meant(ref, &twin)
			if err != nil || !ok {
				return known, ok, err
			}
			j.things[row.id] = known
			return known, true, nil
		}
	}
	return thingRow{}, false, fmt.Errorf("%w: the entry %s names no %q", events.ErrDamaged, first, r.Name)
}

// fresh makes the thing that e, of the other book, is the first to name. A name that this book gave too is told apart.
func (j *joiner) fresh(row thingRow, r events.Ref, e *events.Entry) (events.Thing, error) {
	tx := j.tx
	t, err := tx.fresh(r, e)
	if err != nil {
		return t, err
	}
	bare, rank := splitRank(t.Name)
	rows, err := tx.bearers(bare)
	if err != nil {
		return t, err
	}
	j.things[row.id] = rows[len(rows)-1]
	if rank > 1 {
		j.out.TwiceNamed = append(j.out.TwiceNamed, t.Name)
	}
	return t, nil
}

// refsOf gives everything an entry names.
func refsOf(e *events.Entry) []events.Ref {
	p := events.PlacesOf(e.Data)
	var out []events.Ref
	for _, r := range append([]events.Ref{p.Home, {Kind: events.Box, Name: p.Box}, {Kind: events.Bath, Name: p.Bath}, {Kind: events.Session, Name: p.Session}}, p.Others...) {
		if r.Name != "" {
			out = append(out, r)
		}
	}
	return out
}

func counted(res sql.Result, err error, n *int) error {
	if err != nil {
		return translate(err)
	}
	added, err := res.RowsAffected()
	*n += int(added)
	return translate(err)
}
