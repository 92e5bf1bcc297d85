package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"strconv"
	"strings"
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

// chainRow is one chain as this file holds it. A fork of a book is a chain of its own with the same book.
type chainRow struct {
	book              events.ID
	parent, parentSeq int64
	first             int64
	last              int64 // 0 for the chain that the file's last entry belongs to
}

// chains is what a transaction knows of the chains: a handful, however long the book.
type chains struct {
	file   *statements
	dry    bool // what changes goes into no table
	loaded bool
	single bool // the book held one chain when that was asked

	rows   map[int64]*chainRow
	heads  map[int64]Head
	byHash map[events.Hash]int64 // heads by their hash
	tail   int64                 // the file's last seq
	tailOf int64                 // the chain it belongs to
	own    int64                 // the chain that this file appends to, 0 where it has none
	before int64                 // the file's last seq when the write began

	clockBack *ClockBack // the clock stood before the last entry
}

// grewHere says whether a chain, or what it grew from, was in this file when the write began.
func (c *chains) grewHere(id int64) bool {
	for row := c.rows[id]; row != nil; row = c.rows[row.parent] {
		if row.first <= c.before {
			return true
		}
	}
	return false
}

// chainRows reads the table of chains.
func (s *statements) chainRows() (map[int64]*chainRow, error) {
	out := map[int64]*chainRow{}
	rows, err := s.Query("SELECT id, book, coalesce(parent,0), coalesce(parent_seq,0), first, coalesce(last,0) FROM chain")
	err = each(rows, err, func(row scanner) error {
		var id int64
		var c chainRow
		var book sql.RawBytes
		if err := row.Scan(&id, &book, &c.parent, &c.parentSeq, &c.first, &c.last); err != nil {
			return err
		}
		exact(c.book[:], book)
		out[id] = &c
		return nil
	})
	return out, err
}

// load reads them, unless that is done.
func (c *chains) load() error {
	if c.loaded {
		return nil
	}
	read := chains{file: c.file, dry: c.dry, loaded: true, heads: map[int64]Head{}, byHash: map[events.Hash]int64{}}
	var err error
	if read.rows, err = c.file.chainRows(); err != nil {
		return err
	}
	if err := chainsInOrder(read.rows); err != nil {
		return err
	}
	err = c.file.QueryRow("SELECT seq, chain FROM entry ORDER BY seq DESC LIMIT 1").Scan(&read.tail, &read.tailOf)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return translate(err)
	}
	for id, r := range read.rows {
		seq := r.last
		if id == read.tailOf {
			seq = read.tail
		}
		e, err := c.file.entryAt(seq)
		if isTrouble(err) {
			return err
		}
		if err != nil {
			return fmt.Errorf("%w: the end of chain %d is not where it should be; `traybook rebuild` looks for it", events.ErrDamaged, id)
		}
		h := headOf(e)
		h.Chain = id
		read.heads[id], read.byHash[h.Hash] = h, id
	}
	text, err := c.file.meta("own_chain")
	if err != nil {
		return err
	}
	if text != "" {
		read.own, err = strconv.ParseInt(text, 10, 64)
		if _, ok := read.rows[read.own]; err != nil || !ok {
			return fmt.Errorf("%w: the own chain is %q", events.ErrDamaged, text)
		}
	}
	read.before = read.tail
	*c = read
	return nil
}

// blank reads them as if none of their entries had come in.
func (c *chains) blank() error {
	rows, err := c.file.chainRows()
	if err != nil {
		return err
	}
	if err := chainsInOrder(rows); err != nil {
		return err
	}
	for _, r := range rows {
		r.last = 0
	}
	*c = chains{file: c.file, dry: c.dry, loaded: true, rows: rows, heads: map[int64]Head{}, byHash: map[events.Hash]int64{}}
	return nil
}

// joined says whether the book holds more than one chain.
func (c *chains) joined() (bool, error) {
	if !c.loaded && !c.single {
		var more bool
		if err := c.file.QueryRow("SELECT EXISTS (SELECT 1 FROM chain WHERE id>1)").Scan(&more); err != nil {
			return false, translate(err)
		}
		c.single = !more
		if more {
			if err := c.load(); err != nil {
				return false, err
			}
		}
	}
	return c.loaded && len(c.rows) > 1, nil // a write that joins another book has loaded them
}

func (s *statements) entryAt(seq int64) (events.Entry, error) {
	e, err := scanEntry(s.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.seq=?", seq))
	if errors.Is(err, sql.ErrNoRows) {
		return e, events.ErrNotFound
	}
	return e, translate(err)
}

// idAt is the id of the entry with a number.
func (s *statements) idAt(seq int64) (events.ID, error) {
	var id events.ID
	var raw []byte
	err := s.QueryRow("SELECT id FROM entry WHERE seq=?", seq).Scan(&raw)
	copy(id[:], raw)
	return id, translate(err)
}

func headOf(e events.Entry) Head {
	h := Head{Chain: e.Branch, Book: e.Book, BookSeq: e.BookSeq, Hash: e.Hash, RecordedAt: e.RecordedAt, Zone: e.Zone}
	if d, ok := e.Data.(*events.BookOpenedData); ok {
		h.Zone = d.Zone
	}
	return h
}

// Heads gives the end of every chain, in the order in which the chains came into this file.
func (tx *Tx) Heads() ([]Head, error) { return tx.chains.ends() }

// ends gives the end of every chain, in the order in which the chains came into this file.
func (c *chains) ends() ([]Head, error) {
	if err := c.load(); err != nil {
		return nil, err
	}
	out := make([]Head, 0, len(c.rows))
	for id := int64(1); id <= int64(len(c.rows)); id++ {
		out = append(out, c.heads[id])
	}
	return out, nil
}

// HasOwnChain says whether the file has a chain of its own to append to. One made from another (an import of whole
// lines, a backup, a salvage) has none until its first own act opens one: see EnsureOwn.
func (tx *Tx) HasOwnChain() (bool, error) {
	err := tx.chains.load()
	return err == nil && tx.chains.own != 0, err
}

// EnsureOwn opens a chain of the file's own where it has none: opened is a book.opened (or book.salvaged) with a new
// Book, and grows from the newest entry that the file was given. In a file with a chain of its own it does nothing.
func (tx *Tx) EnsureOwn(opened events.Entry) error {
	has, err := tx.HasOwnChain()
	if err != nil || has {
		return err
	}
	return tx.Append(&opened)
}

// openOwn makes the chain that e, the first act of this file, begins.
func (c *chains) openOwn(e *events.Entry) error {
	if e.Kind != events.BookOpened && e.Kind != events.BookSalvaged {
		return errors.New("the file has no chain of its own yet; a book.opened must come first")
	}
	if e.Book.IsZero() {
		return errors.New("a new chain needs a name")
	}
	row := chainRow{book: e.Book}
	var head Head
	if c.tail > 0 {
		head = c.heads[c.tailOf]
		row.parent, row.parentSeq = c.tailOf, head.BookSeq
		for _, r := range c.rows {
			if r.book == e.Book {
				return errors.New("the new chain bears the name of one that the file was given")
			}
		}
	}
	id, err := c.add(row)
	if err != nil {
		return err
	}
	if err := c.file.setMeta("own_chain", strconv.FormatInt(id, 10)); err != nil {
		return err
	}
	c.own = id
	head.Chain, head.Book, head.BookSeq = id, e.Book, 0
	c.heads[id] = head // not yet in byHash: the parent's end stays findable there
	return nil
}

// add gives a chain its number in this file. Its first entry is the next one to be kept.
func (c *chains) add(row chainRow) (int64, error) {
	id := int64(len(c.rows)) + 1
	row.first = c.tail + 1
	var parent, parentSeq any
	if row.parent != 0 {
		parent, parentSeq = row.parent, row.parentSeq
	}
	if _, err := c.file.Exec("INSERT INTO chain VALUES (?,?,?,?,?,NULL)", id, row.book[:], parent, parentSeq, row.first); err != nil {
		return 0, translate(err)
	}
	c.rows[id] = &row
	return id, nil
}

// advance makes e, just kept, the head of its chain.
func (c *chains) advance(e *events.Entry) error {
	if c.tailOf != e.Branch {
		if c.tailOf != 0 {
			if err := c.setLast(c.tailOf, c.tail); err != nil {
				return err
			}
		}
		if err := c.setLast(e.Branch, 0); err != nil {
			return err
		}
	}
	h := headOf(*e)
	if h.Zone == "" {
		h.Zone = c.heads[e.Branch].Zone
	}
	if old := c.heads[e.Branch].Hash; c.byHash[old] == e.Branch {
		delete(c.byHash, old)
	}
	c.heads[e.Branch], c.byHash[h.Hash] = h, e.Branch
	c.tail, c.tailOf = e.Seq, e.Branch
	return nil
}

// setLast notes where a chain ends for now, 0 for the chain that goes on.
func (c *chains) setLast(chain, seq int64) error {
	row := c.rows[chain]
	if row.last == seq {
		return nil
	}
	row.last = seq
	if c.dry {
		return nil
	}
	var last any
	if seq != 0 {
		last = seq
	}
	_, err := c.file.Exec("UPDATE chain SET last=? WHERE id=?", last, chain)
	return translate(err)
}

// Errors of a whole line that fits no chain.
var (
	errStranger = errors.New("it belongs to a chain that this book does not hold; `traybook merge` joins two books")
	errLink     = errors.New("its place in the chain is broken")
)

// place finds the chain that a whole entry goes on, or begins one that grows from an entry the book holds: another
// book's own chain, or a second branch of the same book. mayBegin allows one that grows from none.
func (c *chains) place(e *events.Entry, mayBegin bool) error {
	if err := c.load(); err != nil {
		return err
	}
	if id, ok := c.byHash[e.Prev]; ok {
		if h := c.heads[id]; h.Book == e.Book {
			if e.BookSeq != h.BookSeq+1 {
				return fmt.Errorf("%w: its book_seq is %d, after %d", errLink, e.BookSeq, h.BookSeq)
			}
			if e.RecordedAt.Before(h.RecordedAt) {
				return fmt.Errorf("%w: it was recorded before the entry that it follows", errLink)
			}
			e.Branch = id
			return nil
		}
	}
	row := chainRow{book: e.Book}
	if e.Prev == (events.Hash{}) {
		if !mayBegin {
			return errStranger
		}
		if e.BookSeq != 1 {
			return fmt.Errorf("%w: it begins a chain with book_seq %d", errLink, e.BookSeq)
		}
	} else {
		parent, err := c.withHash(e.Prev)
		if errors.Is(err, events.ErrNotFound) {
			return errStranger
		}
		if err != nil {
			return err
		}
		want := int64(1)
		if parent.Book == e.Book {
			want = parent.BookSeq + 1
		}
		if e.BookSeq != want {
			return fmt.Errorf("%w: its book_seq is %d, it should be %d", errLink, e.BookSeq, want)
		}
		if e.RecordedAt.Before(parent.RecordedAt) && parent.Book == e.Book {
			return fmt.Errorf("%w: it was recorded before the entry that it follows", errLink)
		}
		row.parent, row.parentSeq = parent.Branch, parent.BookSeq
	}
	if e.BookSeq == 1 && e.Kind != events.BookOpened && e.Kind != events.BookSalvaged {
		return fmt.Errorf("%w: a chain begins with book.opened, not with %s", errLink, e.Kind)
	}
	id, err := c.add(row)
	e.Branch = id
	return err
}

// withHash finds a kept entry by its hash. Hashes have no index, since only a branch that leaves a chain in its middle
// needs one: once for each such branch the entries are gone through.
func (c *chains) withHash(h events.Hash) (events.Entry, error) {
	if id, ok := c.byHash[h]; ok {
		head := c.heads[id]
		return events.Entry{Book: head.Book, BookSeq: head.BookSeq, Branch: id, RecordedAt: head.RecordedAt}, nil
	}
	e, err := scanEntry(c.file.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.hash=?", h[:]))
	if errors.Is(err, sql.ErrNoRows) {
		return e, events.ErrNotFound
	}
	return e, translate(err)
}

// has says whether the very entry is kept.
func (s *statements) has(e *events.Entry) (seq int64, err error) {
	err = s.QueryRow("SELECT seq FROM entry WHERE id=? AND hash=?", e.ID[:], e.Hash[:]).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return seq, translate(err)
}

// LastOwn is the entry that this file's own chain took last; ok is false where there is none. acts passes over
// amendments and voids.
func (tx *Tx) LastOwn(acts bool) (e events.Entry, ok bool, err error) {
	if err := tx.chains.load(); err != nil || tx.chains.own == 0 {
		return e, false, err
	}
	own := tx.chains.own
	last := tx.chains.rows[own].last
	if own == tx.chains.tailOf {
		last = tx.chains.tail
	}
	text := "SELECT " + entryColumns + " FROM entry e WHERE e.chain=? AND e.seq<=?"
	if acts {
		text += " AND e.kind NOT IN ('entry.amended','entry.voided')"
	}
	e, err = scanEntry(tx.file.QueryRow(text+" ORDER BY e.seq DESC LIMIT 1", own, last))
	if errors.Is(err, sql.ErrNoRows) {
		return e, false, nil
	}
	return e, err == nil, translate(err)
}

// Batch gives the entries written under batches whose id begins with the hex digits, four or more.
func (tx *Tx) Batch(prefix string) ([]events.Entry, error) {
	low, high, ok := idRange(prefix)
	if !ok {
		return nil, nil
	}
	return tx.file.entries("SELECT "+entryColumns+" FROM entry e WHERE e.batch BETWEEN ? AND ? ORDER BY e.seq", low[:], high[:])
}

// idRange gives the smallest and the largest id that begin with hex digits.
func idRange(prefix string) (low, high events.ID, ok bool) {
	if len(prefix) < 4 || len(prefix) > 32 || strings.Trim(prefix, "0123456789abcdef") != "" {
		return low, high, false
	}
	low, _ = events.ParseID(prefix + strings.Repeat("0", 32-len(prefix)))
	high, _ = events.ParseID(prefix + strings.Repeat("f", 32-len(prefix)))
	return low, high, true
}
