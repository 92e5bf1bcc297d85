package calc

import "math"

// Where a bath's state changes, as shares of its capacity.
const (
	BathFreshBelow     = 0.2
	BathTiredShare     = 0.8
	BathExhaustedShare = 1.0
)

// The states of a bath.
const (
	BathFresh     = "fresh"
	BathWorking   = "working"
	BathTired     = "tired"
	BathExhausted = "exhausted"
	BathPastLife  = "past its tray life"
)

// BathState is the state of a bath by the share of its capacity that it has seen
// and the hours it stood in the open tray: fresh below 0.2, working, tired from
// 0.8, exhausted from 1, past its tray life. Exhausted goes before that. A life of 0 or
// less is no limit; a used share that is not known counts as 0.
func BathState(used, trayH, lifeH float64) string {
	switch {
	case used >= BathExhaustedShare:
		return BathExhausted
	case lifeH > 0 && trayH > lifeH:
		return BathPastLife
	case used >= BathTiredShare:
		return BathTired
	case used >= BathFreshBelow:
		return BathWorking
	}
	return BathFresh
}

// SheetArea is the area of a sheet in square metres from its sides in
// millimetres (more than 0 to 10000).
func SheetArea(widthMM, heightMM float64) (float64, error) {
	if err := firstError(
		above("width of the sheet", widthMM, 0, 10000, "mm"),
		above("height of the sheet", heightMM, 0, 10000, "mm"),
	); err != nil {
		return 0, err
	}
	return widthMM * heightMM / 1e6, nil
}

// Sheet8x10Area is the area in square metres of the sheet that capacities are
// published in: 8 × 10 inches.
const Sheet8x10Area = 8 * 25.4 * 10 * 25.4 / 1e6

// FixerSheetsPerLitre is the capacity of a litre of working fixer, as sheets of
// 8×10 in: the safe rule for one acid bath. Published: The Darkroom Cookbook, 3rd
// ed., p. 108.
const FixerSheetsPerLitre = 20.0

// Capacities and lives of baths that name none: square metres per litre of
// working bath, hours in the open tray.
const (
	// FixerCapacityM2 is FixerSheetsPerLitre as an area.
	FixerCapacityM2 = FixerSheetsPerLitre * Sheet8x10Area
	// DeveloperCapacityM2, StopCapacityM2 and the tray lives are common practice
	// without a source.
	DeveloperCapacityM2 = 1.0
	StopCapacityM2      = 1.5
	DeveloperTrayH      = 8.0
	StopTrayH           = 24.0
	FixerTrayH          = 24.0
)

// BathDefaults is what a bath of a role (`developer`, `stop`, `fixer`, others)
// does when its label says nothing: capacity in square metres for its volume in
// millilitres and hours of life in the open tray. 0 means that no limit is
// known, as for water, washing aid and toner. volumeML runs from 0 to 1e6.
func BathDefaults(role string, volumeML float64) (capacityM2, trayH float64, err error) {
	if err := within("volume of the bath", volumeML, 0, 1e6, "ml"); err != nil {
		return 0, 0, err
	}
	litres := volumeML / 1000
	switch role {
	case "developer":
		return DeveloperCapacityM2 * litres, DeveloperTrayH, nil
	case "stop":
		return StopCapacityM2 * litres, StopTrayH, nil
	case "fixer":
		return FixerCapacityM2 * litres, FixerTrayH, nil
	}
	return 0, 0, nil
}

// UsedShare is the share of a bath's capacity that an area has taken, both in
// square metres. A capacity of 0 is unknown and gives 0.
func UsedShare(areaM2, capacityM2 float64) (float64, error) {
	if err := firstError(
		within("area treated", areaM2, 0, 1e6, "m²"),
		within("capacity of the bath", capacityM2, 0, 1e6, "m²"),
	); err != nil {
		return 0, err
	}
	if capacityM2 == 0 {
		return 0, nil
	}
	if used := areaM2 / capacityM2; !math.IsInf(used, 0) {
		return used, nil
	}
	return 0, &RangeError{Quantity: "capacity of the bath", Value: capacityM2, Min: 0, Max: 1e6, Unit: "m²", Above: true}
}

// BathCall is a developer or a fixer as a sheet finds it: the one place that
// knows which formula serves which bath.
type BathCall struct {
	Fixer    bool    // else a developer
	NominalS float64 // seconds, in the fresh bath at NominalC
	NominalC float64 // °C
	TempC    float64 // °C, as the bath stands
	Q10      float64 // how much faster it works when 10 °C warmer
	Used     float64 // share of its capacity that it has seen, 0 to 10
}

// Time is the time in seconds that the bath calls for, with warnings: DevelopTime
// or FixTime, and their errors.
func (b BathCall) Time() (timeS float64, warnings []Warning, err error) {
	if b.Fixer {
		return FixTime(b.NominalS, b.NominalC, b.TempC, b.Q10, b.Used)
	}
	return DevelopTime(b.NominalS, b.NominalC, b.TempC, b.Q10, b.Used)
}

// Warmth is the factor on the time for the temperature: TemperatureFactor.
func (b BathCall) Warmth() (float64, error) {
	return TemperatureFactor(b.NominalC, b.TempC, b.Q10)
}

// Growth is the factor on the time for the share of the capacity used: 1 + 0.5·u
// of a developer, 2^u of a fixer. See DevelopTime and FixTime for the sources.
func (b BathCall) Growth() float64 {
	if b.Fixer {
		return FixerGrowth(b.Used)
	}
	return DeveloperGrowth(b.Used)
}

// At is the same bath at another temperature, °C.
func (b BathCall) At(tempC float64) BathCall {
	b.TempC = tempC
	return b
}

// Fixing.
const (
	// FixPerClearing is the fixing time in clearing times. Published: US Navy
	// NAVEDTRA 14209, Life of a Fixing Bath.
	FixPerClearing = 2.0
	// FixBleachRatio and FixBleachS are the limits over which the highlights bleach:
	// four times the called-for time, or ten minutes. Common practice.
	FixBleachRatio = 4.0
	FixBleachS     = 600.0
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
// Warnings tell of a warm or exhausted bath; outside the ranges a *RangeError.
func FixTime(nominalS, nominalC, tempC, q10, used float64) (timeS float64, warnings []Warning, err error) {
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

// PaperSilverGM2 is the most silver in grams that a square metre of black and
// white paper holds. Second-hand: 50 to 150 mg a square foot, apug.org post 1448637.
const PaperSilverGM2 = 1.6

// FixMostRCS is the longest in seconds that a resin-coated sheet stays in the
// fixer: beyond it fixer creeps in at the edges, under the coating, and does not
// wash out. Published: analogue-photography.org knowledge base, Fixing Prints.
const FixMostRCS = 120.0

// FixCreeps is true where resin-coated paper lay in the fixer for longer than
// FixMostRCS, and than was called for. Both in seconds.
func FixCreeps(base Base, givenS, calledForS float64) bool {
	return base == ResinCoated && givenS > FixMostRCS && givenS > calledForS
}

// FixTooLong is true where fixing went on so long that the highlights bleach: over
// four times the called-for time, or over ten minutes where less than that was
// called for. Both in seconds. Common practice.
func FixTooLong(givenS, calledForS float64) bool {
	return givenS > FixBleachS && givenS > calledForS || calledForS > 0 && givenS > FixBleachRatio*calledForS
}

// How a developer ages past its life. Our own model.
const (
	// oldBathGrowth is what a whole tray life past its end adds to a developer's
	// time, as a share of it.
	oldBathGrowth = 0.5
	oldBathMost   = 4.0
)

// OldDeveloperGrowth is the factor on a developer's time after trayH hours in
// the open tray of a life of lifeH: 1 within the life, half as much again for
// every life past its end, to 4. Hours from 0 to 1e5; a life of 0 is no limit.
// Our own model.
func OldDeveloperGrowth(trayH, lifeH float64) (float64, error) {
	if err := firstError(
		within("hours in the tray", trayH, 0, 1e5, "h"),
		within("life of the bath in the tray", lifeH, 0, 1e5, "h"),
	); err != nil {
		return 0, err
	}
	if lifeH == 0 || trayH <= lifeH {
		return 1, nil
	}
	return math.Min(oldBathMost, 1+oldBathGrowth*(trayH/lifeH-1)), nil
}
