package wording

import (
	"math"
	"strconv"
	"strings"
)

// Number writes a figure with as many digits as a hand needs: three that count, no trailing noughts.
func Number(v float64) string { return strings.Replace(significant(v, 3), "-", "−", 1) }

// CountOf writes a number of things, parts of them counted: 1 sheet, 2.5 sheets, 3 entries.
func CountOf[N int | int64 | float64](n N, entity string) string {
	if n == 1 {
		return "1 " + entity
	}
	if stem, ok := strings.CutSuffix(entity, "try"); ok {
		return Number(float64(n)) + " " + stem + "tries"
	}
	return Number(float64(n)) + " " + entity + "s"
}

// significant keeps so many digits that count; digits before the point are never cut.
func significant(v float64, n int) string {
	if v == 0 {
		return "0"
	}
	return plain(v, max(0, n-1-int(math.Floor(math.Log10(math.Abs(v))))))
}

// asTyped keeps two decimals where these give the value exactly, as typed; what was calculated has so many as are given.
func asTyped(v float64, places int) string {
	if h := v * 100; math.Abs(h-math.Round(h)) < 1e-6 {
		return plain(v, 2)
	}
	return plain(v, places)
}

// plain writes at most so many decimals, without trailing noughts.
func plain(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', min(places, 12), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
