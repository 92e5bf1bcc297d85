package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"traybook/events"
)

// Meta reads one of the book's own settings, "" where it is not set.
func (tx *Tx) Meta(key string) (string, error) { return tx.file.meta(key) }

// SetMeta sets it; "" removes it.
func (tx *Tx) SetMeta(key, value string) error { return tx.file.setMeta(key, value) }

// Append seals e as the next entry of the file's own chain and keeps it. e must be valid and filled in, and what it
// names must exist; its Book, BookSeq, Prev, Hash and Stored are set here, and RecordedAt is moved up to the head's
// where the clock ran back: see ClockBack.
func (tx *Tx) Append(e *events.Entry) error {
	if err := tx.checkNames(e); err != nil {
		return err
	}
	if tx.bulk == nil { // who brings many has looked for them already
		if seq, err := tx.file.ints("SELECT seq FROM entry WHERE id=? LIMIT 1", e.ID[:]); err != nil || len(seq) > 0 {
			if err == nil {
				err = fmt.Errorf("the entry %s is in the book already", e.ID)
			}
			return err
		}
	}
	return tx.appendAs(e, tx.meanings.asShown)
}

func (tx *Tx) appendAs(e *events.Entry, name namer) error {
	if err := tx.chains.load(); err != nil {
		return err
	}
	if tx.chains.own == 0 {
		if err := tx.chains.openOwn(e); err != nil {
			return err
		}
	}
	own := tx.chains.own
	head := tx.chains.heads[own]
	if err := tx.chains.notBefore(e, head); err != nil {
		return err
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
	isNote := p.Stream.Kind == "" && p.Stream.Name != "" && p.Entry == ""
	for i := range 4 + len(p.Others) {
		var name string
		switch i {
		case 0:
			name = p.Stream.Name
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
		if _, ok, err := tx.Entity(name); err != nil || !ok {
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
	if _, err := tx.StreamOf(id); errors.Is(err, events.ErrNotFound) {
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
	if _, err = tx.file.Exec(insertEntry, row.args()...); err != nil {
		return translate(err)
	}
	tx.remembered.forget(spot{}, spot{"stream", c.stream}, spot{"box", c.box.Int64}, spot{"bath", c.bath.Int64}, spot{"session", c.session.Int64})
	tx.remembered.newest.add(e)
	if err := tx.chains.advance(e); err != nil {
		return err
	}
	if err := tx.link(e, p, c, name); err != nil {
		return err
	}
	if e.Kind == events.SitterErased { // one that came from elsewhere is obeyed here too
		tx.sitters.laid = nil
		t, err := tx.EntityByID(c.stream)
		if err != nil {
			return err
		}
		if err := tx.sitters.obey(e, t); err != nil {
			return err
		}
	}
	return tx.views.count(e, c)
}

// columns are what stands beside the stored bytes of one entry.
type columns struct {
	id                 events.ID
	chain, bookSeq     int64
	kind               string
	at, stream         int64
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
	stream, err := tx.streamFor(e, p, name)
	if err != nil {
		return columns{}, err
	}
	c := columns{id: e.ID, chain: e.Branch, bookSeq: e.BookSeq, kind: string(e.Kind), at: e.At.UnixMicro(), stream: stream.ID, batch: e.Batch}
	for _, x := range []struct {
		dst  *sql.NullInt64
		kind events.EntityKind
		name string
	}{{&c.box, events.Box, p.Box}, {&c.bath, events.Bath, p.Bath}, {&c.session, events.Session, p.Session}} {
		if x.name == "" {
			continue
		}
		t, err := name(events.Ref{Kind: x.kind, Name: x.name}, e)
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
		t, err := name(r, e)
		if err != nil {
			return err
		}
		if t.ID == c.stream {
			continue
		}
		if err := tx.into.addCite(t.ID, e.Seq); err != nil {
			return err
		}
		tx.remembered.forget(spot{"cites", t.ID})
		if t.Kind == events.Box {
			tx.views.countCited(t.ID, e)
		}
	}
	if err := tx.corrections.mendedBefore(e, c); err != nil {
		return err
	}
	return tx.corrections.mend(e)
}

// derivedRows takes in what is worked out from the entries, but for their own columns: the file, or for a look alone a shadow.
type derivedRows interface {
	addEntity(bare string, row entityRow) (id int64, err error)
	addCite(entity, seq int64) error
	addCorrection(target, seq int64) error
}

func (s *statements) addEntity(bare string, row entityRow) (int64, error) {
	res, err := s.Exec("INSERT INTO entity (name, rank, kind, chain, seq) VALUES (?,?,?,?,?)", bare, row.rank, string(row.kind), row.chain, row.seq)
	if err != nil {
		return 0, translate(err)
	}
	id, err := res.LastInsertId()
	return id, translate(err)
}

func (s *statements) addCite(entity, seq int64) error {
	_, err := s.Exec("INSERT OR IGNORE INTO cite VALUES (?,?)", entity, seq)
	return translate(err)
}

func (s *statements) addCorrection(target, seq int64) error {
	_, err := s.Exec("INSERT OR IGNORE INTO correction VALUES (?,?)", target, seq)
	return translate(err)
}

// streamFor finds the stream of an entry: its own, or that of the entry it names. Where what it names is lost (a salvaged
// book), the book itself is stream.
func (tx *Tx) streamFor(e *events.Entry, p events.Places, name namer) (events.Entity, error) {
	book := events.Ref{Kind: events.Book, Name: events.BookEntity, New: true}
	if p.Entry != "" {
		id, err := events.ParseID(p.Entry)
		if err != nil {
			return events.Entity{}, err
		}
		var stream int64
		err = tx.file.QueryRow("SELECT stream FROM entry WHERE id="+given+" AND seq<? ORDER BY seq LIMIT 1", id[:], e.Seq).Scan(&stream)
		if errors.Is(err, sql.ErrNoRows) {
			return name(book, e)
		}
		if err != nil {
			return events.Entity{}, translate(err)
		}
		return tx.EntityByID(stream)
	}
	if p.Stream.Kind == "" { // a note about a name, whatever kind of thing it has
		row, ok, err := tx.meanings.resolve(p.Stream, e)
		if err != nil {
			return events.Entity{}, err
		}
		if !ok {
			return name(book, e)
		}
		p.Stream.Kind = row.kind
	}
	return name(p.Stream, e)
}
