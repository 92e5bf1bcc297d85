package acts

import (
	"cmp"
	"math"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// brightestOnNegative is how far a reading on a negative may lie above the scene's mid-tone in the same light, in stops:
// white paper in the light of a mid-tone of 18 % reflects about 2.2 stops more and nothing reflects all. Derived.
const brightestOnNegative = 2.2

// The slips of a reading.
var (
	negativeTooBright = wording.Warns("negative-too-bright", "the negative reads {stops} stops brighter than the scene's mid-tone in the same light, and no paper is so bright: "+
		"read again, or say which light falls on it with --light")
	aboveTheSun = wording.Warns("above-the-sun", "EV {ev} is {stops} stops brighter than the sun at {altitude}° allows there and then: read again, or look at index, place and clock")
	belowShade  = wording.Warns("below-shade", "EV {ev} is {stops} stops darker than the deepest shade there and then: read again, look at index, place and clock, or say --light lamp")
)

// slipOf says of a reading that is about to be written whether it is likely a slip: brighter or darker than the sun
// and the sky allow at a place that is known, or, of a negative, brighter than any paper in that light.
func slipOf(snap *snapshot.Snapshot, e *events.Entry, r *events.LightMeteredData) ([]wording.Warning, error) {
	if r.Session == "" {
		return nil, nil
	}
	s, err := snap.Session(r.Session)
	if err != nil || s.Opened == nil {
		return nil, err
	}
	ev, err := calledfor.ReadingOf(r).EV100()
	if err != nil {
		return nil, nil // Validate has said so
	}
	light := cmp.Or(r.Light, s.Opened.Light)
	if r.On == "negative" {
		scene := snapshot.Latest(*e, time.Time{}, func(x *events.LightMeteredData) bool {
			return cmp.Or(x.Light, s.Opened.Light) == light
		}, s.ReadingsByUse["scene"])
		if scene == nil {
			return nil, nil
		}
		mid, err := calledfor.ReadingOf(snapshot.Metered(scene)).EV100()
		if err != nil || ev-mid <= brightestOnNegative {
			return nil, nil
		}
		return []wording.Warning{negativeTooBright.Warn(ev - mid)}, nil
	}
	if s.Opened.Lat == nil || s.Opened.Lon == nil || light == "lamp" {
		return nil, nil
	}
	sun, err := calc.SunPosition(e.At, *s.Opened.Lat, *s.Opened.Lon)
	if err != nil {
		return nil, nil // a place or a time that the sun's theory does not reach
	}
	low, high, ok, err := calc.SlipBounds(sun.AltitudeDeg)
	if err != nil || !ok {
		return nil, nil
	}
	switch {
	case ev > high:
		return []wording.Warning{aboveTheSun.Warn(ev, ev-high, math.Round(sun.AltitudeDeg))}, nil
	case ev < low:
		return []wording.Warning{belowShade.Warn(ev, low-ev)}, nil
	}
	return nil, nil
}
