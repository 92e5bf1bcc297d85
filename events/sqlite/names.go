package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"traybook/events"
)

// entityRow is one thing of a name. Joined books can have several of one name, told apart by rank.
type entityRow struct {
	id, chain, seq int64
	rank           int
	kind           events.EntityKind
	bookSeq        int64 // of the entry that first named it; 0 = not looked up
}

func (r entityRow) entity(bare string) events.Entity {
	return events.Entity{ID: r.id, Kind: r.kind, Name: joinRank(bare, r.rank)}
}

// nameIndex is what a transaction knows of the names of the book: those that it asked for or gave.
type nameIndex struct {
	file    *statements
	into    derivedRows            // where new names go
	byName  map[string][]entityRow // by name without rank
	byID    map[int64]events.Entity
	largest map[string]int // of the rows that were asked for, by what stands before the number
	all     bool           // every name that there is stands in byName
}

func newNameIndex(file *statements, into derivedRows) *nameIndex {
	return &nameIndex{file: file, into: into, byName: map[string][]entityRow{}, byID: map[int64]events.Entity{}}
}

// bearers gives the things of a name, without its rank, by rank.
func (n *nameIndex) bearers(bare string) ([]entityRow, error) {
	if rows, ok := n.byName[bare]; ok || n.all {
		return rows, nil
	}
	rows, err := n.file.Query("SELECT id, rank, kind, chain, seq FROM entity WHERE name="+given+" ORDER BY rank", bare)
	out, err := collect(rows, err, func(row scanner) (r entityRow, err error) {
		err = row.Scan(&r.id, &r.rank, &r.kind, &r.chain, &r.seq)
		return r, err
	})
	if err != nil {
		return nil, err
	}
	n.byName[bare] = out // also that nothing bears the name: only this write can give it
	return out, nil
}

// Entity finds a thing by the name that this book shows. `2026-014@2` is the second of that number in a joined book.
func (tx *Tx) Entity(name string) (events.Entity, bool, error) { return tx.names.called(name) }

// called finds a thing by the name that this book shows.
func (n *nameIndex) called(name string) (events.Entity, bool, error) {
	bare, rank := splitRank(name)
	rows, err := n.bearers(bare)
	if err != nil {
		return events.Entity{}, false, err
	}
	row, ok := pick(rows, rank)
	if !ok {
		return events.Entity{}, false, nil
	}
	t := row.entity(bare)
	n.byID[t.ID] = t
	return t, true, nil
}

// splitRank parts a name from its rank, which is 1 where none is written. What is no rank belongs to the name.
func splitRank(name string) (string, int) {
	bare, text, ok := strings.Cut(name, "@")
	rank, err := strconv.ParseUint(text, 10, 16)
	if !ok || err != nil || rank == 0 {
		return name, 1
	}
	return bare, int(rank)
}

func joinRank(name string, rank int) string {
	if rank == 1 {
		return name
	}
	return fmt.Sprintf("%s@%d", name, rank)
}

func pick(rows []entityRow, rank int) (entityRow, bool) {
	i := slices.IndexFunc(rows, func(r entityRow) bool { return r.rank == rank })
	if i < 0 {
		return entityRow{}, false
	}
	return rows[i], true
}

func (n *nameIndex) known(row entityRow, r events.Ref) (events.Entity, error) {
	bare, _ := splitRank(r.Name)
	t := row.entity(bare)
	n.byID[t.ID] = t
	if r.Kind != "" && t.Kind != r.Kind {
		return t, fmt.Errorf("%q is the name of a %s already, so it cannot name a %s", r.Name, t.Kind, r.Kind)
	}
	return t, nil
}

// add makes the thing that e is the first to name.
func (n *nameIndex) add(r events.Ref, e *events.Entry) (events.Entity, error) {
	bare, _ := splitRank(r.Name)
	rows, err := n.bearers(bare)
	if err != nil {
		return events.Entity{}, err
	}
	row := entityRow{rank: len(rows) + 1, kind: r.Kind, chain: e.Branch, seq: e.Seq, bookSeq: e.BookSeq}
	if row.id, err = n.into.addEntity(bare, row); err != nil {
		return events.Entity{}, err
	}
	n.countNumber(bare)
	n.byName[bare] = append(rows[:len(rows):len(rows)], row)
	t := row.entity(bare)
	n.byID[t.ID] = t
	return t, nil
}

// EntityByID gives the thing with this file's number.
func (tx *Tx) EntityByID(id int64) (events.Entity, error) { return tx.names.numbered(id) }

// numbered gives the thing with this file's number.
func (n *nameIndex) numbered(id int64) (events.Entity, error) {
	if t, ok := n.byID[id]; ok {
		return t, nil
	}
	if err := n.lookUp([]int64{id}); err != nil {
		return events.Entity{}, err
	}
	t, ok := n.byID[id]
	if !ok {
		return t, fmt.Errorf("%w: nothing has the number %d; `traybook rebuild` makes the index anew", events.ErrDamaged, id)
	}
	return t, nil
}

// lookUp looks up together what EntityByID will be asked for one by one.
func (n *nameIndex) lookUp(ids []int64) error {
	ids = slices.DeleteFunc(ids, func(id int64) bool { _, known := n.byID[id]; return known })
	if len(ids) == 0 {
		return nil
	}
	// With all that bear the same names: who lists things asks for them by their names next.
	rows, err := n.file.Query(`SELECT name, id, rank, kind, chain, seq FROM entity
		WHERE name IN (SELECT k.name FROM json_each(?) j CROSS JOIN entity k ON k.id=j.value) ORDER BY name, rank`, listed(ids))
	asked := map[string][]entityRow{}
	err = each(rows, err, func(row scanner) error {
		var name string
		var r entityRow
		err := row.Scan(&name, &r.id, &r.rank, &r.kind, &r.chain, &r.seq)
		asked[name] = append(asked[name], r)
		n.byID[r.id] = r.entity(name)
		return err
	})
	if err != nil {
		return err
	}
	for name, bearers := range asked {
		if _, known := n.byName[name]; !known {
			n.byName[name] = bearers
		}
	}
	return nil
}

// Entities lists the things of a kind in the order in which they were first named.
func (tx *Tx) Entities(kind events.EntityKind) ([]events.Entity, error) { return tx.names.ofKind(kind) }

// ofKind lists the things of a kind in the order in which they were first named.
func (n *nameIndex) ofKind(kind events.EntityKind) ([]events.Entity, error) {
	text := "SELECT id, name, rank, kind FROM entity WHERE kind=? AND kind<>'picture' ORDER BY id"
	if kind == events.Picture {
		text = "SELECT id, name, rank, kind FROM entity WHERE kind=? ORDER BY id"
	}
	return n.read(text, kind)
}

// read reads things, and remembers them by their numbers.
func (n *nameIndex) read(text string, args ...any) ([]events.Entity, error) {
	rows, err := n.file.Query(text, args...)
	return collect(rows, err, func(row scanner) (t events.Entity, err error) {
		var rank int
		if err := row.Scan(&t.ID, &t.Name, &rank, &t.Kind); err != nil {
			return t, err
		}
		t.Name = joinRank(t.Name, rank)
		n.byID[t.ID] = t
		return t, nil
	})
}

// streamOf is the stream of a kept entry.
func (n *nameIndex) streamOf(id events.ID) (events.Entity, error) {
	var stream int64
	err := n.file.QueryRow("SELECT stream FROM entry WHERE id="+given+" ORDER BY seq LIMIT 1", id[:]).Scan(&stream)
	if errors.Is(err, sql.ErrNoRows) {
		return events.Entity{}, events.ErrNotFound
	}
	if err != nil {
		return events.Entity{}, translate(err)
	}
	return n.numbered(stream)
}
