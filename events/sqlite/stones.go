package sqlite

import (
	"errors"
	"slices"

	"traybook/events"
	people "traybook/events/names"
)

// stone is what an erasure left by which the name of the sitter is known again.
type stone struct {
	sitter events.Thing
	entry  events.ID
	salt   events.ID
	digest events.Hash
}

// stones lists the stones of the book. That their entry was voided does not count: what was erased does not come back.
func (tx *Tx) stones() ([]stone, error) {
	found, err := tx.query("SELECT " + entryColumns + ` FROM thing t JOIN entry e ON e.home=t.id
		WHERE t.kind='sitter' AND t.kind<>'picture' AND e.kind='sitter.erased' ORDER BY e.seq`)
	if err != nil {
		return nil, err
	}
	var out []stone
	for _, e := range found {
		d, ok := e.Data.(*events.SitterErasedData)
		if !ok || d.Salt == "" || d.Digest == "" {
			continue
		}
		s := stone{entry: e.ID}
		if s.salt, err = events.ParseID(d.Salt); err != nil {
			return nil, err
		}
		if s.digest, err = events.ParseHash(d.Digest); err != nil {
			return nil, err
		}
		if s.sitter, err = tx.HomeOf(e.ID); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// knownStone finds the first stone that knows a name and of which holds says true. A name is worked out once for each salt.
func (tx *Tx) knownStone(name string, holds func(stone) bool) (stone, bool, error) {
	all, err := tx.stones()
	if err != nil {
		return stone{}, false, err
	}
	known := map[events.ID]events.Hash{}
	for _, s := range all {
		if !holds(s) {
			continue
		}
		if _, ok := known[s.salt]; !ok {
			known[s.salt] = people.Stone(name, s.salt)
		}
		if known[s.salt] == s.digest {
			return s, true, nil
		}
	}
	return stone{}, false, nil
}

// Erased finds the reference of an erased sitter by a name, which the stone of the erasure knows again.
func (tx *Tx) Erased(name string) (string, bool, error) {
	s, ok, err := tx.knownStone(name, func(stone) bool { return true })
	return s.sitter.Name, ok, err
}

// LayStones gives the data of the entries that say of a sitter that the name is erased, one for each name that the sitter
// bore, the present one first. All stones of a book have one salt, so that a name is worked out once however many there
// are; fresh is the salt of the first. To be asked before the row goes.
func (tx *Tx) LayStones(ref string, fresh events.ID) ([]events.SitterErasedData, error) {
	all, err := tx.stones()
	if err != nil {
		return nil, err
	}
	if len(all) > 0 {
		fresh = all[len(all)-1].salt
	}
	under, err := tx.namesUnder(ref)
	var out []events.SitterErasedData
	for _, name := range under {
		out = append(out, events.SitterErasedData{Sitter: ref, Salt: fresh.String(), Digest: people.Stone(name, fresh).String()})
	}
	return out, err
}

// isErased says whether a sitter was erased in this book; that the entry was voided does not count.
func (tx *Tx) isErased(sitter int64) (bool, error) {
	n, err := tx.ints("SELECT 1 FROM entry WHERE home=? AND kind='sitter.erased' LIMIT 1", sitter)
	return len(n) > 0, err
}

// obey forgets the sitter whom an entry that came from elsewhere says to be erased: who stands under the very reference,
// but where that entry is the first to name it and its chain came with it, for then the row under it here is that of
// another person unless the stone knows the name; and who stands under the same number since copies of one book parted, if
// the stone knows the name.
func (tx *Tx) obey(e *events.Entry, sitter events.Thing) error {
	bare, rank := splitRank(sitter.Name)
	bearers, err := tx.bearers(bare)
	if err != nil {
		return err
	}
	first, _ := pick(bearers, rank)
	ours := tx.chains.grewHere(e.Branch)
	d, _ := e.Data.(*events.SitterErasedData)
	rows, err := tx.Sitters()
	if err != nil {
		return err
	}
	for _, row := range rows {
		number, _ := splitRank(row.Ref)
		own := row.Ref == sitter.Name
		goes := own && (first.seq != e.Seq || ours || d.Salt == "")
		if !goes && number == bare && (own || ours) {
			if goes, err = tx.stoneKnows(d, row.Ref); err != nil {
				return err
			}
		}
		if !goes {
			continue
		}
		if err := tx.forget(row.Ref); err != nil {
			return err
		}
	}
	return nil
}

// stoneKnows says whether a stone is that of a name which a sitter here bears or bore.
func (tx *Tx) stoneKnows(d *events.SitterErasedData, ref string) (bool, error) {
	salt, err1 := events.ParseID(d.Salt)
	digest, err2 := events.ParseHash(d.Digest)
	if err1 != nil || err2 != nil {
		return false, nil
	}
	under, err := tx.namesUnder(ref)
	return slices.ContainsFunc(under, func(name string) bool { return people.Stone(name, salt) == digest }), err
}

// nameOf is the name that stands under a reference, "" for none.
func (tx *Tx) nameOf(ref string) (string, error) {
	rows, err := tx.Sitters()
	for _, r := range rows {
		if r.Ref == ref {
			return r.Name, err
		}
	}
	return "", err
}

// knowsEntry says whether the book holds an entry of an id.
func (tx *Tx) knowsEntry(id events.ID) (bool, error) {
	_, err := tx.HomeOf(id)
	if errors.Is(err, events.ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}
