package sqlite

import (
	"database/sql"
	"errors"
	"fmt"

	"traybook/events"
)

// lowStock is how few sheets a box may hold by the quick count before it is counted exactly.
const lowStock = 2

// touch marks a home to be folded again before the commit.
func (tx *Tx) touch(home int64) {
	if tx.shadow == nil && !tx.isTouch[home] {
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
	if err := tx.endGather(); err != nil {
		return err
	}
	return tx.foldFromFile()
}

// foldFromFile folds the touched homes from what the file holds of them.
func (tx *Tx) foldFromFile() error {
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
	if err := tx.blankChains(); err != nil {
		return err
	}
	tx.replay, tx.bulk = true, true
	if err := tx.begin(); err != nil {
		return err
	}
	lifted := false
	for page, err := range tx.pages(false) {
		if err != nil {
			return err
		}
		for i := range page {
			r := &page[i]
			if r.err != nil {
				return fmt.Errorf("%w: entry number %d: %w; `traybook salvage` saves what can be read", events.ErrDamaged, r.seq, r.err)
			}
			want, p, err := tx.rederive(&r.entry)
			if err != nil {
				return fmt.Errorf("entry number %d: %w", r.seq, err)
			}
			if want != r.kept {
				if !lifted {
					if _, err := tx.tx.Exec("DROP TRIGGER IF EXISTS entry_no_update"); err != nil {
						return translate(err)
					}
					lifted = true
				}
				if err := tx.setColumns(r.seq, want); err != nil {
					return err
				}
			}
			if err := tx.link(&r.entry, p, want, byChain); err != nil {
				return err
			}
			if err := tx.count(&r.entry, want); err != nil {
				return err
			}
		}
	}
	return tx.restoreTriggers()
}

// rederive works out the columns of a kept entry as if it had just come in, and goes on to the next.
func (tx *Tx) rederive(e *events.Entry) (columns, events.Places, error) {
	p := events.PlacesOf(e.Data)
	row := tx.chains.rows[e.Branch]
	if row == nil || row.book != e.Book {
		// The chain's number beside the bytes is wrong: the entry goes on the chain whose end it follows.
		id, ok := tx.chains.byHash[e.Prev]
		if !ok || tx.chains.rows[id].book != e.Book {
			return columns{}, p, fmt.Errorf("%w: its chain is not known; `traybook salvage` finds it again", events.ErrDamaged)
		}
		e.Branch = id
	}
	c, err := tx.derive(e, p, byChain)
	if err != nil {
		return c, p, err
	}
	return c, p, tx.advance(e)
}

func (tx *Tx) setColumns(seq int64, c columns) error {
	_, err := tx.tx.Exec("UPDATE entry SET id=?, chain=?, book_seq=?, kind=?, at=?, home=?, box=?, bath=?, session=?, batch=? WHERE seq=?",
		c.id[:], c.chain, c.bookSeq, c.kind, c.at, c.home, c.box, c.bath, c.session, batchColumn(c.batch), seq)
	return translate(err)
}

// blankChains reads the chains as if none of their entries had come in.
func (tx *Tx) blankChains() error {
	rows, err := tx.chainRows()
	if err != nil {
		return err
	}
	if err := chainsInOrder(rows); err != nil {
		return err
	}
	for _, r := range rows {
		r.last = 0
	}
	tx.chains = &chains{rows: rows, heads: map[int64]Head{}, byHash: map[events.Hash]int64{}}
	return nil
}
