package why

import (
	"cmp"
	"math"
	"slices"

	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// lasting is a thing that sheets share, an old paper, a leak, a paper's contrast, a long fixing: it stands in the log, but only roughly how
// much it does. Sizes are over what an eye just sees, 0 = it is seen half of the time: of a veil or a time in natural logarithms,
// of a range of light in log10. All are our own model.
type lasting struct {
	scatter float64 // how far its true size lies from what the log leads one to expect
	uneven  float64 // how unevenly it meets one sheet and the next
}

var (
	agedBox   = lasting{math.Log(6), 0.2} // a box ages alike; in a cold cellar or a hot van, each ten degrees doubling it, up to six times as slowly or fast
	leaking   = lasting{math.Log(4), 0.5} // shade and sun on the camera
	creeping  = lasting{math.Log(4), 0.5} // fixer at the edges; papers differ
	misranged = lasting{0.3, 0.1}         // eyes mind one another's contrast little; ordinary scenes differ
)

const (
	seenStray = 0.05 // how often a sheet shows the same by something else
	harmless  = 0.5  // it does nothing, as often as not: mended, stored cold, what this eye likes, and nobody writes that
)

// sharing is a sheet that shared it: by the size that is expected there, whether it was found to show it. Of one that nobody
// judged, or that failed by something else, nothing is known: who names one fault does not deny another.
type sharing struct {
	size       float64
	fell, kept bool
}

// control holds what sheets share against how those were judged that shared it: kept ones speak against it as far as they would
// have shown it, those that fell speak for it. own is the sheet that is asked about. chance is the probability that it showed
// there; by is what its size is expected to be over own.size, in its unit; -Inf for nothing.
func (of lasting) control(own sharing, others []sharing) (chance, by float64) {
	const steps = 120
	shown := func(size float64) float64 { return math.Erfc(-size/of.uneven/math.Sqrt2) / 2 }
	judged := func(s sharing, at float64) float64 { // the probability of what was judged
		switch at = seenStray + (1-seenStray)*at; {
		case s.fell:
			return at
		case s.kept:
			return 1 - at
		}
		return 1
	}
	var all, showed, active, mean float64
	for i := range steps + 1 {
		off := (2*float64(i)/steps - 1) * 3.5 * of.scatter
		p := normal(off, of.scatter) * (1 - harmless)
		for _, o := range others {
			p *= judged(o, shown(o.size+off))
		}
		at := shown(own.size + off)
		if p *= judged(own, at); own.fell { // by it, or by something else in spite of it
			showed += p * at / (seenStray + (1-seenStray)*at)
		} else {
			showed += p * at
		}
		active += p
		mean += p * off
		all += p
	}
	nothing := judged(own, 0)
	for _, o := range others {
		nothing *= judged(o, 0)
	}
	for i := range steps + 1 {
		all += nothing * normal((2*float64(i)/steps-1)*3.5*of.scatter, of.scatter) * harmless
	}
	if active == 0 {
		return 0, math.Inf(-1)
	}
	return showed / all, mean/active + math.Log(active/all)
}

// sharers are the judged sheets of other pictures, on the same box within a week, that shared something, each with the size that
// is expected of it; they fell where they show one of some symptoms.
func (r *replay) sharers(l *calledfor.SheetLog, size float64, fallen map[string]float64, shares func(*otherSheet) bool) ([]sharing, error) {
	if l.Box == nil || l.Exposure == nil {
		return nil, nil
	}
	uses, err := r.usesNear(l.Box.Entity.ID, l.Exposure.At)
	if err != nil {
		return nil, err
	}
	uses = slices.Clone(uses)
	slices.SortStableFunc(uses, func(a, b boxExposure) int {
		return cmp.Compare(a.entry.At.Sub(l.Exposure.At).Abs(), b.entry.At.Sub(l.Exposure.At).Abs())
	})
	var out []sharing
	for _, u := range uses {
		if len(out) == 2*mostKept {
			break
		}
		if u.picture == r.p.Entity.Name || (u.part == "n") != (l.Sheet.Generation == snapshot.Negative) || u.entry.At.Sub(l.Exposure.At).Abs() > holderKept {
			continue
		}
		o, err := r.otherSheet(u.sheet)
		if err != nil {
			return nil, err
		}
		if o == nil {
			continue
		}
		if s := judgedBy(o.log, size, fallen); (s.fell || s.kept) && shares(o) {
			out = append(out, s)
		}
	}
	return out, nil
}

// judgedBy is a sheet that shared something of a size: it fell where it failed by one of some symptoms.
func judgedBy(l *calledfor.SheetLog, size float64, of map[string]float64) sharing {
	v := l.Sheet.Verdict()
	return sharing{size: size, kept: v != nil && v.Verdict == "keep",
		fell: l.Failed && slices.ContainsFunc(l.Symptoms, func(s string) bool { return of[s] > 0 })}
}

// itself is the sheet that is asked about: a negative that nobody judged fell where one of its prints shows what comes through.
func (r *replay) itself(l *calledfor.SheetLog, size float64, own, through map[string]float64) sharing {
	s := judgedBy(l, size, own)
	if l.Sheet.Generation == snapshot.Negative && l.Sheet.Verdict() == nil {
		s.fell = slices.ContainsFunc(r.sheets, func(o *calledfor.SheetLog) bool { return o != l && judgedBy(o, size, through).fell })
	}
	return s
}
