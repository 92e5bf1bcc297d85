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

// NearestThird is a number of stops rounded to the nearest third, as meters and
// tables of filter factors give them.
func NearestThird(stops float64) float64 { return math.Round(stops*3) / 3 }

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

// FilterFactorOfDensity is the factor of a neutral filter of the given density
// (log10 of opacity, 0 to 9): 10^density. Published: encyclopaedia article
// "Filter factor". A density outside is a *RangeError.
func FilterFactorOfDensity(density float64) (float64, error) {
	if err := within("density of a filter", density, 0, 9, ""); err != nil {
		return 0, err
	}
	return math.Pow(10, density), nil
}

// IndexBehindFilter is the index to set on a meter that does not look through
// the filter: index ÷ factor. Published: training manual, ISO 400 behind a
// factor of 4 meters as 100. An index not above 0 or a factor under 1 is a
// *RangeError.
func IndexBehindFilter(index, factor float64) (float64, error) {
	if err := firstError(checkIndex(index), within("filter factor", factor, 1, 1e9, "")); err != nil {
		return 0, err
	}
	return index / factor, nil
}

// Additive values of exposure (APEX): Ev = Av + Tv = Bv + Sv = Iv + Sv.
// Published: ASA PH2.5-1960 and ANSI PH3.49-1971 as quoted in encyclopaedia
// articles. The constants are tied so that the sums come out with K and C of
// ISO 2720: speed 3.125 and brightness 0.32·K have the value 0.

// Av is the aperture value of an exact relative aperture: 2·log2(N). Unlike EV
// it takes the number, not the mark: Av(ExactF(11)) is 7.
func Av(n float64) (float64, error) {
	if err := checkF(n); err != nil {
		return 0, err
	}
	return 2 * math.Log2(n), nil
}

// FFromAv is the exact relative aperture of an aperture value: 2^(Av/2).
func FFromAv(av float64) (float64, error) {
	if err := within("aperture value", av, -22, 22, ""); err != nil {
		return 0, err
	}
	return math.Exp2(av / 2), nil
}

// Tv is the time value of a time in seconds: −log2(t).
func Tv(timeS float64) (float64, error) {
	if err := checkTime(timeS); err != nil {
		return 0, err
	}
	return -math.Log2(timeS), nil
}

// TimeFromTv is the time in seconds of a time value: 2^−Tv.
func TimeFromTv(tv float64) (float64, error) {
	if err := within("time value", tv, -29, maxStops, ""); err != nil {
		return 0, err
	}
	return math.Exp2(-tv), nil
}

// Sv is the speed value of an index: log2(index/3.125), 5 at ISO 100.
func Sv(index float64) (float64, error) {
	if err := checkIndex(index); err != nil {
		return 0, err
	}
	return math.Log2(index / 3.125), nil
}

// Bv is the brightness value of a luminance in cd/m²: log2(L/(0.32·K)).
func Bv(cdm2, k float64) (float64, error) {
	if err := firstError(checkLum(cdm2), checkK(k)); err != nil {
		return 0, err
	}
	return math.Log2(cdm2 / (0.32 * k)), nil
}

// SpeedDegrees is the index on the logarithmic scale of DIN and ISO, in
// degrees: 10·log10(index) + 1, so 3 is 6°, 100 is 21°. Published: lists of ISO
// speeds on both scales; they print it rounded.
func SpeedDegrees(index float64) (float64, error) {
	if err := checkIndex(index); err != nil {
		return 0, err
	}
	return 10*math.Log10(index) + 1, nil
}
