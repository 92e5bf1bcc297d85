package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

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
	if err := tx.checkNames(e); err != nil {
		return err
	}
	if !tx.bulk { // who brings many has looked for them already
		if seq, err := tx.ints("SELECT seq FROM entry WHERE id=? LIMIT 1", e.ID[:]); err != nil || len(seq) > 0 {
			if err == nil {
				err = fmt.Errorf("the entry %s is in the book already", e.ID)
			}
			return err
		}
	}
	return tx.appendAs(e, asShown)
}

func (tx *Tx) appendAs(e *events.Entry, name namer) error {
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
	return tx.insert(e, name)
}

// checkNames refuses an act that names what no first mention can make: a note about nothing, a name that only a joined
// book can have given.
func (tx *Tx) checkNames(e *events.Entry) error {
	p := events.PlacesOf(e.Data)
	isNote := p.Home.Kind == "" && p.Home.Name != "" && p.Entry == ""
	for i := range 4 + len(p.Others) {
		var name string
		switch i {
		case 0:
			name = p.Home.Name
		case 1:
			name = p.Box
		case 2:
			name = p.Bath
		case 3:
			name = p.Session
		default:
			name = p.Others[i-4].Name
		}
		if !(i == 0 && isNote) && !strings.Contains(name, "@") {
			continue
		}
		if _, ok, err := tx.Thing(name); err != nil || !ok {
			if err == nil {
				err = fmt.Errorf("%s: nothing is called %q", e.Kind, name)
			}
			return err
		}
	}
	if p.Entry == "" {
		return nil
	}
	id, err := events.ParseID(p.Entry)
	if err != nil {
		return err
	}
	if _, err := tx.HomeOf(id); errors.Is(err, events.ErrNotFound) {
		return fmt.Errorf("%s: there is no entry %s", e.Kind, p.Entry)
	} else if err != nil {
		return err
	}
	return nil
}

// insert keeps a sealed entry that was given its chain: the row, the things it is the first to name, what it cites and
// what it mends. The reader of lines has taken it: Seal reads what it made, ReadLines what comes in, and merge and
// salvage have each entry judged.
func (tx *Tx) insert(e *events.Entry, name namer) error {
	if err := tx.begin(); err != nil {
		return err
	}
	e.Seq = tx.chains.tail + 1
	p := events.PlacesOf(e.Data)
	c, err := tx.derive(e, p, name)
	if err != nil {
		return err
	}
	row := entryRow{e.Seq, e.Stored, e.Prev, e.Hash, c}
	if tx.tx.behind != nil {
		err = tx.tx.behind.put(row)
	} else {
		_, err = tx.tx.Exec(insertEntry, row.args()...)
	}
	if err != nil {
		return translate(err)
	}
	if err := tx.advance(e); err != nil {
		return err
	}
	if err := tx.link(e, p, c, name); err != nil {
		return err
	}
	if e.Kind == events.SitterErased && !tx.replay && tx.shadow == nil { // one that came from elsewhere is obeyed here too
		t, err := tx.ThingByID(c.home)
		if err != nil {
			return err
		}
		if err := tx.forget(t.Name); err != nil {
			return err
		}
	}
	return tx.count(e, c)
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
		if err := tx.addCite(t.ID, e.Seq); err != nil {
			return err
		}
		if t.Kind == events.Box {
			tx.countCited(t.ID, e)
		}
	}
	if err := tx.mendedBefore(e, c); err != nil {
		return err
	}
	return tx.mend(e)
}

func (tx *Tx) addCite(thing, seq int64) error {
	if tx.shadow != nil {
		tx.shadow.cites = append(tx.shadow.cites, [2]int64{thing, seq})
		return nil
	}
	_, err := tx.tx.Exec("INSERT OR IGNORE INTO cite VALUES (?,?)", thing, seq)
	return translate(err)
}

// homeFor finds the home of an entry: its own, or that of the entry it names. Where what it names is lost (a salvaged
// book), the book itself is home.
func (tx *Tx) homeFor(e *events.Entry, p events.Places, name namer) (events.Thing, error) {
	book := events.Ref{Kind: events.Book, Name: events.BookThing, New: true}
	if p.Entry != "" {
		id, err := events.ParseID(p.Entry)
		if err != nil {
			return events.Thing{}, err
		}
		var home int64
		err = tx.tx.QueryRow("SELECT home FROM entry WHERE id=? AND seq<? ORDER BY seq LIMIT 1", id[:], e.Seq).Scan(&home)
		if errors.Is(err, sql.ErrNoRows) {
			return name(tx, book, e)
		}
		if err != nil {
			return events.Thing{}, translate(err)
		}
		return tx.ThingByID(home)
	}
	if p.Home.Kind == "" { // a note about a name, whatever kind of thing it has
		row, ok, err := tx.meant(p.Home, e)
		if err != nil {
			return events.Thing{}, err
		}
		if !ok {
			return name(tx, book, e)
		}
		p.Home.Kind = row.kind
	}
	return name(tx, p.Home, e)
}

// mend links a void or an amendment to what it names, and has the homes of that folded again.
func (tx *Tx) mend(e *events.Entry) error {
	targets, err := tx.targets(e)
	if err != nil {
		return err
	}
	if _, isVoid := e.Data.(*events.EntryVoidedData); len(targets) == 0 && (isVoid || e.Kind == events.EntryAmended) {
		// What it names is lost, or comes later from another book: remembered under no entry.
		return tx.addMend(0, e.Seq)
	}
	for i := range targets {
		t := &targets[i]
		if err := tx.addMend(t.Seq, e.Seq); err != nil {
			return err
		}
		if tx.replay && tx.gather == nil {
			continue // nothing is folded, or everything is anyway
		}
		if err := tx.touchMended(t, e); err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) addMend(target, seq int64) error {
	if tx.shadow != nil {
		tx.shadow.mends = append(tx.shadow.mends, [2]int64{target, seq})
		return nil
	}
	_, err := tx.tx.Exec("INSERT OR IGNORE INTO mend VALUES (?,?)", target, seq)
	return translate(err)
}

// mendedBefore links an entry that came from another book to the voids and amendments that were here first: of its
// twin in another chain, of its batch, or of itself while it was lost.
func (tx *Tx) mendedBefore(e *events.Entry, c columns) error {
	if len(tx.chains.rows) == 1 {
		return nil
	}
	menders, err := tx.query("SELECT "+entryColumns+` FROM entry e WHERE e.seq IN (
		SELECT m.seq FROM mend m WHERE m.target=0 AND m.seq<?1
		UNION SELECT m.seq FROM entry t JOIN mend m ON m.target=t.seq WHERE t.id=?2 AND t.seq<?1 AND m.seq<?1
		UNION SELECT m.seq FROM entry t JOIN mend m ON m.target=t.seq WHERE t.batch=?3 AND t.seq<?1 AND m.seq<?1)`, e.Seq, e.ID[:], batchColumn(e.Batch))
	if err != nil {
		return err
	}
	for i := range menders {
		if m := &menders[i]; m.ID != e.ID && mends(m, e) {
			if err := tx.addMend(e.Seq, m.Seq); err != nil {
				return err
			}
			if tx.gather != nil {
				tx.fromFile(c.home)
				if c.box.Valid {
					tx.fromFile(c.box.Int64)
				}
			}
		}
	}
	return nil
}

// mends says whether a void or an amendment names an entry.
func mends(m, e *events.Entry) bool {
	switch d := m.Data.(type) {
	case *events.EntryAmendedData:
		return d.Entry == e.ID.String()
	case *events.EntryVoidedData:
		return d.Entry == e.ID.String() || d.Batch != "" && d.Batch == e.Batch.String()
	}
	return false
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
			return tx.query("SELECT "+entryColumns+" FROM entry e WHERE e.batch=? AND e.seq<?", batch[:], e.Seq)
		}
		id = d.Entry
	default:
		return nil, nil
	}
	target, err := events.ParseID(id)
	if err != nil {
		return nil, err
	}
	return tx.query("SELECT "+entryColumns+" FROM entry e WHERE e.id=? AND e.seq<?", target[:], e.Seq)
}

// touchMended has everything folded again that a mended entry counts in: its home, the boxes it takes from, and, where
// it is itself a void or an amendment, what that mends.
func (tx *Tx) touchMended(e, by *events.Entry) error {
	p := events.PlacesOf(e.Data)
	home, err := tx.HomeOf(e.ID)
	if err != nil {
		return err
	}
	tx.countMended(home.ID, by, false)
	boxes := []events.Ref{{Kind: events.Box, Name: p.Box}}
	for _, r := range append(boxes, p.Others...) {
		if r.Kind != events.Box || r.Name == "" {
			continue
		}
		t, err := byChain(tx, r, e)
		if err != nil {
			return err
		}
		tx.countMended(t.ID, by, true)
	}
	up, err := tx.targets(e)
	if err != nil {
		return err
	}
	for i := range up {
		if up[i].Seq >= e.Seq {
			continue // voids look back; a ring is none of ours
		}
		if err := tx.touchMended(&up[i], by); err != nil {
			return err
		}
	}
	return nil
}
