package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"strconv"
	"time"

	"traybook/events"
)

// Head is the end of one chain.
type Head struct {
	Chain      int64
	Book       events.ID
	BookSeq    int64
	Hash       events.Hash
	RecordedAt time.Time
	Zone       string
}

type chainRow struct {
	book              events.ID
	parent, parentSeq int64
}

// ownChain is the chain that this file appends to, and its head.
type ownChain struct {
	id   int64
	head Head
	seq  int64 // the file's last seq
}

// loadChains reads the chains: a handful, however long the book.
func (tx *Tx) loadChains() error {
	if tx.chains != nil {
		return nil
	}
	rows, err := tx.tx.Query("SELECT id, book, coalesce(parent,0), coalesce(parent_seq,0) FROM chain")
	if err != nil {
		return translate(err)
	}
	defer rows.Close()
	tx.chains = map[int64]chainRow{}
	for rows.Next() {
		var id int64
		var c chainRow
		var book []byte
		if err := rows.Scan(&id, &book, &c.parent, &c.parentSeq); err != nil {
			return translate(err)
		}
		copy(c.book[:], book)
		tx.chains[id] = c
	}
	return translate(rows.Err())
}

// Heads gives the end of every chain, in the order in which the chains came into this file.
func (tx *Tx) Heads() ([]Head, error) {
	if err := tx.loadChains(); err != nil {
		return nil, err
	}
	var out []Head
	for id := int64(1); id <= int64(len(tx.chains)); id++ {
		e, err := scanEntry(tx.tx.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.chain=? ORDER BY e.seq DESC LIMIT 1", id))
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return nil, translate(err)
		}
		out = append(out, headOf(e))
	}
	return out, nil
}

func headOf(e events.Entry) Head {
	h := Head{Chain: e.Branch, Book: e.Book, BookSeq: e.BookSeq, Hash: e.Hash, RecordedAt: e.RecordedAt, Zone: e.Zone}
	if d, ok := e.Data.(*events.BookOpenedData); ok {
		h.Zone = d.Zone
	}
	return h
}

// lastSeq is the largest seq in the file.
func (tx *Tx) lastSeq() (int64, error) {
	var seq sql.NullInt64
	err := tx.tx.QueryRow("SELECT max(seq) FROM entry").Scan(&seq)
	return seq.Int64, translate(err)
}

// HasOwnChain says whether the file has a chain of its own to append to. One made from another (an import of whole
// lines, a backup, a salvage) has none until its first own act opens one.
func (tx *Tx) HasOwnChain() (bool, error) {
	own, err := tx.Meta("own_chain")
	return own != "", err
}

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

// openOwn readies the chain to append to. A book.opened in a file without one begins it, growing from the newest head
// that the file was given.
func (tx *Tx) openOwn(e *events.Entry) error {
	if tx.own != nil {
		return nil
	}
	if err := tx.loadChains(); err != nil {
		return err
	}
	seq, err := tx.lastSeq()
	if err != nil {
		return err
	}
	text, err := tx.Meta("own_chain")
	if err != nil {
		return err
	}
	if text != "" {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return fmt.Errorf("%w: the own chain is %q", events.ErrDamaged, text)
		}
		last, err := scanEntry(tx.tx.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.chain=? ORDER BY e.seq DESC LIMIT 1", id))
		if err != nil {
			return translate(err)
		}
		tx.own = &ownChain{id: id, head: headOf(last), seq: seq}
		return nil
	}
	if e.Kind != events.BookOpened && e.Kind != events.BookSalvaged {
		return errors.New("the file has no chain of its own yet; a book.opened must come first")
	}
	if e.Book.IsZero() {
		return errors.New("a new chain needs a name")
	}
	own := &ownChain{id: int64(len(tx.chains)) + 1, seq: seq}
	row := chainRow{book: e.Book}
	if seq > 0 {
		last, err := scanEntry(tx.tx.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.seq=?", seq))
		if err != nil {
			return translate(err)
		}
		own.head = headOf(last)
		own.head.BookSeq, row.parent, row.parentSeq = 0, last.Branch, last.BookSeq
	}
	own.head.Book = e.Book
	if err := tx.addChain(own.id, row); err != nil {
		return err
	}
	if err := tx.SetMeta("own_chain", strconv.FormatInt(own.id, 10)); err != nil {
		return err
	}
	tx.own = own
	return nil
}

func (tx *Tx) addChain(id int64, row chainRow) error {
	var parent, parentSeq any
	if row.parent != 0 {
		parent, parentSeq = row.parent, row.parentSeq
	}
	if _, err := tx.tx.Exec("INSERT INTO chain VALUES (?,?,?,?)", id, row.book[:], parent, parentSeq); err != nil {
		return translate(err)
	}
	tx.chains[id] = row
	return nil
}

// Append seals e as the next entry of the file's own chain and keeps it. e must be valid and filled in, and what it
// names must exist; its Book, BookSeq, Prev, Hash and Stored are set here, and RecordedAt is moved up to the head's
// where the clock ran back.
func (tx *Tx) Append(e *events.Entry) error {
	if err := tx.openOwn(e); err != nil {
		return err
	}
	head := &tx.own.head
	if e.RecordedAt.Before(head.RecordedAt) {
		e.RecordedAt = head.RecordedAt.In(e.RecordedAt.Location())
	}
	if e.V == 0 {
		e.V = events.Version
	}
	e.Book, e.BookSeq, e.Branch = head.Book, head.BookSeq+1, tx.own.id
	if err := e.Seal(head.Hash); err != nil {
		return err
	}
	e.Seq = tx.own.seq + 1
	if err := tx.insert(e); err != nil {
		return err
	}
	tx.own.seq = e.Seq
	*head = headOf(*e)
	return nil
}

// insert keeps a sealed entry: the row, the things it is the first to name, and what it cites.
func (tx *Tx) insert(e *events.Entry) error {
	p := events.PlacesOf(e.Data)
	home, err := tx.homeFor(e, p)
	if err != nil {
		return err
	}
	ids := make([]any, 3)
	for i, r := range []events.Ref{{Kind: events.Box, Name: p.Box}, {Kind: events.Bath, Name: p.Bath}, {Kind: events.Session, Name: p.Session}} {
		if r.Name == "" {
			continue
		}
		t, err := tx.thingFor(r, e.Branch)
		if err != nil {
			return err
		}
		ids[i] = t.ID
	}
	_, err = tx.tx.Exec("INSERT INTO entry VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?)", e.Seq, string(e.Stored), e.Prev[:], e.Hash[:],
		e.ID[:], e.Branch, e.BookSeq, string(e.Kind), e.At.UnixMicro(), home.ID, ids[0], ids[1], ids[2])
	if err != nil {
		return translate(err)
	}
	for _, r := range p.Others {
		t, err := tx.thingFor(r, e.Branch)
		if err != nil {
			return err
		}
		if t.ID == home.ID {
			continue
		}
		if _, err := tx.tx.Exec("INSERT OR IGNORE INTO cite VALUES (?,?)", t.ID, e.Seq); err != nil {
			return translate(err)
		}
		if t.Kind == events.Box {
			tx.touch(t.ID)
		}
	}
	if err := tx.mend(e, p); err != nil {
		return err
	}
	tx.touch(home.ID)
	if box, ok := ids[0].(int64); ok {
		return tx.touchLowBox(box)
	}
	return nil
}

// mend links a void or an amendment to what it names, and has the homes of that folded again.
func (tx *Tx) mend(e *events.Entry, p events.Places) error {
	var rows *sql.Rows
	var err error
	switch d := e.Data.(type) {
	case *events.EntryAmendedData:
		id, _ := events.ParseID(d.Entry)
		rows, err = tx.tx.Query("SELECT seq, home, box FROM entry WHERE id=? AND seq<>?", id[:], e.Seq)
	case *events.EntryVoidedData:
		if d.Batch != "" {
			// The batch stands in the stored bytes only; voiding one is rare enough for a scan.
			rows, err = tx.tx.Query(`SELECT seq, home, box FROM entry WHERE json_extract(body,'$.batch')=? AND seq<>?`, d.Batch, e.Seq)
		} else {
			id, _ := events.ParseID(d.Entry)
			rows, err = tx.tx.Query("SELECT seq, home, box FROM entry WHERE id=? AND seq<>?", id[:], e.Seq)
		}
	default:
		return nil
	}
	if err != nil {
		return translate(err)
	}
	type target struct {
		seq, home int64
		box       sql.NullInt64
	}
	var targets []target
	for rows.Next() {
		var t target
		if err := rows.Scan(&t.seq, &t.home, &t.box); err != nil {
			rows.Close()
			return translate(err)
		}
		targets = append(targets, t)
	}
	rows.Close()
	if err := rows.Err(); err != nil {
		return translate(err)
	}
	for _, t := range targets {
		if _, err := tx.tx.Exec("INSERT OR IGNORE INTO mend VALUES (?,?)", t.seq, e.Seq); err != nil {
			return translate(err)
		}
		tx.touch(t.home)
		if t.box.Valid {
			tx.touch(t.box.Int64)
		}
	}
	return tx.touchMended(e, targetsOf(targets, func(t target) int64 { return t.seq }))
}

func targetsOf[T any](ts []T, f func(T) int64) []int64 {
	out := make([]int64, len(ts))
	for i, t := range ts {
		out[i] = f(t)
	}
	return out
}

// touchMended has the box of the first entry in a row of mends (a void of a void of an exposure) folded again too, and
// the boxes that a mended cutting or plan names.
func (tx *Tx) touchMended(e *events.Entry, seqs []int64) error {
	for _, seq := range seqs {
		cited, err := tx.ints("SELECT c.thing FROM cite c JOIN thing t ON t.id=c.thing WHERE c.seq=? AND t.kind='box'", seq)
		if err != nil {
			return err
		}
		for _, id := range cited {
			tx.touch(id)
		}
		up, err := tx.ints("SELECT target FROM mend WHERE seq=?", seq)
		if err != nil {
			return err
		}
		for _, target := range up {
			homes, err := tx.ints("SELECT home FROM entry WHERE seq=?1 UNION SELECT box FROM entry WHERE seq=?1 AND box IS NOT NULL", target)
			if err != nil {
				return err
			}
			for _, id := range homes {
				tx.touch(id)
			}
		}
		if len(up) > 0 {
			if err := tx.touchMended(e, up); err != nil {
				return err
			}
		}
	}
	return nil
}

func (tx *Tx) ints(text string, args ...any) ([]int64, error) {
	rows, err := tx.tx.Query(text, args...)
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var out []int64
	for rows.Next() {
		var v int64
		if err := rows.Scan(&v); err != nil {
			return nil, translate(err)
		}
		out = append(out, v)
	}
	return out, translate(rows.Err())
}

// homeFor finds the home of an entry: its own, or that of the entry it names.
func (tx *Tx) homeFor(e *events.Entry, p events.Places) (events.Thing, error) {
	if p.Entry != "" {
		id, err := events.ParseID(p.Entry)
		if err == nil {
			t, err := tx.HomeOf(id)
			if err == nil || !errors.Is(err, events.ErrNotFound) {
				return t, err
			}
		}
		if e.Kind != events.NoteWritten {
			return events.Thing{}, fmt.Errorf("%s: there is no entry %s", e.Kind, p.Entry)
		}
	}
	if p.Home.Kind == "" { // a note about a name: whatever kind it has
		t, ok, err := tx.resolve(p.Home.Name, e.Branch)
		if err != nil {
			return t, err
		}
		if !ok {
			return t, fmt.Errorf("%s: nothing is called %q", e.Kind, p.Home.Name)
		}
		return t, nil
	}
	return tx.thingFor(p.Home, e.Branch)
}

// thingFor finds the thing that a reference of a chain means, or gives it a number where the entry may be the first to
// name it.
func (tx *Tx) thingFor(r events.Ref, chain int64) (events.Thing, error) {
	t, ok, err := tx.resolve(r.Name, chain)
	if err != nil {
		return t, err
	}
	if ok {
		if t.Kind != r.Kind {
			return t, fmt.Errorf("%q is the name of a %s already, so it cannot name a %s", r.Name, t.Kind, r.Kind)
		}
		return t, nil
	}
	return tx.addThing(r, chain, r.Name, 1)
}

func (tx *Tx) addThing(r events.Ref, chain int64, bare string, rank int) (events.Thing, error) {
	res, err := tx.tx.Exec("INSERT INTO thing (name, rank, kind, chain) VALUES (?,?,?,?)", bare, rank, string(r.Kind), chain)
	if err != nil {
		return events.Thing{}, translate(err)
	}
	id, err := res.LastInsertId()
	if err != nil {
		return events.Thing{}, translate(err)
	}
	t := events.Thing{ID: id, Kind: r.Kind, Name: joinRank(bare, rank)}
	tx.remember(t)
	return t, nil
}

// resolve finds the thing that a name means to a chain. Only joined books have more than one of a name.
func (tx *Tx) resolve(name string, chain int64) (events.Thing, bool, error) {
	return tx.Thing(name)
}
