package events

import (
	"regexp"
	"strings"
	"sync"
)

// pattern is a regular expression that is compiled when it is first asked for: a short run needs few of them, and all of
// them together take as long to compile as a fifth of such a run.
func pattern(expression string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
}

// The forms of what is seldom written.
var (
	sitterForm   = pattern(`^sitter-[1-9][0-9]{0,8}(@[0-9]{1,3})?$`)
	currencyForm = pattern(`^[A-Z]{3}$`)
	dateForm     = pattern(`^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$`)
	dilutionForm = pattern(`^(stock|[0-9]+(\.[0-9]+)?(\+[0-9]+(\.[0-9]+)?)+)$`)
	tailForm     = pattern(`^,"prev":"([0-9a-f]{64})","hash":"([0-9a-f]{64})"}$`) // the end of a whole line
)

// Names, numbers of pictures and sheets, and times stand in every entry several times, and are looked at byte by byte.

// maxName is how many characters a name has at most, its rank left out.
const maxName = 40

// IsName says whether s can name a box, bath, session, camera, holder or strip.
func IsName(s string) bool {
	for i := range len(s) {
		c := s[i]
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && (i == 0 || c != '.' && c != '_' && c != '-') {
			return false
		}
	}
	return s != "" && len(s) <= maxName
}

// isRankedName says whether s is a name, or one with its rank: dev-1@2 is the second dev-1 of a joined book.
func isRankedName(s string) bool {
	name, _, _ := strings.Cut(s, "@")
	return IsName(name) && isRank(s[len(name):])
}

// isRank says whether s is what may stand behind a name: nothing, or the rank, @2 or @3, that tells apart what two joined
// books called by one name.
func isRank(s string) bool { return s == "" || s[0] == '@' && digits(s, 1, 1, 3) == len(s) }

// IsPicture says whether s has the form of a picture's number.
func IsPicture(s string) bool {
	end := pictureEnd(s)
	return end > 0 && isRank(s[end:])
}

// pictureEnd is where the number of a picture ends that s begins with, -1 where there is none.
func pictureEnd(s string) int {
	if len(s) < 5 || !isShaped(s[:5], "0000-") {
		return -1
	}
	return digits(s, 5, 3, 9)
}

// SplitSheet takes a sheet's name apart: its picture, and "n" or "p1", "p2" …
func SplitSheet(sheet string) (picture, part string, ok bool) {
	number := pictureEnd(sheet)
	if number < 0 || number == len(sheet) {
		return "", "", false
	}
	end := number + 1
	switch sheet[number] {
	case 'n':
	case 'p':
		if end = digits(sheet, end, 1, 6); end < 0 || sheet[number+1] == '0' {
			return "", "", false
		}
	default:
		return "", "", false
	}
	return sheet[:number] + sheet[end:], sheet[number:end], isRank(sheet[end:])
}

// isTime says whether s is written as RFC 3339 strictly wants it: to the nanosecond at most, and with its offset.
func isTime(s string) bool {
	const second = "0000-00-00T00:00:00"
	if len(s) <= len(second) || !isShaped(s[:len(second)], second) {
		return false
	}
	end := len(second)
	if s[end] == '.' {
		if end = digits(s, end+1, 1, 9); end < 0 {
			return false
		}
	}
	offset := s[end:]
	return offset == "Z" || isShaped(offset, "+00:00") || isShaped(offset, "-00:00")
}

// isShaped says whether s has any digit where the shape has a 0, and else the same bytes.
func isShaped(s, shape string) bool {
	if len(s) != len(shape) {
		return false
	}
	for i := range len(s) {
		if shape[i] == '0' && (s[i] < '0' || s[i] > '9') || shape[i] != '0' && s[i] != shape[i] {
			return false
		}
	}
	return true
}

// digits is where the digits end that begin at from, -1 where there are not least of them, or more than most.
func digits(s string, from, least, most int) int {
	i := from
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	if n := i - from; n < least || n > most {
		return -1
	}
	return i
}

func isHex[T string | []byte](s T) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return len(s) > 0
}
