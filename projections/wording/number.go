package wording

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Number writes a figure with as many digits as a hand needs: three that count, no trailing noughts.
func Number(v float64) string { return Minus(Significant(v, 3)) }

// Minus puts the minus of the printer in the place of the hyphen that a number begins with: what a person reads has the
// one, what a program reads (JSON, tables, a command line) the other.
func Minus(number string) string {
	if rest, below := strings.CutPrefix(number, "-"); below {
		return "−" + rest
	}
	return number
}

// Money writes a sum, in hundredths where it is no whole one, and its currency, which may be empty.
func Money(v float64, currency string) string {
	return strings.TrimSpace(Minus(strings.TrimSuffix(strconv.FormatFloat(v, 'f', 2, 64), ".00")) + " " + currency)
}

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

// FirstOf joins names: all of them, or the first so many and how many more there are.
func FirstOf(names []string, most int, between string) string {
	if len(names) <= most {
		return strings.Join(names, between)
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], between), len(names)-most)
}

// Significant rounds to so many digits that count and writes no exponent and no noughts behind; digits before the point
// are never cut. A number below 0 begins with a hyphen.
func Significant(v float64, digits int) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return Decimals(v, 0)
	}
	return Decimals(v, max(0, digits-1-int(math.Floor(math.Log10(math.Abs(v))))))
}

// AsTyped keeps two decimals where these give the value exactly, as typed; what was calculated has so many as are given.
func AsTyped(v float64, places int) string {
	if h := v * 100; math.Abs(h-math.Round(h)) < 1e-6 {
		return Decimals(v, 2)
	}
	return Decimals(v, places)
}

// Decimals writes at most so many decimals, without noughts behind. What is no number is a dash.
func Decimals(v float64, most int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Dash
	}
	s := strconv.FormatFloat(v, 'f', min(most, 12), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
