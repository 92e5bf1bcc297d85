// Package names finds the names of sitters in texts, however they are written, and makes the stones of those who were
// erased. A name is found by its words in any order, set together or apart, across hyphens, line breaks and letters that
// cannot be seen, without regard to case, accents and width. It is not found by one of its words alone, by initials, in
// another spelling or script, or where digits or look-alikes of the same script stand for letters.
package names

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"traybook/events"
)

// List is some sitters' names, ready to be looked for. The zero value holds none. It is not for two goroutines at once.
type List struct {
	byStart map[string]*alike // by the first letters of each of their words, one or two bytes of them
}

// alike are the names that have a word with the same first letters.
type alike struct {
	names   []name            // in the order in which they were given
	forms   map[string][]form // by their letters; made when the first letters were found
	lengths []int             // of those letters, in bytes
}

type name struct {
	ref   string
	words []string
}

// form is one way in which a name may stand in a text.
type form struct {
	letters string
	starts  []bool // by byte: a word of the name begins here, so that white space may stand before it
	name    int    // its place among those alike
}

// Of makes the names of some sitters ready to be looked for.
func Of(sitters ...events.SitterRow) List {
	l := List{byStart: make(map[string]*alike, len(sitters))}
	for _, s := range sitters {
		n := name{s.Ref, words(s.Name)}
		for i, w := range n.words {
			key := w[:min(2, len(w))]
			if slices.ContainsFunc(n.words[:i], func(before string) bool { return before[:min(2, len(before))] == key }) {
				continue
			}
			if l.byStart[key] == nil {
				l.byStart[key] = &alike{}
			}
			l.byStart[key].names = append(l.byStart[key].names, n)
		}
	}
	return l
}

// None says that no name is looked for.
func (l List) None() bool { return len(l.byStart) == 0 }

// words gives the words of a name.
func words(text string) []string {
	f := fold(text)
	var out []string
	from := 0
	for i := 1; i <= len(f.letters); i++ {
		if i == len(f.letters) || f.gaps[i] != none {
			out = append(out, f.letters[from:i])
			from = i
		}
	}
	return out
}

// Key is a name as two writings of it are compared: its words, folded, in the order of the alphabet.
func Key(text string) string {
	w := words(text)
	slices.Sort(w)
	return strings.Join(w, " ")
}

// formsOf gives every order of up to three words, and of more words every turn of their order.
func formsOf(w []string) []form {
	var out []form
	add := func(order []string) {
		for _, between := range []string{" ", ""} { // where words are set together, vowels may run together
			f := fold(strings.Join(order, between))
			one := form{letters: f.letters, starts: make([]bool, len(f.letters))}
			for i := range one.starts {
				one.starts[i] = f.gaps[i] != none
			}
			same := func(o form) bool { return o.letters == one.letters && slices.Equal(o.starts, one.starts) }
			if one.letters != "" && !slices.ContainsFunc(out, same) && (between == " " || one.letters != out[len(out)-1].letters) {
				out = append(out, one)
			}
		}
	}
	for i := range w {
		turned := append(slices.Clone(w[i:]), w[:i]...)
		add(turned)
		if len(w) == 3 {
			turned[1], turned[2] = turned[2], turned[1]
			add(turned)
		}
	}
	return out
}

// In gives the reference of the first sitter whose name a text holds, "" for none.
func (l List) In(text string) string {
	if l.None() || text == "" {
		return ""
	}
	f := fold(text)
	for i := range f.letters {
		if f.gaps[i] == none && !f.partsNoWords(i) {
			continue
		}
		for n := 1; n <= 2 && i+n <= len(f.letters); n++ {
			if ref := l.byStart[f.letters[i:i+n]].standsAt(f, i); ref != "" {
				return ref
			}
		}
	}
	return ""
}

// standsAt gives the reference of the first of the names that stands at i, "" for none. It looks for each length that a
// form has, not for each form: many names may have a word in common.
func (a *alike) standsAt(f folded, i int) string {
	if a == nil {
		return ""
	}
	if a.forms == nil {
		a.layForms()
	}
	first := len(a.names)
	for _, n := range a.lengths {
		if i+n > len(f.letters) {
			break
		}
		for _, x := range a.forms[f.letters[i:i+n]] {
			if x.name < first && f.holds(x, i) {
				first = x.name
			}
		}
	}
	if first == len(a.names) {
		return ""
	}
	return a.names[first].ref
}

// layForms makes the forms of all the names. Where two names have the same form, the first of them is found.
func (a *alike) layForms() {
	a.forms = map[string][]form{}
	for i, n := range a.names {
		for _, x := range formsOf(n.words) {
			x.name = i
			same := a.forms[x.letters]
			if len(same) == 0 {
				a.lengths = append(a.lengths, len(x.letters))
			}
			if !slices.ContainsFunc(same, func(o form) bool { return slices.Equal(o.starts, x.starts) }) {
				a.forms[x.letters] = append(same, x)
			}
		}
	}
	slices.Sort(a.lengths)
	a.lengths = slices.Compact(a.lengths)
}

// holds says whether a form of a name whose letters stand at i stands there as well, between the ends of words, a genitive's s included: Bo is not in a box.
func (f folded) holds(x form, i int) bool {
	for j := 1; j < len(x.letters); j++ {
		if f.gaps[i+j] == space && !x.starts[j] {
			return false
		}
	}
	end := i + len(x.letters)
	switch {
	case f.gaps[end] != none || f.partsNoWords(end):
		return true
	case f.letters[end] != 's':
		return false
	}
	return f.gaps[end+1] != none
}

// partsNoWords says that a letter at i and the one before it are not of one word though nothing stands between them: some
// scripts part no words.
func (f folded) partsNoWords(i int) bool {
	alone := func(r rune) bool {
		return unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Thai, unicode.Lao, unicode.Khmer)
	}
	if i == 0 || i == len(f.letters) || f.letters[i] < utf8.RuneSelf && f.letters[i-1] < utf8.RuneSelf {
		return false
	}
	before, _ := utf8.DecodeLastRuneInString(f.letters[:i])
	after, _ := utf8.DecodeRuneInString(f.letters[i:])
	return alone(before) || alone(after)
}
