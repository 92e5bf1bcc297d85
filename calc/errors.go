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

// Warning is what a careful hand would want to know beside a figure: which one, and the figures that it tells. Its
// sentence is made where it is shown.
type Warning struct {
	Code   WarningCode
	Fields []any
}

// WarningCode names a warning.
type WarningCode string

// The warnings, with the fields that they carry; times are in seconds.
const (
	WarnDeveloperSlow        WarningCode = "developer slow"
	WarnBathWarm             WarningCode = "bath warm"
	WarnBathExhausted        WarningCode = "bath exhausted"
	WarnTooBright            WarningCode = "too bright"              // the time, the least that a hand gives, the aperture and the factor of a filter that help
	WarnTooBrightStoppedDown WarningCode = "too bright stopped down" // the same, without an aperture
	WarnCapCoarse            WarningCode = "cap coarse"              // the time, and by how many stops it is off
	WarnNoReciprocity        WarningCode = "no reciprocity"          // the time that the figure of 1900 asks
	WarnLightDrifts          WarningCode = "light drifts"
	WarnSitterMoves          WarningCode = "sitter moves"
	WarnTooDark              WarningCode = "too dark"
	WarnStepShort            WarningCode = "step short"  // of a strip: its number, the time added, the hand's scatter
	WarnStepsShort           WarningCode = "steps short" // their numbers, the times added from the least to the most, the hand's scatter
)

// Bounds at which an exposure is warned of; our own choice.
const (
	longHoldS      = 30.0  // a sitter holds still no longer without a rest for the head
	longLightS     = 300.0 // natural light drifts within such a time
	longUnrecipS   = 10.0  // from here a paper never measured may be half a stop thin
	underExposedEV = -6.0  // below moonlight a meter guesses
)

// warn adds the warnings that belong to a called-for time, the weightiest first.
func (c *Called) warn(e Exposure, lightS, sd float64) {
	add := func(code WarningCode, fields ...any) { c.Warnings = append(c.Warnings, Warning{code, fields}) }
	hand, open := c.SetTimeS, c.TimeS
	if e.DoneS > 0 {
		hand, open = e.DoneS, e.DoneS
	}
	if c.TooBrightForCap {
		c.Warnings = append(c.Warnings, tooBright(c.TimeS, e.SetF))
	} else if long := 2 * sd; hand < CapSteadyS*sd/CapSDS*(1-1e-9) {
		add(WarnCapCoarse, hand, -shortSide(hand, long))
	}
	if e.P == 0 && lightS > longUnrecipS*(1+1e-9) {
		if t, err := Reciprocity(lightS, Reciprocity1900); err == nil {
			add(WarnNoReciprocity, roundTo3(t))
		}
	}
	switch {
	case open > longLightS:
		add(WarnLightDrifts)
	case open > longHoldS && !e.Copy:
		add(WarnSitterMoves)
	}
	if c.EV100 < underExposedEV {
		add(WarnTooDark)
	}
}

// shortSide is log2((t−d)/t), bounded at 2 stops where little or nothing is left.
func shortSide(t, d float64) float64 {
	return math.Max(-2, math.Log2(math.Max(t-d, t/8)/t))
}

// tooBright warns that a cap cannot give so short a time, and tells what helps.
func tooBright(timeS, setF float64) Warning {
	need := CapShortestS / timeS
	factor := math.Ceil(need - 1e-9)
	if f := fullStopAtLeast(ExactF(setF) * math.Sqrt(need)); f != 0 {
		return Warning{WarnTooBright, []any{roundTo3(timeS), CapShortestS, f, factor}}
	}
	return Warning{WarnTooBrightStoppedDown, []any{roundTo3(timeS), CapShortestS, factor}}
}

// roundTo3 rounds to three figures, for what is told only.
func roundTo3(v float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	return r
}
