package sheetcsv

import (
	"fmt"
	"strings"
	"unicode"
)

// Visible puts in the place of each control, which a terminal or a spreadsheet
// would obey, what shows it: the Unicode control pictures for those below U+0020
// and for DEL (\u241b for an escape), ‹009B› for those above and for the marks that turn
// the direction of writing. A line feed and a tab stay, since they are part of
// a text; so does a line's end as other systems write it, as a line feed.
func Visible(text string) string {
	if plain(text) || strings.IndexFunc(text, hidden) < 0 {
		return text
	}
	var b strings.Builder
	for _, r := range strings.ReplaceAll(text, "\r\n", "\n") {
		switch {
		case !hidden(r):
			b.WriteRune(r)
		case r < ' ':
			b.WriteRune('\u2400' + r)
		case r == 0x7f:
			b.WriteRune('\u2421')
		default:
			fmt.Fprintf(&b, "‹%04X›", r)
		}
	}
	return b.String()
}

// plain says that a text is ASCII without a control, as most are.
func plain(text string) bool {
	for i := range len(text) {
		if c := text[i]; c < ' ' || c >= 0x7f {
			return false
		}
	}
	return true
}

func hidden(r rune) bool {
	return unicode.IsControl(r) && r != '\n' && r != '\t' || unicode.Is(unicode.Bidi_Control, r)
}
