package names

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// gap is what stands in a text before a letter.
type gap uint8

const (
	none  gap = iota // the letter before it, or nothing that is seen
	joint            // a hyphen, a dot, a line break, a capital after a small letter, a digit beside a letter
	space            // white space
)

// folded is a text as names are looked for in it: its letters and digits alone, and what stood between them.
type folded struct {
	letters string
	gaps    []gap // by byte of letters, and one for the end
}

// spelled are letters that stand for others: of the Latin script those that come apart into none, of the Cyrillic and the
// Greek those that look like a Latin one. The choice is our own; the Unicode consortium's list of look-alikes (UTS 39) is
// far longer.
var spelled = map[rune]string{
	'ß': "ss", 'æ': "ae", 'œ': "oe", 'ø': "o", 'ł': "l", 'đ': "d", 'ð': "d", 'þ': "th", 'ħ': "h", 'ŧ': "t", 'ı': "i", 'ȷ': "j", 'ɑ': "a", 'ɡ': "g",
	'а': "a", 'в': "b", 'с': "c", 'е': "e", 'н': "h", 'і': "i", 'ј': "j", 'к': "k", 'м': "m", 'о': "o", 'р': "p", 'ѕ': "s", 'т': "t", 'у': "y", 'х': "x",
	'ԁ': "d", 'һ': "h", 'ԛ': "q", 'ԝ': "w",
	'α': "a", 'β': "b", 'ε': "e", 'ζ': "z", 'η': "h", 'ι': "i", 'κ': "k", 'μ': "m", 'ν': "n", 'ο': "o", 'ρ': "p", 'τ': "t", 'υ': "y", 'χ': "x", 'ς': "σ",
}

// folder takes a text apart letter by letter.
type folder struct {
	letters strings.Builder
	gaps    []gap
	before  gap  // since the last letter
	hyphen  bool // the last thing seen was a hyphen, soft ones included
	last    rune // the last letter as it was written, 0 after a gap
}

// fold takes a text apart. Case, accents, widths and typographic forms do not count, nor does what cannot be seen; å is a
// and aa, ä is a and ae, ø is o and oe.
func fold(text string) folded {
	f := folder{before: space}
	f.letters.Grow(len(text))
	for _, r := range norm.NFKD.String(text) {
		f.add(r)
	}
	f.gaps = append(f.gaps, max(f.before, joint))
	return closeUp(folded{f.letters.String(), f.gaps})
}

func (f *folder) add(r rune) {
	switch {
	case r == '\u00ad':
		f.hyphen = true
	case r == '\n' || r == '\r' || r == '\u2028' || r == '\u2029' || r == '\u0085':
		f.part(joint) // a word may go on in the next line
	case unicode.IsSpace(r):
		if !f.hyphen { // what follows a hyphen and a line break is the word's other half, indented or not
			f.part(space)
		}
	case unseen(r):
	case unicode.In(r, unicode.L, unicode.N, unicode.Mc):
		f.letter(r)
	default:
		f.part(joint)
		f.hyphen = unicode.Is(unicode.Pd, r)
	}
}

// unseen says of a rune that it leaves no mark of its own on the page, or only one on the letter before it.
func unseen(r rune) bool {
	return unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf, unicode.Cc, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}

func (f *folder) part(g gap) { f.before, f.last = max(f.before, g), 0 }

func (f *folder) letter(r rune) {
	if f.last != 0 && (unicode.IsUpper(r) && unicode.IsLower(f.last) || unicode.IsNumber(r) != unicode.IsNumber(f.last)) {
		f.before = joint
	}
	f.last, f.hyphen = r, false
	low := unicode.ToLower(r)
	text, known := spelled[low]
	if !known {
		text = string(low)
	}
	for _, r := range text {
		if f.before == none && secondVowel(f.letters.String(), r) {
			continue
		}
		f.letters.WriteRune(r)
		f.gaps = append(f.gaps, f.before)
		for range len(string(r)) - 1 {
			f.gaps = append(f.gaps, none)
		}
		f.before = none
	}
}

// secondVowel says of a letter that it only spells out the vowel before it: ae, oe, ue, aa.
func secondVowel(before string, r rune) bool {
	switch {
	case before == "":
		return false
	case r == 'e':
		return strings.IndexByte("aou", before[len(before)-1]) >= 0
	}
	return r == 'a' && before[len(before)-1] == 'a'
}

// closeUp joins letters that are spaced out, three or more in a row: A s t a.
func closeUp(f folded) folded {
	var run []int // where the single letters of the row stand
	single := func() {
		if len(run) > 2 {
			for _, at := range run[1:] {
				f.gaps[at] = joint
			}
		}
		run = run[:0]
	}
	start := 0
	for i, r := range f.letters {
		size := len(string(r))
		if f.gaps[i] == space {
			start = i
		}
		next := i + size
		if next < len(f.letters) && f.gaps[next] != space {
			continue
		}
		if start != i { // a word of several letters
			single()
			continue
		}
		run = append(run, i)
	}
	single()
	return f
}
