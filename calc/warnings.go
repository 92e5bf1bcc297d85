package calc

import (
	"math"
	"strconv"
)

// From where on a deviation is told or an age shows. Below these a sheet is as
// it was called for.
const (
	// FloorStops is the least deviation of an exposure that is told, in stops. Our own model.
	FloorStops = 0.15
	// FloorTempC is the least deviation of a bath's temperature that is told, in kelvin. Our own model.
	FloorTempC = 1.5
	// BathOldFrom is the share of its life in the tray or bottle from which a bath's age shows. Our own model.
	BathOldFrom = 1.2
	// BathOldLeast is the least factor by which a bath that is so old is slowed. Our own model.
	BathOldLeast = 1.25
	// FixerSilverGL is the silver in a fixer, g/l, from which it leaves compounds in
	// the sheet that do not wash out. Common practice.
	FixerSilverGL = 2.0
)

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
	WarnHydroquinoneStopped  WarningCode = "hydroquinone stopped"
	WarnBathWarm             WarningCode = "bath warm"
	WarnBathExhausted        WarningCode = "bath exhausted"
	WarnTooBright            WarningCode = "too bright"              // the time, the least that a hand gives, the aperture and the factor of a filter that help
	WarnTooBrightStoppedDown WarningCode = "too bright stopped down" // the same, without an aperture
	WarnCapCoarse            WarningCode = "cap coarse"              // the time, and by how many stops it is off
	WarnCapCoarseStoppedDown WarningCode = "cap coarse stopped down" // the same
	WarnNoReciprocity        WarningCode = "no reciprocity"          // the time that the figure of 1900 asks
	WarnLightDrifts          WarningCode = "light drifts"
	WarnSitterMoves          WarningCode = "sitter moves"
	WarnSitterMovesOpen      WarningCode = "sitter moves open"
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
		c.Warnings = append(c.Warnings, tooBright(c.TimeS, e.SetF, e.SmallestF))
	} else if long := 2 * sd; hand < CapSteadyS*sd/CapSDS*(1-1e-9) {
		code := WarnCapCoarse
		if e.SmallestF > 0 && ExactF(e.SetF) >= ExactF(e.SmallestF)*(1-markPlay) {
			code = WarnCapCoarseStoppedDown
		}
		add(code, hand, -shortSide(hand, long))
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
		code := WarnSitterMoves
		if e.WidestF > 0 && ExactF(e.SetF) <= ExactF(e.WidestF)*(1+markPlay) {
			code = WarnSitterMovesOpen
		}
		add(code)
	}
	if c.EV100 < underExposedEV {
		add(WarnTooDark)
	}
}

// shortSide is log2((t−d)/t), bounded at 2 stops where little or nothing is left.
func shortSide(t, d float64) float64 {
	return math.Max(-2, math.Log2(math.Max(t-d, t/8)/t))
}

// markPlay is by how much two names of one mark of a lens may differ.
const markPlay = 0.03

// tooBright warns that a cap cannot give so short a time, and tells what helps. An
// aperture that the lens does not have, beyond smallestF, helps nobody; 0 for not
// known.
func tooBright(timeS, setF, smallestF float64) Warning {
	need := CapShortestS / timeS
	factor := math.Ceil(need - 1e-9)
	if f := fullStopAtLeast(ExactF(setF) * math.Sqrt(need)); f != 0 && (smallestF == 0 || ExactF(f) <= ExactF(smallestF)*(1+markPlay)) {
		return Warning{WarnTooBright, []any{roundTo3(timeS), CapShortestS, f, factor}}
	}
	return Warning{WarnTooBrightStoppedDown, []any{roundTo3(timeS), CapShortestS, factor}}
}

// roundTo3 rounds to three figures, for what is told only.
func roundTo3(v float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	return r
}
