package projections

import (
	"math"

	"traybook/calc"
	"traybook/events"
)

// developed holds the development against what it called for.
func (r *replay) developed(l *sheetLog) error {
	_, wrong, err := r.d.stays(r.p, l.sheet, "developer")
	if err != nil {
		return err
	}
	for _, s := range wrong {
		r.swapped(l, s, "developed")
	}
	if l.dev == nil {
		return nil
	}
	s, ratio := l.dev.stay, l.dev.given
	within := ratio >= math.Log2(calc.DevelopLossBelow)-1e-9 && ratio <= math.Log2(calc.DevelopDarkAbove)+1e-9
	if within && !s.need.Stopped {
		r.bathState(l, s)
		return nil
	}
	if ratio < 0 && !s.need.Stopped && r.pulledEarly(l, s) {
		return nil
	}
	ratio = l.dev.total
	parts := blame(s, ratio)
	for i, cause := range developCauses(ratio) {
		if parts[i] != 0 {
			r.development(l, s, cause, parts[i], ratio)
		}
	}
	return nil
}

// development is all that a sheet got in its developers, as one stay. given is log2 of what was given ÷ called for, total
// the same as it counts: a developer that has stopped leaves it short, however long it lasted.
type development struct {
	*stay
	given, total float64
}

// developmentOf takes a sheet's stays in developers together: a second one adds to the first. nil where there is none, or
// nothing calls for a time.
func developmentOf(in []*stay) *development {
	if len(in) == 0 || in[0].need.NominalS == 0 {
		return nil
	}
	s := *in[0]
	given := s.ratio()
	for _, more := range in[1:] {
		if more.need.NominalS > 0 {
			given = math.Log2(math.Exp2(given) + math.Exp2(more.ratio()))
			s.hand = given - s.warmth - s.used - s.old
			s.done += more.done
		}
	}
	total := given
	if s.need.Stopped && given > 0 {
		total = s.warmth / 2
		s.hand, s.used, s.old = 0, 0, 0
	}
	return &development{&s, given, total}
}

func developCauses(ratio float64) [4]string {
	if ratio < 0 {
		return [4]string{"development-short", "developer-cold", "developer-spent", "developer-old"}
	}
	return [4]string{"development-long", "developer-warm", "development-long", "development-long"}
}

// development tells one cause of a development that was off.
func (r *replay) development(l *sheetLog, s *stay, cause string, part, ratio float64) {
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.DevRatio *= math.Exp2(part) }}
	v.Cause = cause
	v.Entries = idsOf(&s.entry, s.bath.mixing())
	v.Done, v.CalledFor, v.Unit = new(s.done), s.need.TimeS, "s"
	v.Stops = new(twoPlaces(calc.DevelopmentEffect(math.Exp2(part)).SpeedStops))
	r.bathWords(v, s)
	long := math.Exp2(ratio) >= calc.DevelopFogAbove-1e-9
	hot := s.need.TempC > calc.BathWarmC
	v.shows = func(symptom string, seen *sheetLog) float64 {
		short := ratio < 0
		switch {
		case seen != l && l.sheet.Generation == Negative && short && symptom == "flat":
			return 0.6 // a negative with little density has little to print
		case seen != l && l.sheet.Generation == Negative && short && symptom == "weak-blacks" && seen.metered:
			return 0.4
		case seen != l && l.sheet.Generation == Negative && !short && symptom == "weak-blacks" && (long || hot):
			return 0.5 // fog in the clear parts of a negative keeps light from the print's blacks
		case seen != l:
			return 0
		case short && (symptom == "flat" || symptom == "weak-blacks"):
			return 0.5
		case !short && symptom == "grey-fog" && (long || hot):
			return 0.9
		case !short && symptom == "veiled-whites" && (long || hot):
			return 0.7
		case !short && symptom == "yellow-stain" && (long || hot):
			return 1
		case !short && symptom == "yellow-stain":
			return 0.5
		case !short && (symptom == "grey-fog" || symptom == "veiled-whites"):
			return 0.35
		case !short && symptom == "harsh":
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

// bathState tells a developer that was given its time and was spent or past its life all the same, or too hot.
func (r *replay) bathState(l *sheetLog, s *stay) {
	add := func(cause string) {
		v := &deviation{on: l}
		v.Cause = cause
		v.Entries = idsOf(&s.entry, s.bath.mixing())
		r.bathWords(v, s)
		v.shows = func(symptom string, seen *sheetLog) float64 {
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
	if s.need.Age.Used >= calc.BathSpentShare {
		add("developer-spent")
	}
	if s.isOld() {
		add("developer-old")
	}
	if s.need.TempC > calc.BathWarmC && s.need.TempC-s.need.NominalC >= floorTempC {
		add("developer-warm")
	}
}

// usualImage is the usual time of the first image as a share of the time of development, where no test says better.
// Common practice.
const usualImage = 1.0 / 6

// pulledEarly says whether a sheet developed by inspection was pulled early because it came up too fast: that points to
// its exposure, and putting the exposure right puts the development right.
func (r *replay) pulledEarly(l *sheetLog, s *stay) bool {
	x := s.entry.Data.(*events.SheetDevelopedData)
	if x.By != "inspection" {
		return false
	}
	usual := usualImage * *s.need.TimeS
	for _, e := range s.bath.Entries {
		if t, ok := e.Data.(*events.BathTestedData); ok && t.Test == "first-image" && t.Value > 0 && !e.At.After(s.entry.At) {
			usual = t.Value
		}
	}
	early := x.FirstImageS != nil && calc.EarlyImage(*x.FirstImageS, usual)
	over := false
	ratio := l.dev.given
	for _, v := range r.deviations {
		if v.on != l || v.apply == nil || orF(v.Stops, 0) <= 0 || v.primary != nil {
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
		v.shows = func(symptom string, seen *sheetLog) float64 {
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
