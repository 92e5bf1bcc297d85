package calledfor

import (
	"errors"

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
	return s.inBath(needOf(snap, b, role, s.Paper, s.Entry.At, sheet, tempC))
}

// fixedBefore is what the fixings of a sheet before this one gave, as a share of what they called for: a second fixing
// adds to the first.
func fixedBefore(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, sheet string) (float64, error) {
	_, part, _ := events.SplitSheet(sheet)
	sh := p.Sheet(part)
	if sh == nil {
		return 0, nil
	}
	var share float64
	for _, f := range sh.Fixed {
		if f.ID == e.ID || events.Compare(f, e) > 0 {
			break
		}
		x := f.Data.(*events.SheetFixedData)
		s := Step{Entry: f}
		var off *calc.RangeError
		err := bathStep(snap, p, x.Sheet, x.Bath, x.TempC, x.TimeS, "fixer", &s)
		if err != nil && !wording.Refused(err) && !errors.As(err, &off) {
			return 0, err
		}
		if s.CalledForS != nil && *s.CalledForS > 0 {
			share += x.TimeS / *s.CalledForS
		}
	}
	return share, nil
}

// inBath takes over what a bath called for.
func (s *Step) inBath(n BathNeed, err error) error {
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

// washStep gives the called-for wash in seconds of soaking (or of running water, where that was used) and what was
// done of it.
func washStep(snap *snapshot.Snapshot, p *snapshot.Picture, x *events.SheetWashedData, s *Step) error {
	_, part, _ := events.SplitSheet(x.Sheet)
	if sh := p.Sheet(part); sh != nil {
		var err error
		if s.Paper, _, err = PaperAt(snap, sh); err != nil {
			return err
		}
	}
	base := s.Paper.WashBase()
	s.CalledForS, s.DoneS = WashTime(base, x)
	if sh := p.Sheet(part); sh != nil {
		s.Before = washedBefore(sh, s.Entry, base)
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

// washedBefore is what the washes of a sheet before this one, and after the last fixing before it, gave as a share of
// what they called for.
func washedBefore(sh *snapshot.Sheet, e events.Entry, base calc.Base) float64 {
	upTo := sh.UpTo(e)
	var share float64
	for _, w := range upTo.WashedSince() {
		if w.ID == e.ID {
			break
		}
		if called, done := WashTime(base, w.Data.(*events.SheetWashedData)); called != nil && *called > 0 {
			share += *done / *called
		}
	}
	return share
}

// WashOf calculates what the washes of a sheet left in it, one after another. Those before a later fixing count no more.
// known is false where nothing can be said: the paper is not known, or the figures are beyond the model.
func WashOf(snap *snapshot.Snapshot, sh *snapshot.Sheet) (r calc.WashReport, known bool, err error) {
	paper, box, err := PaperAt(snap, sh)
	if wording.Refused(err) { // the box is gone
		return r, false, nil
	}
	if err != nil || paper == nil {
		return r, false, err
	}
	base := paper.WashBase()
	area := box.Area() * PartOfSheet(sh)
	var washes []calc.WashDone
	for _, e := range sh.WashedSince() {
		x := e.Data.(*events.SheetWashedData)
		done := calc.WashDone{Base: base, Aid: x.Aid != "", VolumeML: snapshot.ValueOr(x.VolumeML, 0), SoakS: snapshot.ValueOr(x.SoakS, 0),
			RunningS: snapshot.ValueOr(x.RunningS, 0), TempC: snapshot.ValueOr(x.TempC, 20), AreaM2: area}
		if x.Changes != nil {
			done.Changes = float64(*x.Changes)
		}
		if x.Together != nil {
			done.Together = float64(*x.Together)
		}
		washes = append(washes, done)
	}
	r, err = calc.WashShort(washes...)
	var off *calc.RangeError
	if errors.As(err, &off) {
		return calc.WashReport{}, false, nil
	}
	return r, err == nil, err
}

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
