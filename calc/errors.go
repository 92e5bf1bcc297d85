package calc

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// RangeError says that a quantity lies outside the range in which a formula
// holds.
type RangeError struct {
	// Quantity is what was given, in the words of the trade.
	Quantity string
	// Value is what was given for it, in Unit.
	Value float64
	// Min and Max bound the range, in Unit; an infinite bound is no bound.
	Min, Max float64
	// Unit is the unit's symbol, or empty for a plain number.
	Unit string
	// Above is true where Min itself is already outside.
	Above bool
}

// Error names the quantity, the value and the range.
func (e *RangeError) Error() string {
	num := func(v float64) string {
		s := plain(v)
		if e.Unit == "" {
			return s
		}
		return s + " " + e.Unit
	}
	low := "at least "
	if e.Above {
		low = "more than "
	}
	var rng string
	switch minless, maxless := math.IsInf(e.Min, -1), math.IsInf(e.Max, 1); {
	case minless && maxless:
		rng = "a finite number"
	case minless:
		rng = "at most " + num(e.Max)
	case maxless:
		rng = low + num(e.Min)
	case e.Above:
		rng = low + num(e.Min) + " and at most " + num(e.Max)
	default:
		rng = "between " + num(e.Min) + " and " + num(e.Max)
	}
	if math.IsNaN(e.Value) {
		return fmt.Sprintf("%s is not a number; it must be %s", e.Quantity, rng)
	}
	return fmt.Sprintf("%s of %s is outside what can be reckoned with; it must be %s",
		e.Quantity, strings.TrimSpace(num(e.Value)), rng)
}

// plain writes six figures, without an exponent where a person would not use
// one.
func plain(v float64) string {
	s := strconv.FormatFloat(v, 'g', 6, 64)
	if r, err := strconv.ParseFloat(s, 64); err == nil && (r == 0 || math.Abs(r) >= 1e-7 && math.Abs(r) < 1e10) {
		return strconv.FormatFloat(r, 'f', -1, 64)
	}
	return s
}

// within answers nil when min <= v <= max. NaN and the infinities are always
// outside. The pointer type stays behind the error interface, so that a nil is
// a nil.
func within(quantity string, v, min, max float64, unit string) error {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < min || v > max {
		return &RangeError{Quantity: quantity, Value: v, Min: min, Max: max, Unit: unit}
	}
	return nil
}

// above answers nil when min < v <= max: within, with the lower bound left out,
// for quantities that must be more than nothing.
func above(quantity string, v, min, max float64, unit string) error {
	if math.IsNaN(v) || math.IsInf(v, 0) || v <= min || v > max {
		return &RangeError{Quantity: quantity, Value: v, Min: min, Max: max, Unit: unit, Above: true}
	}
	return nil
}

// firstError answers the first error that is not nil.
func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
