package why

import (
	"fmt"

	"traybook/calc"
	"traybook/projections/calledfor"
	"traybook/projections/wording"
)

// stains says how likely a cause without a tone leads to a symptom. Directions are published (fault tables of the
// handbooks); the weights are our own.
var stains = map[string]map[string]float64{
	"developer-exhausted": {"dichroic-fog": 1, "brown-stain": 0.7, "yellow-stain": 0.6, "flat": 0.5, "weak-blacks": 0.5, "too-light": 0.4, "thin": 0.4},
	"developer-old":       {"yellow-stain": 0.9, "brown-stain": 0.7, "dichroic-fog": 0.6, "grey-fog": 0.4, "mottled": 0.4, "spots-dark": 0.4, "flat": 0.5, "weak-blacks": 0.5, "too-light": 0.4, "thin": 0.4},
	"under-fixed":         {"milky": 1, "purple-stain": 1, "yellow-stain": 0.9, "brown-stain": 0.9, "faded": 0.8},
	"fixer-cold":          {"milky": 1, "purple-stain": 0.9, "yellow-stain": 0.8, "brown-stain": 0.8, "faded": 0.7},
	"fixer-exhausted":     {"milky": 0.95, "yellow-stain": 1, "brown-stain": 1, "purple-stain": 0.9, "faded": 0.9, "scum": 0.6},
	"fixer-old":           {"scum": 1, "milky": 0.9, "yellow-stain": 0.9, "brown-stain": 0.8, "purple-stain": 0.7, "faded": 0.8},
	"over-fixed":          {"bleached": 1, "too-light": 0.5, "faded": 0.4},
	"under-washed":        {"faded": 1, "yellow-stain": 0.9, "brown-stain": 0.9, "scum": 0.4},
	"stop-skipped":        {"yellow-stain": 0.7, "dichroic-fog": 0.8, "purple-stain": 0.6, "brown-stain": 0.6, "streaks-dark": 0.4, "streaks-light": 0.4, "mottled": 0.4, "milky": 0.3, "scum": 0.3},
	"bath-shallow":        {"mottled": 0.9, "streaks-light": 0.8, "streaks-dark": 0.8, "one-side-light": 0.6, "purple-stain": 0.5, "spots-white": 0.3},
	"agitation-short":     {"mottled": 1, "streaks-light": 0.9, "streaks-dark": 0.9, "spots-white": 0.4},
	"baths-swapped": {"blank": 1, "milky": 1, "purple-stain": 1, "too-light": 0.95, "thin": 0.95, "all-black": 0.9, "grey-fog": 0.9, "too-dark": 0.8, "dense": 0.8, "flat": 0.8,
		"weak-blacks": 0.8, "yellow-stain": 0.9, "brown-stain": 0.9, "dichroic-fog": 0.9, "faded": 0.9, "mottled": 0.5},
}

// swapped tells a sheet that went into the wrong bath.
func (r *replay) swapped(l *calledfor.SheetLog, s *calledfor.Stay, act string) {
	v := &deviation{on: l}
	v.Cause = "baths-swapped"
	v.Entries = idsOf(&s.Entry, mixing(s.Bath))
	v.Done, v.Unit = new(s.Done), "s"
	v.Text = fmt.Sprintf("%s was %s in %s, which is a %s", noun(l), act, s.Bath.Entity.Name, s.Bath.Mixed.Role)
	v.Next = "trays in one order, always from the same side, each with its own tongs"
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		if seen != l {
			return 0
		}
		return stains["baths-swapped"][symptom]
	}
	r.add(v)
}

// bathWords fills in what a bath's deviation says.
func (r *replay) bathWords(v *deviation, s *calledfor.Stay) {
	name, times := "the "+s.Bath.Mixed.Role+" "+s.Bath.Entity.Name, wording.Seconds(s.Done)
	if s.Need.TimeS != nil {
		times = fmt.Sprintf("%s given, %s called for", wording.Seconds(s.Done), wording.Seconds(*s.Need.TimeS))
	}
	noun := noun(v.on)
	switch v.Cause {
	case "under-developed":
		v.Text = fmt.Sprintf("%s was developed too short: %s", noun, times)
		v.Next = "develop the whole time that is called for; the bath's use and temperature are in it"
	case "over-developed":
		v.Text = fmt.Sprintf("%s was developed too long: %s", noun, times)
		v.Next = "stop at the time that is called for; from twice that on the paper stains"
	case "developer-cold", "fixer-cold":
		v.Text = fmt.Sprintf("%s stood at %s °C instead of %s and the time was not lengthened for it: %s", name, wording.Number(s.Need.TempC), wording.Number(s.Need.NominalC), times)
		if s.Need.Stopped {
			v.Text = fmt.Sprintf("%s stood at %s °C, and below 13 °C hydroquinone stops working: no time makes up for it", name, wording.Number(s.Need.TempC))
		}
		v.Done, v.CalledFor, v.Unit = new(s.Need.TempC), new(s.Need.NominalC), "°C"
		v.Next = "warm the bath in a water jacket, or lengthen the time as called for"
		if s.Need.Stopped {
			v.Next = "warm the bath in a water jacket"
		}
	case "developer-warm":
		v.Text = fmt.Sprintf("%s stood at %s °C instead of %s: %s", name, wording.Number(s.Need.TempC), wording.Number(s.Need.NominalC), times)
		v.Done, v.CalledFor, v.Unit = new(s.Need.TempC), new(s.Need.NominalC), "°C"
		v.Next = "cool the bath, or shorten the time as called for"
	case "developer-exhausted", "fixer-exhausted":
		v.Text = fmt.Sprintf("%s had treated %s times the paper it can: %s", name, wording.Number(s.Need.Age.Used), times)
		v.Done, v.CalledFor, v.Unit = new(s.Need.Age.AreaM2), new(s.Need.Age.CapacityM2), "m²"
		if s.Need.Age.Used < calc.BathTiredShare {
			v.Text = fmt.Sprintf("%s was full of silver by its test strip: %s", name, times)
		}
		v.Next = "mix fresh when baths shows it tired"
	case "developer-old", "fixer-old":
		v.Text = fmt.Sprintf("%s was past its life: %s in the tray", name, wording.Seconds(s.Need.Age.TrayH*3600))
		v.Done, v.Unit = new(twoPlaces(s.Need.Age.TrayH)), "h"
		if s.Need.Age.LifeH > 0 {
			v.Text += fmt.Sprintf(", good for %s", wording.Seconds(s.Need.Age.LifeH*3600))
			v.CalledFor = new(s.Need.Age.LifeH)
		}
		v.Next = "mix fresh, and bottle the bath between sessions"
	case "under-fixed":
		v.Text = fmt.Sprintf("%s was fixed too short: %s", noun, times)
		v.Next = "fix twice the time in which the sheet clears; fix this one again at once, and wash it"
	case "over-fixed":
		v.Text = fmt.Sprintf("%s lay too long in the fixer, which bleaches the highlights: %s", noun, times)
		v.Next = "take it out when its time is over; washing goes on in water"
	}
	if v.Entries == nil {
		v.Entries = idsOf(&s.Entry)
	}
}
