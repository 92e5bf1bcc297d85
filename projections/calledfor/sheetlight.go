package calledfor

import (
	"math"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// How long after an exposure a second reading still tells of the light at it; how near to rise or set the light changes
// by itself.
const (
	secondReading = time.Hour
	nearHorizon   = 2 * time.Hour
)

// lightMove is how much brighter the light was at an exposure than at the reading that served it, in stops: by a second
// reading after it, else by sun and sky where the place is known. None where it is less than a hand's scatter.
type lightMove struct {
	Stops  float64
	Second *events.Entry // nil where sun and sky tell it
}

func lightMoved(snap *snapshot.Snapshot, p *snapshot.Picture, l *SheetLog) (lightMove, error) {
	first := l.Step.Serving
	if l.Exposure == nil || first == nil || first.Kind != events.LightMetered || l.Step.CalledForS == nil {
		return lightMove{}, nil
	}
	stops, second, err := readSecond(snap, p, l, first)
	if err == nil && second == nil {
		stops, err = SunMoved(snap, l.X.Session, first, l.Exposure.At)
	}
	if err != nil || math.Abs(stops) < l.Floor(*l.Step.CalledForS) {
		return lightMove{}, err
	}
	return lightMove{stops, second}, nil
}

// readSecond finds the next reading of the same thing after an exposure, one that was not taken for another picture,
// and how much brighter the light was by it than at the first reading, in stops.
func readSecond(snap *snapshot.Snapshot, p *snapshot.Picture, l *SheetLog, first *events.Entry) (float64, *events.Entry, error) {
	was := snapshot.Metered(first)
	same := func(e *events.Entry) bool {
		x, ok := e.Data.(*events.LightMeteredData)
		return ok && x.On == was.On && x.Mode == was.Mode && x.Of == was.Of && x.Filter == was.Filter &&
			snapshot.ValueOr(x.ZoneStops, 0) == snapshot.ValueOr(was.ZoneStops, 0) && e.At.After(l.Exposure.At) && e.At.Sub(l.Exposure.At) <= secondReading && e.ID != first.ID
	}
	var out *events.Entry
	consider := func(all []events.Entry) {
		for i := range all {
			if same(&all[i]) && (out == nil || all[i].At.Before(out.At)) {
				out = &all[i]
			}
		}
	}
	consider(p.Entries)
	if l.X.Session != "" && (was.On == "scene" || was.Picture == "") {
		s, err := wording.IgnoreMissing(snap.Session(l.X.Session))
		if err != nil {
			return 0, nil, err
		}
		if s != nil {
			consider(s.Readings)
		}
	}
	if out == nil {
		return 0, nil, nil
	}
	served, err := servesLater(snap, p, out)
	if err != nil || served {
		return 0, nil, err
	}
	a, err1 := ReadingOf(was).EV100()
	b, err2 := ReadingOf(snapshot.Metered(out)).EV100()
	if err1 != nil || err2 != nil {
		return 0, nil, nil
	}
	return b - a, out, nil // a cloud comes at once: the whole change may have been there
}

// servedWithin is how many exposures after a reading are looked at: nobody meters for the fifth.
const servedWithin = 4

// servesLater says whether a reading that names no picture served a later exposure: then it was taken for that one.
func servesLater(snap *snapshot.Snapshot, p *snapshot.Picture, reading *events.Entry) (bool, error) {
	x := snapshot.Metered(reading)
	if x.Picture != "" || x.Session == "" { // of the same subject, whatever it served
		return false, nil
	}
	t, ok, err := snap.R.Entity(x.Session)
	if err != nil || !ok {
		return false, err
	}
	kind := events.SheetExposed
	if x.On == "negative" {
		kind = events.SheetReprinted
	}
	after, err := snap.NextIn(t, kind, reading.At, servedWithin)
	if err != nil {
		return false, err
	}
	id := reading.ID.String()
	for _, e := range after {
		switch x := e.Data.(type) {
		case *events.SheetExposedData:
			if x.Reading == id && x.Picture != p.Entity.Name {
				return true, nil
			}
		case *events.SheetReprintedData:
			if x.Reading == id && x.Picture != p.Entity.Name {
				return true, nil
			}
		}
	}
	return false, nil
}

// SunMoved is how much brighter sun and sky made the light between a reading and an exposure at a moment, in stops, within
// two hours of rise or set; 0 where the place of the session is not known or a lamp lit it.
func SunMoved(snap *snapshot.Snapshot, session string, first *events.Entry, at time.Time) (float64, error) {
	if session == "" {
		return 0, nil
	}
	s, err := wording.IgnoreMissing(snap.Session(session))
	if err != nil || s == nil || s.Opened == nil || s.Opened.Lat == nil || s.Opened.Lon == nil {
		return 0, err
	}
	if snapshot.Metered(first).Light == "lamp" || s.Opened.Light == "lamp" || !at.After(first.At) || at.Sub(first.At) > 12*time.Hour {
		return 0, nil
	}
	lat, lon := *s.Opened.Lat, *s.Opened.Lon
	sky := 1.0
	if f, ok := calc.SkyFactor(s.Opened.Sky); ok {
		sky = f
	}
	was, err1 := calc.SunLux(first.At, lat, lon, sky)
	is, err2 := calc.SunLux(at, lat, lon, sky)
	if err1 != nil || err2 != nil || was <= 0 || is <= 0 {
		return 0, nil
	}
	stops := math.Log2(is / was)
	if math.Abs(stops) < calc.FloorStops { // told in no case, and a day's course takes long to calculate
		return 0, nil
	}
	day, err := calc.SunOn(at, lat, lon)
	near := func(t time.Time) bool { return !t.IsZero() && at.Sub(t).Abs() <= nearHorizon }
	if err != nil || !near(day.Sunrise) && !near(day.Sunset) {
		return 0, nil
	}
	return stops, nil
}
