package projections

import (
	"math"

	"traybook/calc"
	"traybook/events"
)

// stay is one stay in a developer or a fixer, taken apart: what its time is, in log2, because of the hand, the
// temperature, the use and the age of the bath. Their sum is the ratio of what was given to what was called for.
type stay struct {
	entry  events.Entry
	bath   *Bath
	need   BathNeed
	done   float64
	hand   float64
	warmth float64
	used   float64
	old    float64
	rockS  *float64
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

// stayOf takes one stay apart; nil where the bath is gone or was not mixed.
func (d *Desk) stayOf(p *Picture, e events.Entry) (*stay, error) {
	step, err := d.Step(p, e)
	if err != nil || step.Bath == nil {
		return nil, err
	}
	b, err := d.Bath(events.PlacesOf(e.Data).Bath)
	if err != nil {
		return nil, err
	}
	s := &stay{entry: e, bath: b, need: *step.Bath, done: orF(step.DoneS, 0)}
	switch x := e.Data.(type) {
	case *events.SheetDevelopedData:
		s.rockS = x.RockS
	case *events.SheetFixedData:
		s.rockS = x.RockS
	}
	if s.need.TimeS == nil && !s.need.Stopped {
		s.need.NominalS = 0 // nothing calls for a time, so nobody is accused
	}
	if s.need.NominalS == 0 {
		return s, nil
	}
	factor, err := s.need.Warmth()
	if err != nil {
		return nil, err
	}
	s.hand, s.warmth, s.used = math.Log2(s.done/s.need.NominalS), -math.Log2(factor), -math.Log2(s.need.Growth())
	if s.isOld() {
		slowed := 1.0
		if g, err := calc.OldDeveloperGrowth(s.need.Age.TrayH, s.need.Age.LifeH); err == nil {
			slowed = g
		}
		s.old = -math.Log2(math.Max(slowed, oldLeast))
	}
	if s.need.Stopped {
		s.warmth-- // hydroquinone has stopped: as if half the time. Our own model
	}
	// What lies below its floor is no cause of its own: the hand should have met it.
	if math.Abs(s.need.TempC-s.need.NominalC) < floorTempC {
		s.hand, s.warmth = s.hand+s.warmth, 0
	}
	if s.need.Used < calc.BathTiredShare {
		s.hand, s.used = s.hand+s.used, 0
	}
	return s, nil
}

// isOld says whether the bath is so far past its life that it shows.
func (s *stay) isOld() bool {
	if s.need.Age.LifeH > 0 && s.need.Age.TrayH >= oldFrom*s.need.Age.LifeH {
		return true
	}
	m := s.bath.Mixed
	if m.BottleDays != nil && s.need.Age.BottleDays >= oldFrom**m.BottleDays {
		return true
	}
	if m.Expires == "" {
		return false
	}
	return monthsBetween(endOfDate(m.Expires, s.entry.At.Location()), s.entry.At) >= floorMonths
}

// stays lists a sheet's stays in the baths of a role, and those in a bath of another.
func (d *Desk) stays(p *Picture, sheet *Sheet, role string) (in, wrong []*stay, err error) {
	list := sheet.Developed
	if role == "fixer" {
		list = sheet.Fixed
	}
	for _, e := range list {
		s, err := d.stayOf(p, e)
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
