package sqlite

import (
	"fmt"

	"traybook/events"
	people "traybook/events/names"
)

// makeRoom gives another number to each row of this book that no entry holds yet, where an entry of the other book holds
// its reference for somebody else: that one's pictures would be shown under this one's name.
func (j *joiner) makeRoom() error {
	mine, err := j.tx.Sitters()
	if err != nil {
		return err
	}
	for _, row := range mine {
		if _, held, err := j.tx.Thing(row.Ref); err != nil || held {
			if err != nil {
				return err
			}
			continue
		}
		if _, held, err := j.from.Thing(row.Ref); err != nil {
			return err
		} else if !held {
			continue
		}
		name, err := j.from.nameOf(row.Ref)
		if err != nil {
			return err
		}
		if name == "" || people.Key(name) == people.Key(row.Name) { // the same person, or one who was erased there: see obey
			continue
		}
		next, err := j.nextSitter()
		if err != nil {
			return err
		}
		if _, err := j.tx.tx.Exec("UPDATE sitter SET ref=? WHERE ref=?", next, row.Ref); err != nil {
			return translate(err)
		}
		if _, err := j.tx.tx.Exec("UPDATE meta SET key=? WHERE key=?", formerNames+next, formerNames+row.Ref); err != nil {
			return translate(err)
		}
		j.out.Renumbered = append(j.out.Renumbered, row.Ref+" is "+next)
	}
	return nil
}

// nextSitter is the next reference that neither book has given.
func (j *joiner) nextSitter() (string, error) {
	n := 0
	for _, tx := range []*Tx{j.tx, j.from} {
		largest, err := tx.largestSitter()
		if err != nil {
			return "", err
		}
		n = max(n, largest)
	}
	return fmt.Sprintf("sitter-%d", n+1), nil
}

// sitters brings the names and contacts that belong to references, but of nobody who was erased here.
func (j *joiner) sitters() error {
	rows, err := j.from.Sitters()
	if err != nil {
		return err
	}
	for _, row := range rows {
		here, erased, err := j.whoIs(row)
		if err != nil {
			return err
		}
		switch {
		case erased:
			j.erased = append(j.erased, row)
		case here == "":
			err = j.unnamedSitter(row)
		default:
			res, wrong := j.tx.tx.Exec("INSERT OR IGNORE INTO sitter VALUES (?,?,?)", here, row.Name, row.Contact)
			err = counted(res, wrong, &j.out.Sitters)
		}
		if err != nil {
			return err
		}
	}
	j.out.Erased = len(j.erased)
	return nil
}

// whoIs finds the reference that a row of the other book has here, "" where no entry names it there, and whether the
// sitter was erased here: the very reference, or the name, which a stone knows again. A book that holds that stone itself
// has written the name in anew, knowing of it.
func (j *joiner) whoIs(row events.SitterRow) (ref string, erased bool, err error) {
	t, named, err := j.from.Thing(row.Ref)
	if err != nil {
		return "", false, err
	}
	if named {
		bare, rank := splitRank(row.Ref)
		theirs, err := j.from.bearers(bare)
		if err != nil {
			return "", false, err
		}
		there, _ := pick(theirs, rank)
		here, ok, err := j.here(there, events.Ref{Kind: t.Kind, Name: row.Ref}, &events.Entry{})
		if err != nil {
			return "", false, err
		}
		if !ok {
			return "", false, fmt.Errorf("%w: the entry that first named %q did not come along", events.ErrDamaged, row.Ref)
		}
		if erased, err = j.tx.isErased(here.id); err != nil || erased {
			return "", erased, err
		}
		ref = here.thing(bare).Name
	} else if erased, err = j.goneWithItsCopy(row); err != nil || erased {
		return "", erased, err
	}
	var failed error
	_, erased, err = j.tx.knownStone(row.Name, func(s stone) bool {
		knows, err := j.from.knowsEntry(s.entry)
		if err != nil {
			failed = err
		}
		return !knows
	})
	if err == nil {
		err = failed
	}
	return ref, erased, err
}

// goneWithItsCopy says of a row that no entry of the other book names whether its reference was erased here, and the other
// book grew from a copy of this one: the row was the same, whatever name it bore.
func (j *joiner) goneWithItsCopy(row events.SitterRow) (bool, error) {
	t, ok, err := j.tx.Thing(row.Ref)
	if err != nil || !ok || j.out.Known == 0 {
		return false, err
	}
	return j.tx.isErased(t.ID)
}

// unnamedSitter brings a row that no entry of the other book holds yet: under its reference where that is free, else
// under the next free one, unless the same name and contact stand here already.
func (j *joiner) unnamedSitter(row events.SitterRow) error {
	tx := j.tx
	var n int
	if err := tx.tx.QueryRow("SELECT count(*) FROM sitter WHERE name=? AND contact=?", row.Name, row.Contact).Scan(&n); err != nil {
		return translate(err)
	}
	if n > 0 {
		return nil
	}
	if err := tx.tx.QueryRow("SELECT (SELECT count(*) FROM sitter WHERE ref=?1) + (SELECT count(*) FROM thing WHERE name=?1)", row.Ref).Scan(&n); err != nil {
		return translate(err)
	}
	if n > 0 {
		_, err := tx.AddSitter(row.Name, row.Contact)
		j.out.Sitters++
		return err
	}
	res, err := tx.tx.Exec("INSERT INTO sitter VALUES (?,?,?)", row.Ref, row.Name, row.Contact)
	return counted(res, err, &j.out.Sitters)
}

func (j *joiner) thumbnails() error {
	err := j.from.EachThumbnail(func(t events.Thumbnail) error {
		res, err := j.tx.tx.Exec("INSERT OR IGNORE INTO thumbnail (sha256, jpeg, width, height, path) VALUES (?,?,?,?,?)",
			t.SHA256[:], t.JPEG, t.Width, t.Height, t.Path)
		return counted(res, err, &j.out.Thumbnails)
	})
	if err != nil {
		return err
	}
	return j.tx.forgetPaths(people.Of(j.erased...))
}
