package why

import (
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
)

// prior is how often a cause spoils an exposure, before anything is known of the sheet: one in so many. Our own figures,
// from what the handbooks of the trade warn of most; only their order of size matters, for the log outweighs them.
var prior = map[string]float64{
	"bellows-factor-forgotten":     0.04,  // people stand near, and nothing at the camera says so
	"bellows-factor-twice":         0.01,  // wants a meter behind the lens, or two tables
	"meter-at-wrong-index":         0.06,  // counts only where the reading was taken at another index than the paper's
	"filter-factor-forgotten":      0.03,  // the filter is seen, its factor is not
	"filter-factor-without-filter": 0.015, // the filter was taken off again
	"reciprocity-forgotten":        0.03,  // long times alone, where few count on
	"average-misread":              0.03,  // a meter takes what it sees for the mid-tone
	"wrong-paper":                  0.5,   // counts only where another box was written down as the one meant
	"wrong-aperture":               0.04,  // rings are turned for focusing and left
	"cap-mistimed":                 0.03,  // a count lost
	"planned-otherwise":            0.01,  // meant so, for a reason that nobody wrote
}

// Scatter of what no entry tells, standard deviations in stops. Our own.
const (
	planScatter   = 0.07 // a time worked out and rounded to what a hand can count
	planCoarse    = 0.2  // one plan in ten is worked out roughly
	slipScatter   = 1.2  // a slip may have any size
	sheetScatter  = 0.3  // meter, paper, bath and eye together
	unseenScatter = 1.3  // light that changed unseen, a lens left open: what no log shows
	unseenPrior   = 0.12 // how often such a thing is what failed a sheet
	leastMinded   = 0.3  // an eye does not mind less, half of the time
	otherLight    = 0.3  // how often a reading that was taken for another picture tells of another light
	lightScatter  = 1.0  // by how much
	leastRest     = 0.3  // what is left of a plan beside its causes is told by itself from here on
)

func logNormal(x, sd float64) float64 { return -x*x/(2*sd*sd) - math.Log(sd) }

func normal(x, sd float64) float64 { return math.Exp(logNormal(x, sd)) }

// logPlan is how well a plan fits that is off by so many stops; hand is the scatter of the hand that comes on top.
func logPlan(off, hand float64) float64 {
	return math.Log(0.9*normal(off, math.Hypot(planScatter, hand)) + 0.1*normal(off, math.Hypot(planCoarse, hand)))
}

// step rises from 0 to 1 about a threshold.
func step(x, at, width float64) float64 { return 1 / (1 + math.Exp(-(x-at)/width)) }

// material is the probability that a part of what was off, in stops of the tone that the eye judged, is what made it fail.
// net is all that the log accounts for, asked what the eye asked for, 0 where it gave no size. Where the log accounts for
// the whole every part of it counts that is not lost in it; where something else did most of it, only what alone is half.
func material(part, net, asked float64) float64 {
	of := func(all float64) float64 {
		log := (1 - unseenPrior) * normal(all-net, sheetScatter)
		other := unseenPrior * normal(all-net, unseenScatter)
		w := log / (log + other)
		share := part / math.Max(all, 1e-3)
		return w*step(share, 0.17, 0.03) + (1-w)*step(share, 0.5, 0.08)
	}
	if asked > 0 {
		return of(asked)
	}
	var sum, weight float64
	for all := 0.05; all < 6; all += 0.05 { // the eye named a direction: it was off by what an eye minds
		p := ((1-unseenPrior)*normal(all-net, sheetScatter) + unseenPrior*normal(all-net, unseenScatter)) * step(all, leastMinded, 0.05)
		sum += p * of(all)
		weight += p
	}
	return sum / math.Max(weight, 1e-12)
}

// slipNotScatter is the probability that the hand slipped where it was off by so many stops, and not that it scatters so:
// even at twice its scatter, almost sure at four times.
func slipNotScatter(off, scatter float64) float64 {
	return step(math.Abs(off)/scatter, 2, 0.6)
}

// Odds in words, by the probability that a cause is one.
const (
	almostSurely = 0.9
	probably     = 0.6
	leastOdds    = 0.3 // under which nobody is accused
)

// OddsIn tells a probability from 0 to 1 as one says it: "almost surely", "probably", "may be".
func OddsIn(p float64) string {
	switch {
	case p >= almostSurely:
		return "almost surely"
	case p >= probably:
		return "probably"
	}
	return "may be"
}

// scatter is a hand about its plans.
type scatter struct {
	calc.Hand
	fitted bool // from the book
}

// usualHand is a hand of which the book knows too little.
var usualHand = scatter{Hand: calc.Hand{Share: calc.UsualHandShare, ConstS: calc.UsualHandS}}

// handOf is the scatter of the hand, from the newest exposures from a box that were planned: the fit of calibrate.
func (r *replay) handOf(l *calledfor.SheetLog) (scatter, error) {
	if l.Box == nil {
		return usualHand, nil
	}
	if r.hands == nil {
		r.hands = map[int64]scatter{}
	}
	box := l.Box.Entity
	if h, ok := r.hands[box.ID]; ok {
		return h, nil
	}
	var presses []calc.CapPress
	for _, kind := range []events.Kind{events.SheetExposed, events.SheetReprinted} {
		uses, err := r.newestOf(box, kind)
		if err != nil {
			return usualHand, err
		}
		for _, e := range uses {
			picture, _, _ := events.SplitSheet(events.SheetOf(e.Data))
			if p, same, ok := calledfor.PressOf(e); ok && !same && picture != r.p.Entity.Name { // what is asked about is no witness
				presses = append(presses, p)
			}
		}
	}
	hand := usualHand
	if fit, err := calc.FitCap(presses); err == nil { // too few tell nothing of a hand
		hand = scatter{fit.AboutPlan(), true}
	}
	r.hands[box.ID] = hand
	return hand, nil
}

// floorOf is the least deviation of an exposure that is told, to the side to which it is off: as SheetLog.Floor, and twice the
// scatter of a hand that the book knows.
func (r *replay) floorOf(l *calledfor.SheetLog, timeS, off float64) (float64, error) {
	h, err := r.handOf(l)
	if err != nil || !h.fitted {
		return l.Floor(timeS), err
	}
	return math.Max(calc.FloorStops, h.reach(timeS, 2, off)), nil
}

// reach is how many stops off a hand is that is off by so many times its scatter, to the side of off: it scatters in seconds, and
// a second more is fewer stops than a second less.
func (s scatter) reach(timeS, times, off float64) float64 {
	if off > 0 {
		return math.Log2(1 + times*s.SDS(timeS)/timeS)
	}
	return times * s.Stops(timeS)
}

// way is one way in which a time may have come about: what was left out of its plan, the aperture that it was meant for, and
// whether something is left that none of it accounts for.
type way struct {
	left  []omission
	fromF float64
	rest  bool
	log   float64 // of prior times likelihood
}

// logRest is how likely something that nobody wrote makes a time be off by so many stops: by little more often than by much.
func logRest(off float64) float64 {
	const usual = 0.35
	return -math.Abs(off)/usual - math.Log(2*usual)
}

// ways are all ways to a time, the likeliest first. plannedF is the aperture that it was meant for, 0 where that was not
// written; hand is what scatters the time about its plan, none where the time is the plan; other is the cause of what is left.
func (pl *planned) ways(l *calledfor.SheetLog, plannedF, timeS float64, hand scatter, other string) []way {
	froms := []float64{plannedF}
	if plannedF == 0 {
		froms = []float64{l.X.F}
		if from := l.Step.Called.FromF; from > 0 && calc.ExactF(from) != calc.ExactF(l.X.F) {
			froms = append(froms, from)
		}
		for stops := -3; stops <= 3; stops++ {
			mark, err := calc.NearestMark(calc.ExactF(l.X.F) * math.Exp2(float64(stops)/2))
			if err == nil && !slices.ContainsFunc(froms, func(f float64) bool { return calc.ExactF(f) == calc.ExactF(mark) }) {
				froms = append(froms, mark)
			}
		}
	}
	var out []way
	for i, from := range froms {
		aperture, most := 0.0, 3
		if i > 0 {
			aperture, most = math.Log(prior["wrong-aperture"]/4), 1 // one of several marks
			if from == l.Step.Called.FromF {
				aperture = math.Log(prior["wrong-aperture"]) // the meter gave it
			}
		}
		for size := 0; size <= most; size++ {
			eachSet(pl.omissions, size, func(set []omission) {
				if opposed(set) {
					return
				}
				w := way{left: slices.Clone(set), fromF: from, log: aperture}
				for _, o := range set {
					w.log += math.Log(prior[o.cause])
				}
				aimed := pl.time(from, set)
				off := math.Log2(timeS / aimed)
				fit, rest := w, w
				fit.log += logPlan(off, hand.Stops(aimed))
				rest.rest = true
				rest.log += math.Log(prior[other]) + logRest(off)
				out = append(out, fit, rest)
			})
		}
	}
	slices.SortStableFunc(out, func(a, b way) int {
		switch d := a.log - b.log; {
		case d > 1e-9:
			return -1
		case d < -1e-9:
			return 1
		}
		return 0
	})
	return out
}

// chances are the probabilities of the causes of the ways, each with the likeliest way in which it is alone with what is
// left; other is the cause of what is left.
func chances(ways []way, f float64, other string) map[string]float64 {
	out, all := map[string]float64{}, 0.0
	for _, w := range ways {
		p := math.Exp(w.log - ways[0].log)
		all += p
		for _, cause := range w.causes(f, other) {
			out[cause] += p
		}
	}
	for cause := range out {
		out[cause] /= all
	}
	return out
}

// causes are the causes that a way names where f was set.
func (w way) causes(f float64, other string) []string {
	var out []string
	for _, o := range w.left {
		out = append(out, o.cause)
	}
	if calc.ExactF(w.fromF) != calc.ExactF(f) {
		out = append(out, "wrong-aperture")
	}
	if w.rest {
		out = append(out, other)
	}
	return out
}

// elsewhere says whether a time that is off is likelier one for another light than any way: where what serves it was read for
// another picture.
func elsewhere(ways []way, off float64) bool {
	return math.Log(otherLight)+logNormal(off, lightScatter) > ways[0].log
}

// opposed says whether some of a set push one way and some the other: what cancels spoils nothing, and with enough of it any
// time can be had.
func opposed(set []omission) bool {
	var more, less bool
	for _, o := range set {
		more, less = more || o.stops > 0, less || o.stops < 0 || o.noRecip
	}
	return more && less
}
