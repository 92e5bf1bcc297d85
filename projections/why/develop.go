package why

import (
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// developed holds the development against what it called for.
func (r *replay) developed(l *calledfor.SheetLog) error {
	_, wrong, err := calledfor.Stays(r.d, r.p, l.Sheet, "developer")
	if err != nil {
		return err
	}
	for _, s := range wrong {
		r.swapped(l, s, "developed")
	}
	if l.Dev == nil {
		return nil
	}
	s, ratio := l.Dev.Stay, l.Dev.Given
	within := ratio >= math.Log2(calc.DevelopLossBelow)-1e-9 && ratio <= math.Log2(calc.DevelopDarkAbove)+1e-9
	if within && !s.Need.Stopped {
		r.bathState(l, s)
		return nil
	}
	if ratio < 0 && !s.Need.Stopped && r.pulledEarly(l, s) {
		return nil
	}
	ratio = l.Dev.Total
	parts := blame(s, ratio)
	for i, cause := range developCauses(ratio) {
		if parts[i] != 0 {
			r.development(l, s, cause, parts[i], ratio)
		}
	}
	return nil
}

func developCauses(ratio float64) [4]string {
	if ratio < 0 {
		return [4]string{"under-developed", "developer-cold", "developer-exhausted", "developer-old"}
	}
	return [4]string{"over-developed", "developer-warm", "over-developed", "over-developed"}
}

// development tells one cause of a development that was off.
func (r *replay) development(l *calledfor.SheetLog, s *calledfor.Stay, cause string, part, ratio float64) {
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.DevRatio *= math.Exp2(part) }}
	v.Cause = cause
	v.Entries = idsOf(&s.Entry, mixing(s.Bath))
	v.Done, v.CalledFor, v.Unit = new(s.Done), s.Need.TimeS, "s"
	v.LowS, v.HighS = s.Need.Bounds()
	v.Stops = new(twoPlaces(calc.DevelopmentEffect(math.Exp2(part)).SpeedStops))
	r.bathWords(v, s)
	long := math.Exp2(ratio) >= calc.DevelopFogAbove-1e-9
	hot := s.Need.TempC > calc.BathWarmC
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		short := ratio < 0
		switch {
		case seen != l && l.Sheet.Generation == snapshot.Negative && short && symptom == "flat":
			return 0.6 // a negative with little density has little to print
		case seen != l && l.Sheet.Generation == snapshot.Negative && short && symptom == "weak-blacks" && seen.Metered:
			return 0.4
		case seen != l && l.Sheet.Generation == snapshot.Negative && !short && symptom == "weak-blacks" && (long || hot):
			return 0.5 // fog in the clear parts of a negative keeps light from the print's blacks
		case seen != l:
			return 0
		case short && (symptom == "flat" || symptom == "weak-blacks"):
			return 0.5
		case !short && symptom == "grey-fog" && (long || hot):
			return 0.9
		case !short && symptom == "fogged-highlights" && (long || hot):
			return 0.7
		case !short && symptom == "yellow-stain" && (long || hot):
			return 1
		case !short && symptom == "yellow-stain":
			return 0.5
		case !short && (symptom == "grey-fog" || symptom == "fogged-highlights"):
			return 0.35
		case !short && symptom == "contrasty":
			return 0.5
		case cause == "developer-warm" && symptom == "blistered":
			return 0.9
		case short && symptom == "mottled":
			return 0.4
		}
		return stains[cause][symptom]
	}
	r.add(v)
}

// bathState tells a developer that was given its time and was exhausted or past its life all the same, or too hot.
func (r *replay) bathState(l *calledfor.SheetLog, s *calledfor.Stay) {
	add := func(cause string) {
		v := &deviation{on: l}
		v.Cause = cause
		v.Entries = idsOf(&s.Entry, mixing(s.Bath))
		r.bathWords(v, s)
		v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
			switch {
			case seen != l:
				return 0
			case cause != "developer-warm":
				return stains[cause][symptom]
			case symptom == "blistered":
				return 0.9
			case symptom == "grey-fog" || symptom == "yellow-stain":
				return 0.7
			}
			return 0
		}
		r.add(v)
	}
	if s.Need.Age.Used >= calc.BathExhaustedShare {
		add("developer-exhausted")
	}
	if s.IsOld() {
		add("developer-old")
	}
	if s.Need.TempC > calc.BathWarmC && s.Need.TempC-s.Need.NominalC >= calc.FloorTempC {
		add("developer-warm")
	}
}

// usualImage is the usual time of appearance as a share of the time of development, where no test says better.
// Common practice.
const usualImage = 1.0 / 6

// pulledEarly says whether a sheet developed by inspection was pulled early because it came up too fast: that points to
// its exposure, and putting the exposure right puts the development right.
func (r *replay) pulledEarly(l *calledfor.SheetLog, s *calledfor.Stay) bool {
	x := s.Entry.Data.(*events.SheetDevelopedData)
	if x.By != "inspection" {
		return false
	}
	usual := usualImage * *s.Need.TimeS
	for _, e := range s.Bath.Entries {
		if t, ok := e.Data.(*events.BathTestedData); ok && t.Test == "time-of-appearance" && t.Value > 0 && !e.At.After(s.Entry.At) {
			usual = t.Value
		}
	}
	early := x.TimeOfAppearanceS != nil && calc.EarlyImage(*x.TimeOfAppearanceS, usual)
	over := false
	ratio := l.Dev.Given
	for _, v := range r.on[l] {
		if v.apply == nil || snapshot.ValueOr(v.Stops, 0) <= 0 {
			continue
		}
		over = true
		put := v.apply
		v.apply = func(m *calc.SheetModel) {
			put(m)
			if m.DevRatio == 1 {
				m.DevRatio = math.Exp2(ratio)
			}
		}
		shows := v.shows
		v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
			if seen == l {
				switch symptom {
				case "mottled":
					return 0.9
				case "flat", "weak-blacks":
					return 0.8
				case "too-light", "thin":
					return 0.6
				}
			}
			if shows == nil {
				return 0
			}
			return shows(symptom, seen)
		}
	}
	return early || over
}
