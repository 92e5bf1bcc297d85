package timer

import "strings"

// Figures are drawn five lines high, so that they are read from an arm's length and without glasses.
var figures = map[rune][5]string{
	'0': {" ███ ", "█   █", "█   █", "█   █", " ███ "},
	'1': {"  █  ", " ██  ", "  █  ", "  █  ", " ███ "},
	'2': {"████ ", "    █", " ███ ", "█    ", "█████"},
	'3': {"████ ", "    █", " ███ ", "    █", "████ "},
	'4': {"█   █", "█   █", "█████", "    █", "    █"},
	'5': {"█████", "█    ", "████ ", "    █", "████ "},
	'6': {" ███ ", "█    ", "████ ", "█   █", " ███ "},
	'7': {"█████", "    █", "   █ ", "  █  ", "  █  "},
	'8': {" ███ ", "█   █", " ███ ", "█   █", " ███ "},
	'9': {" ███ ", "█   █", " ████", "    █", " ███ "},
	'.': {" ", " ", " ", " ", "█"},
	':': {" ", "█", " ", "█", " "},
	'+': {"     ", "  █  ", "█████", "  █  ", "     "},
	'-': {"     ", "     ", "█████", "     ", "     "},
}

// Big draws a figure in five lines no wider than so many columns, or, where it has no room or holds something that
// cannot be drawn, in one line as it stands. ink is the character to draw with, 0 for a block.
func Big(text string, columns int, ink rune) []string {
	var rows [5]string
	for i, r := range text {
		g, ok := figures[r]
		if !ok {
			return []string{text}
		}
		for y := range rows {
			if i > 0 {
				rows[y] += "  "
			}
			rows[y] += g[y]
		}
	}
	out := make([]string, 0, len(rows))
	for _, r := range rows {
		if len([]rune(r)) > columns {
			return []string{text}
		}
		if ink != 0 {
			r = strings.ReplaceAll(r, "█", string(ink))
		}
		out = append(out, r)
	}
	return out
}
