package sqlite

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"traybook/events"
	people "traybook/events/names"
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
			j := &joiner{tx: tx, from: from, entities: map[int64]entityRow{}, out: &m}
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
	entities map[int64]entityRow // of the other book, by its number there: what they are here
	former   map[string][]string // of the other book: the names that its sitters bore before, by reference
	called   calledHere          // of this book
	stones   []stone             // of this book: those that the other does not hold
	out      *Merged
}

func (j *joiner) join(total int64, progress func(done, total int64)) error {
	tx := j.tx
	if err := tx.chains.load(); err != nil {
		return err
	}
	if err := j.from.chains.load(); err != nil {
		return err
	}
	if err := j.makeRoom(); err != nil {
		return err
	}
	chains := len(tx.chains.rows)
	tx.bulk = &bulkLoad{}
	done := int64(0)
	for page, err := range j.from.file.pages(true) {
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
	seq, err := j.tx.file.has(&e)
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
	if err := j.tx.chains.place(&e, true); err != nil {
		return err
	}
	j.out.Added++
	return j.tx.insert(&e, func(r events.Ref, e *events.Entry) (events.Entity, error) {
		row, ok, err := j.from.meanings.resolve(r, &there)
		if err != nil {
			return events.Entity{}, err
		}
		if !ok {
			return events.Entity{}, fmt.Errorf("%w: nothing is called %q in the other book", events.ErrDamaged, r.Name)
		}
		here, ok, err := j.here(row, r, e)
		if err != nil {
			return events.Entity{}, err
		}
		if ok {
			return j.tx.meanings.settle(here, r, e)
		}
		return j.fresh(row, r, e)
	})
}

// here finds what a thing of the other book is in this one: what the entry that first named it names here.
func (j *joiner) here(row entityRow, r events.Ref, e *events.Entry) (entityRow, bool, error) {
	if known, ok := j.entities[row.id]; ok {
		return known, true, nil
	}
	tx := j.tx
	if r.Kind == events.Book {
		rows, err := tx.names.bearers(events.BookEntity)
		if err != nil || len(rows) == 0 {
			return entityRow{}, false, err
		}
		return rows[0], true, nil
	}
	first, err := j.from.file.idAt(row.seq)
	if err != nil {
		return entityRow{}, false, err
	}
	// Not e itself, which is in the file when what it names beside its stream is looked for.
	twin, err := scanEntry(tx.file.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.id=? AND e.seq<>? ORDER BY e.seq LIMIT 1", first[:], e.Seq))
	if errors.Is(err, sql.ErrNoRows) {
		if first != e.ID {
			return entityRow{}, false, fmt.Errorf("%w: the entry that first named %q is not there", events.ErrDamaged, r.Name)
		}
		return entityRow{}, false, nil
	}
	if err != nil {
		return entityRow{}, false, translate(err)
	}
	// The twin may write the name otherwise only in its rank; it is the same name without it.
	bare, _ := splitRank(r.Name)
	for _, ref := range refsOf(&twin) {
		if b, _ := splitRank(ref.Name); b == bare {
			known, ok, err := tx.meanings.resolve(ref, &twin)
			if err != nil || !ok {
				return known, ok, err
			}
			j.entities[row.id] = known
			return known, true, nil
		}
	}
	return entityRow{}, false, fmt.Errorf("%w: the entry %s names no %q", events.ErrDamaged, first, r.Name)
}

// fresh makes the thing that e, of the other book, is the first to name. A name that this book gave too is told apart.
func (j *joiner) fresh(row entityRow, r events.Ref, e *events.Entry) (events.Entity, error) {
	tx := j.tx
	t, err := tx.meanings.fresh(r, e)
	if err != nil {
		return t, err
	}
	bare, rank := splitRank(t.Name)
	rows, err := tx.names.bearers(bare)
	if err != nil {
		return t, err
	}
	j.entities[row.id] = rows[len(rows)-1]
	if rank > 1 {
		j.out.TwiceNamed = append(j.out.TwiceNamed, t.Name)
	}
	return t, nil
}

// refsOf gives everything an entry names.
func refsOf(e *events.Entry) []events.Ref {
	p := events.PlacesOf(e.Data)
	var out []events.Ref
	for _, r := range append([]events.Ref{p.Stream, {Kind: events.Box, Name: p.Box}, {Kind: events.Bath, Name: p.Bath}, {Kind: events.Session, Name: p.Session}}, p.Others...) {
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

// makeRoom gives another number to each row of this book that no entry holds yet, where an entry of the other book holds
// its reference for somebody else: that one's pictures would be shown under this one's name.
func (j *joiner) makeRoom() error {
	mine, err := j.tx.Sitters()
	if err != nil {
		return err
	}
	for _, row := range mine {
		if _, held, err := j.tx.Entity(row.Ref); err != nil || held {
			if err != nil {
				return err
			}
			continue
		}
		if _, held, err := j.from.Entity(row.Ref); err != nil {
			return err
		} else if !held {
			continue
		}
		name, err := j.from.sitters.nameOf(row.Ref)
		if err != nil {
			return err
		}
		if name == "" || people.Key(name) == people.Key(row.Name) { // the same person, or one who was erased there: see obey
			continue
		}
		next, err := j.nextSitter()
		if err != nil {
			return err
		}
		if _, err := j.tx.file.Exec("UPDATE sitter SET ref=? WHERE ref=?", next, row.Ref); err != nil {
			return translate(err)
		}
		if _, err := j.tx.file.Exec("UPDATE meta SET key=? WHERE key=?", formerNames+next, formerNames+row.Ref); err != nil {
			return translate(err)
		}
		j.tx.sitters.count(next)
		j.out.Renumbered = append(j.out.Renumbered, row.Ref+" is "+next)
	}
	return nil
}

// nextSitter is the next reference that neither book has given.
func (j *joiner) nextSitter() (string, error) {
	n := 0
	for _, tx := range []*Tx{j.tx, j.from} {
		largest, err := tx.sitters.largest()
		if err != nil {
			return "", err
		}
		n = max(n, largest)
	}
	return fmt.Sprintf("sitter-%d", n+1), nil
}

// sitters brings the names and contacts that belong to references, and the names borne before, but of nobody who was
// erased here.
func (j *joiner) sitters() error {
	rows, err := j.from.Sitters()
	if err != nil {
		return err
	}
	if j.former, err = j.from.sitters.formerByRef(); err != nil {
		return err
	}
	if err := j.newStones(); err != nil {
		return err
	}
	mine, err := j.tx.Sitters()
	if err != nil {
		return err
	}
	j.called = calledHere{}
	for _, row := range mine {
		j.called.put(row)
	}
	for _, row := range rows {
		here, erased, err := j.whoIs(row)
		if err != nil {
			return err
		}
		if erased {
			j.out.Erased++
			for _, name := range j.namesOf(row) {
				j.tx.sitters.gone = append(j.tx.sitters.gone, events.SitterRow{Ref: row.Ref, Name: name})
			}
			continue
		}
		if here == "" {
			here, err = j.unnamedSitter(row)
		} else {
			err = j.putSitter(events.SitterRow{Ref: here, Name: row.Name, Contact: row.Contact})
		}
		if err == nil {
			err = j.formerNames(row, here)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// namesOf gives the names that a sitter of the other book bears and bore there, the present one first.
func (j *joiner) namesOf(row events.SitterRow) []string { return distinct(row.Name, j.former[row.Ref]) }

// formerNames brings the names that a sitter bore in the other book to those borne here: what was forgotten by one book
// alone would come back by a name that only the other knew. The present name there is one of them where another stands
// here under the reference.
func (j *joiner) formerNames(row events.SitterRow, here string) error {
	names := j.former[row.Ref]
	present, err := j.tx.sitters.nameOf(here)
	if err != nil {
		return err
	}
	if people.Key(present) != people.Key(row.Name) {
		names = append(slices.Clone(names), row.Name)
	}
	return j.tx.sitters.addFormer(here, names...)
}

// newStones gathers the stones by which a sitter of the other book is known to be erased here. A book that holds a stone
// itself has written the name in anew, knowing of it.
func (j *joiner) newStones() error {
	all, err := j.tx.sitters.stones()
	if err != nil {
		return err
	}
	for _, s := range all {
		knows, err := j.from.sitters.knowsEntry(s.entry)
		if err != nil {
			return err
		}
		if !knows {
			j.stones = append(j.stones, s)
		}
	}
	return nil
}

// whoIs finds the reference that a row of the other book has here, "" where no entry names it there, and whether the
// sitter was erased here: the very reference, or a name borne now or before, which a stone knows again.
func (j *joiner) whoIs(row events.SitterRow) (ref string, erased bool, err error) {
	t, named, err := j.from.Entity(row.Ref)
	if err != nil {
		return "", false, err
	}
	if named {
		bare, rank := splitRank(row.Ref)
		theirs, err := j.from.names.bearers(bare)
		if err != nil {
			return "", false, err
		}
		there, _ := pick(theirs, rank)
		here, ok, err := j.here(there, events.Ref{Kind: t.Kind, Name: row.Ref}, &events.Entry{})
		if err != nil {
			return "", false, err
		}
		if !ok {
			return "", false, fmt.Errorf("%w: the entry that first named %q did not come along", events.ErrDamaged, row.Ref)
		}
		if erased, err = j.tx.sitters.isErased(here.id); err != nil || erased {
			return "", erased, err
		}
		ref = here.entity(bare).Name
	} else if erased, err = j.goneWithItsCopy(row); err != nil || erased {
		return "", erased, err
	}
	_, erased = knownBy(j.stones, j.namesOf(row)...)
	return ref, erased, nil
}

// goneWithItsCopy says of a row that no entry of the other book names whether its reference was erased here, and the other
// book grew from a copy of this one: the row was the same, whatever name it bore.
func (j *joiner) goneWithItsCopy(row events.SitterRow) (bool, error) {
	t, ok, err := j.tx.Entity(row.Ref)
	if err != nil || !ok || j.out.Known == 0 {
		return false, err
	}
	return j.tx.sitters.isErased(t.ID)
}

// unnamedSitter brings a row that no entry of the other book holds yet: under its reference where that is free, else
// under the next free one, unless the same name and contact stand here already. It gives the reference that the sitter
// has here.
func (j *joiner) unnamedSitter(row events.SitterRow) (string, error) {
	tx := j.tx
	if same, ok := j.called[nameAndContact{row.Name, row.Contact}]; ok {
		return same, nil
	}
	var n int
	if err := tx.file.QueryRow("SELECT (SELECT count(*) FROM sitter WHERE ref=?1) + (SELECT count(*) FROM entity WHERE name=?1)", row.Ref).Scan(&n); err != nil {
		return "", translate(err)
	}
	if n > 0 {
		ref, err := tx.AddSitter(row.Name, row.Contact)
		if err != nil {
			return "", err
		}
		j.out.Sitters++
		j.called.put(events.SitterRow{Ref: ref, Name: strings.TrimSpace(row.Name), Contact: row.Contact})
		return ref, nil
	}
	return row.Ref, j.putSitter(row)
}

// putSitter puts a row into the table, unless one stands there under its reference.
func (j *joiner) putSitter(row events.SitterRow) error {
	before := j.out.Sitters
	res, err := j.tx.file.Exec("INSERT OR IGNORE INTO sitter VALUES (?,?,?)", row.Ref, row.Name, row.Contact)
	if err := counted(res, err, &j.out.Sitters); err != nil || j.out.Sitters == before {
		return err
	}
	j.tx.sitters.count(row.Ref)
	j.called.put(row)
	return nil
}

// calledHere are the references in the table by names and contacts, the smallest where several stand under the same.
type calledHere map[nameAndContact]string

type nameAndContact struct{ name, contact string }

func (c calledHere) put(row events.SitterRow) {
	key := nameAndContact{row.Name, row.Contact}
	was, known := c[key]
	if !known || cmp.Or(cmp.Compare(len(row.Ref), len(was)), cmp.Compare(row.Ref, was)) < 0 {
		c[key] = row.Ref
	}
}

func (j *joiner) thumbnails() error {
	return j.from.EachThumbnail(func(t events.Thumbnail) error {
		res, err := j.tx.file.Exec("INSERT OR IGNORE INTO thumbnail (sha256, jpeg, width, height, path) VALUES (?,?,?,?,?)",
			t.SHA256[:], t.JPEG, t.Width, t.Height, t.Path)
		return counted(res, err, &j.out.Thumbnails)
	})
}
