package wording

import (
	"math"
	"strings"
)

// Between writes the interval in which a time is known, given in seconds: between 3.6 and 5.8 s. Two figures that count
// are as many as it deserves.
func Between(low, high float64) string {
	from, to := Seconds(about(low)), Seconds(about(high))
	for _, unit := range []string{" s", " min", " h", " days"} {
		if strings.Count(from, " ") == 1 && strings.HasSuffix(from, unit) && strings.Count(to, " ") == 1 && strings.HasSuffix(to, unit) {
			from = strings.TrimSuffix(from, unit)
			break
		}
	}
	return "between " + from + " and " + to
}

// about rounds a time to what is counted: two figures, whole five seconds from a minute on, half minutes from ten on.
func about(s float64) float64 {
	switch {
	case s >= 600:
		return roundTo(s, 30)
	case s >= 60:
		return roundTo(s, 5)
	case s >= 10:
		return roundTo(s, 1)
	case s >= 1:
		return roundTo(s, 0.1)
	}
	return s
}

func roundTo(s, grain float64) float64 { return math.Round(s/grain) * grain }
