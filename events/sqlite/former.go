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
func (t *sitters) FormerNames() ([]events.SitterRow, error) {
	rows, err := t.file.Query("SELECT key, value FROM meta WHERE key >= ? AND key < ?", formerNames, formerNames+"~")
	var out []events.SitterRow
	return out, each(rows, err, func(row scanner) error {
		var key, lines string
		if err := row.Scan(&key, &lines); err != nil {
			return err
		}
		out = append(out, formerRows(key, lines)...)
		return nil
	})
}

// formerRows gives the names that a row of the table meta holds under a key of former names.
func formerRows(key, lines string) []events.SitterRow {
	var out []events.SitterRow
	for name := range strings.SplitSeq(lines, "\n") {
		if name != "" {
			out = append(out, events.SitterRow{Ref: strings.TrimPrefix(key, formerNames), Name: name})
		}
	}
	return out
}

// formerOf gives the names that one sitter bore before.
func (t *sitters) formerOf(ref string) ([]string, error) {
	text, err := t.file.meta(formerNames + ref)
	if text == "" {
		return nil, err
	}
	return strings.Split(text, "\n"), err
}

// formerByRef gives all former names of the book by their references.
func (t *sitters) formerByRef() (map[string][]string, error) {
	rows, err := t.FormerNames()
	out := map[string][]string{}
	for _, row := range rows {
		out[row.Ref] = append(out[row.Ref], row.Name)
	}
	return out, err
}

// keepFormer keeps the name that a sitter bears before another is put in its place.
func (t *sitters) keepFormer(ref, next string) error {
	was, err := t.nameOf(ref)
	if err != nil || was == "" || was == next {
		return err
	}
	return t.addFormer(ref, was)
}

// addFormer keeps names beside those that a sitter is known to have borne.
func (t *sitters) addFormer(ref string, names ...string) error {
	if len(names) == 0 {
		return nil
	}
	kept, err := t.formerOf(ref)
	if err != nil {
		return err
	}
	before := len(kept)
	for _, name := range names {
		if name = strings.Join(strings.Fields(name), " "); name != "" && !slices.Contains(kept, name) {
			kept = append(kept, name)
		}
	}
	if len(kept) == before {
		return nil
	}
	return t.file.setMeta(formerNames+ref, strings.Join(kept, "\n"))
}

// namesUnder gives every name that stands or stood under a reference, the present one first, none where none stands.
func (t *sitters) namesUnder(ref string) ([]string, error) {
	name, err := t.nameOf(ref)
	if err != nil || name == "" {
		return nil, err
	}
	former, err := t.formerOf(ref)
	return distinct(name, former), err
}

// distinct gives a name and others, those left out that are one of them in another writing.
func distinct(name string, more []string) []string {
	out := []string{name}
	for _, m := range more {
		if !holdsName(out, m) {
			out = append(out, m)
		}
	}
	return out
}

// holdsName says whether a name is one of some, in this writing or another.
func holdsName(names []string, name string) bool {
	return slices.ContainsFunc(names, func(o string) bool { return people.Key(o) == people.Key(name) })
}
