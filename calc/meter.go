package calc

import "math"

// Constants of exposure meters. Published: ISO 2720:1974, which recommends K
// between 10.6 and 13.4, C between 240 and 400 for a flat receptor and between
// 320 and 540 for a dome.
const (
	// K relates luminance to exposure for a reflected-light meter.
	K = 12.5
	// CFlat relates illuminance to exposure for a flat receptor.
	CFlat = 250.0
	// CDome relates illuminance to exposure for a hemispherical receptor.
	CDome = 330.0
)

// The bounds below are far beyond any camera; they keep formulas off infinity.
func checkF(f float64) error         { return within("aperture", f, 0.5, maxF, "") }
func checkTime(timeS float64) error  { return within("time", timeS, minTimeS, maxTimeS, "s") }
func checkIndex(index float64) error { return within("index", index, minIndex, maxIndex, "") }
func checkEV(ev float64) error       { return within("exposure value", ev, -maxStops, maxStops, "EV") }
func checkLux(lux float64) error     { return within("illuminance", lux, 1e-6, 1e8, "lx") }
func checkLum(cdm2 float64) error    { return within("luminance", cdm2, 1e-7, 1e9, "cd/m²") }

// checkC is wide on purpose: it takes the constant of either receptor and those
// of older standards; it only refuses what can be no meter constant.
func checkC(c float64) error { return within("meter constant C", c, 50, 1000, "") }
func checkK(k float64) error { return within("meter constant K", k, 5, 50, "") }

func rawEV(f, timeS float64) float64 {
	n := ExactF(f)
	return math.Log2(n * n / timeS)
}

// EV100FromEV turns an exposure value read at an index into the one that the
// same light has at ISO 100: EV − log2(index/100). Derived from ISO 2720.
func EV100FromEV(ev, index float64) (float64, error) {
	if err := firstError(checkEV(ev), checkIndex(index)); err != nil {
		return 0, err
	}
	return ev - math.Log2(index/100), nil
}

// EV100FromExposure is the light, as exposure value at ISO 100, of a meter that
// answers f (mark) and timeS (seconds) when set to index:
// log2(N²/t) − log2(index/100). Published: ISO 2720. By common practice f/8 and
// 1 s at index 3 are EV 11 at ISO 100.
func EV100FromExposure(f, timeS, index float64) (float64, error) {
	if err := firstError(checkF(f), checkTime(timeS), checkIndex(index)); err != nil {
		return 0, err
	}
	return rawEV(f, timeS) - math.Log2(index/100), nil
}

// ExposureTime is the time in seconds that the light ev100 asks of an index at
// an aperture mark, with nothing between lens and paper and the subject far
// away: the inverse of EV100FromExposure.
func ExposureTime(ev100, f, index float64) (float64, error) {
	if err := firstError(checkEV(ev100), checkF(f), checkIndex(index)); err != nil {
		return 0, err
	}
	n := ExactF(f)
	return n * n / math.Exp2(ev100) * 100 / index, nil
}

// EV100FromLux is the exposure value at ISO 100 of an illuminance in lux:
// log2(E·100/C), C the receptor's constant, CFlat or CDome. Published: ISO 2720.
func EV100FromLux(lux, c float64) (float64, error) {
	if err := firstError(checkLux(lux), checkC(c)); err != nil {
		return 0, err
	}
	return math.Log2(lux * 100 / c), nil
}

// EV100FromLuminance is the exposure value at ISO 100 of a luminance in cd/m²:
// log2(L·100/K). Published: ISO 2720.
func EV100FromLuminance(cdm2, k float64) (float64, error) {
	if err := firstError(checkLum(cdm2), checkK(k)); err != nil {
		return 0, err
	}
	return math.Log2(cdm2 * 100 / k), nil
}
