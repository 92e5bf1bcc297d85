package calledfor

import (
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
)

// Stay is one stay in a developer or a fixer, taken apart: what its time is, in log2, because of the hand, the
// temperature, the use and the age of the bath. Their sum is the ratio of what was given to what was called for.
type Stay struct {
	Entry  events.Entry
	Bath   *snapshot.Bath
	Need   BathNeed
	Done   float64
	Hand   float64
	Warmth float64
	Used   float64
	Old    float64
	rockS  *float64
}

// Ratio is log2 of given ÷ called for.
func (s *Stay) Ratio() float64 { return s.Hand + s.Warmth + s.Used + s.Old }

// stayOf takes one stay apart; nil where the bath is gone or was not mixed.
func stayOf(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry) (*Stay, error) {
	step, err := StepOf(snap, p, e)
	if err != nil || step.Bath == nil {
		return nil, err
	}
	b, err := snap.Bath(events.PlacesOf(e.Data).Bath)
	if err != nil {
		return nil, err
	}
	s := &Stay{Entry: e, Bath: b, Need: *step.Bath, Done: snapshot.ValueOr(step.DoneS, 0)}
	switch x := e.Data.(type) {
	case *events.SheetDevelopedData:
		s.rockS = x.RockS
	case *events.SheetFixedData:
		s.rockS = x.RockS
	}
	if s.Need.TimeS == nil && !s.Need.Stopped {
		s.Need.NominalS = 0 // nothing calls for a time, so nobody is accused
	}
	if s.Need.NominalS == 0 {
		return s, nil
	}
	factor, err := s.Need.Warmth()
	if err != nil {
		return nil, err
	}
	s.Hand, s.Warmth, s.Used = math.Log2(s.Done/s.Need.NominalS), -math.Log2(factor), -math.Log2(s.Need.Growth())
	if s.IsOld() {
		slowed := 1.0
		if g, err := calc.OldDeveloperGrowth(s.Need.Age.TrayH, s.Need.Age.LifeH); err == nil {
			slowed = g
		}
		s.Old = -math.Log2(math.Max(slowed, calc.BathOldLeast))
	}
	if s.Need.Stopped {
		s.Warmth-- // hydroquinone has stopped: as if half the time. Our own model
	}
	// What lies below its floor is no cause of its own: the hand should have met it.
	if math.Abs(s.Need.TempC-s.Need.NominalC) < calc.FloorTempC {
		s.Hand, s.Warmth = s.Hand+s.Warmth, 0
	}
	if s.Need.Used < calc.BathTiredShare {
		s.Hand, s.Used = s.Hand+s.Used, 0
	}
	return s, nil
}

// IsOld says whether the bath is so far past its life that it shows.
func (s *Stay) IsOld() bool {
	if s.Need.Age.LifeH > 0 && s.Need.Age.TrayH >= calc.BathOldFrom*s.Need.Age.LifeH {
		return true
	}
	m := s.Bath.Mixed
	if m.BottleDays != nil && s.Need.Age.BottleDays >= calc.BathOldFrom**m.BottleDays {
		return true
	}
	if m.Expires == "" {
		return false
	}
	return monthsBetween(snapshot.EndOfDate(m.Expires, s.Entry.At.Location()), s.Entry.At) >= calc.PaperGraceMonths
}

// Stays lists a sheet's stays in the baths of a role, and those in a bath of another.
func Stays(snap *snapshot.Snapshot, p *snapshot.Picture, sheet *snapshot.Sheet, role string) (in, wrong []*Stay, err error) {
	list := sheet.Developed
	if role == "fixer" {
		list = sheet.Fixed
	}
	for _, e := range list {
		s, err := stayOf(snap, p, e)
		switch {
		case err != nil:
			return nil, nil, err
		case s == nil:
		case s.Bath.Mixed.Role == role:
			in = append(in, s)
		default:
			wrong = append(wrong, s)
		}
	}
	return in, wrong, nil
}

// development is all that a sheet got in its developers, as one stay. given is log2 of what was given ÷ called for, total
// the same as it counts: a developer that has stopped leaves it short, however long it lasted.
type development struct {
	*Stay
	Given, Total float64
}

// developmentOf takes a sheet's stays in developers together: a second one adds to the first. nil where there is none, or
// nothing calls for a time.
func developmentOf(in []*Stay) *development {
	if len(in) == 0 || in[0].Need.NominalS == 0 {
		return nil
	}
	s := *in[0]
	given := s.Ratio()
	for _, more := range in[1:] {
		if more.Need.NominalS > 0 {
			given = math.Log2(math.Exp2(given) + math.Exp2(more.Ratio()))
			s.Hand = given - s.Warmth - s.Used - s.Old
			s.Done += more.Done
		}
	}
	total := given
	if s.Need.Stopped && given > 0 {
		total = s.Warmth / 2
		s.Hand, s.Used, s.Old = 0, 0, 0
	}
	return &development{&s, given, total}
}

// Silver says whether the latest strip before the stay found the fixer full of silver.
func (s *Stay) Silver() bool {
	full := false
	for _, e := range s.Bath.Entries {
		if x, ok := e.Data.(*events.BathTestedData); ok && x.Test == "silver-strip" && !e.At.After(s.Entry.At) {
			full = x.Value >= calc.FixerSilverGL
		}
	}
	return full
}
