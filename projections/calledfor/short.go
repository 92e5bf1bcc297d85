package calledfor

import (
	"fmt"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Short says how the fixing and the washing of a sheet fall short, "" where they do not.
type Short struct{ Fixing, Washing string }

// ShortOf finds what falls short of what was called for, or of a test; one that found the sheet clear clears it.
func ShortOf(snap *snapshot.Snapshot, p *snapshot.Picture, s *snapshot.Sheet) (out Short, err error) {
	if out.Fixing, err = fixingShort(snap, p, s); err != nil {
		return out, err
	}
	if out.Washing, err = washingShort(snap, s); err != nil {
		return out, err
	}
	for _, t := range []struct {
		test  string
		short *string
		after [][]events.Entry
	}{{"silver", &out.Fixing, [][]events.Entry{s.Fixed}}, {"hypo", &out.Washing, [][]events.Entry{s.Washed, s.Fixed}}} {
		switch result := tested(s, t.test, t.after...); result {
		case "clear":
			*t.short = ""
		case "trace", "bad":
			*t.short = fmt.Sprintf("tested for %s: %s", t.test, result)
		}
	}
	return out, nil
}

// tested is the result of the latest test of a sort that was not followed by more of what it tests; "" for none.
func tested(s *snapshot.Sheet, test string, more ...[]events.Entry) string {
	for _, e := range slices.Backward(s.Entries) {
		x, ok := e.Data.(*events.SheetTestedData)
		if !ok || x.Test != test {
			continue
		}
		for _, done := range more {
			if len(done) > 0 && done[len(done)-1].At.After(e.At) {
				return ""
			}
		}
		return x.Result
	}
	return ""
}

// fixingShort says how a sheet's fixing falls short: none, under 85 % of the called-for time, or all of it in an exhausted
// bath. "" where it does not, or nothing was called for.
func fixingShort(snap *snapshot.Snapshot, p *snapshot.Picture, s *snapshot.Sheet) (string, error) {
	if len(s.Fixed) == 0 {
		return "no fixing is written", nil
	}
	share, known, exhausted, bath := 0.0, false, true, ""
	for _, e := range s.Fixed {
		step, err := StepOf(snap, p, e)
		if err != nil {
			return "", err
		}
		if step.CalledForS != nil && step.DoneS != nil {
			share, known = share + *step.DoneS / *step.CalledForS, true
		}
		exhausted = exhausted && step.Used >= calc.BathExhaustedShare
		bath = e.Data.(*events.SheetFixedData).Bath
	}
	switch {
	case known && share < calc.FixShortBelow:
		return fmt.Sprintf("fixed %s × its called-for time", wording.Significant(share, 2)), nil
	case exhausted:
		return fmt.Sprintf("fixed in %s, which was exhausted", bath), nil
	}
	return "", nil
}

// washingShort says how a sheet's washing falls short.
func washingShort(snap *snapshot.Snapshot, s *snapshot.Sheet) (string, error) {
	if len(s.Washed) == 0 {
		return "no washing is written", nil
	}
	if len(s.WashedSince()) == 0 {
		return "fixed again after its wash, and no washing is written since", nil
	}
	wash, known, err := WashOf(snap, s)
	switch {
	case err != nil || !known || !wash.Short:
		return "", err
	case wash.UnderShare():
		return fmt.Sprintf("washed %s × the called-for wash", wording.Significant(wash.Share, 2)), nil
	}
	return fmt.Sprintf("washed to %s g/m² estimated, over %s", wording.Number(wash.GPerM2), wording.Number(calc.WashLimit)), nil
}
