package main

import (
	"fmt"
	"slices"
	"strings"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/snapshot"
)

// pictureOf takes a word for a picture or a sheet of one: 2026-014, 14, 2026-014n, 14p1, n. part is "" for the whole
// picture; ok is false for any other word. Digits alone name a picture only up to three of them, as elsewhere: four and
// more are the beginning of an id.
func (ac *actContext) pictureOf(word string) (picture, part string, ok bool, err error) {
	word = strings.ToLower(word)
	if whole, ok := wholePicture(word, ac.now.Year()); ok {
		return whole, "", true, nil
	}
	if events.IsPicture(word) {
		return word, "", true, nil
	}
	if shortSheet.MatchString(word) {
		if word, err = ac.sheet(word); err != nil {
			return "", "", false, err
		}
	}
	picture, part, ok = events.SplitSheet(word)
	return picture, part, ok, nil
}

// entryOf finds the entry of a picture or a sheet that fields to be set belong to: the newest of the one sheet whose
// entries of one kind have them. Where entries of several kinds or sheets have them, none is guessed.
func (ac *actContext) entryOf(picture, part string, settings []string) (events.Entry, error) {
	word := picture
	if part != "" {
		word = events.Sheet(picture, part)
	}
	p, err := ac.everything().Picture(picture)
	if err != nil {
		return events.Entry{}, err
	}
	var found []events.Entry
	for _, e := range p.All {
		if of := snapshot.PartOf(e.Data); part != "" && of != part {
			continue
		}
		has, err := hasFields(e.Kind, settings)
		if err != nil {
			return e, err
		}
		if has {
			found = append(found, e)
		}
	}
	one := func(a, b events.Entry) bool {
		return a.Kind == b.Kind && snapshot.PartOf(a.Data) == snapshot.PartOf(b.Data)
	}
	switch {
	case len(found) == 0:
		return events.Entry{}, ac.noEntryOf(word, p, part, settings)
	case slices.ContainsFunc(found, func(e events.Entry) bool { return !one(e, found[0]) }):
		list := ac.listed(found)
		if n := len(list); n > showStanding {
			list = append(list[:showStanding:showStanding], fmt.Sprintf("and %d more", n-showStanding))
		}
		return events.Entry{}, line.Refuse("name the entry by its id, such as traybook amend "+short(found[0].ID)+" "+typedAgain(settings),
			"several entries of %s have %s: %s", word, namesSet(settings), strings.Join(list, "; "))
	}
	e := slices.MaxFunc(found, events.Compare)
	if n := len(found); n > 1 {
		ac.note("taken for the newest of %d; traybook history %s shows the ids of all", n, picture)
	}
	return e, nil
}

// noEntryOf refuses fields that no entry of a picture has.
func (ac *actContext) noEntryOf(word string, p *snapshot.Picture, part string, settings []string) error {
	if len(p.All) == 0 {
		return ac.everything().NothingOf(p.Entity)
	}
	var names []string
	for _, e := range p.All {
		if of := snapshot.PartOf(e.Data); part == "" || of == part {
			for _, f := range events.Fields(e.Kind) {
				if f.Amendable() {
					names = append(names, f.Option())
				}
			}
		}
	}
	if len(names) == 0 {
		return snapshot.NoSuchSheet.Refuse(events.Sheet(p.Entity.Name, part), p.Entity.Name)
	}
	hint := "traybook history " + p.Entity.Name + " shows its entries"
	for _, s := range settings {
		name, _, _ := strings.Cut(s, "=")
		if near := line.Nearest(strings.ToLower(name), names); near != "" && near != strings.ToLower(name) {
			hint = "did you mean " + near + "?"
		}
	}
	return line.WrongLinef(hint, "no entry of %s has %s", word, namesSet(settings))
}

// namesSet lists the fields that an amendment sets, as they were typed.
func namesSet(settings []string) string {
	var names []string
	for _, s := range settings {
		name, _, _ := strings.Cut(s, "=")
		names = append(names, strings.TrimSpace(name))
	}
	return strings.Join(names, " and ")
}

// typedAgain writes settings as a shell takes them.
func typedAgain(settings []string) string {
	var out []string
	for _, s := range settings {
		if name, value, _ := strings.Cut(s, "="); strings.ContainsAny(value, " \t\"'$") {
			s = name + "=" + fmt.Sprintf("%q", value)
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

// hasFields says whether an entry of a kind has every field that is set.
func hasFields(k events.Kind, settings []string) (bool, error) {
	for _, s := range settings {
		name, value, ok := strings.Cut(s, "=")
		if !ok {
			return false, setsNothing(s)
		}
		name = strings.ToLower(strings.TrimSpace(name))
		if name == "at" || name == "zone" {
			continue
		}
		if f, err := fieldCalled(k, name, strings.TrimSpace(value)); err != nil || !f.Amendable() {
			return false, nil
		}
	}
	return true, nil
}

func setsNothing(text string) error {
	return line.WrongLinef("write FIELD=VALUE, such as time=5s", "%s sets nothing", line.Quote(text))
}
