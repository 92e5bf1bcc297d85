package projections

import (
	"fmt"
	"math"
	"time"

	"traybook/calc"
)

// flashed tells a flash of the threshold exposure or more: a veil; and one so strong that the paper became too soft.
func (r *replay) flashed(l *sheetLog) error {
	if l.x.flash < 1 {
		return nil
	}
	share := l.x.flash
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.FlashShare += share }}
	v.Cause, v.Entries = "flash-excess", idsOf(l.exposure)
	v.Done, v.CalledFor, v.Unit = new(twoPlaces(share)), new(1.0), "thresholds"
	v.Text = fmt.Sprintf("%s was flashed with %s times the exposure that alone gives a first tone", l.noun(), Number(share))
	v.Next = "keep the flash under the threshold; a flash strip finds it"
	v.shows = func(symptom string, seen *sheetLog) float64 {
		if seen == l {
			switch symptom {
			case "grey-fog", "veiled-whites":
				return 0.9
			case "flat":
				return 0.6
			}
		} else if l.sheet.Generation == Negative && (symptom == "weak-blacks" || symptom == "flat") {
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
	agedVeil    = map[string]float64{"grey-fog": 0.95, "edge-fog": 0.9, "veiled-whites": 0.8}
	agedMarks   = map[string]float64{"flat": 0.6, "mottled": 0.4, "yellow-stain": 0.3, "brown-stain": 0.3}
	agedThrough = map[string]float64{"weak-blacks": 0.7, "flat": 0.4, "mottled": 0.5} // in the print of such a negative
)

// agedPaper is what age did to a sheet, nothing where it was less than a year past its date.
type agedPaper struct {
	months     float64 // past its date
	stops, fog float64 // of speed, below 0; density without light
}

func (l *sheetLog) agedBy() agedPaper {
	if l.exposure == nil || l.box == nil || l.box.Received == nil || l.box.Received.Expires == "" {
		return agedPaper{}
	}
	months := monthsBetween(endOfDate(l.box.Received.Expires, l.exposure.At.Location()), l.exposure.At)
	if months < floorMonths {
		return agedPaper{}
	}
	stops, fog, err := calc.AgedPaper(months)
	if err != nil {
		return agedPaper{}
	}
	return agedPaper{months, stops, fog}
}

// outdated tells a paper past its date by a year or more.
func (r *replay) outdated(l *sheetLog) error {
	months, speed, fog := l.aged.months, l.aged.stops, l.aged.fog
	if months == 0 {
		return nil
	}
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.ExposureStops += speed; m.FogDensity += fog }}
	v.Cause, v.Entries = "paper-outdated", idsOf(l.exposure)
	if len(l.box.Entries) > 0 {
		v.Entries = append(v.Entries, l.box.Entries[0].ID.String())
	}
	v.Done, v.CalledFor, v.Unit, v.Stops = new(math.Round(months)), new(0.0), "months past", new(twoPlaces(speed))
	v.Text = fmt.Sprintf("%s of %s was %s months past its date", l.noun(), l.sheet.Box, Number(math.Round(months)))
	v.Next = "try a strip of old paper unexposed beside one exposed; use fresh paper for what matters"
	age := clamp01(fog / seenVeil)
	v.shows = func(symptom string, seen *sheetLog) float64 {
		switch {
		case seen == l:
			return max(agedVeil[symptom]*(1+age)/2, agedMarks[symptom]*age)
		case l.sheet.Generation == Negative:
			return agedThrough[symptom] * age
		}
		return 0
	}
	r.add(v)
	return nil
}

// monthsBetween counts months from one instant to another, 30.44 days each; below 0 where it lies ahead.
func monthsBetween(from, to time.Time) float64 {
	if from.IsZero() {
		return 0
	}
	return to.Sub(from).Hours() / 24 / 30.44
}
