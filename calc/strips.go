package calc

import (
	"math"
	"slices"
)

// StripTimes are the total times in seconds of a test strip's steps:
// base·2^(i·stepStops), the first step being base. Published: Lambrecht, f/stop
// timing; half and third stop series. A negative step goes down from base. base
// is more than 0, the step not 0 and within 4 stops, the count 1 to 40; anything
// else is a *RangeError.
func StripTimes(base, stepStops float64, count int) ([]float64, error) {
	err := firstError(above("base time", base, 0, 1e5, "s"), within("step", stepStops, -4, 4, "stops"),
		within("number of steps", float64(count), 1, 40, ""))
	if err == nil && stepStops == 0 {
		err = &RangeError{Quantity: "step", Value: 0, Max: 4, Unit: "stops", Above: true}
	}
	if err != nil {
		return nil, err
	}
	times := make([]float64, count)
	for i := range times {
		times[i] = base * math.Exp2(float64(i)*stepStops)
	}
	return times, within("longest time of the strip", times[count-1], 0, maxTimeS, "s")
}

// StripAdded are the times in seconds to give one after the other, covering one
// step more each time: the first total, then each step's difference to the one
// before. Their sum is the longest total. The totals must be more than 0 and
// grow; the steps of a falling series are given in rising order first.
func StripAdded(times []float64) ([]float64, error) {
	added := make([]float64, len(times))
	last := 0.0
	for i, t := range times {
		if err := above("total time of a step", t, last, maxTimeS, "s"); err != nil {
			return nil, err
		}
		added[i] = t - last
		last = t
	}
	return added, nil
}

// StripWarnings says where an exposure of a strip is so short that the hand's
// scatter sdS, in seconds, drowns the step: added times under twice sdS, within
// which 95 of 100 exposures with a cap lie. Our own rule. Added times are those
// of StripAdded, counted from 1. One warning tells of all such steps.
func StripWarnings(added []float64, sdS float64) []Warning {
	var short []int
	least, most := math.Inf(1), 0.0
	for i, a := range added {
		if a < 2*sdS*(1-1e-9) {
			short = append(short, i+1)
			least, most = min(least, a), max(most, a)
		}
	}
	times, scatter := []float64{roundTo3(least), roundTo3(most)}, roundTo3(2*sdS)
	switch len(short) {
	case 0:
		return nil
	case 1:
		return []Warning{{WarnStepShort, []any{short[0], times[0], scatter}}}
	}
	return []Warning{{WarnStepsShort, []any{short, slices.Compact(times), scatter}}}
}

// densityRead is the scatter of a density that was read on a step, and stepTells how much of a paper's range of density
// above base and below black a step must have to tell of its slope. Our own model.
const (
	densityRead = 0.03
	stepTells   = 0.04
)

// RangeOfSteps is the ISO range that the steps of a strip tell, by their exposures as log10 and their densities, on a paper
// between dmin and dmax: the slope of a line through the logits of the densities, for the curve is a logistic. known is the
// share to which the range is known, in 19 of 20 cases. Under three steps that tell a *TooFewError; steps whose densities
// do not rise with their exposures, or a range outside 10 to 400, a *RangeError. Our own model.
func RangeOfSteps(logH, densities []float64, dmin, dmax float64) (r, known float64, err error) {
	span := dmax - dmin
	var w, wx, wy, wxx, wxy float64
	n := 0
	for i := range min(len(logH), len(densities)) {
		p := (densities[i] - dmin) / span
		if !(p > stepTells && p < 1-stepTells) {
			continue
		}
		n++
		by := span * p * (1 - p) / densityRead // a density says less of the logit towards both ends
		weight, x, y := by*by, logH[i], paperLogit(p)
		w, wx, wy, wxx, wxy = w+weight, wx+weight*x, wy+weight*y, wxx+weight*x*x, wxy+weight*x*y
	}
	if n < 3 {
		return 0, 0, &TooFewError{"steps between base and black", n, 3}
	}
	spread := wxx - wx*wx/w
	k := (wxy - wx*wy/w) / spread
	c, err := NewCurve(1, 100, dmin, dmax) // its slope goes with 1 ÷ R
	if err != nil {
		return 0, 0, err
	}
	r = 100 * c.k / k
	if err := within("ISO range told by a strip", r, 10, 400, ""); err != nil {
		return 0, 0, err
	}
	return r, 2 / math.Sqrt(spread) / k, nil
}
