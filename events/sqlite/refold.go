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
	stale := b.stale
	b.stale = false
	err := b.Write(func(tx *Tx) error {
		for _, s := range []string{"DELETE FROM view", "DELETE FROM mend", "DELETE FROM cite", "DELETE FROM thing", "UPDATE chain SET last=NULL"} {
			if _, err := tx.tx.Exec(s); err != nil {
				return translate(err)
			}
		}
		if err := tx.remakeColumns(); err != nil {
			return err
		}
		if b.folder == nil {
			return nil
		}
		return tx.SetMeta("fold", fmt.Sprint(b.folder.Version()))
	})
	if err != nil {
		b.stale = stale
	}
	return err
}

// remakeColumns goes through the stored bytes in their order and sets every derived column that differs. The triggers
// against changes are lifted for that, inside the transaction, and only if a column is wrong; what is missing of them
// is put back.
func (tx *Tx) remakeColumns() error {
	const page = 2000
	r := remaker{tx: tx}
	for from := int64(0); ; {
		batch, err := tx.query("SELECT "+entryColumns+" FROM entry e WHERE e.seq>? ORDER BY e.seq LIMIT ?", from, page)
		if err != nil {
			return err
		}
		if len(batch) == 0 {
			break
		}
		for i := range batch {
			if err := r.remake(&batch[i]); err != nil {
				return fmt.Errorf("entry number %d: %w", batch[i].Seq, err)
			}
		}
		from = batch[len(batch)-1].Seq
	}
	return tx.restoreTriggers()
}

// remaker goes through the entries of a book as if they came in anew. The chains' rows are kept, but for what is
// derived of them.
type remaker struct {
	tx     *Tx
	lifted bool
}

func (r *remaker) remake(e *events.Entry) error {
	tx := r.tx
	got, err := tx.keptColumns(e.Seq)
	if err != nil {
		return err
	}
	if tx.chains == nil {
		if err := tx.blankChains(); err != nil {
			return err
		}
	}
	if tx.chains.rows[e.Branch] == nil || tx.chains.rows[e.Branch].book != e.Book {
		return fmt.Errorf("%w: its chain is not known; `traybook salvage` finds it again", events.ErrDamaged)
	}
	p := events.PlacesOf(e.Data)
	want, err := tx.derive(e, p, byChain)
	if err != nil {
		return err
	}
	if got != want {
		if !r.lifted {
			if _, err := tx.tx.Exec("DROP TRIGGER IF EXISTS entry_no_update"); err != nil {
				return translate(err)
			}
			r.lifted = true
		}
		_, err := tx.tx.Exec("UPDATE entry SET id=?, chain=?, book_seq=?, kind=?, at=?, home=?, box=?, bath=?, session=?, batch=? WHERE seq=?",
			want.id[:], want.chain, want.bookSeq, want.kind, want.at, want.home, want.box, want.bath, want.session, batchColumn(want.batch), e.Seq)
		if err != nil {
			return translate(err)
		}
	}
	if err := tx.advance(e); err != nil {
		return err
	}
	if err := tx.link(e, p, want, byChain); err != nil {
		return err
	}
	tx.touch(want.home)
	if want.box.Valid {
		tx.touch(want.box.Int64)
	}
	return nil
}

// blankChains reads the chains as if none of their entries had come in.
func (tx *Tx) blankChains() error {
	rows, err := tx.tx.Query("SELECT id, book, coalesce(parent,0), coalesce(parent_seq,0), first FROM chain ORDER BY id")
	if err != nil {
		return translate(err)
	}
	defer rows.Close()
	c := &chains{rows: map[int64]*chainRow{}, heads: map[int64]Head{}, byHash: map[events.Hash]int64{}}
	for rows.Next() {
		var id int64
		var r chainRow
		var book []byte
		if err := rows.Scan(&id, &book, &r.parent, &r.parentSeq, &r.first); err != nil {
			return translate(err)
		}
		copy(r.book[:], book)
		c.rows[id] = &r
	}
	tx.chains = c
	return translate(rows.Err())
}

func (tx *Tx) keptColumns(seq int64) (columns, error) {
	var c columns
	var id, batch []byte
	err := tx.tx.QueryRow("SELECT id, chain, book_seq, kind, at, home, box, bath, session, batch FROM entry WHERE seq=?", seq).
		Scan(&id, &c.chain, &c.bookSeq, &c.kind, &c.at, &c.home, &c.box, &c.bath, &c.session, &batch)
	if len(id) == 16 {
		copy(c.id[:], id)
	}
	if len(batch) == 16 {
		copy(c.batch[:], batch)
	}
	return c, translate(err)
}

// sameView says whether two views hold the same.
func sameView(a, b events.View) bool {
	return a.Thing.ID == b.Thing.ID && a.Rank == b.Rank && a.Open == b.Open && a.Last == b.Last && a.Stock == b.Stock &&
		bytes.Equal(a.State, b.State)
}
