package page

import (
	"fmt"
	"strings"
	"unicode"

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
// selectors, soft hyphen, direction marks, isolates, zero-width spaces.
func inkless(r rune) bool {
	switch {
	case r == 0x00AD, r == 0x061C, r >= 0x200B && r <= 0x200F, r == 0x2060, r >= 0x2066 && r <= 0x2069, r == 0xFEFF:
		return true
	case r >= 0xFE00 && r <= 0xFE0F:
		return true
	}
	return false
}
