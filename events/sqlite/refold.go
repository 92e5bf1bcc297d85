package sqlite

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"

	"traybook/events"
)

// lowStock is how few sheets a box may hold by the quick count before it is counted exactly.
const lowStock = 2

// touch marks a home to be folded again before the commit.
func (tx *Tx) touch(home int64) {
	if !tx.isTouch[home] {
		tx.isTouch[home] = true
		tx.touched = append(tx.touched, home)
	}
}

// touchLowBox has a box counted again when an act may have emptied it. Every entry takes at most one sheet, so the
// number of entries bounds what was taken, and a box far from empty costs one look at an index.
func (tx *Tx) touchLowBox(box int64) error {
	if tx.isTouch[box] {
		return nil
	}
	var stock, used int64
	err := tx.tx.QueryRow("SELECT stock FROM view WHERE home=?", box).Scan(&stock)
	if errors.Is(err, sql.ErrNoRows) {
		tx.touch(box)
		return nil
	}
	if err != nil {
		return translate(err)
	}
	if err := tx.tx.QueryRow("SELECT count(*) FROM entry WHERE box=?", box).Scan(&used); err != nil {
		return translate(err)
	}
	if stock-used <= lowStock {
		tx.touch(box)
	}
	return nil
}

// foldTouched folds every touched home and keeps the views that changed.
func (tx *Tx) foldTouched() error {
	if tx.b.folder == nil || tx.b.stale {
		return nil
	}
	for i := 0; i < len(tx.touched); i++ {
		t, err := tx.ThingByID(tx.touched[i])
		if err != nil {
			return err
		}
		v, err := tx.b.folder.Fold(t, tx)
		if err != nil {
			return fmt.Errorf("%s: %w", t.Name, err)
		}
		if err := tx.keepView(v); err != nil {
			return err
		}
	}
	tx.touched, tx.isTouch = nil, map[int64]bool{}
	return nil
}

func (tx *Tx) keepView(v events.View) error {
	_, err := tx.tx.Exec(`INSERT INTO view VALUES (?,?,?,?,?,?,?)
		ON CONFLICT(home) DO UPDATE SET rank=excluded.rank, open=excluded.open, last=excluded.last, stock=excluded.stock, state=excluded.state`,
		v.Thing.ID, string(v.Thing.Kind), v.Rank, v.Open, v.Last, v.Stock, string(v.State))
	return translate(err)
}

// Rebuild drops what is derived and makes it again from the stored bytes: names, the columns beside the bytes, what
// cites and mends what, and the views.
func (b *Book) Rebuild() error {
	b.stale = false
	return b.Write(func(tx *Tx) error {
		for _, s := range []string{"DELETE FROM view", "DELETE FROM mend", "DELETE FROM cite", "DELETE FROM thing"} {
			if _, err := tx.tx.Exec(s); err != nil {
				return translate(err)
			}
		}
		if err := tx.remakeColumns(); err != nil {
			return err
		}
		return tx.SetMeta("fold", fmt.Sprint(b.folder.Version()))
	})
}

// remakeColumns goes through the stored bytes in their order and sets every derived column that differs. The trigger
// against changes is lifted for that, inside the transaction, and only if a column is wrong.
func (tx *Tx) remakeColumns() error {
	const page = 2000
	lifted := false
	for from := int64(0); ; {
		batch, err := tx.query("SELECT "+entryColumns+" FROM entry e WHERE e.seq>? ORDER BY e.seq LIMIT ?", from, page)
		if err != nil {
			return err
		}
		if len(batch) == 0 {
			break
		}
		for i := range batch {
			e := &batch[i]
			wrong, err := tx.remake(e, &lifted)
			if err != nil {
				return fmt.Errorf("entry number %d: %w", e.Seq, err)
			}
			_ = wrong
		}
		from = batch[len(batch)-1].Seq
	}
	if lifted {
		_, err := tx.tx.Exec(`CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END`)
		return translate(err)
	}
	return nil
}

// columns are what stands beside the stored bytes of one entry.
type columns struct {
	id                 events.ID
	bookSeq            int64
	kind               string
	at, home           int64
	box, bath, session sql.NullInt64
}

func (tx *Tx) keptColumns(seq int64) (columns, error) {
	var c columns
	var id []byte
	err := tx.tx.QueryRow("SELECT id, book_seq, kind, at, home, box, bath, session FROM entry WHERE seq=?", seq).
		Scan(&id, &c.bookSeq, &c.kind, &c.at, &c.home, &c.box, &c.bath, &c.session)
	copy(c.id[:], id)
	if len(id) != 16 {
		c.id = events.ID{}
	}
	return c, translate(err)
}

// derive works out the columns of an entry from its stored bytes, naming things as needed.
func (tx *Tx) derive(e *events.Entry) (columns, events.Places, error) {
	p := events.PlacesOf(e.Data)
	home, err := tx.homeFor(e, p)
	if err != nil {
		return columns{}, p, err
	}
	c := columns{id: e.ID, bookSeq: e.BookSeq, kind: string(e.Kind), at: e.At.UnixMicro(), home: home.ID}
	for _, x := range []struct {
		dst  *sql.NullInt64
		kind events.ThingKind
		name string
	}{{&c.box, events.Box, p.Box}, {&c.bath, events.Bath, p.Bath}, {&c.session, events.Session, p.Session}} {
		if x.name == "" {
			continue
		}
		t, err := tx.thingFor(events.Ref{Kind: x.kind, Name: x.name}, e.Branch)
		if err != nil {
			return c, p, err
		}
		*x.dst = sql.NullInt64{Int64: t.ID, Valid: true}
	}
	return c, p, nil
}

func (tx *Tx) remake(e *events.Entry, lifted *bool) (bool, error) {
	want, p, err := tx.derive(e)
	if err != nil {
		return false, err
	}
	got, err := tx.keptColumns(e.Seq)
	if err != nil {
		return false, err
	}
	if got != want {
		if !*lifted {
			if _, err := tx.tx.Exec("DROP TRIGGER IF EXISTS entry_no_update"); err != nil {
				return false, translate(err)
			}
			*lifted = true
		}
		_, err := tx.tx.Exec("UPDATE entry SET id=?, book_seq=?, kind=?, at=?, home=?, box=?, bath=?, session=? WHERE seq=?",
			want.id[:], want.bookSeq, want.kind, want.at, want.home, want.box, want.bath, want.session, e.Seq)
		if err != nil {
			return false, translate(err)
		}
	}
	for _, r := range p.Others {
		t, err := tx.thingFor(r, e.Branch)
		if err != nil {
			return false, err
		}
		if t.ID != want.home {
			if _, err := tx.tx.Exec("INSERT OR IGNORE INTO cite VALUES (?,?)", t.ID, e.Seq); err != nil {
				return false, translate(err)
			}
		}
		tx.touch(t.ID)
	}
	tx.touch(want.home)
	if want.box.Valid {
		tx.touch(want.box.Int64)
	}
	return got != want, tx.mend(e, p)
}

// sameView says whether two views hold the same.
func sameView(a, b events.View) bool {
	return a.Thing.ID == b.Thing.ID && a.Rank == b.Rank && a.Open == b.Open && a.Last == b.Last && a.Stock == b.Stock &&
		bytes.Equal(a.State, b.State)
}
