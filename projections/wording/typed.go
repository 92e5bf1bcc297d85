package wording

import (
	"strconv"

	"traybook/calc"
)

// HandSeconds is a time in a bath, in seconds, as a hand keeps it: whole seconds from twenty on, below as a clock is set.
func HandSeconds(s float64) float64 {
	set, err := calc.SetTime(s)
	if err != nil || s >= 20 {
		return float64(int(s + 0.5))
	}
	return set
}

// TypedSeconds is the same as it is typed: 90s.
func TypedSeconds(s float64) string {
	return strconv.FormatFloat(HandSeconds(s), 'f', -1, 64) + "s"
}
