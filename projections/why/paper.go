package why

import (
	"fmt"
	"math"

	"traybook/calc"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// pre-flashed tells a pre-flash of the threshold exposure or more: a veil; and one so strong that the paper became too soft.
func (r *replay) flashed(l *calledfor.SheetLog) error {
	if l.X.PreFlash < 1 {
		return nil
	}
	share := l.X.PreFlash
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.PreFlashShare += share }}
	v.Cause, v.Entries = "over-flashed", idsOf(l.Exposure)
	v.Done, v.CalledFor, v.Unit = new(twoPlaces(share)), new(1.0), "thresholds"
	v.Text = fmt.Sprintf("%s was pre-flashed with %s times the exposure that alone gives a threshold", noun(l), wording.Number(share))
	v.Next = "keep the pre-flash under the threshold; a pre-flash strip finds it"
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		if seen == l {
			switch symptom {
			case "grey-fog", "fogged-highlights":
				return 0.9
			case "flat":
				return 0.6
			}
		} else if l.Sheet.Generation == snapshot.Negative && (symptom == "weak-blacks" || symptom == "flat") {
			return 0.6
		}
		return 0
	}
	r.add(v)
	return nil
}

// What an old paper shows beside its loss of speed, which the tones tell: a veil from the first, and what comes with age
// in step with the veil, whole from where an eye sees that for itself. Directions are published (fog, loss of contrast,
// stain: US Navy 14262 p. 7-43; a dark margin: Clerc, s. 430); the weights are our own.
var (
	agedVeil    = map[string]float64{"grey-fog": 0.95, "edge-fog": 0.9, "fogged-highlights": 0.8}
	agedMarks   = map[string]float64{"flat": 0.6, "mottled": 0.4, "yellow-stain": 0.3, "brown-stain": 0.3}
	agedThrough = map[string]float64{"weak-blacks": 0.7, "flat": 0.4, "mottled": 0.5} // in the print of such a negative
)

// agedMost is the largest share of a symptom that an old paper is told to explain where no other sheet of its box speaks of it: a
// strip would tell. Our own choice.
const agedMost = 0.8

// outdated tells a paper past its date by a year or more. What it has lost is a rule of thumb (weak in its own source): sheets of
// the box that were kept or fogged about then say how much of it to believe.
func (r *replay) outdated(l *calledfor.SheetLog) error {
	months, speed, fog := l.Aged.Months, l.Aged.Stops, l.Aged.Fog
	if months == 0 {
		return nil
	}
	size := math.Log(math.Max(fog, 1e-4) / seenVeil)
	others, err := r.sharers(l, size, agedVeil, func(*otherSheet) bool { return true })
	if err != nil {
		return err
	}
	chance, by := agedMost, 0.0 // where none speaks the rule of thumb stands
	if len(others) > 0 {
		chance, by = agedBox.control(r.itself(l, size, agedVeil, agedThrough), others)
	}
	more := math.Exp(by) - 1
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.ExposureStops += speed; m.FogDensity += fog },
		beyond: func(m *calc.SheetModel) { m.ExposureStops += more * speed; m.FogDensity += more * fog }}
	v.Cause, v.Entries = "paper-expired", idsOf(l.Exposure)
	if len(l.Box.Entries) > 0 {
		v.Entries = append(v.Entries, l.Box.Entries[0].ID.String())
	}
	v.Done, v.CalledFor, v.Unit, v.Stops = new(math.Round(months)), new(0.0), "months past", new(twoPlaces(speed))
	v.Text = fmt.Sprintf("%s of %s was %s months past its date", noun(l), l.Sheet.Box, wording.Number(math.Round(months)))
	v.Next = "try a strip of old paper unexposed beside one exposed; use fresh paper for what matters"
	v.most = just(chance)
	age := clamp01(fog / seenVeil)
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		switch {
		case seen == l:
			return max(agedVeil[symptom]*(1+age)/2, agedMarks[symptom]*age)
		case l.Sheet.Generation == snapshot.Negative:
			return agedThrough[symptom] * age
		}
		return 0
	}
	r.add(v)
	return nil
}
