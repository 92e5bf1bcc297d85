package keys

import (
	"strconv"
	"unicode/utf8"
)

// first takes the first key off what a terminal sent; size is 0 where more must come to tell it. A sequence begins with
// an escape; an escape alone is the key of that name.
func first(b []byte) (r rune, size int) {
	switch {
	case b[0] == '\n':
		return Enter, 1
	case b[0] == 8:
		return Backspace, 1
	case b[0] == byte(Escape) && len(b) > 1 && (b[1] == '[' || b[1] == 'O'):
		return sequence(b)
	case b[0] < utf8.RuneSelf:
		return rune(b[0]), 1
	case !utf8.FullRune(b):
		return 0, 0
	}
	return utf8.DecodeRune(b)
}

// sequence reads what an arrow and its like send: CSI, parameters, a final byte.
func sequence(b []byte) (rune, int) {
	for i := 2; i < len(b); i++ {
		if b[i] < 0x40 || b[i] > 0x7e {
			if b[i] < 0x20 || b[i] > 0x3f {
				return Other, i // cut short: what follows is a key of its own
			}
			continue
		}
		switch b[i] {
		case 'A':
			return Up, i + 1
		case 'B':
			return Down, i + 1
		case 'C':
			return Right, i + 1
		case 'D':
			return Left, i + 1
		}
		return Other, i + 1
	}
	if len(b) > 32 {
		return Other, len(b)
	}
	return 0, 0
}

func goTo(row int) string { return "\x1b[" + strconv.Itoa(row) + ";1H" }
