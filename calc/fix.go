package calc

import "math"

// Fixing.
const (
	// FixPerClearing is the fixing time in clearing times. Published: US Navy
	// NAVEDTRA 14209, Life of a Fixing Bath.
	FixPerClearing = 2.0
	// FixerDeadAt is the growth of the clearing time at which a fixer is dead.
	// Published: same source.
	FixerDeadAt = 2.0
	// FixBleachRatio and FixBleachS are the limits over which the lights bleach:
	// four times the called-for time, or ten minutes. Common practice.
	FixBleachRatio = 4.0
	FixBleachS     = 600.0
	// FixMostRC is the longest fixing a resin-coated sheet should get. Published:
	// analogue-photography.org, Fixing Prints.
	FixMostRC = 120.0
	// FixShortBelow is the share of the called-for fixing under which it counts
	// as short. Our own model.
	FixShortBelow = 0.85
)

// FixTime is the fixing time in seconds a bath calls for: its nominal time (more
// than 0, up to a day) at nominalC, moved to tempC by q10 and grown by the share
// of its capacity that it has seen (0 to 10):
//
//	t = t0 · 2^u · q10^((T0 − T)/10)
//
// The doubling per 10 °C is published (US Army TM 11-2323 s. 33), the growth by
// use our own model: at u = 1 the time has doubled and the bath is dead.
// Warnings tell of a warm or spent bath; outside the ranges a *RangeError.
func FixTime(nominalS, nominalC, tempC, q10, used float64) (timeS float64, warnings []string, err error) {
	if err := firstError(
		above("nominal time of fixing", nominalS, 0, 86400, "s"),
		within("used share of the fixer", used, 0, 10, ""),
	); err != nil {
		return 0, nil, err
	}
	factor, err := TemperatureFactor(nominalC, tempC, q10)
	if err != nil {
		return 0, nil, err
	}
	return nominalS * FixerGrowth(used) * factor, bathWarnings(tempC, used), nil
}

// FixerGrowth is the factor on a fixer's time at a share of its capacity: 2^u, so
// that it has doubled, and the bath is dead, at u = 1. Our own model upon the
// published end point.
func FixerGrowth(usedShare float64) float64 {
	return math.Exp2(math.Max(0, usedShare))
}

// FixTimeFromClearing is the fixing time in seconds for a clearing time in
// seconds, more than 0 up to a day: twice. Published: US Navy NAVEDTRA 14209.
func FixTimeFromClearing(clearingS float64) (float64, error) {
	if err := above("clearing time", clearingS, 0, 86400, "s"); err != nil {
		return 0, err
	}
	return FixPerClearing * clearingS, nil
}

// FixerUsedFromClearing is the share of a fixer's capacity that its clearing
// time tells: log2(now ÷ fresh), never under 0, 1 when it has doubled. Both in
// seconds, at the same temperature. Our own model upon the published end point.
func FixerUsedFromClearing(nowS, freshS float64) (float64, error) {
	if err := firstError(
		above("clearing time now", nowS, 0, 86400, "s"),
		above("clearing time of the fresh bath", freshS, 0, 86400, "s"),
	); err != nil {
		return 0, err
	}
	used := math.Max(0, math.Log2(nowS)-math.Log2(freshS))
	return used, nil
}

// FixerDeadClearing is the clearing time in seconds at which a bath that cleared
// in freshS seconds is dead: twice. Published: US Navy NAVEDTRA 14209.
func FixerDeadClearing(freshS float64) (float64, error) {
	if err := above("clearing time of the fresh bath", freshS, 0, 86400, "s"); err != nil {
		return 0, err
	}
	return FixerDeadAt * freshS, nil
}

// FixTooLong is true where fixing went on so long that the lights bleach: over
// four times the called-for time, or over ten minutes where less than that was
// called for. Both in seconds. Common practice.
func FixTooLong(givenS, calledForS float64) bool {
	return givenS > FixBleachS && givenS > calledForS || calledForS > 0 && givenS > FixBleachRatio*calledForS
}
