package calc

import "math"

// Reading is what a meter said, in one of four ways: an aperture with a time at
// an index, an exposure value at an index, an illuminance or a luminance.
type Reading struct {
	// F is the aperture mark and TimeS the time in seconds that the meter gave
	// when set to Index.
	F, TimeS float64
	// EV is the exposure value at Index; nil where another way was used, since 0
	// is an honest exposure value.
	EV *float64
	// Index is the index the meter was set to. With EV, 0 means ISO 100.
	Index float64
	// Lux is an incident reading, CdM2 a reflected one.
	Lux, CdM2 float64
	// C and K are the meter's constants; 0 means CFlat and K.
	C, K float64
}

// EV100 is the light that was read, as exposure value at ISO 100. Published:
// ISO 2720. A reading made in no way or in two is a *RangeError, and so is any
// value that no meter gives.
func (r Reading) EV100() (float64, error) {
	ways := 0
	for _, used := range [...]bool{r.F != 0 || r.TimeS != 0, r.EV != nil, r.Lux != 0, r.CdM2 != 0} {
		if used {
			ways++
		}
	}
	if ways != 1 {
		return 0, &RangeError{Quantity: "number of ways in which the light was read", Value: float64(ways), Min: 1, Max: 1}
	}
	switch {
	case r.EV != nil:
		return EV100FromEV(*r.EV, orDefault(r.Index, 100))
	case r.Lux != 0:
		return EV100FromLux(r.Lux, orDefault(r.C, CFlat))
	case r.CdM2 != 0:
		return EV100FromLuminance(r.CdM2, orDefault(r.K, K))
	}
	return EV100FromExposure(r.F, r.TimeS, r.Index)
}

func orDefault(v, def float64) float64 {
	if v == 0 {
		return def
	}
	return v
}

// Exposure asks for the time that a reading, a paper and a camera call for.
// A factor left at 0 means 1.
type Exposure struct {
	Reading
	// ZoneStops says where the tone that was read shall land, in stops from the
	// mid-tone; + gives more exposure.
	ZoneStops float64
	// PreFlashStops, 0 or less, shorten the exposure for a pre-flash; see
	// Curve.PreFlashStops.
	PreFlashStops float64
	// PaperIndex is the index in force for the paper.
	PaperIndex float64
	// SetF is the aperture mark set on the lens.
	SetF float64
	// ExtensionFactor and FilterFactor lengthen the time; see ExtensionFactor
	// and FilterFactor.
	ExtensionFactor, FilterFactor float64
	// P is the paper's reciprocity exponent; 0 means that none is known, which is
	// calculated as 1 and remarked on where it matters.
	P float64
	// CapSDS is the scatter of the cap in seconds; 0 means CapSDS.
	CapSDS float64
	// CapShare is the share of the time by which the hand scatters beside it.
	CapShare float64
	// WidestF and SmallestF are how far the lens opens and closes, 0 for not known:
	// no advice goes beyond them.
	WidestF, SmallestF float64
	// Copy says that a negative is before the lens, which holds still for ever.
	Copy bool
	// DoneS is the time in seconds that was given, 0 before it is: hand, light and
	// sitter are warned of by it then, not by the time called for.
	DoneS float64
}

// FactorStops is what one factor does to the time, in stops; + is longer.
type FactorStops struct {
	Factor string
	Stops  float64
}

// Called is the time that an exposure calls for, and what a hand makes of it.
type Called struct {
	// TimeS is the called-for time in seconds, exactly as calculated.
	TimeS float64
	// SetTimeS is the nearest time that a hand with a watch aims at, in seconds;
	// ErrorStops what it is off by, log2(SetTimeS/TimeS).
	SetTimeS, ErrorStops float64
	// CapSDStops is the scatter of the cap at SetTimeS, one standard deviation,
	// in stops.
	CapSDStops float64
	// EV100 is the light that was read.
	EV100 float64
	// FromF and FromTimeS are where the steps in Stops start from: the meter's
	// own aperture and time, or f/1 where the meter gave none. TimeS is
	// FromTimeS moved by the sum of Stops.
	FromF, FromTimeS float64
	// Stops are the factors in the order in which they apply: aperture, index,
	// zone and pre-flash (only where they are not 0), extension, filter, reciprocity.
	Stops []FactorStops
	// Warnings are told beside the time, the weightiest first.
	Warnings []Warning
	// TooBrightForCap is true where TimeS is under CapShortestS.
	TooBrightForCap bool
}

// CalledFor calculates the time: the reading, moved to the paper's index and the
// aperture set and by the zone, × extension factor × filter factor, then
// reciprocity on the result. Published: ISO 2720 for the light, the sources of
// ExtensionFactor, FilterFactor and Reciprocity for the factors; their order is
// derived, reciprocity comes last because it depends on the time the paper sees.
// A value no formula takes is a *RangeError.
func (e Exposure) CalledFor() (Called, error) {
	ext, filter, p, sd := orDefault(e.ExtensionFactor, 1), orDefault(e.FilterFactor, 1), orDefault(e.P, 1), orDefault(e.CapSDS, CapSDS)
	ev100, err := e.EV100()
	if err := firstError(err,
		checkEV(ev100), within("index of the paper", e.PaperIndex, minIndex, maxIndex, ""), within("aperture set", e.SetF, 0.5, maxF, ""),
		within("zone", e.ZoneStops, -20, 20, "stops"), within("stops for the pre-flash", e.PreFlashStops, -20, 0, "stops"), within("extension factor", ext, 0.01, 1e6, ""),
		within("filter factor", filter, 1, 1e9, ""), checkP(p), checkSD(sd), within("share of the time by which the hand scatters", e.CapShare, 0, 1, "")); err != nil {
		return Called{}, err
	}
	c := Called{EV100: ev100}
	readIndex := 100.0
	switch {
	case e.F != 0:
		c.FromF, c.FromTimeS, readIndex = e.F, e.TimeS, e.Index
	case e.EV != nil:
		readIndex = orDefault(e.Index, 100)
		c.FromF, c.FromTimeS = 1, math.Exp2(-*e.EV)
	default:
		c.FromF, c.FromTimeS = 1, math.Exp2(-ev100)
	}
	c.Stops = make([]FactorStops, 0, 6)
	c.add("aperture", 2*math.Log2(ExactF(e.SetF)/ExactF(c.FromF)))
	c.add("index", math.Log2(readIndex/e.PaperIndex))
	if e.ZoneStops != 0 {
		c.add("zone", e.ZoneStops)
	}
	if e.PreFlashStops != 0 {
		c.add("pre-flash", e.PreFlashStops)
	}
	c.add("extension", math.Log2(ext))
	c.add("filter", math.Log2(filter))
	n := ExactF(e.SetF)
	light := n * n / math.Exp2(ev100-e.ZoneStops-e.PreFlashStops) * 100 / e.PaperIndex * ext * filter
	if c.TimeS, err = Reciprocity(light, p); err != nil {
		return Called{}, err
	}
	c.add("reciprocity", math.Log2(c.TimeS/light))
	if c.SetTimeS, err = SetTime(c.TimeS); err != nil {
		return Called{}, err
	}
	c.ErrorStops = math.Log2(c.SetTimeS / c.TimeS)
	if c.CapSDStops, err = CapScatterStops(c.SetTimeS, Hand{e.CapShare, sd}.SDS(c.SetTimeS)); err != nil {
		return Called{}, err
	}
	c.TooBrightForCap = c.TimeS < CapShortestS*(1-1e-9)
	c.warn(e, light, sd)
	return c, nil
}

// CalledForLeast is how closely a called-for exposure is known at best, in stops
// either way: meter, paper and bath together are never known better than to a
// third of a stop. Common practice.
const CalledForLeast = 1.0 / 3

// Between are the bounds in seconds within which the time is known: CalledForLeast
// and twice the cap's scatter, added as independent. Derived.
func (c *Called) Between() (low, high float64) {
	by := math.Hypot(CalledForLeast, 2*c.CapSDStops)
	return c.TimeS * math.Exp2(-by), c.TimeS * math.Exp2(by)
}

// BathTimeKnown is the share to which the time of a developer or a fixer is known:
// half a degree and its age. Common practice.
const BathTimeKnown = 0.1

// StopTimeLeast and StopTimeMost are the shares of its time between which a stop does its
// work: a print is acid well before, and nothing happens to it soon after. Common
// practice.
const (
	StopTimeLeast = 0.5
	StopTimeMost  = 2.0
)

func (c *Called) add(factor string, stops float64) {
	c.Stops = append(c.Stops, FactorStops{factor, stops + 0}) // + 0 turns −0 into 0
}

// Reciprocity1900 is the exponent p that Schwarzschild gave for plates in 1900.
// Published. No figure for modern printing paper was found; a box that has been
// measured says better.
const Reciprocity1900 = 0.86

func checkP(p float64) error { return within("reciprocity exponent", p, 0.4, 1, "") }

// Reciprocity is the time in seconds that has to be given where the light asks
// for timeS: t^(1/p) above 1 s, t itself up to 1 s; p = 1 changes nothing.
// Published: Schwarzschild 1900; film leaflets write the same law as t^P with
// P = 1/p. p is between 0.4 and 1; a p outside or a time not more than 0 is a
// *RangeError, and so is a time that grows beyond 1e9 s.
func Reciprocity(timeS, p float64) (float64, error) {
	if err := firstError(checkTime(timeS), checkP(p)); err != nil {
		return 0, err
	}
	if timeS <= 1 || p == 1 {
		return timeS, nil
	}
	t := math.Pow(timeS, 1/p)
	return t, within("time after reciprocity", t, minTimeS, maxTimeS, "s")
}

// ReciprocityInverse is the time in seconds that a given time counts for:
// t^p above 1 s, t up to 1 s. It undoes Reciprocity.
func ReciprocityInverse(givenS, p float64) (float64, error) {
	if err := firstError(checkTime(givenS), checkP(p)); err != nil {
		return 0, err
	}
	if givenS <= 1 || p == 1 {
		return givenS, nil
	}
	return math.Pow(givenS, p), nil
}
