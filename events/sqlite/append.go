package sqlite

import (
	"database/sql"
	"errors"

	"traybook/events"
)

// Meta reads one of the book's own settings, "" where it is not set.
func (tx *Tx) Meta(key string) (string, error) {
	var v string
	err := tx.tx.QueryRow("SELECT value FROM meta WHERE key=?", key).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return v, translate(err)
}

// SetMeta sets it; "" removes it.
func (tx *Tx) SetMeta(key, value string) error {
	var err error
	if value == "" {
		_, err = tx.tx.Exec("DELETE FROM meta WHERE key=?", key)
	} else {
		_, err = tx.tx.Exec("INSERT INTO meta VALUES (?,?) ON CONFLICT(key) DO UPDATE SET value=excluded.value", key, value)
	}
	return translate(err)
}

// Append seals e as the next entry of the file's own chain and keeps it. e must be valid and filled in, and what it
// names must exist; its Book, BookSeq, Prev, Hash and Stored are set here, and RecordedAt is moved up to the head's
// where the clock ran back.
func (tx *Tx) Append(e *events.Entry) error {
	if err := tx.loadChains(); err != nil {
		return err
	}
	if tx.chains.own == 0 {
		if err := tx.openOwn(e); err != nil {
			return err
		}
	}
	own := tx.chains.own
	head := tx.chains.heads[own]
	if e.RecordedAt.Before(head.RecordedAt) {
		e.RecordedAt = head.RecordedAt.In(e.RecordedAt.Location())
	}
	if e.V == 0 {
		e.V = events.Version
	}
	e.Book, e.BookSeq, e.Branch = head.Book, head.BookSeq+1, own
	if err := e.Seal(head.Hash); err != nil {
		return err
	}
	return tx.insert(e, asShown)
}

// insert keeps a sealed entry that was given its chain: the row, the things it is the first to name, what it cites and
// what it mends.
func (tx *Tx) insert(e *events.Entry, name namer) error {
	e.Seq = tx.chains.tail + 1
	p := events.PlacesOf(e.Data)
	c, err := tx.derive(e, p, name)
	if err != nil {
		return err
	}
	_, err = tx.tx.Exec("INSERT INTO entry VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)", e.Seq, string(e.Stored), e.Prev[:], e.Hash[:],
		e.ID[:], e.Branch, e.BookSeq, string(e.Kind), c.at, c.home, c.box, c.bath, c.session, batchColumn(c.batch))
	if err != nil {
		return translate(err)
	}
	if err := tx.advance(e); err != nil {
		return err
	}
	if err := tx.link(e, p, c, name); err != nil {
		return err
	}
	tx.touch(c.home)
	if c.box.Valid {
		return tx.touchLowBox(c.box.Int64)
	}
	return nil
}

// columns are what stands beside the stored bytes of one entry.
type columns struct {
	id                 events.ID
	chain, bookSeq     int64
	kind               string
	at, home           int64
	box, bath, session sql.NullInt64
	batch              events.ID // zero for none
}

func batchColumn(id events.ID) any {
	if id.IsZero() {
		return nil
	}
	return id[:]
}

// derive works out the columns of an entry from its stored bytes, naming things as needed.
func (tx *Tx) derive(e *events.Entry, p events.Places, name namer) (columns, error) {
	home, err := tx.homeFor(e, p, name)
	if err != nil {
		return columns{}, err
	}
	c := columns{id: e.ID, chain: e.Branch, bookSeq: e.BookSeq, kind: string(e.Kind), at: e.At.UnixMicro(), home: home.ID, batch: e.Batch}
	for _, x := range []struct {
		dst  *sql.NullInt64
		kind events.ThingKind
		name string
	}{{&c.box, events.Box, p.Box}, {&c.bath, events.Bath, p.Bath}, {&c.session, events.Session, p.Session}} {
		if x.name == "" {
			continue
		}
		t, err := name(tx, events.Ref{Kind: x.kind, Name: x.name}, e)
		if err != nil {
			return c, err
		}
		*x.dst = sql.NullInt64{Int64: t.ID, Valid: true}
	}
	return c, nil
}

// link writes what else the entry cites, and what it mends.
func (tx *Tx) link(e *events.Entry, p events.Places, c columns, name namer) error {
	for _, r := range p.Others {
		t, err := name(tx, r, e)
		if err != nil {
			return err
		}
		if t.ID == c.home {
			continue
		}
		if _, err := tx.tx.Exec("INSERT OR IGNORE INTO cite VALUES (?,?)", t.ID, e.Seq); err != nil {
			return translate(err)
		}
		if t.Kind == events.Box {
			tx.touch(t.ID)
		}
	}
	return tx.mend(e, name)
}

// homeFor finds the home of an entry: its own, or that of the entry it names. Where that entry is lost (a salvaged
// book), the book itself is home.
func (tx *Tx) homeFor(e *events.Entry, p events.Places, name namer) (events.Thing, error) {
	if p.Entry != "" {
		id, err := events.ParseID(p.Entry)
		if err == nil {
			t, err := tx.HomeOf(id)
			if err == nil || !errors.Is(err, events.ErrNotFound) {
				return t, err
			}
		}
		if e.Kind != events.NoteWritten {
			return name(tx, events.Ref{Kind: events.Book, Name: events.BookThing, New: true}, e)
		}
	}
	return name(tx, p.Home, e)
}

// mend links a void or an amendment to what it names, and has the homes of that folded again.
func (tx *Tx) mend(e *events.Entry, name namer) error {
	targets, err := tx.targets(e)
	if err != nil {
		return err
	}
	for i := range targets {
		t := &targets[i]
		if _, err := tx.tx.Exec("INSERT OR IGNORE INTO mend VALUES (?,?)", t.Seq, e.Seq); err != nil {
			return translate(err)
		}
		if err := tx.touchMended(t, name); err != nil {
			return err
		}
	}
	return nil
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
			return tx.query("SELECT "+entryColumns+" FROM entry e WHERE e.batch=? AND e.seq<>?", batch[:], e.Seq)
		}
		id = d.Entry
	default:
		return nil, nil
	}
	target, err := events.ParseID(id)
	if err != nil {
		return nil, err
	}
	return tx.query("SELECT "+entryColumns+" FROM entry e WHERE e.id=? AND e.seq<>?", target[:], e.Seq)
}

// touchMended has everything folded again that a mended entry counts in: its home, the boxes it takes from, and, where
// it is itself a void or an amendment, what that mends.
func (tx *Tx) touchMended(e *events.Entry, name namer) error {
	p := events.PlacesOf(e.Data)
	home, err := tx.HomeOf(e.ID)
	if err != nil {
		return err
	}
	tx.touch(home.ID)
	boxes := []events.Ref{{Kind: events.Box, Name: p.Box}}
	for _, r := range append(boxes, p.Others...) {
		if r.Kind != events.Box || r.Name == "" {
			continue
		}
		t, err := name(tx, r, e)
		if err != nil {
			return err
		}
		tx.touch(t.ID)
	}
	up, err := tx.targets(e)
	if err != nil {
		return err
	}
	for i := range up {
		if up[i].Seq >= e.Seq {
			continue // voids look back; a ring is none of ours
		}
		if err := tx.touchMended(&up[i], name); err != nil {
			return err
		}
	}
	return nil
}
