package calc

import "math"

// The lens cap as a shutter.
const (
	// CapSDS is the scatter of a hand-held start and stop as standard deviation,
	// in seconds. Published for a stopwatch (0.07 s for one reaction, √2 of it
	// for two); for a cap none is published, so here it is common practice.
	CapSDS = 0.10
	// CapShortestS is the shortest time, in seconds, that is asked of a cap. Our
	// own choice: at 1 s the scatter of 95 in 100 exposures, ±0.2 s, is already
	// 0.3 stop.
	CapShortestS = 1.0
	// CapSteadyS is the time, in seconds, from which 95 in 100 exposures lie
	// within 0.2 stop. Derived from CapSDS.
	CapSteadyS = 1.6
	// capFastestS is the quickest off-and-on of a cap that a hand can aim at.
	// Our own choice.
	capFastestS = 0.2
)

func checkSD(sdS float64) error { return within("scatter of the cap", sdS, 0, 60, "s") }

// CapScatterStops is the scatter of a cap at timeS as a standard deviation in
// stops: log2((t+d)/t), d the standard deviation in seconds. Derived. Towards
// the short side the same scatter weighs more, see CapShortStops; this is the
// side that stays finite at every time. A time not more than 0 or a scatter
// below 0 is a *RangeError.
func CapScatterStops(timeS, sdS float64) (float64, error) {
	if err := firstError(checkTime(timeS), checkSD(sdS)); err != nil {
		return 0, err
	}
	return math.Log2((timeS + sdS) / timeS), nil
}

// SetTime is the time nearest to timeS that a hand with a watch can aim at, in
// seconds: tenths up to 5 s and never under 0.2 s, halves up to 20 s, whole
// seconds up to 2 min, 5 s up to 10 min, 15 s up to an hour, minutes above. Our
// own ladder: from 1 s up no rung is further than 0.07 stop, under what the cap
// scatters or a sheet shows. A time not more than 0 is a *RangeError.
func SetTime(timeS float64) (float64, error) {
	if err := checkTime(timeS); err != nil {
		return 0, err
	}
	// A rung is num/den seconds: whole numbers, or the answers would show the
	// binary dust of a tenth.
	rungs := [...]struct{ below, num, den float64 }{
		{5, 1, 10}, {20, 1, 2}, {120, 1, 1}, {600, 5, 1}, {3600, 15, 1}, {math.Inf(1), 60, 1},
	}
	i := 0
	for timeS >= rungs[i].below {
		i++
	}
	r := rungs[i]
	return math.Max(capFastestS, math.Round(timeS*r.den/r.num)*r.num/r.den), nil
}
