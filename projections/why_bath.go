package projections

import (
	"fmt"
	"math"

	"traybook/calc"
	"traybook/events"
)

// stay is one stay in a developer or a fixer, taken apart: what its time is, in log2, because of the hand, the
// temperature, the use and the age of the bath. Their sum is the ratio of what was given to what was called for.
type stay struct {
	entry   events.Entry
	bath    *Bath
	age     BathAge
	done    float64
	called  *float64
	nominal float64
	tempC   float64
	atC     float64 // the temperature the nominal time is for
	hand    float64
	warmth  float64
	used    float64
	old     float64
	dead    bool // so cold that the developer stopped
	rockS   *float64
}

// ratio is log2 of given ÷ called for.
func (s *stay) ratio() float64 { return s.hand + s.warmth + s.used + s.old }

const (
	floorTempC = 1.5
	// oldFrom is the share of its tray life from which a bath's age shows. Our own model.
	oldFrom = 1.2
	// oldLeast is the least that a bath past its life is slowed by. Our own model.
	oldLeast    = 1.25
	floorMonths = 12.0
)

// stayOf takes one stay apart; nil where the bath has no time.
func (r *replay) stayOf(l *sheetLog, e events.Entry, name string, doneS float64, tempC, rockS *float64, role string) (*stay, error) {
	b, err := quiet(r.d.Bath(name))
	if err != nil || b == nil || b.Mixed == nil {
		return nil, err
	}
	s := &stay{entry: e, bath: b, done: doneS, nominal: orF(b.Mixed.TimeS, 0), atC: orF(b.Mixed.TempC, calc.BathTempC), rockS: rockS}
	own := l.paper.DevelopS
	if role == "fixer" {
		own = l.paper.FixS
	}
	if own > 0 {
		s.nominal, s.atC = own, calc.BathTempC
	}
	s.tempC, _ = b.TempAt(e.At)
	if tempC != nil {
		s.tempC = *tempC
	}
	if s.age, err = r.d.AgeOf(b, e.At, true, l.sheet.Name); err != nil {
		return nil, err
	}
	if s.nominal == 0 {
		return s, nil
	}
	factor, err := calc.TemperatureFactor(s.atC, s.tempC, orF(b.Mixed.Q10, calc.DefaultQ10))
	if err != nil {
		factor = 1
	}
	growth, slowed := calc.DeveloperGrowth(s.age.Used), 1.0
	if role == "fixer" {
		growth = math.Exp2(s.age.Used)
	}
	s.called = ptr(s.nominal * factor * growth)
	s.hand, s.warmth, s.used = math.Log2(s.done/s.nominal), -math.Log2(factor), -math.Log2(growth)
	if s.isOld() {
		if g, err := calc.OldDeveloperGrowth(s.age.TrayH, s.age.LifeH); err == nil {
			slowed = g
		}
		s.old = -math.Log2(math.Max(slowed, oldLeast))
	}
	if role == "developer" && s.tempC < calc.DeveloperStopsC {
		s.dead, s.called = true, nil
		s.warmth-- // hydroquinone has stopped: as if half the time. Our own model
	}
	// What lies below its floor is no cause of its own: the hand should have met it.
	if math.Abs(s.tempC-s.atC) < floorTempC {
		s.hand, s.warmth = s.hand+s.warmth, 0
	}
	if s.age.Used < calc.BathTiredShare {
		s.hand, s.used = s.hand+s.used, 0
	}
	return s, nil
}

// isOld says whether the bath is so far past its life that it shows.
func (s *stay) isOld() bool {
	if s.age.LifeH > 0 && s.age.TrayH >= oldFrom*s.age.LifeH {
		return true
	}
	m := s.bath.Mixed
	if m.BottleDays != nil && s.age.BottleDays >= oldFrom**m.BottleDays {
		return true
	}
	if m.Expires == "" {
		return false
	}
	return monthsBetween(endOfDate(m.Expires, s.entry.At.Location()), s.entry.At) >= floorMonths
}

// stays lists a sheet's stays in the baths of a role, and those in a bath of another.
func (r *replay) stays(l *sheetLog, role string) (in, wrong []*stay, err error) {
	list := l.sheet.Developed
	if role == "fixer" {
		list = l.sheet.Fixed
	}
	for _, e := range list {
		var s *stay
		switch x := e.Data.(type) {
		case *events.SheetDevelopedData:
			s, err = r.stayOf(l, e, x.Bath, x.TimeS, x.TempC, x.RockS, role)
		case *events.SheetFixedData:
			s, err = r.stayOf(l, e, x.Bath, x.TimeS, x.TempC, x.RockS, role)
		}
		switch {
		case err != nil:
			return nil, nil, err
		case s == nil:
		case s.bath.Mixed.Role == role:
			in = append(in, s)
		default:
			wrong = append(wrong, s)
		}
	}
	return in, wrong, nil
}

// blame shares a ratio out among what pushed that way, in log2 of time: hand, warmth, use, age.
func blame(s *stay, ratio float64) [4]float64 {
	parts := [4]float64{s.hand, s.warmth, s.used, s.old}
	var sum float64
	for i, p := range parts {
		if (p > 0) != (ratio > 0) || p == 0 {
			parts[i] = 0
		}
		sum += parts[i]
	}
	for i := range parts {
		if sum != 0 {
			parts[i] *= ratio / sum
		}
		if math.Abs(parts[i]) < math.Abs(ratio)*0.15 { // a crumb is no cause
			parts[i] = 0
		}
	}
	return parts
}

// developed holds the development against what it called for.
func (r *replay) developed(l *sheetLog) error {
	in, wrong, err := r.stays(l, "developer")
	if err != nil {
		return err
	}
	for _, s := range wrong {
		r.swapped(l, s, "developed")
	}
	if len(in) == 0 {
		return nil
	}
	s := in[0]
	if s.nominal == 0 {
		return nil
	}
	ratio := s.ratio()
	for _, more := range in[1:] { // a second stay adds to the first
		if more.nominal > 0 {
			ratio = math.Log2(math.Exp2(ratio) + math.Exp2(more.ratio()))
			s.hand = ratio - s.warmth - s.used - s.old
			s.done += more.done
		}
	}
	within := ratio >= math.Log2(calc.DevelopLossBelow)-1e-9 && ratio <= math.Log2(calc.DevelopDarkAbove)+1e-9
	if within && !s.dead {
		r.bathState(l, s)
		return nil
	}
	if ratio < 0 && !s.dead && r.pulledEarly(l, s) {
		return nil
	}
	if s.dead && ratio > 0 {
		ratio = s.warmth / 2 // however long: a developer that has stopped
		s.hand, s.used, s.old = 0, 0, 0
	}
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
		return [4]string{"development-short", "developer-cold", "developer-spent", "developer-old"}
	}
	return [4]string{"development-long", "developer-warm", "development-long", "development-long"}
}

// development tells one cause of a development that was off.
func (r *replay) development(l *sheetLog, s *stay, cause string, part, ratio float64) {
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.DevRatio *= math.Exp2(part) }}
	v.Cause = cause
	v.Entries = idsOf(&s.entry, s.bath.mixing())
	v.Done, v.CalledFor, v.Unit = ptr(s.done), s.called, "s"
	v.Stops = ptr(twoPlaces(calc.DevelopmentEffect(math.Exp2(part)).SpeedStops))
	r.bathWords(v, s, ratio)
	long := math.Exp2(ratio) >= calc.DevelopFogAbove-1e-9
	hot := s.tempC > calc.BathWarmC
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
		return r.bathStains(cause, symptom)
	}
	r.add(v)
}

// bathStains are the symptoms without a tone of a developer by its state. From the fault tables of the handbooks.
func (r *replay) bathStains(cause, symptom string) float64 {
	return stains[cause][symptom]
}

// stains says how likely a cause without a tone leads to a symptom. Directions are published (fault tables of the
// handbooks); the weights are our own.
var stains = map[string]map[string]float64{
	"developer-spent": {"green-fog": 1, "brown-stain": 0.7, "yellow-stain": 0.6, "flat": 0.5, "weak-blacks": 0.5, "too-light": 0.4, "thin": 0.4},
	"developer-old":   {"yellow-stain": 0.9, "brown-stain": 0.7, "green-fog": 0.6, "grey-fog": 0.4, "mottled": 0.4, "spots-dark": 0.4, "flat": 0.5, "weak-blacks": 0.5, "too-light": 0.4, "thin": 0.4},
	"fixing-short":    {"milky": 1, "purple-stain": 1, "yellow-stain": 0.9, "brown-stain": 0.9, "faded": 0.8},
	"fixer-cold":      {"milky": 1, "purple-stain": 0.9, "yellow-stain": 0.8, "brown-stain": 0.8, "faded": 0.7},
	"fixer-spent":     {"milky": 0.95, "yellow-stain": 1, "brown-stain": 1, "purple-stain": 0.9, "faded": 0.9, "scum": 0.6},
	"fixer-old":       {"scum": 1, "milky": 0.9, "yellow-stain": 0.9, "brown-stain": 0.8, "purple-stain": 0.7, "faded": 0.8},
	"fixing-long":     {"bleached": 1, "too-light": 0.5, "faded": 0.4},
	"washing-short":   {"faded": 1, "yellow-stain": 0.9, "brown-stain": 0.9, "scum": 0.4},
	"rinse-skipped":   {"yellow-stain": 0.7, "green-fog": 0.8, "purple-stain": 0.6, "brown-stain": 0.6, "streaks-dark": 0.4, "streaks-light": 0.4, "mottled": 0.4, "milky": 0.3, "scum": 0.3},
	"bath-shallow":    {"mottled": 0.9, "streaks-light": 0.8, "streaks-dark": 0.8, "one-side-light": 0.6, "purple-stain": 0.5, "spots-white": 0.3},
	"agitation-short": {"mottled": 1, "streaks-light": 0.9, "streaks-dark": 0.9, "spots-white": 0.4},
	"baths-swapped": {"blank": 1, "milky": 1, "purple-stain": 1, "too-light": 0.95, "thin": 0.95, "black": 0.9, "grey-fog": 0.9, "too-dark": 0.8, "dense": 0.8, "flat": 0.8,
		"weak-blacks": 0.8, "yellow-stain": 0.9, "brown-stain": 0.9, "green-fog": 0.9, "faded": 0.9, "mottled": 0.5},
}

// bathState tells a developer that was given its time and was spent or past its life all the same, or too hot.
func (r *replay) bathState(l *sheetLog, s *stay) {
	add := func(cause string) {
		v := &deviation{on: l}
		v.Cause = cause
		v.Entries = idsOf(&s.entry, s.bath.mixing())
		r.bathWords(v, s, 0)
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
	if s.age.Used >= calc.BathSpentShare {
		add("developer-spent")
	}
	if s.isOld() {
		add("developer-old")
	}
	if s.tempC > calc.BathWarmC && s.tempC-s.atC >= floorTempC {
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
	usual := usualImage * *s.called
	for _, e := range s.bath.Entries {
		if t, ok := e.Data.(*events.BathTestedData); ok && t.Test == "first-image" && t.Value > 0 && !e.At.After(s.entry.At) {
			usual = t.Value
		}
	}
	early := x.FirstImageS != nil && calc.EarlyImage(*x.FirstImageS, usual)
	over := false
	ratio := s.ratio()
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

// swapped tells a sheet that went into the wrong bath.
func (r *replay) swapped(l *sheetLog, s *stay, act string) {
	v := &deviation{on: l}
	v.Cause = "baths-swapped"
	v.Entries = idsOf(&s.entry, s.bath.mixing())
	v.Done, v.Unit = ptr(s.done), "s"
	v.Text = fmt.Sprintf("%s was %s in %s, which is a %s", l.noun(), act, s.bath.Thing.Name, s.bath.Mixed.Role)
	v.Next = "trays in one order, always from the same side, each with its own tongs"
	v.shows = func(symptom string, seen *sheetLog) float64 {
		if seen != l {
			return 0
		}
		return stains["baths-swapped"][symptom]
	}
	r.add(v)
}

// fixed holds the fixing, all of it, against what it called for.
func (r *replay) fixed(l *sheetLog) error {
	in, wrong, err := r.stays(l, "fixer")
	if err != nil {
		return err
	}
	for _, s := range wrong {
		r.swapped(l, s, "fixed")
	}
	if len(l.sheet.Fixed) > 0 && len(l.sheet.Developed) > 0 && l.sheet.Fixed[0].At.Before(l.sheet.Developed[0].At) && len(wrong) == 0 && len(in) > 0 {
		r.swapped(l, in[0], "fixed before it was developed,")
	}
	if len(l.sheet.Fixed) == 0 && len(l.sheet.Developed) > 0 && len(l.sheet.Washed)+len(l.sheet.Judged) > 0 {
		r.unfixed(l)
	}
	if len(in) == 0 || in[0].nominal == 0 {
		return nil
	}
	s := in[0]
	called := s.called
	share := math.Exp2(s.ratio())
	for _, more := range in[1:] {
		if more.nominal > 0 {
			share += math.Exp2(more.ratio())
			s.done += more.done
		}
	}
	ratio := math.Log2(share)
	s.hand = ratio - s.warmth - s.used - s.old
	switch {
	case share <= calc.FixShortBelow+1e-9:
		parts := blame(s, ratio)
		for i, cause := range [4]string{"fixing-short", "fixer-cold", "fixer-spent", "fixer-old"} {
			if parts[i] != 0 {
				r.fixing(l, s, cause, ratio, parts[i]/ratio)
			}
		}
		return nil
	case called != nil && calc.FixTooLong(s.done, *called):
		r.fixing(l, s, "fixing-long", ratio, 1)
	}
	if s.age.Used >= calc.BathSpentShare || s.silver() {
		r.fixing(l, s, "fixer-spent", 0, 0.9)
	}
	if s.isOld() {
		r.fixing(l, s, "fixer-old", 0, 0.9)
	}
	return nil
}

// spentSilver is the silver in a fixer, g/l, from which it leaves compounds in the sheet that do not wash out. Common
// practice.
const spentSilver = 2.0

// silver says whether the latest strip before the stay found the fixer full of silver.
func (s *stay) silver() bool {
	full := false
	for _, e := range s.bath.Entries {
		if x, ok := e.Data.(*events.BathTestedData); ok && x.Test == "silver-strip" && !e.At.After(s.entry.At) {
			full = x.Value >= spentSilver
		}
	}
	return full
}

// fixing tells one cause of a fixing that was off; part is its share of it.
func (r *replay) fixing(l *sheetLog, s *stay, cause string, ratio, part float64) {
	v := &deviation{on: l}
	v.Cause = cause
	v.Entries = idsOf(&s.entry, s.bath.mixing())
	v.Done, v.CalledFor, v.Unit = ptr(s.done), s.called, "s"
	r.bathWords(v, s, ratio)
	v.shows = func(symptom string, seen *sheetLog) float64 {
		if seen != l {
			return 0
		}
		return stains[cause][symptom] * math.Max(part, 0.3)
	}
	r.add(v)
}

// unfixed tells a sheet whose log holds no fixing at all.
func (r *replay) unfixed(l *sheetLog) {
	v := &deviation{on: l}
	v.Cause = "fixing-short"
	v.Entries = idsOf(&l.sheet.Developed[0])
	v.Done, v.Unit = ptr(0.0), "s"
	v.Text = l.noun() + " was developed and, by the log, never fixed"
	v.Next = "fix it now in fresh fixer, away from light, and write it down"
	v.shows = func(symptom string, seen *sheetLog) float64 {
		if seen != l {
			return 0
		}
		return stains["fixing-short"][symptom] * 0.9
	}
	r.add(v)
}

// mixing is the entry that mixed a bath.
func (b *Bath) mixing() *events.Entry {
	for i := range b.Entries {
		if b.Entries[i].Kind == events.BathMixed {
			return &b.Entries[i]
		}
	}
	return nil
}

// bathWords fills in what a bath's deviation says.
func (r *replay) bathWords(v *deviation, s *stay, ratio float64) {
	name, times := "the "+s.bath.Mixed.Role+" "+s.bath.Thing.Name, Seconds(s.done)
	if s.called != nil {
		times = fmt.Sprintf("%s given, %s called for", Seconds(s.done), Seconds(*s.called))
	}
	noun := v.on.noun()
	switch v.Cause {
	case "development-short":
		v.Text = fmt.Sprintf("%s was developed too short: %s", noun, times)
		v.Next = "develop the whole time that is called for; the bath's use and temperature are in it"
	case "development-long":
		v.Text = fmt.Sprintf("%s was developed too long: %s", noun, times)
		v.Next = "stop at the time that is called for; from twice that on the paper stains"
	case "developer-cold", "fixer-cold":
		v.Text = fmt.Sprintf("%s stood at %s °C instead of %s and the time was not lengthened for it: %s", name, Number(s.tempC), Number(s.atC), times)
		if s.dead {
			v.Text = fmt.Sprintf("%s stood at %s °C, and below 13 °C a developer stops working: no time makes up for it", name, Number(s.tempC))
		}
		v.Done, v.CalledFor, v.Unit = ptr(s.tempC), ptr(s.atC), "°C"
		v.Next = "warm the bath in a water jacket, or lengthen the time as called for"
	case "developer-warm":
		v.Text = fmt.Sprintf("%s stood at %s °C instead of %s: %s", name, Number(s.tempC), Number(s.atC), times)
		v.Done, v.CalledFor, v.Unit = ptr(s.tempC), ptr(s.atC), "°C"
		v.Next = "cool the bath, or shorten the time as called for"
	case "developer-spent", "fixer-spent":
		v.Text = fmt.Sprintf("%s had treated %s times the paper it can: %s", name, Number(s.age.Used), times)
		v.Done, v.CalledFor, v.Unit = ptr(s.age.AreaM2), ptr(s.age.CapacityM2), "m²"
		if s.age.Used < calc.BathTiredShare {
			v.Text = fmt.Sprintf("%s was full of silver by its test strip: %s", name, times)
		}
		v.Next = "mix fresh when baths shows it tired"
	case "developer-old", "fixer-old":
		v.Text = fmt.Sprintf("%s was past its life: %s in the tray", name, Seconds(s.age.TrayH*3600))
		v.Done, v.Unit = ptr(twoPlaces(s.age.TrayH)), "h"
		if s.age.LifeH > 0 {
			v.Text += fmt.Sprintf(", good for %s", Seconds(s.age.LifeH*3600))
			v.CalledFor = ptr(s.age.LifeH)
		}
		v.Next = "mix fresh, and bottle the bath between sessions"
	case "fixing-short":
		v.Text = fmt.Sprintf("%s was fixed too short: %s", noun, times)
		v.Next = "fix twice the time in which the sheet clears; fix this one again at once, and wash it"
	case "fixing-long":
		v.Text = fmt.Sprintf("%s lay too long in the fixer, which bleaches the lights: %s", noun, times)
		v.Next = "take it out when its time is over; washing goes on in water"
	}
	if v.Entries == nil {
		v.Entries = idsOf(&s.entry)
	}
}
