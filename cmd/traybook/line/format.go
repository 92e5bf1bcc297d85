package line

import (
	"math"
	"strconv"
	"strings"
)

// none stands where there is no number.
const none = "–"

// Format writes a value, given in the unit of its dimension, for a person: f/8, 2.5 m, 20 °C. A value with no more than
// two decimals is written as it is; others are rounded to what the trade can measure. What is not a number is a dash, what
// is below 0 bears a minus. Parse reads back what Format writes. Times and stops are told by more than the door and have
// their writers beside what they mean: here they are bare numbers.
func Format(dim Dimension, v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return none
	}
	return Minus(format(dim, v))
}

// Minus puts the minus of the printer in the place of the hyphen that a number begins with: what a person reads has the
// one, what a program reads (JSON, tables, a command line) the other.
func Minus(number string) string {
	if rest, below := strings.CutPrefix(number, "-"); below {
		return "−" + rest
	}
	return number
}

func format(dim Dimension, v float64) string {
	switch dim {
	case Days:
		if s := rounded(v, 1); s != "1" {
			return s + " days"
		}
		return "1 day"
	case Millimetres:
		return formatLength(v)
	case MillimetresPerSecond:
		return digits(v, 3) + " mm/s"
	case SquareMetres:
		return digits(v, 3) + " m²"
	case Millilitres:
		return formatVolume(v)
	case Celsius:
		return rounded(v, 1) + " °C"
	case FNumber:
		return "f/" + aperturePlain(v)
	case EV:
		return "EV " + rounded(v, 1)
	case Lux:
		return digits(v, 3) + " lx"
	case CandelasPerSquareMetre:
		return digits(v, 3) + " cd/m²"
	case Ratio:
		return "1+" + digits(v, 4)
	case Share:
		return digits(v*100, 3) + " %"
	case Percent:
		return digits(v, 4) + " %"
	case Latitude:
		return coordinate(v, "N", "S")
	case Longitude:
		return coordinate(v, "E", "W")
	}
	return digits(v, 6)
}

// digits rounds to n significant digits and writes no exponent and no zeros
// behind; digits before the point are never cut.
func digits(v float64, n int) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return strconv.FormatFloat(v+0, 'f', -1, 64)
	}
	places := n - 1 - int(math.Floor(math.Log10(math.Abs(v))))
	return fixed(v, max(places, 0))
}

// fixed writes v with at most so many decimals.
func fixed(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', min(places, 12), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// rounded keeps up to two decimals where these give the value exactly, as
// typed; a computed value is cut to the places given.
func rounded(v float64, places int) string {
	if hundredths := v * 100; math.Abs(hundredths-math.Round(hundredths)) < 1e-6 {
		return fixed(v, 2)
	}
	return fixed(v, places)
}

func formatVolume(v float64) string {
	places := 3
	if v >= 1000 {
		places = 4
	}
	shown := asFloat(digits(v, places))
	if shown >= 1000 {
		return digits(shown/1000, 4) + " l"
	}
	return fixed(shown, 12) + " ml"
}

func formatLength(v float64) string {
	switch {
	case v >= 999_500:
		return digits(v/1e6, 3) + " km"
	case v >= 999.95:
		return digits(v/1000, 3) + " m"
	}
	return digits(v, 4) + " mm"
}

// aperturePlain writes an aperture number; a full or half step of the series of
// the square root of two is written as engraved: 5.6, not 5.66.
func aperturePlain(v float64) string {
	for i, name := range []string{"1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32", "45", "64", "90", "128", "180", "256"} {
		if exact := math.Pow(2, float64(i)/2); math.Abs(v/exact-1) < 1e-4 {
			return name
		}
	}
	return rounded(v, 1)
}

func coordinate(v float64, positive, negative string) string {
	s := fixed(math.Abs(v), 4) + "°"
	switch {
	case s == "0°":
		return s
	case v < 0:
		return s + negative
	}
	return s + positive
}
