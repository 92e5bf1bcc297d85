package sqlite

import (
	"slices"
	"strings"

	"traybook/events"
	people "traybook/events/names"
)

// formerNames begins the keys of the table meta under which the names stand that a sitter bore before, one a line: who
// marries or was misspelled asks to be forgotten by every name that the book ever knew.
const formerNames = "former_names:"

// FormerNames lists the names that sitters bore before, each with the reference.
func (tx *Tx) FormerNames() ([]events.SitterRow, error) {
	rows, err := tx.tx.Query("SELECT substr(key, ?), value FROM meta WHERE key >= ? AND key < ?", len(formerNames)+1, formerNames, formerNames+"~")
	var out []events.SitterRow
	return out, each(rows, err, func(row scanner) error {
		var ref, lines string
		if err := row.Scan(&ref, &lines); err != nil {
			return err
		}
		for name := range strings.SplitSeq(lines, "\n") {
			out = append(out, events.SitterRow{Ref: ref, Name: name})
		}
		return nil
	})
}

// formerOf gives the names that one sitter bore before.
func (tx *Tx) formerOf(ref string) ([]string, error) {
	text, err := tx.Meta(formerNames + ref)
	if text == "" {
		return nil, err
	}
	return strings.Split(text, "\n"), err
}

// keepFormer keeps the name that a sitter bears before another is put in its place.
func (tx *Tx) keepFormer(ref, next string) error {
	was, err := tx.nameOf(ref)
	if err != nil || was == "" || was == next {
		return err
	}
	was = strings.Join(strings.Fields(was), " ")
	kept, err := tx.formerOf(ref)
	if err != nil || slices.Contains(kept, was) {
		return err
	}
	return tx.SetMeta(formerNames+ref, strings.Join(append(kept, was), "\n"))
}

// namesUnder gives every name that stands or stood under a reference, the present one first, none where none stands.
func (tx *Tx) namesUnder(ref string) ([]string, error) {
	name, err := tx.nameOf(ref)
	if err != nil || name == "" {
		return nil, err
	}
	former, err := tx.formerOf(ref)
	out := []string{name}
	for _, f := range former {
		same := func(o string) bool { return people.Key(o) == people.Key(f) }
		if !slices.ContainsFunc(out, same) {
			out = append(out, f)
		}
	}
	return out, err
}
