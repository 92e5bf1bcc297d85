package calledfor

import (
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// bathStep works out what a stay in the developer or the fixer called for.
func bathStep(snap *snapshot.Snapshot, p *snapshot.Picture, sheet, bath string, tempC *float64, doneS float64, role string, s *Step) error {
	s.DoneS = new(doneS)
	b, err := snap.Bath(bath)
	if err != nil {
		return err
	}
	if b.Mixed == nil {
		return nil
	}
	_, part, _ := events.SplitSheet(sheet)
	if sh := p.Sheet(part); sh != nil {
		if s.Paper, _, err = PaperAt(snap, sh); err != nil {
			return err
		}
	}
	if err := s.inBath(needOf(snap, b, role, s.Paper, s.Entry.At, sheet, tempC)); err != nil || s.CalledForS == nil || doneS == 0 {
		return err
	}
	ratio := doneS / *s.CalledForS
	speed := calc.DevelopmentEffect(ratio).SpeedStops
	switch {
	case role == "fixer" && s.Paper != nil && calc.FixCreeps(s.Paper.WashBase(), doneS, *s.CalledForS):
		s.Warnings = append(s.Warnings, fixerCreeps.Warn())
	case role == "developer" && ratio >= calc.DevelopLossBelow && ratio <= calc.DevelopDarkAbove && math.Abs(speed) >= toldSpeed:
		s.Warnings = append(s.Warnings, speedMoved.Warn(math.Round(ratio*100)/100, speed))
	}
	return nil
}

// toldSpeed is from how many stops on it is told what a development costs or gives in speed.
const toldSpeed = 0.08

// What is told of a stay in a bath.
var (
	fixerCreeps = wording.Warns("fixer-creeps", "resin-coated paper is over-fixed from 2 min on: fixer creeps in at its edges and does not wash out")
	speedMoved  = wording.Warns("speed-moved", "developed {ratio} times as long as called for: the print stays good, but as if it had had {stops:stops} of exposure; adjust the next")
)

// bathKnown are the shares of its time between which that of a developer or a fixer is known.
var bathKnown = [2]float64{1 - calc.BathTimeKnown, 1 + calc.BathTimeKnown}

// Bounds are the bounds within which the time of a developer or a fixer is known, nil where it calls for none.
func (n BathNeed) Bounds() (low, high *float64) {
	if n.TimeS == nil {
		return nil, nil
	}
	return new(*n.TimeS * bathKnown[0]), new(*n.TimeS * bathKnown[1])
}

// inBath takes over what a bath called for.
func (s *Step) inBath(n BathNeed, err error) error {
	s.known = bathKnown
	s.Bath, s.TempC, s.Used, s.CalledForS = &n, n.TempC, n.Age.Used, n.TimeS
	s.Warnings = append(s.Warnings, n.Warnings...)
	return err
}

// plainBathStep gives the nominal time of a stop or a toner.
func plainBathStep(snap *snapshot.Snapshot, bath string, s *Step) error {
	if bath == "" {
		return nil
	}
	b, err := snap.Bath(bath)
	if err != nil || b.Mixed == nil {
		return err
	}
	s.CalledForS = b.Mixed.TimeS
	return nil
}

// reversalStep gives the time on the label of a bleach or a clearing bath, and of the second exposure what the maker of the
// bleach gives that the sheet was in.
func reversalStep(snap *snapshot.Snapshot, p *snapshot.Picture, x *events.SheetReversedData, s *Step) error {
	_, part, _ := events.SplitSheet(x.Sheet)
	sh := p.Sheet(part)
	if x.Stage != "expose" || sh == nil {
		return plainBathStep(snap, x.Bath, s)
	}
	for _, e := range sh.Reversals {
		r := e.Data.(*events.SheetReversedData)
		if r.Stage != "bleach" || r.Bath == "" || !e.At.Before(s.Entry.At) && e.ID != s.Entry.ID {
			continue
		}
		b, err := snap.Bath(r.Bath)
		if err != nil || b.Mixed == nil {
			return err
		}
		s.CalledForS = b.Mixed.SecondExposureS
	}
	return nil
}

// washStep gives the called-for wash in seconds of soaking (or of running water, where that was used) and what was
// done of it.
func washStep(snap *snapshot.Snapshot, p *snapshot.Picture, x *events.SheetWashedData, s *Step) error {
	_, part, _ := events.SplitSheet(x.Sheet)
	sh := p.Sheet(part)
	var err error
	if sh != nil {
		if s.Paper, _, err = PaperAt(snap, sh); err != nil {
			return err
		}
	}
	base := s.Paper.WashBase()
	s.CalledForS, s.DoneS = WashTime(base, x)
	s.known[0], s.known[1] = calc.WashTimeKnown(base)
	if sh != nil {
		if s.Before, err = washedBefore(snap, sh, s.Entry, base); err != nil {
			return err
		}
	}
	if x.TempC != nil {
		s.TempC = *x.TempC
	}
	return nil
}

// WashTime is what a wash called for in seconds of soaking (or of running water, where that was used), and what was
// done of it; nil where nothing says how long it was.
func WashTime(base calc.Base, x *events.SheetWashedData) (called, done *float64) {
	plan := calc.WashCalledFor(base, x.Aid != "")
	switch {
	case x.RunningS != nil && x.Changes == nil:
		return new(plan.RunningS), x.RunningS
	case x.Changes != nil:
		soak := float64(*x.Changes) * snapshot.ValueOr(x.SoakS, plan.SoakS)
		if x.RunningS != nil {
			soak += *x.RunningS / plan.RunningS * float64(plan.Changes) * plan.SoakS
		}
		return new(float64(plan.Changes) * plan.SoakS), new(soak)
	}
	return nil, nil
}

// PartOfSheet is the share of a whole sheet that was exposed, from above 0 to 1: a bath wears by area.
func PartOfSheet(sh *snapshot.Sheet) float64 {
	e := sh.Exposure()
	if e == nil {
		return 1
	}
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		return snapshot.ValueOr(x.Part, 1)
	case *events.SheetReprintedData:
		return snapshot.ValueOr(x.Part, 1)
	}
	return 1
}
