package sqlite

import (
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"traybook/events"
)

// thingRow is one thing of a name. Joined books can have several of one name, told apart by rank.
type thingRow struct {
	id, chain, seq int64
	rank           int
	kind           events.ThingKind
	bookSeq        int64 // of the entry that first named it; 0 = not looked up
}

func (r thingRow) thing(bare string) events.Thing {
	return events.Thing{ID: r.id, Kind: r.kind, Name: joinRank(bare, r.rank)}
}

// called gives the things of a name, without its rank, by rank.
func (tx *Tx) called(bare string) ([]thingRow, error) {
	if rows, ok := tx.names[bare]; ok || tx.shadow != nil || tx.allNames {
		return rows, nil
	}
	// Names go into the file at once, so there is nothing to wait for.
	rows, err := tx.tx.queryNow("SELECT id, rank, kind, chain, seq FROM thing WHERE name=? ORDER BY rank", bare)
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var out []thingRow
	for rows.Next() {
		var r thingRow
		if err := rows.Scan(&r.id, &r.rank, &r.kind, &r.chain, &r.seq); err != nil {
			return nil, translate(err)
		}
		out = append(out, r)
	}
	if err := rows.Err(); err != nil {
		return nil, translate(err)
	}
	tx.names[bare] = out // also that nothing bears the name: only this write can give it
	return out, nil
}

// Thing finds a thing by the name that this book shows. `2026-014@2` is the second of that number in a joined book.
func (tx *Tx) Thing(name string) (events.Thing, bool, error) {
	bare, rank := splitRank(name)
	rows, err := tx.called(bare)
	if err != nil {
		return events.Thing{}, false, err
	}
	for _, r := range rows {
		if r.rank == rank {
			t := r.thing(bare)
			tx.byID[t.ID] = t
			return t, true, nil
		}
	}
	return events.Thing{}, false, nil
}

func splitRank(name string) (string, int) {
	bare, text, ok := strings.Cut(name, "@")
	if !ok {
		return name, 1
	}
	rank := 0
	for _, c := range text {
		if c < '0' || c > '9' || rank > 1000 {
			return name, 1
		}
		rank = rank*10 + int(c-'0')
	}
	return bare, rank
}

func joinRank(name string, rank int) string {
	if rank == 1 {
		return name
	}
	return fmt.Sprintf("%s@%d", name, rank)
}

// meant finds the thing that an entry of a chain means by a name. Within one book that is the thing of that name. In
// joined books a chain means, in this order: what the book was told (table meaning); what the chain or the chains it
// grew from named; for a name that the entry need not have given itself, whatever bears it.
func (tx *Tx) meant(r events.Ref, e *events.Entry) (thingRow, bool, error) {
	bare, rank := splitRank(r.Name)
	rows, err := tx.called(bare)
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

func pick(rows []thingRow, rank int) (thingRow, bool, error) {
	for _, r := range rows {
		if r.rank == rank {
			return r, true, nil
		}
	}
	return thingRow{}, false, nil
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
		tx.meanings = map[meaningKey]events.ID{}
		rows, err := tx.tx.Query("SELECT chain, name, entry FROM meaning")
		if err != nil {
			return events.ID{}, false, translate(err)
		}
		defer rows.Close()
		for rows.Next() {
			var k meaningKey
			var id sql.RawBytes
			if err := rows.Scan(&k.chain, &k.name, &id); err != nil {
				return events.ID{}, false, translate(err)
			}
			var told events.ID
			copy(told[:], id)
			tx.meanings[k] = told
		}
		if err := rows.Err(); err != nil {
			return events.ID{}, false, translate(err)
		}
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

func (tx *Tx) idAt(seq int64) (events.ID, error) {
	var id events.ID
	var raw []byte
	err := tx.tx.QueryRow("SELECT id FROM entry WHERE seq=?", seq).Scan(&raw)
	copy(id[:], raw)
	return id, translate(err)
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
	rows, err := tx.called(bare)
	if err != nil {
		return events.Thing{}, err
	}
	shown, ok, _ := pick(rows, rank)
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

func (tx *Tx) known(row thingRow, r events.Ref) (events.Thing, error) {
	bare, _ := splitRank(r.Name)
	t := row.thing(bare)
	tx.byID[t.ID] = t
	if r.Kind != "" && t.Kind != r.Kind {
		return t, fmt.Errorf("%q is the name of a %s already, so it cannot name a %s", r.Name, t.Kind, r.Kind)
	}
	return t, nil
}

// addThing makes the thing that e is the first to name.
func (tx *Tx) addThing(r events.Ref, e *events.Entry) (events.Thing, error) {
	bare, _ := splitRank(r.Name)
	rows, err := tx.called(bare)
	if err != nil {
		return events.Thing{}, err
	}
	row := thingRow{rank: len(rows) + 1, kind: r.Kind, chain: e.Branch, seq: e.Seq, bookSeq: e.BookSeq}
	if tx.shadow != nil {
		row.id = tx.shadow.add(bare, row)
	} else if row.id, err = tx.insertThing(bare, row); err != nil {
		return events.Thing{}, err
	}
	tx.names[bare] = append(rows[:len(rows):len(rows)], row)
	t := row.thing(bare)
	tx.byID[t.ID] = t
	return t, nil
}

func (tx *Tx) insertThing(bare string, row thingRow) (int64, error) {
	res, err := tx.tx.Exec("INSERT INTO thing (name, rank, kind, chain, seq) VALUES (?,?,?,?,?)", bare, row.rank, string(row.kind), row.chain, row.seq)
	if err != nil {
		return 0, translate(err)
	}
	id, err := res.LastInsertId()
	return id, translate(err)
}

// ThingByID gives the thing with this file's number.
func (tx *Tx) ThingByID(id int64) (events.Thing, error) {
	if t, ok := tx.byID[id]; ok {
		return t, nil
	}
	if err := tx.nameAll([]int64{id}); err != nil {
		return events.Thing{}, err
	}
	t, ok := tx.byID[id]
	if !ok {
		return t, fmt.Errorf("%w: nothing has the number %d; `traybook rebuild` makes the index anew", events.ErrDamaged, id)
	}
	return t, nil
}

// nameAll looks up together what ThingByID will be asked for one by one.
func (tx *Tx) nameAll(ids []int64) error {
	ids = slices.DeleteFunc(ids, func(id int64) bool { _, known := tx.byID[id]; return known })
	if len(ids) == 0 {
		return nil
	}
	rows, err := tx.tx.Query("SELECT t.id, t.name, t.rank, t.kind FROM json_each(?) j CROSS JOIN thing t ON t.id=j.value", listed(ids))
	if err != nil {
		return translate(err)
	}
	defer rows.Close()
	for rows.Next() {
		var t events.Thing
		var rank int
		if err := rows.Scan(&t.ID, &t.Name, &rank, &t.Kind); err != nil {
			return translate(err)
		}
		t.Name = joinRank(t.Name, rank)
		tx.byID[t.ID] = t
	}
	return translate(rows.Err())
}

// Things lists the things of a kind in the order in which they were first named.
func (tx *Tx) Things(kind events.ThingKind) ([]events.Thing, error) {
	text := "SELECT id, name, rank FROM thing WHERE kind=? AND kind<>'picture' ORDER BY id"
	if kind == events.Picture {
		text = "SELECT id, name, rank FROM thing WHERE kind=? ORDER BY id"
	}
	rows, err := tx.tx.Query(text, kind)
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var out []events.Thing
	for rows.Next() {
		t := events.Thing{Kind: kind}
		var rank int
		if err := rows.Scan(&t.ID, &t.Name, &rank); err != nil {
			return nil, translate(err)
		}
		t.Name = joinRank(t.Name, rank)
		tx.byID[t.ID] = t
		out = append(out, t)
	}
	return out, translate(rows.Err())
}
