package screen

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/rivo/uniseg"

	"traybook/cmd/traybook/line"
)

// Clean makes every character that a terminal would obey visible instead:
// escape and other control characters as their pictures (␛), the second set of
// controls and the marks that turn the direction of writing as their number
// (‹202E›). A tab becomes a space, a line's end ␊, a soft hyphen vanishes, bytes
// that are no text become U+FFFD. What is clean stays as it is.
func Clean(s string) string {
	if !dirty(s) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\t':
			b.WriteByte(' ')
		case r < ' ':
			b.WriteRune(0x2400 + r)
		case r == 0x7f:
			b.WriteRune('␡')
		case r == 0x2028 || r == 0x2029:
			b.WriteRune('␊')
		case r == 0xad:
		case obeyed(r):
			fmt.Fprintf(&b, "‹%04X›", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func dirty(s string) bool {
	if !utf8.ValidString(s) {
		return true
	}
	for _, r := range s {
		if r < ' ' || r >= 0x7f && (r == 0x7f || r == 0xad || r == 0x2028 || r == 0x2029 || obeyed(r)) {
			return true
		}
	}
	return false
}

// obeyed tells the controls beyond ASCII and the marks of direction. The joiners
// that hold a drawn character together are left alone.
func obeyed(r rune) bool {
	return unicode.Is(unicode.Cc, r) && r > 0x7f || unicode.Is(unicode.Bidi_Control, r) ||
		r >= 0x206a && r <= 0x206f || r >= 0xfff9 && r <= 0xfffb || r >= 0xe0000 && r <= 0xe007f
}

// Width returns the columns that clean text takes on a terminal; wide characters
// take two, combining marks none.
func Width(s string) int { return uniseg.StringWidth(s) }

// Truncate cuts clean text to at most so many columns. What was cut is marked by
// an ellipsis, which counts; no character is cut in two.
func Truncate(s string, columns int) string {
	switch {
	case columns <= 0:
		return ""
	case Width(s) <= columns:
		return s
	}
	head, _ := split(s, columns-1)
	return head + "…"
}

// split parts s after at most so many columns, between characters.
func split(s string, columns int) (head, rest string) {
	rest = s
	state, used, taken := -1, 0, 0
	for rest != "" {
		cluster, after, w, next := uniseg.FirstGraphemeClusterInString(rest, state)
		if used+w > columns {
			break
		}
		used += w
		taken += len(cluster)
		rest, state = after, next
	}
	return s[:taken], rest
}

// Pad fills clean text with spaces to so many columns, on its left if right is
// set; wider text stays as it is.
func Pad(s string, columns int, right bool) string {
	fill := strings.Repeat(" ", max(columns-Width(s), 0))
	if right {
		return fill + s
	}
	return s + fill
}

// Wrap cleans text and breaks it into lines of at most so many columns, between
// words, or in a word that is too long for a line. Line ends in the text are
// kept. Fewer than two columns count as two, since a wide character takes two.
func Wrap(text string, columns int) []string {
	return wrap(text, columns, func([]string) int { return 0 })
}

// wrapTyped is Wrap, but for commands and digests: who copies one from the screen
// takes it in one piece, so it may be longer than the line.
func wrapTyped(text string, columns int) []string { return wrap(text, columns, line.Typed) }

func wrap(text string, columns int, whole func([]string) int) []string {
	columns = max(columns, 2)
	var lines []string
	for _, paragraph := range strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n") {
		lines = append(lines, wrapLine(Clean(paragraph), columns, whole)...)
	}
	return lines
}

func wrapLine(s string, columns int, whole func([]string) int) []string {
	var lines []string
	line := ""
	for words := strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }); len(words) > 0; {
		n := whole(words)
		kept := n > 0
		if !kept {
			n = withUnit(words, columns)
		}
		word := strings.Join(words[:n], " ")
		words = words[n:]
		if line != "" && Width(line+" "+word) <= columns {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for !kept {
			head, rest := split(word, columns)
			if rest == "" {
				break
			}
			if head == "" { // a single character wider than the line
				head, rest = "…", tail(word)
			}
			lines = append(lines, head)
			word = rest
		}
		line = word
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// units are what stays on the line of the number before it.
var units = map[string]bool{"s": true, "min": true, "h": true, "days": true, "day": true, "mm": true, "cm": true, "m": true, "km": true,
	"mm/s": true, "ml": true, "l": true, "g": true, "g/m²": true, "m²": true, "°C": true, "%": true, "lx": true, "cd/m²": true,
	"stop": true, "stops": true, "sheet": true, "sheets": true, "entry": true, "entries": true, "pixels": true, "µm": true, "MB": true}

var aNumber = line.NewPattern(`^\(?[+−±-]?\d[\d.,/:]*$`)

// withUnit is how many of the words are one: a number and its unit, which no line end may part where a line can hold both.
func withUnit(words []string, columns int) int {
	if len(words) > 1 && units[strings.TrimRight(words[1], ".,;:)")] && aNumber.MatchString(words[0]) && Width(words[0]+" "+words[1]) <= columns {
		return 2
	}
	return 1
}

func tail(s string) string {
	_, rest, _, _ := uniseg.FirstGraphemeClusterInString(s, -1)
	return rest
}
