package line

import (
	"math"
	"strings"

	"traybook/projections/wording"
)

// Parse reads text as a value of the dimension and returns it in the unit named
// at the dimension. A bare number is in that unit; a decimal comma is a decimal
// point; fractions (1/4, 1 1/3, ½) are understood.
//
// Errors name the value, say why it cannot be used and what to type. A value is
// never NaN or infinite.
func Parse(dim Dimension, text string) (float64, error) {
	r := dim.rule()
	s := plain(text)
	switch {
	case s == "":
		return 0, Refuse(r.write, "%s %s: nothing in it", r.name, Quote(text))
	case len(s) > longestText:
		return 0, Refuse(r.write, "%s %s: too long to be a number", r.name, Quote(text))
	}
	switch dim {
	case Ratio:
		return ratio(text)
	case Latitude, Longitude:
		return degrees(dim, text)
	case FNumber:
		s = marks.ReplaceAllString(s, "")
	case EV:
		s = strings.TrimLeft(strings.TrimPrefix(s, "ev"), " ")
	case Share:
		if of, ok := oneIn(s); ok {
			s = of
		}
	}
	factor, wasSigned, s := sign(s)
	if wasSigned && strings.ContainsAny(s[:min(1, len(s))], "+-") {
		return 0, Refuse(r.write, "%s %s: two signs in front", r.name, Quote(text))
	}
	if strings.Contains(s, ":") {
		if v, ok, err := r.colons(dim, text, s); ok || err != nil {
			if err != nil {
				return 0, err
			}
			return r.checked(text, factor*v)
		}
	}
	v, err := r.terms(text, s)
	if err != nil {
		return 0, err
	}
	if dim == Celsius {
		return r.temperature(text, s, factor)
	}
	if dim == Share && v > 2 && v <= 1000 && !strings.HasSuffix(s, "%") {
		return 0, Refuse("write "+wording.Significant(v, 6)+"% or "+wording.Significant(v/100, 6), "share %s: a bare number is a part of one, and this is more than two", Quote(text))
	}
	return r.checked(text, factor*v)
}

// terms reads one term, or a chain of them with falling units.
func (r *rule) terms(text, s string) (float64, error) {
	var sum float64
	var last string // the unit before
	lastFactor := math.Inf(1)
	for rest, first := s, true; first || rest != ""; first = false {
		n, ok := scanNumber(rest)
		if !ok {
			return 0, r.noNumber(text, rest, first)
		}
		unit, after := r.scanUnit(n.rest)
		rest = after
		if unit == "" && !first {
			unit, ok = r.follow[last]
			if !ok || rest != "" || unit == "cm" && !isTwoDigits.MatchString(n.text) {
				return 0, Refuse(r.write, "%s %s: no unit behind %s", r.name, Quote(text), Quote(n.text))
			}
		}
		factor, ok := r.units[unit]
		if !ok {
			return 0, r.noUnit(text, unit)
		}
		if err := r.thousands(text, n, factor); err != nil {
			return 0, err
		}
		if factor >= lastFactor {
			return 0, Refuse(r.write, "%s %s: the larger unit comes first, and each once", r.name, Quote(text))
		}
		sum += n.value * factor
		last, lastFactor = unit, factor
	}
	return sum, nil
}

var (
	chainUnit   = NewPattern(`^(?:[\pL°%]+\.?|["'])`)
	isTwoDigits = NewPattern(`^\d\d$`)
	spaces      = strings.NewReplacer(" ", "", ".", "")
)

// scanUnit takes the unit off s. Where no chain is possible, all that follows is
// the unit, so that "m2" and "us fl oz" are units too.
func (r *rule) scanUnit(s string) (unit, rest string) {
	if !r.chained {
		return spaces.Replace(s), ""
	}
	unit = chainUnit.FindString(s)
	return strings.TrimSuffix(unit, "."), strings.TrimLeft(s[len(unit):], " ")
}

func (r *rule) noNumber(text, rest string, first bool) error {
	if r.chained && (rest == "∞" || strings.HasPrefix(rest, "inf")) && first && r.units["mm"] == 1 {
		return Refuse("write a far distance such as 1000m", "%s %s: the book keeps numbers only", r.name, Quote(text))
	}
	if first {
		return Refuse(r.write, "%s %s: no number in it", r.name, Quote(text))
	}
	return Refuse(r.write, "%s %s: %s is not understood", r.name, Quote(text), Quote(rest))
}

func (r *rule) noUnit(text, unit string) error {
	advice := r.write
	if hint := r.hints[unit]; hint != "" {
		advice = hint
	}
	return Refuse(advice, "%s %s: no unit %s for %s %s", r.name, Quote(text), Quote(unit), article(r.name), r.name)
}

func article(word string) string {
	if word == "stops" {
		return "a number of"
	}
	if strings.ContainsAny(word[:1], "aeiou") {
		return "an"
	}
	return "a"
}

var (
	clockTime = NewPattern(`^(\d{1,4}):([0-5]\d):([0-5]\d(?:[.,]\d+)?)$`)
	shortTime = NewPattern(`^(\d{1,4}):([0-5]\d(?:[.,]\d+)?)$`)
)

// colons reads 1:30 as minutes and seconds where the unit is the second, as
// hours and minutes where it is the hour, and refuses it for minutes, where
// both are meant by someone. ok is false where a colon has no meaning.
func (r *rule) colons(dim Dimension, text, s string) (v float64, ok bool, err error) {
	per := map[Dimension]float64{Seconds: 1, SignedSeconds: 1, Minutes: 60, Hours: 3600, Days: aDay}[dim]
	if per == 0 {
		return 0, false, nil
	}
	if m := shortTime.FindStringSubmatch(s); m != nil {
		switch dim {
		case Seconds, SignedSeconds:
			return asFloat(m[1])*60 + asFloat(m[2]), true, nil
		case Hours:
			return asFloat(m[1]) + asFloat(m[2])/60, true, nil
		}
		return 0, false, Refuse("write 1h30m or 1m30s", "%s %s: may be hours and minutes or minutes and seconds", r.name, Quote(text))
	}
	if m := clockTime.FindStringSubmatch(s); m != nil {
		return (asFloat(m[1])*3600 + asFloat(m[2])*60 + asFloat(m[3])) / per, true, nil
	}
	return 0, false, Refuse(r.write, "%s %s: a colon parts minutes from seconds below 60", r.name, Quote(text))
}

// marks are what stands before an aperture: f/8, f8, f:8 and the lens maker's 1:8.
var marks = NewPattern(`^(?:f *[/:]? *|1:)`)

var isOneIn = NewPattern(`^(\d+):(\d+)$`)

// oneIn turns 1:100 into 1/100.
func oneIn(s string) (string, bool) {
	if m := isOneIn.FindStringSubmatch(s); m != nil {
		return m[1] + "/" + m[2], true
	}
	return s, false
}

const hottestBare = 50

// temperature turns a temperature with its unit into degrees Celsius. A bare
// number that no bath has in Celsius but a usual one in Fahrenheit is refused.
func (r *rule) temperature(text, s string, factor float64) (float64, error) {
	n, _ := scanNumber(s)
	unit, _ := r.scanUnit(n.rest)
	v := factor * n.value
	switch strings.TrimPrefix(strings.TrimPrefix(unit, "°"), "deg") {
	case "f", "fahrenheit":
		v = (v - 32) / 1.8
	case "k":
		v -= 273.15
	case "":
		if unit == "" && v > hottestBare {
			d := wording.Significant(v, 6)
			return 0, Refuse("write "+d+"F if it is Fahrenheit, "+d+"C if it is that hot", "temperature %s: a bare number is in degrees Celsius, and that is hotter than a bath", Quote(text))
		}
	}
	return r.checked(text, v)
}
