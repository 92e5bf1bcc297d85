package report

import (
	"fmt"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// lasting lists a kept or delivered sheet that was fixed or washed short and has not been tested clear since.
func (w *yearWork) lasting(p *snapshot.Picture, s *snapshot.Sheet) error {
	short, err := shortOf(w.d, p, s)
	if err != nil {
		return err
	}
	var why []string
	for _, text := range []string{short.fixing, short.washing} {
		if text != "" {
			why = append(why, text)
		}
	}
	if len(why) > 0 {
		w.r.MayNotLast = append(w.r.MayNotLast, MayNotLast{s.Name, s.State == snapshot.Delivered, why})
	}
	return nil
}

// short says how the fixing and the washing of a sheet fall short, "" where they do not.
type short struct{ fixing, washing string }

// shortOf finds what falls short of what was called for, or of a test; one that found the sheet clear clears it.
func shortOf(snap *snapshot.Snapshot, p *snapshot.Picture, s *snapshot.Sheet) (out short, err error) {
	if out.fixing, err = fixingShort(snap, p, s); err != nil {
		return out, err
	}
	if out.washing, err = washingShort(snap, s); err != nil {
		return out, err
	}
	for _, t := range []struct {
		test  string
		short *string
		after [][]events.Entry
	}{{"silver", &out.fixing, [][]events.Entry{s.Fixed}}, {"hypo", &out.washing, [][]events.Entry{s.Washed, s.Fixed}}} {
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
		step, err := calledfor.StepOf(snap, p, e)
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
		return fmt.Sprintf("fixed %s × its called-for time", wording.Number(round2(share))), nil
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
	wash, known, err := calledfor.WashOf(snap, s)
	switch {
	case err != nil || !known || !wash.Short:
		return "", err
	case wash.UnderShare():
		return fmt.Sprintf("washed %s × the called-for wash", wording.Number(round2(wash.Share))), nil
	}
	return fmt.Sprintf("washed to %s g/m² estimated, over %s", wording.Number(wash.GPerM2), wording.Number(calc.WashLimit)), nil
}

// consent is what a sitter allows as of a moment.
type consent struct {
	allowed map[string]bool
	erased  bool
}

var consents = []string{"keep", "show", "publish"}

// consented lists a picture whose sitter has not consented to all that may be done with it.
func (w *yearWork) consented(p *snapshot.Picture) error {
	c := w.consents[p.Sitter]
	if c == nil {
		c = &consent{allowed: map[string]bool{}}
		t, ok, err := w.d.R.Entity(p.Sitter)
		if err != nil {
			return err
		}
		var entries []events.Entry
		if ok {
			if entries, err = w.d.Stream(t); err != nil {
				return err
			}
		}
		for _, e := range entries {
			if e.At.After(w.until) {
				continue
			}
			switch x := e.Data.(type) {
			case *events.SitterConsentedData:
				c.allowed[x.To] = (x.Withdrawn == nil || !*x.Withdrawn) && (x.Until == "" || !snapshot.EndOfDate(x.Until, e.At.Location()).Before(w.until))
			case *events.SitterErasedData:
				c.erased, c.allowed = true, map[string]bool{}
			}
		}
		w.consents[p.Sitter] = c
	}
	var missing []string
	for _, to := range consents {
		if !c.allowed[to] {
			missing = append(missing, to)
		}
	}
	if len(missing) > 0 {
		w.r.ConsentMissing = append(w.r.ConsentMissing, ConsentMissing{p.Entity.Name, p.Sitter, missing, c.erased})
	}
	return nil
}
