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
