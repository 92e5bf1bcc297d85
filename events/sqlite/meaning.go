package sqlite

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"sync"

	"traybook/events"
)

// meanings say which thing an entry means by a name, and by which name this book shows it.
type meanings struct {
	file   *statements
	names  *nameIndex
	chains *chains
	told   map[meaningKey]events.ID // the table meaning, nil before it was asked

	remembered *remembered
}

// resolve finds the thing that an entry of a chain means by a name. Within one book that is the thing of that name. In
// joined books a chain means, in this order: what the book was told (table meaning); what the chain or the chains it
// grew from named; for a name that the entry need not have given itself, whatever bears it.
func (m *meanings) resolve(r events.Ref, e *events.Entry) (entityRow, bool, error) {
	bare, rank := splitRank(r.Name)
	rows, err := m.names.bearers(bare)
	if err != nil || len(rows) == 0 {
		return entityRow{}, false, err
	}
	if err := m.chains.load(); err != nil {
		return entityRow{}, false, err
	}
	if len(m.chains.rows) == 1 || r.Kind == events.Book {
		return rows[min(rank, len(rows))-1], true, nil
	}
	if told, ok, err := m.override(e.Branch, r.Name); err != nil || ok {
		if err != nil {
			return entityRow{}, false, err
		}
		for _, row := range rows {
			id, err := m.file.idAt(row.seq)
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
		seen, err := m.visible(&rows[i], e.Branch)
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
func (m *meanings) visible(t *entityRow, chain int64) (bool, error) {
	bound := int64(-1) // no bound
	for chain != 0 {
		row := m.chains.rows[chain]
		if row == nil {
			return false, fmt.Errorf("%w: a chain is missing", events.ErrDamaged)
		}
		if t.chain == chain {
			if bound < 0 {
				return true, nil
			}
			if t.bookSeq == 0 {
				if err := m.file.QueryRow("SELECT book_seq FROM entry WHERE seq=?", t.seq).Scan(&t.bookSeq); err != nil {
					return false, translate(err)
				}
			}
			return t.bookSeq <= bound, nil
		}
		if row.parent == 0 {
			return false, nil
		}
		if m.chains.rows[row.parent] != nil && m.chains.rows[row.parent].book != row.book && t.seq < row.first {
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

func (m *meanings) override(chain int64, name string) (events.ID, bool, error) {
	if m.told == nil {
		found := map[meaningKey]events.ID{}
		rows, err := m.file.Query("SELECT chain, name, entry FROM meaning")
		if err := each(rows, err, func(row scanner) error {
			var k meaningKey
			var id sql.RawBytes
			if err := row.Scan(&k.chain, &k.name, &id); err != nil {
				return err
			}
			var told events.ID
			copy(told[:], id)
			found[k] = told
			return nil
		}); err != nil {
			return events.ID{}, false, err
		}
		m.told = found
	}
	id, ok := m.told[meaningKey{chain, name}]
	return id, ok, nil
}

// setOverride writes down what a chain means by a name.
func (m *meanings) setOverride(chain int64, name string, first events.ID) error {
	if _, _, err := m.override(chain, name); err != nil {
		return err
	}
	if _, err := m.file.Exec("INSERT INTO meaning VALUES (?,?,?) ON CONFLICT (chain, name) DO UPDATE SET entry=excluded.entry", chain, name, first[:]); err != nil {
		return translate(err)
	}
	m.told[meaningKey{chain, name}] = first
	m.remembered.forgetAll() // what was given bears other names now
	return nil
}

// namer finds, or makes, the thing that a reference of an entry means.
type namer func(r events.Ref, e *events.Entry) (events.Entity, error)

// byChain is the namer of entries that came whole, and of a rebuild.
func (m *meanings) byChain(r events.Ref, e *events.Entry) (events.Entity, error) {
	row, ok, err := m.resolve(r, e)
	if err != nil {
		return events.Entity{}, err
	}
	if !ok {
		return m.names.add(r, e)
	}
	return m.names.known(row, r)
}

// asShown is the namer of the file's own acts: they mean what the book shows under a name. Where their chain alone does
// not tell that, it is written down.
func (m *meanings) asShown(r events.Ref, e *events.Entry) (events.Entity, error) {
	bare, rank := splitRank(r.Name)
	rows, err := m.names.bearers(bare)
	if err != nil {
		return events.Entity{}, err
	}
	shown, ok := pick(rows, rank)
	if !ok {
		return m.byChain(r, e)
	}
	return m.settle(shown, r, e)
}

// settle settles that e means row by r.
func (m *meanings) settle(row entityRow, r events.Ref, e *events.Entry) (events.Entity, error) {
	plain, ok, err := m.resolve(r, e)
	if err != nil {
		return events.Entity{}, err
	}
	if !ok || plain.id != row.id {
		id, err := m.file.idAt(row.seq)
		if err != nil {
			return events.Entity{}, err
		}
		if err := m.setOverride(e.Branch, r.Name, id); err != nil {
			return events.Entity{}, err
		}
	}
	return m.names.known(row, r)
}

// fresh makes the thing that e is the first to name, though the name may be given already: it is told apart.
func (m *meanings) fresh(r events.Ref, e *events.Entry) (events.Entity, error) {
	_, meansOld, err := m.resolve(r, e)
	if err != nil {
		return events.Entity{}, err
	}
	if meansOld {
		if err := m.setOverride(e.Branch, r.Name, e.ID); err != nil {
			return events.Entity{}, err
		}
	}
	return m.names.add(r, e)
}

// shown gives entries with the names by which this book shows what they name. In a joined book a chain's 2026-014 may be
// this book's 2026-014@2, and whoever reads the entry must not take it for the other. The stored bytes stay as they are,
// and so does the data of the entries given.
func (m *meanings) shown(entries []events.Entry) ([]events.Entry, error) {
	joined, err := m.chains.joined()
	if err != nil || !joined {
		return entries, err
	}
	out := make([]events.Entry, len(entries))
	for i, e := range entries {
		if out[i], err = m.shownOne(e); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (m *meanings) shownOne(e events.Entry) (events.Entry, error) {
	if x, ok := e.Data.(*events.EntryAmendedData); ok {
		return m.shownSet(e, x)
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
		name, err := m.nameShown(f, written, &e)
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

// setNames are the fields with a name that an amendment may set.
var setNames = sync.OnceValue(func() map[string]events.Field {
	out := map[string]events.Field{}
	for _, k := range events.Kinds {
		for _, f := range events.Fields(k) {
			if f.Names() && f.Amendable() {
				out[f.Name] = f
			}
		}
	}
	return out
})

// shownSet does the same with the names that an amendment sets.
func (m *meanings) shownSet(e events.Entry, x *events.EntryAmendedData) (events.Entry, error) {
	copied := false
	for i, s := range x.Set {
		f, named := setNames()[s.Name]
		var written string
		if !named || json.Unmarshal(s.Value, &written) != nil || written == "" {
			continue
		}
		name, err := m.nameShown(f, written, &e)
		if err != nil {
			return e, err
		}
		if name == written {
			continue
		}
		if !copied {
			own := *x
			own.Set = slices.Clone(x.Set)
			x, e.Data, copied = &own, &own, true
		}
		if x.Set[i], err = events.SetValue(s.Name, name); err != nil {
			return e, err
		}
	}
	return e, nil
}

// nameShown is the name by which this book shows what a field of an entry names.
func (m *meanings) nameShown(f events.Field, written string, e *events.Entry) (string, error) {
	picture, part, isSheet := events.SplitSheet(written)
	r := events.Ref{Kind: events.EntityKind(f.Of), Name: written}
	switch {
	case f.Type == "sitter":
		r.Kind = events.Sitter
	case isSheet && (f.Type == "sheet" || f.Type == "any"):
		r = events.Ref{Kind: events.Picture, Name: picture}
	}
	bare, rank := splitRank(r.Name)
	rows, err := m.names.bearers(bare)
	if err != nil || len(rows) == 0 || len(rows) == 1 && rank == 1 {
		return written, err
	}
	row, ok, err := m.resolve(r, e)
	if err != nil || !ok {
		return written, err
	}
	name := row.entity(bare).Name
	if r.Name == picture && part != "" {
		name = events.Sheet(name, part)
	}
	return name, nil
}
