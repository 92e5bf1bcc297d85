package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
)

// resolve puts whole names in the place of the short forms that a hand types: n and p1, the beginning of an id, the name
// of a sitter.
func (ac *actContext) resolve(data events.Data) error {
	for _, f := range events.Fields(data.Kind()) {
		v, there := f.Value(data)
		text, isText := v.(string)
		if !there || !isText {
			continue
		}
		var whole string
		var err error
		switch f.Type {
		case "sheet":
			whole, err = ac.sheet(text)
		case "entry":
			whole, err = ac.entryID(text)
		case "sitter":
			whole, err = ac.sitter(text)
		case "any":
			whole, err = ac.about(text)
		default:
			continue
		}
		if err != nil {
			return err
		}
		if err := f.Put(data, whole); err != nil {
			return err
		}
	}
	return nil
}

// wholePicture puts the whole name in the place of a picture's number, 14 or 2026-14; a number alone is of the year.
// ok is false for any other text.
func wholePicture(text string, year int) (name string, ok bool) {
	m := shortPicture.FindStringSubmatch(text)
	if m == nil {
		return "", false
	}
	if m[1] == "" {
		m[1] = fmt.Sprintf("%04d", year)
	}
	return fmt.Sprintf("%s-%03s", m[1], m[2]), true
}

var shortSheet = line.NewPattern(`^(?:(\d{1,9}))?(n|p[1-9]\d{0,5})(@\d{1,3})?$`)

// sheet finds the sheet that is meant: 2026-014n as it stands, 14n of this year's pictures, n and p1 of the newest
// picture, 2026-014 and 14 alone the sheet of it that was exposed last.
func (ac *actContext) sheet(text string) (string, error) {
	if whole, ok := wholePicture(text, ac.at.Year()); ok {
		text = whole
	}
	if events.IsPicture(strings.SplitN(text, "@", 2)[0]) {
		p, err := ac.as().Picture(text)
		if err != nil {
			return "", err
		}
		if s := acts.NewestSheet(p); s != nil {
			return s.Name, nil
		}
		return "", line.Refuse("traybook expose writes an exposure down", "no sheet of %s is exposed", text)
	}
	m := shortSheet.FindStringSubmatch(text)
	if m == nil {
		return text, nil
	}
	if m[1] == "" {
		pic, err := acts.NewestPicture(snapshot.New(ac.tx, ac.now))
		if err != nil {
			return "", err
		}
		if pic == "" {
			return "", line.Refuse("traybook expose writes one down", "%s means a sheet of the newest picture, and there is no picture yet", text)
		}
		return events.Sheet(pic, m[2]), nil
	}
	n, err := strconv.Atoi(m[1])
	if err != nil {
		return text, nil
	}
	return events.Sheet(fmt.Sprintf("%04d-%03d%s", ac.at.Year(), n, m[3]), m[2]), nil
}

// lastWord names the entry written last.
const lastWord = "last"

// entryID finds the whole id of an entry that is named by its first digits, or as the last.
func (ac *actContext) entryID(text string) (string, error) {
	if text == lastWord {
		e, err := ac.last(false)
		if err != nil {
			return "", err
		}
		return e.ID.String(), nil
	}
	e, err := acts.Entry(snapshot.New(ac.tx, ac.now), text)
	if err != nil {
		return "", err
	}
	return e.ID.String(), nil
}

// last is the entry that this book wrote last; acts leaves amendments and voids out.
func (ac *actContext) last(acts bool) (events.Entry, error) {
	e, ok, err := ac.tx.LastOwn(acts)
	if err != nil {
		return e, err
	}
	if !ok || ac.opened {
		return e, line.Refuse("name the entry by the first digits of its id, as traybook history shows it", "this book has written no entry of its own yet")
	}
	return e, nil
}

// sitter finds the reference of a sitter, and writes a new name in.
func (ac *actContext) sitter(text string) (string, error) {
	rows, err := ac.tx.Sitters()
	if err != nil {
		return "", err
	}
	if events.IsSitter(text) {
		for _, s := range rows {
			if s.Ref == text {
				return text, nil
			}
		}
		return "", line.Refuse("traybook sitter list shows them; traybook sitter add \"NAME\" writes one in", "there is no %s", text)
	}
	text = strings.Join(strings.Fields(text), " ")
	var names []string
	for _, s := range rows {
		if strings.EqualFold(s.Name, text) {
			return s.Ref, nil
		}
		names = append(names, s.Name)
	}
	was, gone, err := ac.tx.Erased(text)
	if err != nil {
		return "", err
	}
	ref, err := ac.tx.AddSitter(text, "")
	if err != nil {
		return "", err
	}
	if gone {
		ac.note(comesAgain, was)
	}
	if near := line.Nearest(text, names); near != "" {
		ac.note("%s is written in as %s; should it be %s, void this and write it anew", text, ref, near)
	} else {
		ac.note("%s is written in as %s; entries hold the reference only", text, ref)
	}
	return ref, nil
}

// comesAgain is said when the name of somebody who was erased is written in by hand: they may have come again.
const comesAgain = "a sitter of this name asked to be forgotten, once %s; keep the name only if they came again, else traybook erase"

// sittersIn puts references in the place of sitters' names among the words of an act that takes a sitter.
func (ac *actContext) sittersIn(kind events.Kind, words []string) ([]string, error) {
	if !slices.ContainsFunc(events.Fields(kind), func(f events.Field) bool { return f.Type == "sitter" }) {
		return words, nil
	}
	rows, err := ac.tx.Sitters()
	if err != nil {
		return nil, err
	}
	out := slices.Clone(words)
	for i, w := range out {
		for _, s := range rows {
			if strings.EqualFold(s.Name, strings.Join(strings.Fields(w), " ")) {
				out[i] = s.Ref
			}
		}
	}
	return ac.goesTo(kind, out, rows)
}

// about finds what a note is about: a thing by its name, a sheet, else an entry by the beginning of its id.
func (ac *actContext) about(text string) (string, error) {
	lower := strings.ToLower(text)
	if lower == lastWord {
		return ac.entryID(lower)
	}
	for _, name := range []string{text, lower} {
		if _, ok, err := ac.tx.Entity(name); err != nil || ok {
			return name, err
		}
	}
	if shortSheet.MatchString(lower) {
		return ac.sheet(lower)
	}
	rows, err := ac.tx.Sitters()
	if err != nil {
		return "", err
	}
	for _, s := range rows {
		if s.Ref == lower || strings.EqualFold(s.Name, text) {
			return s.Ref, nil
		}
	}
	if _, _, ok := events.SplitSheet(lower); ok {
		return lower, nil
	}
	if likeID.MatchString(lower) {
		return ac.entryID(lower)
	}
	return text, nil
}

var likeID = line.NewPattern(`^[0-9a-f]{4,32}$`)
