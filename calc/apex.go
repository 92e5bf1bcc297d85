package calc

import "math"

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
