package calc

import "math"

// Widest values that are calculated with. Far beyond anything a camera meets,
// near enough that no formula here runs into infinity.
const (
	minTimeS = 1e-6
	maxTimeS = 1e9
	maxF     = 1024
	minIndex = 0.001
	maxIndex = 1e6
	maxStops = 64
)

// Stops is the step in exposure that a ratio of times, lights or areas makes,
// in stops: log2(ratio); 2 is one stop more, 0.5 one less. The ratio is more
// than 0. Derived from the meaning of a stop. Any other ratio is a *RangeError.
func Stops(ratio float64) (float64, error) {
	if err := above("ratio", ratio, 0, math.Inf(1), ""); err != nil {
		return 0, err
	}
	return math.Log2(ratio), nil
}

// Ratio is the ratio that a step in stops makes: 2^stops, for steps between -64
// and 64. Derived from the meaning of a stop. A step beyond is a *RangeError.
func Ratio(stops float64) (float64, error) {
	if err := within("step", stops, -maxStops, maxStops, "stops"); err != nil {
		return 0, err
	}
	return math.Exp2(stops), nil
}

// MoveTime is the time, in seconds, that lies the given number of stops from
// timeS (+ = longer). Derived: t·2^stops. A time outside 1e-6 to 1e9 s, or a
// step beyond 64 stops, is a *RangeError.
func MoveTime(timeS, stops float64) (float64, error) {
	r, err := Ratio(stops)
	if err := firstError(err, checkTime(timeS)); err != nil {
		return 0, err
	}
	return timeS * r, nil
}

// FilterFactor is the factor by which several filters in front of one lens
// lengthen the exposure: the product of their factors, each at least 1;
// without any it is 1. Published: encyclopaedia article "Filter factor".
//
// A factor holds for one paper under one light. Factors printed for
// panchromatic or orthochromatic film do not serve a blue-sensitive paper: a
// yellow of factor 2 on film asked 15 of an ordinary ortho film. A factor under
// 1 is a *RangeError.
func FilterFactor(factors ...float64) (float64, error) {
	product := 1.0
	for _, f := range factors {
		if err := within("filter factor", f, 1, 1e9, ""); err != nil {
			return 0, err
		}
		product *= f
	}
	return product, within("product of the filter factors", product, 1, 1e12, "")
}
