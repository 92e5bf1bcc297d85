package projections

import (
	"encoding/json"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"traybook/events"
)

// Names finds the names of sitters in free text.
type Names []named

type named struct{ ref, name string }

// NamesOf makes the names of some sitters ready to be looked for.
func NamesOf(sitters []events.SitterRow) Names {
	var out Names
	for _, s := range sitters {
		if name := FoldName(s.Name); name != "" {
			out = append(out, named{s.Ref, name})
		}
	}
	return out
}

// FoldName gives a name, or a text that may hold one, as names are compared: without regard to case, each run of white
// space one space, accents joined to their letters. Who copies a name from a letter brings line breaks and tabs along.
func FoldName(s string) string {
	return strings.Join(strings.Fields(cases.Fold().String(norm.NFC.String(s))), " ")
}

// In gives the reference of the first sitter whose name a text holds, "" for none.
func (n Names) In(text string) string {
	if len(n) == 0 || text == "" {
		return ""
	}
	folded := FoldName(text)
	for _, s := range n {
		if holdsWords(folded, s.name) {
			return s.ref
		}
	}
	return ""
}

// holdsWords finds a name between the ends of words, a genitive's s included: Bo is not in a box.
func holdsWords(text, name string) bool {
	for at := 0; ; {
		i := strings.Index(text[at:], name)
		if i < 0 {
			return false
		}
		start, end := at+i, at+i+len(name)
		before, _ := utf8.DecodeLastRuneInString(text[:start])
		first, size := utf8.DecodeRuneInString(name)
		last, _ := utf8.DecodeLastRuneInString(name)
		after, _ := utf8.DecodeRuneInString(text[end:])
		afterS, _ := utf8.DecodeRuneInString(strings.TrimPrefix(text[end:], "s"))
		if !oneWord(before, first) && (!oneWord(last, after) || after == 's' && !oneWord('s', afterS)) {
			return true
		}
		at = start + size
	}
}

// oneWord says whether two characters side by side belong to one word. Scripts that part no words are not asked.
func oneWord(a, b rune) bool {
	inWord := func(r rune) bool {
		return (unicode.In(r, unicode.L, unicode.M, unicode.N)) && !unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Thai, unicode.Lao, unicode.Khmer)
	}
	return inWord(a) && inWord(b)
}

// KeepNamesOut refuses free text that holds a sitter's name: an entry can never be unwritten, a sitter can ask to be
// forgotten. The texts that an amendment sets count as well.
func KeepNamesOut(data events.Data, names Names) error {
	if len(names) == 0 {
		return nil
	}
	refuse := func(what, ref string) error {
		return &Refusal{Text: fmt.Sprintf("%s holds the name of %s, and an entry can never be unwritten", what, ref),
			Hint: fmt.Sprintf("write %s instead, or keep it with --even-so", ref), EvenSo: true}
	}
	for _, f := range events.Fields(data.Kind()) {
		if f.Type != "text" {
			continue
		}
		v, _ := f.Value(data)
		text, _ := v.(string)
		if ref := names.In(text); ref != "" {
			return refuse(f.Option(), ref)
		}
	}
	x, ok := data.(*events.EntryAmendedData)
	if !ok {
		return nil
	}
	for _, s := range x.Set {
		var text string
		if json.Unmarshal(s.Value, &text) != nil {
			continue
		}
		if ref := names.In(text); ref != "" {
			return refuse(s.Name, ref)
		}
	}
	return nil
}
