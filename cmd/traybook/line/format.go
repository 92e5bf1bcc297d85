package line

import (
	"math"

	"traybook/projections/wording"
)

// Format writes a value, given in the unit of its dimension, for a person: f/8, 2.5 m, 20 °C. A value with no more than
// two decimals is written as it is; others are rounded to what the trade can measure. What is not a number is a dash, what
// is below 0 bears a minus. Parse reads back what Format writes. Times and stops are told by more than the door and have
// their writers beside what they mean: here they are bare numbers.
func Format(dim Dimension, v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return wording.Dash
	}
	return wording.Minus(format(dim, v))
}

func format(dim Dimension, v float64) string {
	switch dim {
	case Days:
		if s := wording.AsTyped(v, 1); s != "1" {
			return s + " days"
		}
		return "1 day"
	case Millimetres:
		return formatLength(v)
	case MillimetresPerSecond:
		return wording.Significant(v, 3) + " mm/s"
	case SquareMetres:
		return wording.Significant(v, 3) + " m²"
	case Millilitres:
		return formatVolume(v)
	case Celsius:
		return wording.AsTyped(v, 1) + " °C"
	case FNumber:
		return "f/" + aperturePlain(v)
	case EV:
		return "EV " + wording.AsTyped(v, 1)
	case Lux:
		return wording.Significant(v, 3) + " lx"
	case CandelasPerSquareMetre:
		return wording.Significant(v, 3) + " cd/m²"
	case Ratio:
		return "1+" + wording.Significant(v, 4)
	case Share:
		return wording.Significant(v*100, 3) + " %"
	case Percent:
		return wording.Significant(v, 4) + " %"
	case Latitude:
		return coordinate(v, "N", "S")
	case Longitude:
		return coordinate(v, "E", "W")
	}
	return wording.Significant(v, 6)
}

func formatVolume(v float64) string {
	places := 3
	if v >= 1000 {
		places = 4
	}
	shown := asFloat(wording.Significant(v, places))
	if shown >= 1000 {
		return wording.Significant(shown/1000, 4) + " l"
	}
	return wording.Decimals(shown, 12) + " ml"
}

func formatLength(v float64) string {
	switch {
	case v >= 999_500:
		return wording.Significant(v/1e6, 3) + " km"
	case v >= 999.95:
		return wording.Significant(v/1000, 3) + " m"
	}
	return wording.Significant(v, 4) + " mm"
}

// aperturePlain writes an aperture number; a full or half step of the series of
// the square root of two is written as engraved: 5.6, not 5.66.
func aperturePlain(v float64) string {
	for i, name := range []string{"1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32", "45", "64", "90", "128", "180", "256"} {
		if exact := math.Pow(2, float64(i)/2); math.Abs(v/exact-1) < 1e-4 {
			return name
		}
	}
	return wording.AsTyped(v, 1)
}

func coordinate(v float64, positive, negative string) string {
	s := wording.Decimals(math.Abs(v), 4) + "°"
	switch {
	case s == "0°":
		return s
	case v < 0:
		return s + negative
	}
	return s + positive
}
