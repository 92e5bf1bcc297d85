package sheetcsv

import "strings"

// The characters by which spreadsheets tell a formula from a text, with their
// full-width forms, as the OWASP page on CSV injection and CWE-1236 list them.
const formula = "=+-@\t\r\n＝＋－＠"

// What may stand before such a character without making the cell harmless: the
// guard itself, and blanks that spreadsheets drop on reading.
const before = "' \u00a0\u3000\ufeff"

// runs reports whether a spreadsheet might run the cell.
func runs(cell string) bool {
	rest := strings.TrimLeft(cell, before)
	return rest != "" && strings.ContainsAny(rest[:firstRune(rest)], formula)
}

func firstRune(s string) int {
	for i := range s {
		if i > 0 {
			return i
		}
	}
	return len(s)
}

// Guard puts an apostrophe before a text that a spreadsheet would run as a
// formula, and leaves every other text alone. A text that looks guarded gets a
// second apostrophe, so that every text can be told from what was put before it.
func Guard(cell string) string {
	if runs(cell) {
		return "'" + cell
	}
	return cell
}
