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

// sitters brings the names and contacts that belong to references.
func (j *joiner) sitters() error {
	rows, err := j.from.Sitters()
	if err != nil {
		return err
	}
	for _, row := range rows {
		if err := j.sitter(row); err != nil {
			return err
		}
	}
	return nil
}

func (j *joiner) sitter(row events.SitterRow) error {
	tx := j.tx
	t, ok, err := j.from.Thing(row.Ref)
	if err != nil {
		return err
	}
	if !ok {
		return j.unnamedSitter(row)
	}
	bare, rank := splitRank(row.Ref)
	theirs, err := j.from.bearers(bare)
	if err != nil {
		return err
	}
	there, _ := pick(theirs, rank)
	here, ok, err := j.here(there, events.Ref{Kind: t.Kind, Name: row.Ref}, &events.Entry{})
	if err != nil || !ok {
		return err
	}
	erased, err := tx.isErased(here.id)
	if err != nil || erased {
		return err
	}
	res, err := tx.tx.Exec("INSERT OR IGNORE INTO sitter VALUES (?,?,?)", here.thing(bare).Name, row.Name, row.Contact)
	return counted(res, err, &j.out.Sitters)
}

// unnamedSitter brings a row that no entry of the other book holds yet: under its reference where that is free, else
// under the next free one, unless the same name and contact stand here already.
func (j *joiner) unnamedSitter(row events.SitterRow) error {
	tx := j.tx
	var n int
	if err := tx.tx.QueryRow("SELECT count(*) FROM sitter WHERE name=? AND contact=?", row.Name, row.Contact).Scan(&n); err != nil {
		return translate(err)
	}
	if n > 0 {
		return nil
	}
	if err := tx.tx.QueryRow("SELECT (SELECT count(*) FROM sitter WHERE ref=?1) + (SELECT count(*) FROM thing WHERE name=?1)", row.Ref).Scan(&n); err != nil {
		return translate(err)
	}
	if n > 0 {
		_, err := tx.AddSitter(row.Name, row.Contact)
		j.out.Sitters++
		return err
	}
	res, err := tx.tx.Exec("INSERT INTO sitter VALUES (?,?,?)", row.Ref, row.Name, row.Contact)
	return counted(res, err, &j.out.Sitters)
}

func (j *joiner) thumbnails() error {
	return j.from.EachThumbnail(func(t events.Thumbnail) error {
		res, err := j.tx.tx.Exec("INSERT OR IGNORE INTO thumbnail (sha256, jpeg, width, height, path) VALUES (?,?,?,?,?)",
			t.SHA256[:], t.JPEG, t.Width, t.Height, t.Path)
		return counted(res, err, &j.out.Thumbnails)
	})
}

// isErased says whether a sitter was erased in this book.
func (tx *Tx) isErased(sitter int64) (bool, error) {
	es, err := tx.Entries(events.Query{Home: sitter, Kinds: []events.Kind{events.SitterErased}})
	return len(events.Fold(es)) > 0, err
}

func counted(res sql.Result, err error, n *int) error {
	if err != nil {
		return translate(err)
	}
	added, err := res.RowsAffected()
	*n += int(added)
	return translate(err)
}
