package calc

import "math"

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

// WashReport is what a wash left behind.
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
}

// WashShort reckons what a wash left and whether it was short: under half of
// what was called for, or more than 0.014 g/m² by the model from 100 g/l carried
// over. That limit is published for film; none is agreed for prints.
//
// Running water counts as the changes whose called-for time it lasted. Our own
// model upon WashCalledFor and WashResidual. Changes 0 to 1000, times up to a
// week, water 0 to 60 °C, sheets up to 10 m²; else a *RangeError.
func WashShort(d WashDone) (WashReport, error) {
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
	r := WashReport{Residual: inChanges * math.Pow(q, running)}
	r.GPerM2 = r.Residual * CarriedHypo / 1000 * d.Base.carry()
	r.Share = d.Changes*math.Min(1, soak/plan.SoakS)/float64(plan.Changes) + d.RunningS/plan.RunningS
	r.Short = r.Share < WashShortShare-1e-12 || r.GPerM2 > WashLimit
	return r, nil
}
