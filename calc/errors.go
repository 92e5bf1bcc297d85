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
	return fmt.Sprintf("%s of %s is outside what can be calculated; it must be %s",
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

// Bounds at which an exposure draws a remark; our own choice.
const (
	longHoldS      = 30.0  // a sitter holds still no longer without a rest for the head
	longLightS     = 300.0 // natural light drifts within such a time
	longUnrecipS   = 10.0  // from here a paper never measured may be half a stop thin
	underExposedEV = -6.0  // below moonlight a meter guesses
)

// warn adds the remarks that belong to a called-for time, the weightiest first.
func (c *Called) warn(e Exposure, lightS, sd float64) {
	if c.TooBrightForCap {
		c.Warnings = append(c.Warnings, tooBright(c.TimeS, e.SetF))
	} else if long := 2 * sd; c.SetTimeS < CapSteadyS*sd/CapSDS*(1-1e-9) {
		c.Warnings = append(c.Warnings, fmt.Sprintf(
			"at %s s a cap is off by up to %.1f stop in either direction; a smaller aperture gives the hand more time", number(c.SetTimeS), -shortSide(c.SetTimeS, long)))
	}
	if e.P == 0 && lightS > longUnrecipS*(1+1e-9) {
		if t, err := Reciprocity(lightS, Reciprocity1900); err == nil {
			c.Warnings = append(c.Warnings, fmt.Sprintf(
				"no reciprocity exponent is known for this paper; with 0.86, the figure of 1900, it would ask %s s", number(roundTo3(t))))
		}
	}
	switch {
	case c.TimeS > longLightS:
		c.Warnings = append(c.Warnings, "the light changes within so long a time; read it again halfway and stop when the sum is reached")
	case c.TimeS > longHoldS && !e.Copy:
		c.Warnings = append(c.Warnings, "a sitter does not hold still so long; give the head a rest or open the aperture")
	}
	if c.EV100 < underExposedEV {
		c.Warnings = append(c.Warnings, "so little light is under what meters read reliably; make a strip first")
	}
}

// shortSide is log2((t−d)/t), bounded at 2 stops where little or nothing is left.
func shortSide(t, d float64) float64 {
	return math.Max(-2, math.Log2(math.Max(t-d, t/8)/t))
}

// tooBright says that a cap cannot give so short a time, and what helps.
func tooBright(timeS, setF float64) string {
	need := CapShortestS / timeS
	s := fmt.Sprintf("the light is too strong for a cap: %s s is called for, too short to time by hand (about %s s at least)", number(roundTo3(timeS)), number(CapShortestS))
	if f := fullStopAtLeast(ExactF(setF) * math.Sqrt(need)); f != 0 {
		s += fmt.Sprintf("; stop down to f/%s", number(f))
		s += fmt.Sprintf(", put a filter of factor %s before the lens", number(math.Ceil(need-1e-9)))
	} else {
		s += fmt.Sprintf("; put a filter of factor %s before the lens", number(math.Ceil(need-1e-9)))
	}
	return s + ", move into shade, or come back later in the day"
}

// number writes a number as a person would, without exponent or dead zeros.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// roundTo3 rounds to three figures, for sentences only.
func roundTo3(v float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	return r
}
