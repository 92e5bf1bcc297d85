package acts

import (
	"cmp"
	"fmt"
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

// slipOf says of a reading that is about to be written whether it is likely a slip: brighter or darker than the sun
// and the sky allow at a place that is known, or, of a negative, brighter than any paper in that light.
func slipOf(snap *snapshot.Snapshot, e *events.Entry, r *events.LightMeteredData) (string, error) {
	if r.Session == "" {
		return "", nil
	}
	s, err := snap.Session(r.Session)
	if err != nil || s.Opened == nil {
		return "", err
	}
	ev, err := calledfor.ReadingOf(r).EV100()
	if err != nil {
		return "", nil // Validate has said so
	}
	light := cmp.Or(r.Light, s.Opened.Light)
	if r.On == "negative" {
		scene := snapshot.Latest(*e, time.Time{}, func(x *events.LightMeteredData) bool {
			return cmp.Or(x.Light, s.Opened.Light) == light
		}, s.ReadingsByUse["scene"])
		if scene == nil {
			return "", nil
		}
		mid, err := calledfor.ReadingOf(snapshot.Metered(scene)).EV100()
		if err != nil || ev-mid <= brightestOnNegative {
			return "", nil
		}
		return fmt.Sprintf("the negative reads %s stops brighter than the scene's mid-tone in the same light, and no paper is so bright: "+
			"read again, or say which light falls on it with --light", wording.Number(ev-mid)), nil
	}
	if s.Opened.Lat == nil || s.Opened.Lon == nil || light == "lamp" {
		return "", nil
	}
	sun, err := calc.SunPosition(e.At, *s.Opened.Lat, *s.Opened.Lon)
	if err != nil {
		return "", nil // a place or a time that the sun's theory does not reach
	}
	low, high, ok, err := calc.SlipBounds(sun.AltitudeDeg)
	if err != nil || !ok {
		return "", nil
	}
	switch {
	case ev > high:
		return fmt.Sprintf("EV %s is %s stops brighter than the sun at %s° allows there and then: read again, or look at index, place and clock",
			wording.Number(ev), wording.Number(ev-high), wording.Number(math.Round(sun.AltitudeDeg))), nil
	case ev < low:
		return fmt.Sprintf("EV %s is %s stops darker than the deepest shade there and then: read again, look at index, place and clock, or say --light lamp",
			wording.Number(ev), wording.Number(low-ev)), nil
	}
	return "", nil
}
