package calc

import "math"

// Base is what a paper's emulsion is coated on.
type Base string

// The two bases.
const (
	ResinCoated Base = "rc"
	FibreBase   Base = "fb"
)

// What a wash is calculated with.
const (
	// CarryRC and CarryFB are what a sheet carries over, millilitres per square
	// metre. Common practice, low confidence.
	CarryRC = 30.0
	CarryFB = 200.0
	// SoakTauRC and SoakTauFB are the times in seconds in which a soak at 20 °C
	// lets the hypo in the sheet fall to 1/e; both double per 10 °C colder. Our
	// own model.
	SoakTauRC = 10.0
	SoakTauFB = 60.0
	// SorbedFB is the share of the hypo in fibre base that is held by fibre and
	// baryta, and SorptionTau the time in seconds in which a wash at 20 °C lets that
	// fall to 1/e; a washing aid quarters it. Our own model of what is published: that
	// it leaves the paper much more slowly, and the more slowly the less there is
	// (Clerc s. 607).
	SorbedFB    = 0.05
	SorptionTau = 840.0
	// CarriedHypo is the thiosulphate in what comes out of the fixer, grams per
	// litre. Common practice.
	CarriedHypo = 100.0
	// WashLimit is the thiosulphate, grams per square metre, over which a wash
	// counts as short. Published for film, 1.4 µg/cm²; that of the standard for
	// prints, ISO 18929, is not known here.
	WashLimit = 0.014
	// WashShortShare is the share of the called-for wash under which it counts as
	// short. Our own model.
	WashShortShare = 0.5
	// WashVolumeML is the water of one change where nobody wrote it down. Common
	// practice.
	WashVolumeML = 1000.0
)

// carry and tau answer for a base; anything but fibre counts as resin-coated.
func (b Base) carry() float64 {
	if b == FibreBase {
		return CarryFB
	}
	return CarryRC
}

func (b Base) tau() float64 {
	if b == FibreBase {
		return SoakTauFB
	}
	return SoakTauRC
}

// CarryOver is what sheets of a base carry into a water, millilitres, from the
// area in square metres (0 to 1000). Common practice, low confidence.
func CarryOver(base Base, areaM2 float64) (float64, error) {
	if err := within("area of the sheets", areaM2, 0, 1000, "m²"); err != nil {
		return 0, err
	}
	return base.carry() * areaM2, nil
}

// SoakTau is the time in seconds in which a soak at tempC (0 to 60 °C) lets the
// hypo held in a sheet fall to 1/e: 60 fibre base, 10 resin-coated, doubled per
// 10 °C below 20. Our own model; the doubling is published (US Army TM 11-2323
// s. 33d).
func SoakTau(base Base, tempC float64) (float64, error) {
	if err := within("temperature of the wash", tempC, 0, 60, "°C"); err != nil {
		return 0, err
	}
	return base.tau() * WashTemperatureFactor(tempC), nil
}

// WashTemperatureFactor is the factor on a wash's time at tempC: doubled per
// 10 °C below 20, never under 1. Published: US Army TM 11-2323 s. 33d.
func WashTemperatureFactor(tempC float64) float64 {
	return math.Exp2(math.Max(0, BathTempC-tempC) / 10)
}

// SoakLeaves is e, the share of the hypo in a sheet that a soak of soakS seconds
// (0 to a week) leaves undiffused: exp(−s/τ). Our own model.
func SoakLeaves(base Base, soakS, tempC float64) (float64, error) {
	if err := within("soak", soakS, 0, 7*86400, "s"); err != nil {
		return 0, err
	}
	tau, err := SoakTau(base, tempC)
	if err != nil {
		return 0, err
	}
	return math.Exp(-soakS / tau), nil
}

// WashChange is q, the share of the hypo that one change leaves: e + (1 − e)·c
// ÷ (V + c), with e what the soak leaves undiffused (0 for plain dilution), c
// what the sheets carry over and V the fresh water, both millilitres, V more
// than 0. Derived, upon SoakLeaves.
func WashChange(volumeML, carryML, undiffused float64) (float64, error) {
	if err := firstError(
		above("water of one change", volumeML, 0, 1e6, "ml"),
		within("liquid carried over", carryML, 0, 1e6, "ml"),
		within("share left by the soak", undiffused, 0, 1, ""),
	); err != nil {
		return 0, err
	}
	return math.Min(1, undiffused+(1-undiffused)*carryML/(volumeML+carryML)), nil
}

// WashResidual is the share of the hypo left after a number of changes (0 to
// 1000, fractions allowed): q^n, q as in WashChange. Published for plain
// dilution.
func WashResidual(changes, volumeML, carryML, undiffused float64) (float64, error) {
	q, err := WashChange(volumeML, carryML, undiffused)
	if err != nil {
		return 0, err
	}
	if err := within("changes of water", changes, 0, 1000, ""); err != nil {
		return 0, err
	}
	return math.Pow(q, changes), nil
}

// WashChangesFor is the least whole number of changes after which no more than
// target of the hypo (more than 0, up to 1) is left. Where even a thousand
// changes do not reach it, a *RangeError.
func WashChangesFor(target, volumeML, carryML, undiffused float64) (int, error) {
	q, err := WashChange(volumeML, carryML, undiffused)
	if err != nil {
		return 0, err
	}
	if err := above("share of hypo to be left", target, 0, 1, ""); err != nil {
		return 0, err
	}
	if target == 1 {
		return 0, nil
	}
	n := 1.0 // with nothing carried over, one change leaves nothing
	switch {
	case q >= 1:
		return 0, &RangeError{Quantity: "share that one change leaves", Value: q, Min: 0, Max: 1}
	case q > 0:
		n = math.Log(target) / math.Log(q)
		n = math.Max(1, math.Ceil(n-1e-9)) // 1e-9: q^n meets the target to the last digit
	}
	if err := within("changes of water needed", n, 0, 1000, ""); err != nil {
		return 0, err
	}
	return int(n), nil
}

// WashVolumeFor is the water of each change in millilitres so that n changes (1
// to 1000) leave no more than target (more than 0, less than 1) by dilution:
// c·(target^(−1/n) − 1). Derived: many small changes need less water in all than
// one large one.
func WashVolumeFor(target float64, changes int, carryML float64) (float64, error) {
	if err := firstError(
		within("share of hypo to be left", target, 1e-12, 1-1e-9, ""),
		within("changes of water", float64(changes), 1, 1000, ""),
		within("liquid carried over", carryML, 0, 1e6, "ml"),
	); err != nil {
		return 0, err
	}
	return carryML * (math.Pow(target, -1/float64(changes)) - 1), nil
}

// LeastWater is the water in millilitres that no number of changes can go below
// for a target by dilution: c·ln(1/target). Derived, the limit of WashVolumeFor.
func LeastWater(target, carryML float64) (float64, error) {
	if err := firstError(
		within("share of hypo to be left", target, 1e-12, 1, ""),
		within("liquid carried over", carryML, 0, 1e6, "ml"),
	); err != nil {
		return 0, err
	}
	return carryML * -math.Log(target), nil
}

// WashPlan is a wash that is called for: changes of SoakS seconds each, or
// RunningS seconds in running water instead.
type WashPlan struct {
	Changes  int
	SoakS    float64
	RunningS float64
}

// WashCalledFor is the wash a base calls for: fibre 12 × 5 minutes or an hour
// running, a quarter of it after a washing aid; resin-coated 4 × 30 seconds or 2
// minutes, with or without. Published for fibre base: Clerc s. 607, 30 minutes for
// thin papers to 90 for thick ones, in running water or water renewed every five
// minutes; an hour lies between. The others are common practice.
func WashCalledFor(base Base, aid bool) WashPlan {
	switch {
	case base != FibreBase:
		return WashPlan{Changes: 4, SoakS: 30, RunningS: 120}
	case aid:
		return WashPlan{Changes: 3, SoakS: 300, RunningS: 900}
	}
	return WashPlan{Changes: 12, SoakS: 300, RunningS: 3600}
}

// WashTimeKnown are the shares of the called-for wash between which the trade gives it.
// Published for fibre base: Clerc s. 607, 30 minutes for thin papers to 90 for thick ones.
// For resin-coated paper common practice: no less than the two minutes, and from twice
// that on water creeps in at the edges.
func WashTimeKnown(base Base) (least, most float64) {
	if base == FibreBase {
		return 0.5, 1.5
	}
	return 1, 2
}

// WashDone is a wash as it was done.
type WashDone struct {
	Base Base
	// Aid is true after a washing aid.
	Aid bool
	// Changes of VolumeML millilitres, each soaked SoakS seconds. A volume of 0 is
	// not known and counts as WashVolumeML, a soak of 0 as the called-for one.
	Changes         float64
	VolumeML, SoakS float64
	// RunningS is the time in running water, seconds.
	RunningS float64
	// TempC is the water's temperature.
	TempC float64
	// AreaM2 is the area of one sheet; Together how many were in that water, 0
	// counting as 1.
	AreaM2, Together float64
}

// WashReport is what the washes of a sheet left behind.
type WashReport struct {
	// Residual is the share of the hypo left.
	Residual float64
	// GPerM2 is the same in grams of thiosulphate per square metre, from
	// CarriedHypo.
	GPerM2 float64
	// Share is the wash done over the wash called for; whole changes and whole
	// soaks give 1.
	Share float64
	// Short is true under half of the called-for wash, or over WashLimit.
	Short bool
	// carried is what was there before, grams per square metre; 0 before a wash.
	carried float64
	// free is what is left of the hypo in water and gelatine, held of that in fibre
	// and baryta, each as a share of its own; sorbed is what share the latter was.
	free, held, sorbed float64
}

// Unwashed is the report of a sheet that was not washed, of which nothing is said.
func Unwashed() WashReport { return WashReport{Residual: 1} }

// UnderShare says whether a wash was short by its share: under half of the
// called-for wash. One that is short without that left more than WashLimit.
func (r WashReport) UnderShare() bool { return r.Share < WashShortShare-1e-12 } // parts of a half may add to a little less

// After calculates what is left after one more wash, and whether all of them
// together were short: under half of what was called for, or more than 0.014 g/m²
// by the model from 100 g/l carried over, by the base of the first. That limit is
// published for film; that for prints is not known here.
//
// Running water counts as the changes whose called-for time it lasted. Our own
// model upon WashCalledFor and WashResidual. Changes 0 to 1000, times up to a
// week, water 0 to 60 °C, sheets up to 10 m²; else a *RangeError.
func (r WashReport) After(d WashDone) (WashReport, error) {
	one, err := oneWash(d)
	if err != nil {
		return WashReport{}, err
	}
	if r.carried == 0 {
		r.carried = CarriedHypo / 1000 * d.Base.carry()
		r.free, r.held = 1, 1
		if d.Base == FibreBase {
			r.sorbed = SorbedFB
		}
	}
	r.free *= one.free
	r.held *= one.held
	r.Residual = (1-r.sorbed)*r.free + r.sorbed*r.held
	r.Share += one.Share
	r.GPerM2 = r.Residual * r.carried
	r.Short = r.UnderShare() || r.GPerM2 > WashLimit
	return r, nil
}

// oneWash calculates the residual and the share of one wash.
func oneWash(d WashDone) (WashReport, error) {
	plan := WashCalledFor(d.Base, d.Aid)
	soak, volume, together := d.SoakS, d.VolumeML, d.Together
	if soak == 0 {
		soak = plan.SoakS
	}
	if volume == 0 {
		volume = WashVolumeML
	}
	if together == 0 {
		together = 1
	}
	if err := firstError(
		within("changes of water", d.Changes, 0, 1000, ""),
		within("soak", soak, 0, 7*86400, "s"),
		within("time in running water", d.RunningS, 0, 7*86400, "s"),
		within("area of a sheet", d.AreaM2, 0, 10, "m²"),
		within("sheets in one water", together, 1, 1000, ""),
	); err != nil {
		return WashReport{}, err
	}
	carry, err := CarryOver(d.Base, d.AreaM2*together)
	if err != nil {
		return WashReport{}, err
	}
	left, err := SoakLeaves(d.Base, soak, d.TempC)
	if err != nil {
		return WashReport{}, err
	}
	inChanges, err := WashResidual(d.Changes, volume, carry, left)
	if err != nil {
		return WashReport{}, err
	}
	perChange := plan.RunningS / float64(plan.Changes)
	running := d.RunningS / perChange
	left, err = SoakLeaves(d.Base, perChange, d.TempC)
	if err != nil {
		return WashReport{}, err
	}
	q, err := WashChange(volume, carry, left)
	if err != nil {
		return WashReport{}, err
	}
	tau := SorptionTau * WashTemperatureFactor(d.TempC)
	if d.Aid {
		tau /= 4
	}
	return WashReport{
		free:  inChanges * math.Pow(q, running),
		held:  math.Exp(-(d.Changes*soak + d.RunningS) / tau),
		Share: d.Changes*math.Min(1, soak/plan.SoakS)/float64(plan.Changes) + d.RunningS/plan.RunningS,
	}, nil
}
