package events

import (
	"regexp"
	"sync"
)

// pattern is a regular expression that is compiled when it is first asked for: a short run needs few of them, and all of
// them together take as long to compile as a fifth of such a run.
func pattern(expression string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
}

// The forms of names, numbers and times. A rank, @2 or @3, tells apart what two joined books called by one name.
var (
	nameForm     = pattern(`^[a-z0-9][a-z0-9._-]{0,39}$`)
	rankedForm   = pattern(`^[a-z0-9][a-z0-9._-]{0,39}(@[0-9]{1,3})?$`)
	pictureForm  = pattern(`^[0-9]{4}-[0-9]{3,9}(@[0-9]{1,3})?$`)
	sheetForm    = pattern(`^([0-9]{4}-[0-9]{3,9})(n|p[1-9][0-9]{0,5})(@[0-9]{1,3})?$`)
	sitterForm   = pattern(`^sitter-[1-9][0-9]{0,8}(@[0-9]{1,3})?$`)
	currencyForm = pattern(`^[A-Z]{3}$`)
	timeForm     = pattern(`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?(Z|[+-][0-9]{2}:[0-9]{2})$`) // RFC 3339, strictly
	dateForm     = pattern(`^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$`)
	dilutionForm = pattern(`^(stock|[0-9]+(\.[0-9]+)?(\+[0-9]+(\.[0-9]+)?)+)$`)
	tailForm     = pattern(`^,"prev":"([0-9a-f]{64})","hash":"([0-9a-f]{64})"}$`) // the end of a whole line
)

func isHex[T string | []byte](s T) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return len(s) > 0
}
