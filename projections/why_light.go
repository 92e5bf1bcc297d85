package projections

import (
	"fmt"
	"math"
	"time"

	"traybook/calc"
	"traybook/events"
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
	stops  float64
	second *events.Entry // nil where sun and sky tell it
}

func (d *Desk) lightMoved(p *Picture, l *sheetLog) (lightMove, error) {
	first := l.step.Serving
	if l.exposure == nil || first == nil || first.Kind != events.LightMetered || l.step.CalledForS == nil {
		return lightMove{}, nil
	}
	stops, second, err := d.secondReading(p, l, first)
	if err == nil && second == nil {
		stops, err = d.sunMoved(l, first)
	}
	if err != nil || math.Abs(stops) < l.floor(*l.step.CalledForS) {
		return lightMove{}, err
	}
	return lightMove{stops, second}, nil
}

// lightChanged tells light that changed between a reading and its exposure.
func (r *replay) lightChanged(l *sheetLog) error {
	first, stops, second := l.step.Serving, l.light.stops, l.light.second
	if stops == 0 {
		return nil
	}
	how := fmt.Sprintf("the light was read at %s, and by %s sun and sky had made it %s", first.At.Format("15:04"), l.exposure.At.Format("15:04"), brighter(stops))
	if second != nil {
		how = fmt.Sprintf("a second reading at %s found the light %s", second.At.Format("15:04"), brighter(stops))
	}
	v := &deviation{on: l, apply: exposedBy(stops), shows: l.besideTones(stops)}
	v.Cause = "light-changed"
	v.Entries = idsOf(first, l.exposure, second)
	v.Done, v.Unit, v.Stops = new(l.x.timeS), "s", new(twoPlaces(stops))
	v.CalledFor = new(twoPlaces(*l.step.CalledForS * math.Exp2(-stops)))
	v.Text = fmt.Sprintf("%s got %s: %s", l.noun(), tooMuch(stops), how)
	v.Next = "read the light again just before the cap comes off"
	r.add(v)
	return nil
}

func brighter(stops float64) string {
	if stops > 0 {
		return SizeOfStops(stops) + " brighter"
	}
	return SizeOfStops(stops) + " darker"
}

// secondReading finds the next reading of the same thing after an exposure, one that was not taken for another picture,
// and how much brighter the light was by it than at the first reading, in stops.
func (d *Desk) secondReading(p *Picture, l *sheetLog, first *events.Entry) (float64, *events.Entry, error) {
	was := metered(first)
	same := func(e *events.Entry) bool {
		x, ok := e.Data.(*events.LightMeteredData)
		return ok && x.On == was.On && x.Mode == was.Mode && x.Of == was.Of && x.Filter == was.Filter &&
			orF(x.Place, 0) == orF(was.Place, 0) && e.At.After(l.exposure.At) && e.At.Sub(l.exposure.At) <= secondReading && e.ID != first.ID
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
	if l.x.session != "" && (was.On == "scene" || was.Picture == "") {
		s, err := quiet(d.Session(l.x.session))
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
	served, err := d.servesLater(p, out)
	if err != nil || served {
		return 0, nil, err
	}
	a, err1 := ReadingOf(was).EV100()
	b, err2 := ReadingOf(metered(out)).EV100()
	if err1 != nil || err2 != nil {
		return 0, nil, nil
	}
	return b - a, out, nil // a cloud comes at once: the whole change may have been there
}

// servesLater says whether a reading that names no picture served a later exposure: then it was taken for that one.
func (d *Desk) servesLater(p *Picture, reading *events.Entry) (bool, error) {
	x := metered(reading)
	if x.Picture != "" || x.Session == "" { // of the same subject, whatever it served
		return false, nil
	}
	t, ok, err := d.R.Thing(x.Session)
	if err != nil || !ok {
		return false, err
	}
	kind := events.SheetExposed
	if x.On == "negative" {
		kind = events.SheetReprinted
	}
	after, err := d.entries(events.Query{Session: t.ID, Kinds: []events.Kind{kind}, From: reading.At, Limit: 4})
	if err != nil {
		return false, err
	}
	id := reading.ID.String()
	for _, e := range after {
		switch x := e.Data.(type) {
		case *events.SheetExposedData:
			if x.Reading == id && x.Picture != p.Thing.Name {
				return true, nil
			}
		case *events.SheetReprintedData:
			if x.Reading == id && x.Picture != p.Thing.Name {
				return true, nil
			}
		}
	}
	return false, nil
}

// sunMoved is how much brighter sun and sky made the light between a reading and its exposure, in stops, within two
// hours of rise or set; 0 where the place is not known or a lamp lit it.
func (d *Desk) sunMoved(l *sheetLog, first *events.Entry) (float64, error) {
	if l.x.session == "" {
		return 0, nil
	}
	s, err := quiet(d.Session(l.x.session))
	if err != nil || s == nil || s.Opened == nil || s.Opened.Lat == nil || s.Opened.Lon == nil {
		return 0, err
	}
	if metered(first).Light == "lamp" || s.Opened.Light == "lamp" || !l.exposure.At.After(first.At) || l.exposure.At.Sub(first.At) > 12*time.Hour {
		return 0, nil
	}
	lat, lon := *s.Opened.Lat, *s.Opened.Lon
	sky := 1.0
	if f, ok := calc.SkyFactor(s.Opened.Sky); ok {
		sky = f
	}
	was, err1 := calc.SunLux(first.At, lat, lon, sky)
	is, err2 := calc.SunLux(l.exposure.At, lat, lon, sky)
	if err1 != nil || err2 != nil || was <= 0 || is <= 0 {
		return 0, nil
	}
	stops := math.Log2(is / was)
	if math.Abs(stops) < floorStops { // told in no case, and a day's course takes long to reckon
		return 0, nil
	}
	day, err := calc.SunOn(l.exposure.At, lat, lon)
	near := func(t time.Time) bool { return !t.IsZero() && l.exposure.At.Sub(t).Abs() <= nearHorizon }
	if err != nil || !near(day.Sunrise) && !near(day.Sunset) {
		return 0, nil
	}
	return stops, nil
}

// averageStops is what a reading of the average of a whole negative, taken at face value, prints light: by subject from
// averageLeast to averageMost, in stops. Our own model.
const (
	averageLeast = 0.2
	averageMost  = 1.6
	averageUsual = 0.8
)

// averaged tells a print whose negative was read on average and at face value.
func (r *replay) averaged(l *sheetLog) error {
	if l.exposure == nil || l.step.Serving == nil || l.step.Serving.Kind != events.LightMetered || l.sheet.Generation == Negative {
		return nil
	}
	x := metered(l.step.Serving)
	if x.On != "negative" || x.Of != "average" || orF(x.Place, 0) != 0 {
		return nil
	}
	asked := l.sizeOf("too-light")
	stops := -averageUsual
	if asked != 0 {
		stops = -min(averageMost, max(averageLeast, math.Abs(asked)))
	}
	v := &deviation{on: l}
	v.Cause = "average-misread"
	v.Entries = idsOf(l.step.Serving, l.exposure)
	v.Done, v.CalledFor, v.Unit, v.Stops = new(l.x.timeS), new(twoPlaces(l.x.timeS*math.Exp2(-stops))), "s", new(twoPlaces(stops))
	v.shows = func(symptom string, seen *sheetLog) float64 {
		if seen != l {
			return 0
		}
		switch symptom {
		case "too-light", "thin":
			if asked != 0 {
				return min(0.9, averageMost/math.Abs(asked))
			}
			return 0.85
		case "weak-blacks":
			return 0.5
		}
		return 0
	}
	v.Text = fmt.Sprintf("%s was timed by a reading of the whole negative taken at face value, which prints %s to %s stops light, by subject", l.noun(), Number(averageLeast), Number(averageMost))
	v.Next = "read a card, the mid-tone, or the lightest patch of the negative with its place"
	r.add(v)
	return nil
}
