package calc

import (
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
func (e *RangeError) Error() string { return e.Says() + "; " + e.May() }

// Says is what lies outside.
func (e *RangeError) Says() string {
	if math.IsNaN(e.Value) {
		return e.Quantity + " is not a number"
	}
	return e.Quantity + " of " + strings.TrimSpace(e.number(e.Value)) + " is outside what can be calculated"
}

// May is where it must lie.
func (e *RangeError) May() string {
	low := "at least "
	if e.Above {
		low = "more than "
	}
	switch minless, maxless := math.IsInf(e.Min, -1), math.IsInf(e.Max, 1); {
	case minless && maxless:
		return "it must be a finite number"
	case minless:
		return "it must be at most " + e.number(e.Max)
	case maxless:
		return "it must be " + low + e.number(e.Min)
	case e.Above:
		return "it must be " + low + e.number(e.Min) + " and at most " + e.number(e.Max)
	}
	return "it must be between " + e.number(e.Min) + " and " + e.number(e.Max)
}

func (e *RangeError) number(v float64) string {
	if e.Unit == "" {
		return plain(v)
	}
	return plain(v) + " " + e.Unit
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
