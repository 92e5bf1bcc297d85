package sqlite

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"

	"traybook/events"
)

// resolveName finds the thing that an entry of a chain means by a name. Within one book that is the thing of that name. In
// joined books a chain means, in this order: what the book was told (table meaning); what the chain or the chains it
// grew from named; for a name that the entry need not have given itself, whatever bears it.
func (tx *Tx) resolveName(r events.Ref, e *events.Entry) (entityRow, bool, error) {
	bare, rank := splitRank(r.Name)
	rows, err := tx.names.bearers(bare)
	if err != nil || len(rows) == 0 {
		return entityRow{}, false, err
	}
	if err := tx.chains.load(); err != nil {
		return entityRow{}, false, err
	}
	if len(tx.chains.rows) == 1 || r.Kind == events.Book {
		return rows[min(rank, len(rows))-1], true, nil
	}
	if told, ok, err := tx.nameOverride(e.Branch, r.Name); err != nil || ok {
		if err != nil {
			return entityRow{}, false, err
		}
		for _, row := range rows {
			id, err := tx.idAt(row.seq)
			if err != nil {
				return entityRow{}, false, err
			}
			if id == told {
				return row, true, nil
			}
		}
		if told == e.ID {
			return entityRow{}, false, nil // this very entry gives the name
		}
	}
	var near, far []entityRow
	for i := range rows {
		seen, err := tx.visible(&rows[i], e.Branch)
		if err != nil {
			return entityRow{}, false, err
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
		return entityRow{}, false, nil
	}
	return far[0], true, nil
}

// visible says whether those who wrote a chain knew a thing: it was named in the chain itself, in a chain it grew from
// before it did, or, for a chain that grew as another book, in the file that it grew in.
func (tx *Tx) visible(t *entityRow, chain int64) (bool, error) {
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

func (tx *Tx) nameOverride(chain int64, name string) (events.ID, bool, error) {
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

// overrideName writes down what a chain means by a name.
func (tx *Tx) overrideName(chain int64, name string, first events.ID) error {
	if _, _, err := tx.nameOverride(chain, name); err != nil {
		return err
	}
	if _, err := tx.tx.Exec("INSERT INTO meaning VALUES (?,?,?) ON CONFLICT (chain, name) DO UPDATE SET entry=excluded.entry", chain, name, first[:]); err != nil {
		return translate(err)
	}
	tx.meanings[meaningKey{chain, name}] = first
	return nil
}

// namer finds, or makes, the thing that a reference of an entry means.
type namer func(tx *Tx, r events.Ref, e *events.Entry) (events.Entity, error)

// byChain is the namer of entries that came whole, and of a rebuild.
func byChain(tx *Tx, r events.Ref, e *events.Entry) (events.Entity, error) {
	row, ok, err := tx.resolveName(r, e)
	if err != nil {
		return events.Entity{}, err
	}
	if !ok {
		return tx.names.add(r, e)
	}
	return tx.names.known(row, r)
}

// asShown is the namer of the file's own acts: they mean what the book shows under a name. Where their chain alone does
// not tell that, it is written down.
func asShown(tx *Tx, r events.Ref, e *events.Entry) (events.Entity, error) {
	bare, rank := splitRank(r.Name)
	rows, err := tx.names.bearers(bare)
	if err != nil {
		return events.Entity{}, err
	}
	shown, ok := pick(rows, rank)
	if !ok {
		return byChain(tx, r, e)
	}
	return tx.settleName(shown, r, e)
}

// settleName settles that e means row by r.
func (tx *Tx) settleName(row entityRow, r events.Ref, e *events.Entry) (events.Entity, error) {
	plain, ok, err := tx.resolveName(r, e)
	if err != nil {
		return events.Entity{}, err
	}
	if !ok || plain.id != row.id {
		id, err := tx.idAt(row.seq)
		if err != nil {
			return events.Entity{}, err
		}
		if err := tx.overrideName(e.Branch, r.Name, id); err != nil {
			return events.Entity{}, err
		}
	}
	return tx.names.known(row, r)
}

// fresh makes the thing that e is the first to name, though the name may be given already: it is told apart.
func (tx *Tx) fresh(r events.Ref, e *events.Entry) (events.Entity, error) {
	_, meansOld, err := tx.resolveName(r, e)
	if err != nil {
		return events.Entity{}, err
	}
	if meansOld {
		if err := tx.overrideName(e.Branch, r.Name, e.ID); err != nil {
			return events.Entity{}, err
		}
	}
	return tx.names.add(r, e)
}

func (tx *Tx) idAt(seq int64) (events.ID, error) {
	var id events.ID
	var raw []byte
	err := tx.tx.QueryRow("SELECT id FROM entry WHERE seq=?", seq).Scan(&raw)
	copy(id[:], raw)
	return id, translate(err)
}

// shown gives entries with the names by which this book shows what they name. In a joined book a chain's 2026-014 may be
// this book's 2026-014@2, and whoever reads the entry must not take it for the other. The stored bytes stay as they are,
// and so does the data of the entries given.
func (tx *Tx) shown(entries []events.Entry) ([]events.Entry, error) {
	joined, err := tx.chains.joined()
	if err != nil || !joined {
		return entries, err
	}
	out := make([]events.Entry, len(entries))
	for i, e := range entries {
		if out[i], err = tx.shownOne(e); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (tx *Tx) shownOne(e events.Entry) (events.Entry, error) {
	if x, ok := e.Data.(*events.EntryAmendedData); ok {
		return tx.shownSet(e, x)
	}
	copied := false
	for _, f := range events.Fields(e.Kind) {
		if !f.Names() {
			continue
		}
		v, _ := f.Value(e.Data)
		written, ok := v.(string)
		if !ok || written == "" {
			continue
		}
		name, err := tx.nameShown(f, written, &e)
		if err != nil {
			return e, err
		}
		if name == written {
			continue
		}
		if !copied {
			e.Data, copied = events.Clone(e.Data), true
		}
		if err := f.Put(e.Data, name); err != nil {
			return e, err
		}
	}
	return e, nil
}

// carriedCamera is the one field with a name that an amendment may set.
var carriedCamera = events.Field{Name: "camera", Type: "ref", Of: string(events.Camera)}

// shownSet does the same with the camera that an amendment sets.
func (tx *Tx) shownSet(e events.Entry, x *events.EntryAmendedData) (events.Entry, error) {
	for i, s := range x.Set {
		var written string
		if s.Name != carriedCamera.Name || json.Unmarshal(s.Value, &written) != nil || written == "" {
			continue
		}
		name, err := tx.nameShown(carriedCamera, written, &e)
		if err != nil || name == written {
			return e, err
		}
		set := slices.Clone(x.Set)
		if set[i], err = events.SetValue(s.Name, name); err != nil {
			return e, err
		}
		own := *x
		own.Set = set
		e.Data = &own
		return e, nil
	}
	return e, nil
}

// nameShown is the name by which this book shows what a field of an entry names.
func (tx *Tx) nameShown(f events.Field, written string, e *events.Entry) (string, error) {
	picture, part, isSheet := events.SplitSheet(written)
	r := events.Ref{Kind: events.EntityKind(f.Of), Name: written}
	switch {
	case f.Type == "sitter":
		r.Kind = events.Sitter
	case isSheet && (f.Type == "sheet" || f.Type == "any"):
		r = events.Ref{Kind: events.Picture, Name: picture}
	}
	bare, rank := splitRank(r.Name)
	rows, err := tx.names.bearers(bare)
	if err != nil || len(rows) == 0 || len(rows) == 1 && rank == 1 {
		return written, err
	}
	row, ok, err := tx.resolveName(r, e)
	if err != nil || !ok {
		return written, err
	}
	name := row.entity(bare).Name
	if r.Name == picture && part != "" {
		name = events.Sheet(name, part)
	}
	return name, nil
}
