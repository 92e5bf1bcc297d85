package page

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/rivo/uniseg"
	"golang.org/x/text/unicode/bidi"
	"golang.org/x/text/unicode/norm"
)

// Clean makes a foreign string fit for the page, changing nothing that can be
// read: broken UTF-8 becomes U+FFFD, the rest is brought to NFC, line ends to
// "\n", tabs to a space, and any other control character (a terminal's escape,
// say) to its number in visible form, as in \x1B. Clean(Clean(s)) == Clean(s).
func Clean(s string) string {
	if plain(s) {
		return s
	}
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\n', r == '\r', r == '\v', r == '\f', r == 0x85, r == 0x2028, r == 0x2029:
			b.WriteByte('\n')
		case r == '\t':
			b.WriteByte(' ')
		case unicode.IsControl(r):
			fmt.Fprintf(&b, `\x%02X`, r)
		default:
			b.WriteRune(r)
		}
	}
	return norm.NFC.String(b.String())
}

// plain says that s is printable ASCII, the usual case.
func plain(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}

// oneLine is Clean with line ends as spaces.
func oneLine(s string) string { return strings.ReplaceAll(Clean(s), "\n", " ") }

// inkless holds what is invisible by its definition: joiners, variation
// selectors, soft hyphen, direction marks, zero-width spaces.
func inkless(r rune) bool {
	switch {
	case r == 0x00AD, r >= 0x200B && r <= 0x200F, r == 0x2060, r == 0xFEFF:
		return true
	case r >= 0xFE00 && r <= 0xFE0F:
		return true
	}
	return false
}

// A run is text one face can draw whole.
type run struct {
	face Face
	text string
}

// split cuts a cleaned line into runs by coverage. What no face can draw
// becomes one ▯ for each character as a reader counts them; missing says how
// many. A combining mark stays in the face of its base.
func split(face Face, line string) (runs []run, missing int) {
	if plain(line) {
		return []run{{face, line}}, 0
	}
	add := func(f Face, s string) {
		if n := len(runs); n > 0 && runs[n-1].face == f {
			runs[n-1].text += s
		} else if s != "" {
			runs = append(runs, run{f, s})
		}
	}
	hole := func() {
		missing++
		if face.has(placeholder) {
			add(face, string(placeholder))
		} else {
			add(Regular, string(placeholder))
		}
	}
	for state := -1; line != ""; {
		var cluster string
		cluster, line, _, state = uniseg.FirstGraphemeClusterInString(line, state)
		cluster = strings.Map(func(r rune) rune {
			if inkless(r) {
				return -1
			}
			return r
		}, cluster)
		base, marks := cut(cluster)
		switch {
		case cluster == "":
		case unicode.Is(unicode.Cf, base):
			hole() // an override of the reading direction must be seen
		case face.hasAll(cluster):
			add(face, cluster)
		case Regular.hasAll(cluster):
			add(Regular, cluster)
		case marks != "" && face.has(base):
			add(face, string(base))
			hole()
		case marks != "" && Regular.has(base):
			add(Regular, string(base))
			hole()
		default:
			hole()
		}
	}
	return runs, missing
}

// cut takes the first rune off a string.
func cut(s string) (first rune, rest string) {
	for i, r := range s {
		if i > 0 {
			return first, s[i:]
		}
		first = r
	}
	return first, ""
}

// visual puts a line with Hebrew or Arabic in it into the order in which it is
// drawn from left to right. The line itself is taken to run to the right, as
// the pages do. Arabic letters stay unjoined: there is no shaping here.
func visual(line string) string {
	if !hasRightToLeft(line) {
		return line
	}
	const toTheRight = "\u200E" // before all, for else a line that begins with such a letter is taken to run to the left
	var p bidi.Paragraph
	if _, err := p.SetString(toTheRight + line); err != nil {
		return line
	}
	order, err := p.Order()
	if err != nil {
		return line
	}
	// The order comes by runs in the order of the text. A figure after
	// right-to-left words runs to the right but stands in their order, so a
	// stretch from one such word to the last, or the last figure, before Latin
	// is turned as a whole.
	var out, stretch, pending []string
	flush := func() {
		slices.Reverse(stretch)
		out = append(append(out, stretch...), pending...)
		stretch, pending = nil, nil
	}
	for i := range order.NumRuns() {
		r := order.Run(i)
		text := r.String()
		if r.Direction() == bidi.RightToLeft {
			stretch, pending = append(append(stretch, pending...), mirrored(text)), nil
			continue
		}
		letter := strings.IndexFunc(text, unicode.IsLetter)
		before := text
		if letter >= 0 {
			before = text[:letter]
		}
		if n := strings.LastIndexFunc(before, unicode.IsNumber); n >= 0 && len(stretch) > 0 {
			_, size := utf8.DecodeRuneInString(before[n:])
			stretch, pending, text = append(append(stretch, pending...), text[:n+size]), nil, text[n+size:]
		}
		if len(stretch) > 0 && letter < 0 {
			pending = append(pending, text)
		} else {
			flush()
			out = append(out, text)
		}
	}
	flush()
	return strings.TrimPrefix(strings.Join(out, ""), toTheRight)
}

// mirrored turns a run round, character by character as a reader counts them,
// so that marks stay on their letters; brackets are turned too.
func mirrored(s string) string {
	var parts []string
	for state := -1; s != ""; {
		var cluster string
		cluster, s, _, state = uniseg.FirstGraphemeClusterInString(s, state)
		if _, marks := cut(cluster); marks == "" {
			cluster = bidi.ReverseString(cluster)
		}
		parts = append(parts, cluster)
	}
	slices.Reverse(parts)
	return strings.Join(parts, "")
}

func hasRightToLeft(s string) bool {
	for _, r := range s {
		if r < 0x0590 {
			continue
		}
		props, _ := bidi.LookupRune(r)
		if c := props.Class(); c == bidi.R || c == bidi.AL {
			return true
		}
	}
	return false
}

// Unprintable gives the letters of s, each once, for which no face has a glyph; "" where all of it can be printed.
func Unprintable(s string) string {
	var out strings.Builder
	for _, r := range Clean(s) {
		if _, missing := split(Regular, string(r)); missing > 0 && !strings.ContainsRune(out.String(), r) {
			out.WriteRune(r)
		}
	}
	return out.String()
}
