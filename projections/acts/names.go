package acts

import (
	"encoding/json"
	"strings"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"traybook/events"
	"traybook/events/names"
	"traybook/projections/wording"
)

// FoldName gives a name as the table of sitters tells two of them apart: without regard to case, each run of white space
// one space, accents joined to their letters. Who copies a name from a letter brings line breaks and tabs along.
func FoldName(s string) string {
	return strings.Join(strings.Fields(cases.Fold().String(norm.NFC.String(s))), " ")
}

// spot is a place in an entry where a name can stand.
type spot struct {
	what   string // the option that sets it
	text   string
	entity bool // it names a thing
}

// spots lists what an entry says in words of its writer's choice: free text, names of things, what an amendment sets.
// What the book numbers itself (dev-2) is nobody's name.
func spots(data events.Data) []spot {
	var out []spot
	for _, f := range events.Fields(data.Kind()) {
		entity := f.Type == "name" || f.Type == "ref" || f.Type == "any"
		if !entity && f.Type != "text" && f.Type != "word" {
			continue
		}
		v, _ := f.Value(data)
		if text, _ := v.(string); text != "" && !(entity && bookNumber(text)) {
			out = append(out, spot{f.Option(), text, entity})
		}
	}
	if x, ok := data.(*events.EntryAmendedData); ok {
		for _, s := range x.Set {
			var text string
			if json.Unmarshal(s.Value, &text) == nil && text != "" {
				out = append(out, spot{s.Name, text, false})
			}
		}
	}
	return out
}

// bookNumber says of a name that the book gave it: a picture, box-3, dev-2, strip-1, sitter-7.
func bookNumber(name string) bool {
	name, _, _ = strings.Cut(name, "@")
	row, _ := rowOf(name)
	return row != "" || events.IsPicture(name)
}

// SaysName says whether the words of an entry hold one of the names.
func SaysName(data events.Data, sought names.List) bool {
	for _, s := range spots(data) {
		if sought.In(s.text) != "" {
			return true
		}
	}
	return false
}

const holdsAName = "{option} holds the name of {sitter}, and an entry can never be unwritten"

var (
	nameInText   = wording.RefusesUnlessEvenSo("name-in-text", holdsAName, "write {sitter} instead, or keep it with --even-so")
	nameOfAThing = wording.RefusesUnlessEvenSo("name-of-a-thing", holdsAName, "give another name, or keep it with --even-so")
)

// KeepNamesOut refuses words that hold a sitter's name: an entry can never be unwritten, a sitter can ask to be forgotten.
// The texts that an amendment sets count as well, and so does the name that an entry is the first to give a thing. Who
// uses a name that stands already says nothing new.
func KeepNamesOut(r events.Reader, data events.Data, sitters func() (names.List, error)) error {
	for _, s := range spots(data) {
		if s.entity {
			if _, there, err := r.Entity(s.text); err != nil {
				return err
			} else if there {
				continue
			}
		}
		list, err := sitters()
		if err != nil {
			return err
		}
		ref := list.In(s.text)
		switch {
		case ref == "":
		case s.entity:
			return nameOfAThing.Refuse(s.what, ref)
		default:
			return nameInText.Refuse(s.what, ref)
		}
	}
	return nil
}

// SittersOf makes the names in the table of sitters ready when they are first asked for.
func SittersOf(book events.SitterBook) func() (names.List, error) {
	var list names.List
	var asked bool
	return func() (names.List, error) {
		if asked {
			return list, nil
		}
		rows, err := book.Sitters()
		if err != nil {
			return list, err
		}
		former, err := book.FormerNames()
		if err == nil {
			list, asked = names.Of(append(rows, former...)...), true
		}
		return list, err
	}
}
