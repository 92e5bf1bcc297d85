package wording

import "math"

// StopsText writes a deviation, given in stops, as every screen and page does: +0.5 stop, −1 stop, +1.5 stops, 0 stops.
// Two decimals at most: a tenth of that nobody sees on paper.
func StopsText(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Dash
	}
	text := SizeOfStops(v)
	switch {
	case NoStops(v):
		return text
	case v < 0:
		return "−" + text
	}
	return "+" + text
}

// SizeOfStops writes a number of stops without its sign, where words beside it say which way: 0.5 stop too little.
func SizeOfStops(v float64) string {
	v = hundredths(math.Abs(v))
	if v > 0 && v <= 1 {
		return Decimals(v, 2) + " stop"
	}
	return Decimals(v, 2) + " stops"
}

// NoStops says whether a deviation is shown as none.
func NoStops(v float64) bool { return hundredths(v) == 0 }

func hundredths(v float64) float64 { return math.Round(v*100) / 100 }

// Brighter tells a change of light: 0.5 stop darker.
func Brighter(stops float64) string {
	if stops > 0 {
		return SizeOfStops(stops) + " brighter"
	}
	return SizeOfStops(stops) + " darker"
}
