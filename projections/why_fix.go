package projections

import (
	"math"

	"traybook/calc"
	"traybook/events"
)

// fixed holds the fixing, all of it, against what it called for.
func (r *replay) fixed(l *sheetLog) error {
	in, wrong, err := r.d.stays(r.p, l.sheet, "fixer")
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
	if len(in) == 0 || in[0].need.NominalS == 0 {
		return nil
	}
	s := in[0]
	called := s.need.TimeS
	share := math.Exp2(s.ratio())
	for _, more := range in[1:] {
		if more.need.NominalS > 0 {
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
				r.fixing(l, s, cause, parts[i]/ratio)
			}
		}
		return nil
	case called != nil && calc.FixTooLong(s.done, *called):
		r.fixing(l, s, "fixing-long", 1)
	}
	if s.need.Age.Used >= calc.BathSpentShare || s.silver() {
		r.fixing(l, s, "fixer-spent", 0.9)
	}
	if s.isOld() {
		r.fixing(l, s, "fixer-old", 0.9)
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
func (r *replay) fixing(l *sheetLog, s *stay, cause string, part float64) {
	v := &deviation{on: l}
	v.Cause = cause
	v.Entries = idsOf(&s.entry, s.bath.mixing())
	v.Done, v.CalledFor, v.Unit = new(s.done), s.need.TimeS, "s"
	r.bathWords(v, s)
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
	v.Done, v.Unit = new(0.0), "s"
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
