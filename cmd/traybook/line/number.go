package line

import (
	"math"
	"strconv"
	"strings"

	"traybook/projections/wording"
)

// plainly turns the typographic signs of phones and word processors into those
// of a keyboard.
var plainly = strings.NewReplacer(
	"−", "-", "–", "-", "′", "'", "’", "'", "‘", "'", "″", `"`, "”", `"`, "“", `"`, "''", `"`,
	"º", "°", "⁄", "/", "×", "x", "²", "2", "³", "3", "μ", "µ", "ƒ", "f",
	"\u00a0", " ", "\u2009", " ", "\u202f", " ", "\t", " ",
)

const longestText = 64

// plain lower-cases and plainly-writes what was typed.
func plain(text string) string {
	return strings.TrimSpace(strings.ToLower(plainly.Replace(text)))
}

var (
	mixedNumber    = NewPattern(`^(\d+) +(\d+)/(\d+)`)
	fractionNumber = NewPattern(`^(\d+)/(\d+(?:[.,]\d+)?)`)
	vulgarNumber   = NewPattern(`^(\d*) ?([½⅓⅔¼¾⅛⅜⅝⅞])`)
	decimalNumber  = NewPattern(`^(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:e[+-]?\d{1,3})?`)
	grouped        = NewPattern(`^[1-9]\d{0,2},\d{3}$`)
)

var vulgar = map[string]float64{
	"½": 1. / 2, "⅓": 1. / 3, "⅔": 2. / 3, "¼": 1. / 4, "¾": 3. / 4, "⅛": 1. / 8, "⅜": 3. / 8, "⅝": 5. / 8, "⅞": 7. / 8,
}

// number is one number as typed, without a sign.
type number struct {
	value float64
	text  string
	rest  string // what follows it
}

// scanNumber reads an unsigned number from the start of s: 4, 0.5, 0,5, 1/4,
// 1 1/3, ½, 1½, 1e3.
func scanNumber(s string) (number, bool) {
	if m := mixedNumber.FindStringSubmatch(s); m != nil {
		n := number{value: asFloat(m[1]) + asFloat(m[2])/asFloat(m[3])}
		return n.cut(s, m[0])
	}
	if m := fractionNumber.FindStringSubmatch(s); m != nil {
		n := number{value: asFloat(m[1]) / asFloat(m[2])}
		return n.cut(s, m[0])
	}
	if m := vulgarNumber.FindStringSubmatch(s); m != nil {
		n := number{value: asFloat("0"+m[1]) + vulgar[m[2]]}
		return n.cut(s, m[0])
	}
	if m := decimalNumber.FindString(s); m != "" {
		n := number{value: asFloat(m)}
		return n.cut(s, m)
	}
	return number{}, false
}

func (n number) cut(s, text string) (number, bool) {
	n.text, n.rest = text, strings.TrimLeft(s[len(text):], " ")
	return n, true
}

// asFloat reads digits with a decimal point or comma; it is given only text of
// that shape. A value beyond float64 comes back infinite and is refused by the
// range of the dimension.
func asFloat(s string) float64 {
	s = strings.ReplaceAll(s, ",", ".")
	if strings.HasPrefix(s, ".") {
		s = "0" + s
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil && !math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}

// sign takes a leading + or - off s.
func sign(s string) (factor float64, signed bool, rest string) {
	switch {
	case strings.HasPrefix(s, "-"):
		return -1, true, strings.TrimLeft(s[1:], " ")
	case strings.HasPrefix(s, "+"):
		return 1, true, strings.TrimLeft(s[1:], " ")
	}
	return 1, false, s
}

// thousands refuses "1,500", which one reader takes for one and a half and
// another for fifteen hundred, where both would be possible values.
func (r *rule) thousands(text string, n number, factor float64) error {
	if grouped.MatchString(n.text) && n.value*1000*factor <= r.most && r.most >= 1000 {
		whole := strings.ReplaceAll(n.text, ",", "")
		point := strconv.FormatFloat(n.value, 'f', -1, 64)
		return Refuse("write "+whole+" or "+point, "%s %s: %s can be read as %s or as %s",
			r.name, Quote(text), Quote(n.text), whole, point)
	}
	return nil
}

// checked holds a value against the range of its dimension.
func (r *rule) checked(text string, v float64) (float64, error) {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return 0, Refuse(r.write, "%s %s: not a number that can be used", r.name, Quote(text))
	case v < 0 && r.least >= 0:
		return 0, Refuse(r.write, "%s %s: cannot be negative", r.name, Quote(text))
	case v < r.least || r.above && v == r.least:
		bound := "less than " + wording.Significant(r.least, 6)
		if r.above {
			bound = "not above " + wording.Significant(r.least, 6)
		}
		return 0, Refuse(r.write, "%s %s: %s", r.name, Quote(text), bound)
	case v > r.most:
		return 0, Refuse(r.write, "%s %s: too large", r.name, Quote(text))
	case r.whole && v != math.Trunc(v):
		return 0, Refuse(r.write, "%s %s: not a whole number", r.name, Quote(text))
	}
	return v + 0, nil // a negative zero becomes zero
}
