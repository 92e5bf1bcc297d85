package line

import (
	"strings"

	"traybook/projections/wording"
)

var (
	sexagesimal = NewPattern(`^(\d{1,3})(?:° *|d *| +)(\d{1,2}(?:[.,]\d+)?)(?:' *| *$)(?:(\d{1,2}(?:[.,]\d+)?)"? *)?$`)
	decimalDeg  = NewPattern(`^\d{1,3}(?:[.,]\d{1,12})?°?$`)
)

// degrees reads a latitude or longitude: 59.91, -59.91, 59.91N, N 59°54'30".
func degrees(dim Dimension, text string) (float64, error) {
	r := dim.rule()
	s := plain(text)
	positive, negative := "n", "s"
	if dim == Longitude {
		positive, negative = "e", "w"
	}
	factor, signed, s := sign(s)
	letter := ""
	for _, l := range []string{"n", "s", "e", "w"} {
		if strings.HasPrefix(s, l) || strings.HasSuffix(s, l) {
			letter = l
			s = strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(s, l), l))
			break
		}
	}
	switch {
	case letter != "" && letter != positive && letter != negative:
		return 0, Refuse(r.write, "%s %s: %s belongs to the other coordinate", r.name, Quote(text), strings.ToUpper(letter))
	case letter != "" && signed:
		return 0, Refuse(r.write, "%s %s: a sign and a letter both", r.name, Quote(text))
	case letter == negative:
		factor = -1
	}
	v, ok := angle(s)
	if !ok {
		return 0, Refuse(r.write, "%s %s: not degrees", r.name, Quote(text))
	}
	if v > r.most {
		return 0, Refuse(r.write, "%s %s: more than %s degrees", r.name, Quote(text), wording.Significant(r.most, 3))
	}
	return r.checked(text, factor*v)
}

func angle(s string) (float64, bool) {
	if decimalDeg.MatchString(s) {
		return asFloat(strings.TrimSuffix(s, "°")), true
	}
	m := sexagesimal.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	minutes, seconds := asFloat(m[2]), 0.0
	if m[3] != "" {
		seconds = asFloat(m[3])
	}
	if minutes >= 60 || seconds >= 60 {
		return 0, false
	}
	return asFloat(m[1]) + minutes/60 + seconds/3600, true
}
