package projections

import (
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
	s.called = new(s.nominal * factor * growth)
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

// mixing is the entry that mixed a bath.
func (b *Bath) mixing() *events.Entry {
	for i := range b.Entries {
		if b.Entries[i].Kind == events.BathMixed {
			return &b.Entries[i]
		}
	}
	return nil
}
