package sqlite

import (
	"database/sql"
	"fmt"

	"traybook/events"
)

// meant finds the thing that an entry of a chain means by a name. Within one book that is the thing of that name. In
// joined books a chain means, in this order: what the book was told (table meaning); what the chain or the chains it
// grew from named; for a name that the entry need not have given itself, whatever bears it.
func (tx *Tx) meant(r events.Ref, e *events.Entry) (thingRow, bool, error) {
	bare, rank := splitRank(r.Name)
	rows, err := tx.bearers(bare)
	if err != nil || len(rows) == 0 {
		return thingRow{}, false, err
	}
	if err := tx.loadChains(); err != nil {
		return thingRow{}, false, err
	}
	if len(tx.chains.rows) == 1 || r.Kind == events.Book {
		return rows[min(rank, len(rows))-1], true, nil
	}
	if told, ok, err := tx.toldMeaning(e.Branch, r.Name); err != nil || ok {
		if err != nil {
			return thingRow{}, false, err
		}
		for _, row := range rows {
			id, err := tx.idAt(row.seq)
			if err != nil {
				return thingRow{}, false, err
			}
			if id == told {
				return row, true, nil
			}
		}
		if told == e.ID {
			return thingRow{}, false, nil // this very entry gives the name
		}
	}
	var near, far []thingRow
	for i := range rows {
		seen, err := tx.visible(&rows[i], e.Branch)
		if err != nil {
			return thingRow{}, false, err
		}
		if seen {
			near = append(near, rows[i])
		} else {
			far = append(far, rows[i])
		}
	}
	if rank > 1 {
		// Where the other book's part is lost, the name falls back on what there is.
		all := append(near, far...)
		return all[min(rank, len(all))-1], true, nil
	}
	if len(near) > 0 {
		return near[0], true, nil
	}
	if r.New {
		return thingRow{}, false, nil
	}
	return far[0], true, nil
}

// visible says whether those who wrote a chain knew a thing: it was named in the chain itself, in a chain it grew from
// before it did, or, for a chain that grew as another book, in the file that it grew in.
func (tx *Tx) visible(t *thingRow, chain int64) (bool, error) {
	bound := int64(-1) // no bound
	for chain != 0 {
		row := tx.chains.rows[chain]
		if row == nil {
			return false, fmt.Errorf("%w: a chain is missing", events.ErrDamaged)
		}
		if t.chain == chain {
			if bound < 0 {
				return true, nil
			}
			if t.bookSeq == 0 {
				if err := tx.tx.QueryRow("SELECT book_seq FROM entry WHERE seq=?", t.seq).Scan(&t.bookSeq); err != nil {
					return false, translate(err)
				}
			}
			return t.bookSeq <= bound, nil
		}
		if row.parent == 0 {
			return false, nil
		}
		if tx.chains.rows[row.parent] != nil && tx.chains.rows[row.parent].book != row.book && t.seq < row.first {
			return true, nil
		}
		chain, bound = row.parent, row.parentSeq
	}
	return false, nil
}

type meaningKey struct {
	chain int64
	name  string
}

func (tx *Tx) toldMeaning(chain int64, name string) (events.ID, bool, error) {
	if tx.meanings == nil {
		meanings := map[meaningKey]events.ID{}
		rows, err := tx.tx.Query("SELECT chain, name, entry FROM meaning")
		if err := each(rows, err, func(row scanner) error {
			var k meaningKey
			var id sql.RawBytes
			if err := row.Scan(&k.chain, &k.name, &id); err != nil {
				return err
			}
			var told events.ID
			copy(told[:], id)
			meanings[k] = told
			return nil
		}); err != nil {
			return events.ID{}, false, err
		}
		tx.meanings = meanings
	}
	id, ok := tx.meanings[meaningKey{chain, name}]
	return id, ok, nil
}

// tell writes down what a chain means by a name.
func (tx *Tx) tell(chain int64, name string, first events.ID) error {
	if _, _, err := tx.toldMeaning(chain, name); err != nil {
		return err
	}
	if _, err := tx.tx.Exec("INSERT INTO meaning VALUES (?,?,?) ON CONFLICT (chain, name) DO UPDATE SET entry=excluded.entry", chain, name, first[:]); err != nil {
		return translate(err)
	}
	tx.meanings[meaningKey{chain, name}] = first
	return nil
}

// namer finds, or makes, the thing that a reference of an entry means.
type namer func(tx *Tx, r events.Ref, e *events.Entry) (events.Thing, error)

// byChain is the namer of entries that came whole, and of a rebuild.
func byChain(tx *Tx, r events.Ref, e *events.Entry) (events.Thing, error) {
	row, ok, err := tx.meant(r, e)
	if err != nil {
		return events.Thing{}, err
	}
	if !ok {
		return tx.addThing(r, e)
	}
	return tx.known(row, r)
}

// asShown is the namer of the file's own acts: they mean what the book shows under a name. Where their chain alone does
// not tell that, it is written down.
func asShown(tx *Tx, r events.Ref, e *events.Entry) (events.Thing, error) {
	bare, rank := splitRank(r.Name)
	rows, err := tx.bearers(bare)
	if err != nil {
		return events.Thing{}, err
	}
	shown, ok := pick(rows, rank)
	if !ok {
		return byChain(tx, r, e)
	}
	return tx.agree(shown, r, e)
}

// agree settles that e means row by r.
func (tx *Tx) agree(row thingRow, r events.Ref, e *events.Entry) (events.Thing, error) {
	plain, ok, err := tx.meant(r, e)
	if err != nil {
		return events.Thing{}, err
	}
	if !ok || plain.id != row.id {
		id, err := tx.idAt(row.seq)
		if err != nil {
			return events.Thing{}, err
		}
		if err := tx.tell(e.Branch, r.Name, id); err != nil {
			return events.Thing{}, err
		}
	}
	return tx.known(row, r)
}

// fresh makes the thing that e is the first to name, though the name may be given already: it is told apart.
func (tx *Tx) fresh(r events.Ref, e *events.Entry) (events.Thing, error) {
	_, meansOld, err := tx.meant(r, e)
	if err != nil {
		return events.Thing{}, err
	}
	if meansOld {
		if err := tx.tell(e.Branch, r.Name, e.ID); err != nil {
			return events.Thing{}, err
		}
	}
	return tx.addThing(r, e)
}

func (tx *Tx) idAt(seq int64) (events.ID, error) {
	var id events.ID
	var raw []byte
	err := tx.tx.QueryRow("SELECT id FROM entry WHERE seq=?", seq).Scan(&raw)
	copy(id[:], raw)
	return id, translate(err)
}
