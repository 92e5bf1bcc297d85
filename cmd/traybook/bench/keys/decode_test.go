package keys

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestFirst(t *testing.T) {
	for _, c := range []struct {
		name, sent string
		want       []rune
	}{
		{"letters", "q +", []rune{'q', ' ', '+'}},
		{"both ends of a line", "\r\n", []rune{Enter, Enter}},
		{"both ways to rub out", "\x7f\x08", []rune{Backspace, Backspace}},
		{"what a terminal turns into signals", "\x03\x04\x1a", []rune{Interrupt, EndOfText, Suspend}},
		{"arrows in both their forms", "\x1b[A\x1bOB\x1b[C\x1b[D", []rune{Up, Down, Right, Left}},
		{"an arrow with a shift", "\x1b[1;2Cx", []rune{Right, 'x'}},
		{"a key unknown here", "\x1b[15~x", []rune{Other, 'x'}},
		{"escape alone", "\x1b", []rune{Escape}},
		{"a sequence cut short", "\x1b[\rq", []rune{Other, Enter, 'q'}},
		{"letters of other scripts", "é±", []rune{'é', '±'}},
		{"bytes that are no letter", "\xffq", []rune{0xFFFD, 'q'}},
	} {
		t.Run(c.name, func(t *testing.T) {
			rest := []byte(c.sent)
			var got []rune
			for len(rest) > 0 {
				r, size := first(rest)
				if size == 0 {
					break
				}
				got, rest = append(got, r), rest[size:]
			}
			assert.Equal(t, c.want, got)
		})
	}
}

func FuzzFirst(f *testing.F) {
	f.Add([]byte("\x1b[1;2Cé\xff"))
	f.Fuzz(func(t *testing.T, b []byte) {
		for len(b) > 0 {
			_, size := first(b)
			if size == 0 {
				if len(b) > 32 {
					t.Fatalf("%q is held back", b)
				}
				return
			}
			if size < 0 || size > len(b) {
				t.Fatalf("%d of %q", size, b)
			}
			b = b[size:]
		}
	})
}
