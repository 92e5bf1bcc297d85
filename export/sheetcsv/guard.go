package sheetcsv

import "strings"

// The characters by which table programs tell a formula from a text, with their
// full-width forms, as the OWASP page on CSV injection and CWE-1236 list them.
const formula = "=+-@＝＋－＠"

// What such a program may drop at the beginning of a cell before it looks.
const dropped = "\t\r\n"

// What may stand before such a character without making the cell harmless: the
// guard itself, a quote that opens, and blanks that are dropped on reading.
const before = "'\" \u00a0\u3000\ufeff"

// After these a table program that is set otherwise begins another cell: where
// the decimal sign is a comma the semicolon parts cells, and a line feed whose
// quotes are not understood begins another record.
const parts = ";\t\n"

// Guard puts an apostrophe before whatever in a text a table program would run
// as a formula, at its beginning and behind each semicolon, tab and line feed,
// and leaves every other text alone. What looks guarded gets a second
// apostrophe, so that every text can be told from what was put before it.
func Guard(cell string) string {
	signs := formula + dropped
	if !runs(cell, signs) && !strings.ContainsAny(cell, parts) {
		return cell
	}
	var b strings.Builder
	for {
		if runs(cell, signs) {
			b.WriteByte('\'')
		}
		end := strings.IndexAny(cell, parts) + 1
		if end == 0 {
			b.WriteString(cell)
			return b.String()
		}
		b.WriteString(cell[:end])
		cell, signs = cell[end:], formula
	}
}

// runs reports whether a table program might run what begins so.
func runs(cell, signs string) bool {
	for _, r := range cell {
		if !strings.ContainsRune(before, r) {
			return strings.ContainsRune(signs, r)
		}
	}
	return false
}
