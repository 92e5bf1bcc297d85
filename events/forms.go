package events

import (
	"regexp"
	"strings"
	"sync"
)

// The forms of names, numbers and times, read by hand: every line of a long book passes here, and a regular expression
// takes twenty times as long. The patterns stand beside them, and in the tests that hold the two against each other.

func digits(s string, from, to int) bool {
	if to > len(s) || from > to {
		return false
	}
	for i := from; i < to; i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// run gives the end of the digits that begin at i.
func run(s string, i int) int {
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return i
}

// isNameForm is ^[a-z0-9][a-z0-9._-]{0,39}$.
func isNameForm(s string) bool {
	if len(s) == 0 || len(s) > 40 {
		return false
	}
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= 'a' && c <= 'z' || c >= '0' && c <= '9':
		case i > 0 && (c == '.' || c == '_' || c == '-'):
		default:
			return false
		}
	}
	return true
}

// numberEnd gives the end of the YYYY-NNN that s begins with, 0 where it begins with none: ^[0-9]{4}-[0-9]{3,9}.
func numberEnd(s string) int {
	if !digits(s, 0, 4) || len(s) < 8 || s[4] != '-' {
		return 0
	}
	if end := run(s, 5); end >= 8 && end <= 14 {
		return end
	}
	return 0
}

// isRank is ^(@[0-9]{1,3})?$.
func isRank(s string) bool {
	return s == "" || s[0] == '@' && len(s) >= 2 && len(s) <= 4 && digits(s, 1, len(s))
}

// isPictureForm is ^[0-9]{4}-[0-9]{3,9}(@[0-9]{1,3})?$.
func isPictureForm(s string) bool {
	end := numberEnd(s)
	return end > 0 && isRank(s[end:])
}

// sheetForm takes a sheet's name apart: ^([0-9]{4}-[0-9]{3,9})(n|p[1-9][0-9]{0,5})(@[0-9]{1,3})?$.
func sheetForm(s string) (number, part, rank string, ok bool) {
	end := numberEnd(s)
	if end == 0 || end == len(s) {
		return "", "", "", false
	}
	to := end + 1
	switch s[end] {
	case 'n':
	case 'p':
		to = run(s, end+1)
		if n := to - end - 1; n < 1 || n > 6 || s[end+1] == '0' {
			return "", "", "", false
		}
	default:
		return "", "", "", false
	}
	return s[:end], s[end:to], s[to:], isRank(s[to:])
}

func isSheetForm(s string) bool {
	_, _, _, ok := sheetForm(s)
	return ok
}

// isRankedForm is ^[a-z0-9][a-z0-9._-]{0,39}(@[0-9]{1,3})?$.
func isRankedForm(s string) bool {
	if i := strings.IndexByte(s, '@'); i >= 0 {
		return isNameForm(s[:i]) && isRank(s[i:])
	}
	return isNameForm(s)
}

// isSitterForm is ^sitter-[1-9][0-9]{0,8}(@[0-9]{1,3})?$.
func isSitterForm(s string) bool {
	const head = "sitter-"
	if len(s) <= len(head) || s[:len(head)] != head || s[len(head)] == '0' {
		return false
	}
	end := run(s, len(head))
	n := end - len(head)
	return n >= 1 && n <= 9 && isRank(s[end:])
}

// isCurrencyForm is ^[A-Z]{3}$.
func isCurrencyForm(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < 'A' || s[i] > 'Z' {
			return false
		}
	}
	return len(s) == 3
}

// isTimeForm is RFC 3339 in its strict form:
// ^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?(Z|[+-][0-9]{2}:[0-9]{2})$.
func isTimeForm(s string) bool {
	if len(s) < 20 || !digits(s, 0, 4) || s[4] != '-' || !digits(s, 5, 7) || s[7] != '-' || !digits(s, 8, 10) || s[10] != 'T' ||
		!digits(s, 11, 13) || s[13] != ':' || !digits(s, 14, 16) || s[16] != ':' || !digits(s, 17, 19) {
		return false
	}
	i := 19
	if s[i] == '.' {
		i = run(s, 20)
		if n := i - 20; n < 1 || n > 9 {
			return false
		}
	}
	zone := s[i:]
	return zone == "Z" || len(zone) == 6 && (zone[0] == '+' || zone[0] == '-') && digits(zone, 1, 3) && zone[3] == ':' && digits(zone, 4, 6)
}

var (
	datePattern = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$`) })

	dilutionPattern = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`^(stock|[0-9]+(\.[0-9]+)?(\+[0-9]+(\.[0-9]+)?)+)$`)
	})
)

// tailForm takes the end of a whole line apart: ^,"prev":"([0-9a-f]{64})","hash":"([0-9a-f]{64})"}$.
func tailForm(b []byte) (prev, hash []byte, ok bool) {
	const a, m, z = `,"prev":"`, `","hash":"`, `"}`
	const p, h = len(a), len(a) + 64 + len(m)
	if len(b) != h+64+len(z) || string(b[:p]) != a || string(b[p+64:h]) != m || string(b[h+64:]) != z {
		return nil, nil, false
	}
	prev, hash = b[p:p+64], b[h:h+64]
	return prev, hash, isHex(prev) && isHex(hash)
}
