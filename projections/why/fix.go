package why

import (
	"fmt"
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/wording"
)

// fixed holds the fixing, all of it, against what it called for.
func (r *replay) fixed(l *calledfor.SheetLog) error {
	in, wrong, err := calledfor.Stays(r.d, r.p, l.Sheet, "fixer")
	if err != nil {
		return err
	}
	for _, s := range wrong {
		r.swapped(l, s, "fixed")
	}
	if len(l.Sheet.Fixed) > 0 && len(l.Sheet.Developed) > 0 && l.Sheet.Fixed[0].At.Before(l.Sheet.Developed[0].At) && len(wrong) == 0 && len(in) > 0 {
		r.swapped(l, in[0], "fixed before it was developed,")
	}
	if len(l.Sheet.Fixed) == 0 && len(l.Sheet.Developed) > 0 && len(l.Sheet.Washed)+len(l.Sheet.Judged) > 0 {
		r.unfixed(l)
	}
	if len(in) == 0 || in[0].Need.NominalS == 0 {
		return nil
	}
	s := in[0]
	called := s.Need.TimeS
	share := math.Exp2(s.Ratio())
	for _, more := range in[1:] {
		if more.Need.NominalS > 0 {
			share += math.Exp2(more.Ratio())
			s.Done += more.Done
		}
	}
	ratio := math.Log2(share)
	s.Hand = ratio - s.Warmth - s.Used - s.Old
	switch {
	case share <= calc.FixShortBelow+1e-9:
		parts := blame(s, ratio)
		for i, cause := range [4]string{"under-fixed", "fixer-cold", "fixer-exhausted", "fixer-old"} {
			if parts[i] != 0 {
				r.fixing(l, s, cause, parts[i]/ratio)
			}
		}
		return nil
	case called != nil && calc.FixTooLong(s.Done, *called):
		r.fixing(l, s, "over-fixed", 1)
	}
	if called != nil && calc.FixCreeps(l.Paper.WashBase(), s.Done, *called) {
		if err := r.crept(l, s); err != nil {
			return err
		}
	}
	if s.Need.Age.Used >= calc.BathExhaustedShare || s.Silver() {
		r.fixing(l, s, "fixer-exhausted", 0.9)
	}
	if s.IsOld() {
		r.fixing(l, s, "fixer-old", 0.9)
	}
	return nil
}

// fixing tells one cause of a fixing that was off; part is its share of it.
func (r *replay) fixing(l *calledfor.SheetLog, s *calledfor.Stay, cause string, part float64) {
	v := &deviation{on: l}
	v.Cause = cause
	v.Entries = idsOf(&s.Entry, mixing(s.Bath))
	v.Done, v.CalledFor, v.Unit = new(s.Done), s.Need.TimeS, "s"
	v.LowS, v.HighS = s.Need.Bounds()
	r.bathWords(v, s)
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		if seen != l {
			return 0
		}
		return stains[cause][symptom] * math.Max(part, 0.3)
	}
	r.add(v)
}

// creptEdges is what fixer shows that crept in at the edges of resin-coated paper and was not washed out: what any fixer does that
// is left in a sheet, after weeks. Published: analogue-photography.org knowledge base, Fixing Prints; the weights are our own.
var creptEdges = map[string]float64{"yellow-stain": 0.9, "brown-stain": 0.9, "faded": 0.8}

// crept tells fixer that crept in at the edges of resin-coated paper. It is seen after weeks or not at all, and sheets that lay in
// it as long and were still found good after weeks speak against it.
func (r *replay) crept(l *calledfor.SheetLog, s *calledfor.Stay) error {
	if !seenLate(l) {
		return nil
	}
	const seen = 2.0 // times the longest stay, at which it is seen half of the time. Our own model
	size := math.Log(s.Done / calc.FixMostRCS / seen)
	others, err := r.sharers(l, size, creptEdges, func(o *otherSheet) bool {
		given := 0.0
		for _, e := range o.log.Sheet.Fixed {
			given += e.Data.(*events.SheetFixedData).TimeS
		}
		return given > calc.FixMostRCS && seenLate(o.log)
	})
	if err != nil {
		return err
	}
	v := &deviation{on: l, quiet: true}
	minded, _ := creeping.control(r.itself(l, size, creptEdges, nil), others)
	v.most = just(minded)
	v.Cause, v.Entries = "over-fixed", idsOf(&s.Entry, mixing(s.Bath))
	v.Done, v.CalledFor, v.Unit = new(s.Done), s.Need.TimeS, "s"
	v.LowS, v.HighS = s.Need.Bounds()
	v.Text = fmt.Sprintf("%s lay %s in the fixer, which from 2 min on creeps in at the edges of resin-coated paper and does not wash out", noun(l), wording.Seconds(s.Done))
	v.Next = "fix resin-coated paper within two minutes, in fixer that is fresh enough for it"
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		if seen != l {
			return 0
		}
		return creptEdges[symptom]
	}
	r.add(v)
	return nil
}

// unfixed tells a sheet whose log holds no fixing at all.
func (r *replay) unfixed(l *calledfor.SheetLog) {
	v := &deviation{on: l}
	v.Cause = "under-fixed"
	v.Entries = idsOf(&l.Sheet.Developed[0])
	v.Done, v.Unit = new(0.0), "s"
	v.Text = noun(l) + " was developed and, by the log, never fixed"
	v.Next = "fix it now in fresh fixer, away from light, and write it down"
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		if seen != l {
			return 0
		}
		return stains["under-fixed"][symptom] * 0.9
	}
	r.add(v)
}
