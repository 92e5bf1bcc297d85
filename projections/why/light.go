package why

import (
	"fmt"
	"math"

	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// lightChanged tells light that changed between a reading and its exposure.
func (r *replay) lightChanged(l *calledfor.SheetLog) error {
	first, stops, second := l.Step.Serving, l.Light.Stops, l.Light.Second
	if stops == 0 {
		return nil
	}
	how := fmt.Sprintf("the light was read at %s, and by %s sun and sky had made it %s", first.At.Format("15:04"), l.Exposure.At.Format("15:04"), wording.Brighter(stops))
	if second != nil {
		how = fmt.Sprintf("a second reading at %s found the light %s", second.At.Format("15:04"), wording.Brighter(stops))
	}
	v := &deviation{on: l, apply: exposedBy(stops), shows: besideTones(l, stops)}
	v.Cause = "light-changed"
	v.Entries = idsOf(first, l.Exposure, second)
	v.Done, v.Unit, v.Stops = new(l.X.TimeS), "s", new(twoPlaces(stops))
	v.CalledFor = new(twoPlaces(*l.Step.CalledForS * math.Exp2(-stops)))
	v.Text = fmt.Sprintf("%s got %s: %s", noun(l), tooMuch(stops), how)
	v.Next = "read the light again just before the cap comes off"
	r.add(v)
	return nil
}

// averageStops is what a reading of the average of a whole negative, taken at face value, prints light: by subject from
// averageLeast to averageMost, in stops. Our own model.
const (
	averageLeast = 0.2
	averageMost  = 1.6
	averageUsual = 0.8
)

// averaged tells a print whose negative was read on average and at face value.
func (r *replay) averaged(l *calledfor.SheetLog) error {
	if l.Exposure == nil || l.Step.Serving == nil || l.Step.Serving.Kind != events.LightMetered || l.Sheet.Generation == snapshot.Negative {
		return nil
	}
	x := snapshot.Metered(l.Step.Serving)
	if x.On != "negative" || x.Of != "average" || snapshot.ValueOr(x.ZoneStops, 0) != 0 {
		return nil
	}
	asked := sizeOf(l, "too-light")
	stops := -averageUsual
	if asked != 0 {
		stops = -min(averageMost, max(averageLeast, math.Abs(asked)))
	}
	v := &deviation{on: l}
	v.Cause = "average-misread"
	v.Entries = idsOf(l.Step.Serving, l.Exposure)
	v.Done, v.CalledFor, v.Unit, v.Stops = new(l.X.TimeS), new(twoPlaces(l.X.TimeS*math.Exp2(-stops))), "s", new(twoPlaces(stops))
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
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
	v.Text = fmt.Sprintf("%s was timed by a reading of the whole negative taken at face value, which prints %s to %s stops light, by subject", noun(l), wording.Number(averageLeast), wording.Number(averageMost))
	v.Next = "read a card, the mid-tone, or the lightest patch of the negative with its zone"
	r.add(v)
	return nil
}
