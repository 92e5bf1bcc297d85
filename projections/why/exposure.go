package why

import (
	"fmt"
	"math"
	"slices"

	"traybook/calc"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// exposed holds an exposure against what it called for. A plan that equals what one would have planned with a factor
// left out accuses the factor; a right plan accuses the hand; without a plan, what the log cannot part is told together.
func (r *replay) exposed(l *calledfor.SheetLog) error {
	if l.Exposure == nil || l.Step.CalledForS == nil || l.Step.Called == nil || l.X.TimeS <= 0 {
		return nil
	}
	pl := planOf(l)
	if err := r.wrongBox(l, pl); err != nil {
		return err
	}
	total := math.Log2(l.X.TimeS / *l.Step.CalledForS)
	floor := l.Floor(*l.Step.CalledForS)
	if l.X.PlannedS == 0 && (l.X.PlannedF == 0 || calc.ExactF(l.X.PlannedF) == calc.ExactF(l.X.F)) {
		if math.Abs(total) >= floor {
			r.unplanned(l, pl, total, floor)
		}
		return nil
	}
	f := l.X.PlannedF
	if f == 0 {
		f = l.X.F
	}
	wide := 2 * math.Log2(calc.ExactF(f)/calc.ExactF(l.X.F))
	planned := l.X.PlannedS
	if planned == 0 { // only an aperture was written down: the time is taken as meant
		planned = l.X.TimeS
	}
	off := math.Log2(planned / pl.time(f, nil))
	late := math.Log2(l.X.TimeS / planned)
	if math.Abs(off) >= calc.FloorStops {
		untold := 0.0 // what the hand did beside the plan, where that is too little to be told by itself
		if net := late + wide; math.Abs(net) < floor {
			untold = net
		}
		r.misplanned(l, pl, f, planned, off, untold, floor)
		off = 0
	}
	r.hand(l, planned, f, late, wide, off, floor)
	return nil
}

// misplanned finds what was left out of a plan that is off. What the hand did beside it, untold, goes with the largest part
// of it, so that what is told of the sheet is what the sheet got.
func (r *replay) misplanned(l *calledfor.SheetLog, pl *planned, f, plannedS, off, untold, floor float64) {
	sets := pl.explanations(f, plannedS, alikeStops+0.01, 3)
	if len(sets) == 0 {
		// The plan is off and nothing left out gives it: the nearest single thing takes what it can.
		if o, stops := pl.nearest(f, plannedS, off); o != nil && math.Abs(stops) >= floor {
			off -= stops
			if math.Abs(off) < floor {
				r.add(factor(l, *o, stops+off+untold))
				return
			}
			r.add(factor(l, *o, stops))
		}
		if math.Abs(off) < floor {
			return
		}
		timed := mistimed(l, off+untold, "so it was planned, and nothing left out of the plan accounts for it")
		if l.X.PlannedF != 0 {
			r.add(timed)
			return
		}
		set := misset(l, 0, off+untold) // it may have been made for another aperture
		timed.With, set.With = "planned_f", "planned_f"
		r.addUnparted(unparted{[]*deviation{timed}, []*deviation{set}})
		return
	}
	for _, v := range factors(l, pl, f, plannedS, untold, sets[0], floor) {
		r.add(v)
	}
}

// factors are the things of a set that were left out, each with its own share; untold goes with the largest.
func factors(l *calledfor.SheetLog, pl *planned, f, plannedS, untold float64, set []omission, floor float64) []*deviation {
	right := pl.time(f, nil)
	total := math.Log2(plannedS / right)
	var sum float64
	own := make([]float64, len(set))
	for i := range set { // each by what it does alone, scaled to what all do together
		own[i] = math.Log2(pl.time(f, set[i:i+1]) / right)
		sum += own[i]
	}
	largest := 0
	for i := range set {
		if len(set) == 1 {
			own[i] = total
		} else if math.Abs(sum) > 1e-9 && (sum > 0) == (total > 0) {
			own[i] += (total - sum) / float64(len(set))
		}
		if math.Abs(own[i]) > math.Abs(own[largest]) {
			largest = i
		}
	}
	for i := range set {
		if i != largest && math.Abs(own[i]) < floor {
			untold += own[i]
		}
	}
	own[largest] += untold
	var out []*deviation
	for i, o := range set {
		if i == largest || math.Abs(own[i]) >= floor {
			out = append(out, factor(l, o, own[i]))
		}
	}
	return out
}

// hand tells what the hand did otherwise than planned. untold is by how much the plan was off, where that is too little to
// be told by itself.
func (r *replay) hand(l *calledfor.SheetLog, plannedS, plannedF, late, wide, untold, floor float64) {
	net := late + wide
	if math.Abs(net) < floor {
		return
	}
	if math.Abs(wide) >= calc.FloorStops && (wide > 0) == (net > 0) {
		stops := wide
		if (late > 0) != (net > 0) || math.Abs(late) < floor {
			stops = net
		}
		net -= stops
		if math.Abs(net) < floor {
			r.add(misset(l, plannedF, stops+net+untold))
			return
		}
		r.add(misset(l, plannedF, stops))
	}
	v := mistimed(l, net+untold, fmt.Sprintf("%s were planned and %s given", wording.Seconds(plannedS), wording.Seconds(l.X.TimeS)))
	if untold == 0 { // against the plan, which may be wrong itself
		v.CalledFor = new(plannedS)
	}
	r.add(v)
}

// unplanned tells everything that could have made an exposure without a plan what it was.
func (r *replay) unplanned(l *calledfor.SheetLog, pl *planned, total, floor float64) {
	sets := pl.explanations(l.X.F, l.X.TimeS, alikeStops, 1)
	if len(sets) == 0 {
		sets = pl.explanations(l.X.F, l.X.TimeS, alikeStops/2, 2)
	}
	if o, stops := pl.otherBox(l.X.F, l.X.TimeS, total); o != nil && len(sets) == 0 {
		r.nearOtherBox(l, *o, stops, total-stops, floor)
		return
	}
	var of unparted
	for i, set := range sets {
		if i > 0 && len(set) > 1 {
			break
		}
		if i == 0 {
			of.taken = factors(l, pl, l.X.F, l.X.TimeS, 0, set, floor)
			continue
		}
		of.instead = append(of.instead, factor(l, set[0], total))
	}
	aperture := misset(l, 0, total)
	time := mistimed(l, total, fmt.Sprintf("%s called for and %s given", wording.Seconds(*l.Step.CalledForS), wording.Seconds(l.X.TimeS)))
	switch from := l.Step.Called.FromF; {
	case len(of.taken) > 0: // a factor left out: an aperture would be a third guess
		of.instead = append(of.instead, time)
	case from > 1 && from != l.X.F && math.Abs(math.Log2(l.X.TimeS/pl.time(from, nil))) <= alikeStops:
		of = unparted{[]*deviation{aperture}, []*deviation{time}} // the time is right for the aperture that the meter gave
	default:
		of = unparted{[]*deviation{time}, []*deviation{aperture}}
	}
	with := "planned_f"
	if len(sets) > 0 {
		with = "planned_s"
	}
	for _, v := range slices.Concat(of.taken, of.instead) {
		v.With = with
	}
	r.addUnparted(of)
}

// nearOtherBox tells an exposure without a plan that stands near what another box would have called for, where that box
// was written down as the one meant: the box did its share, and the hand what is left.
func (r *replay) nearOtherBox(l *calledfor.SheetLog, o omission, stops, rest, floor float64) {
	if math.Abs(rest) < floor {
		r.add(factor(l, o, stops+rest))
		return
	}
	r.add(factor(l, o, stops))
	timed, set := mistimed(l, rest, fmt.Sprintf("%s given, not quite what %s called for", wording.Seconds(l.X.TimeS), l.X.PlannedBox)), misset(l, 0, rest)
	timed.With, set.With = "planned_f", "planned_f"
	r.addUnparted(unparted{[]*deviation{timed}, []*deviation{set}})
}

// factor is one thing left out of a plan, or put in where it was not wanted.
func factor(l *calledfor.SheetLog, o omission, stops float64) *deviation {
	v := &deviation{on: l, apply: exposedBy(stops)}
	v.Cause = o.cause
	v.Entries = idsOf(l.Exposure, l.Step.Serving)
	v.Done, v.CalledFor, v.Unit, v.Stops = new(l.X.TimeS), new(*l.Step.CalledForS), "s", new(twoPlaces(stops))
	v.Text, v.Next = factorWords(l, o, stops)
	v.shows = besideTones(l, stops)
	return v
}

// mistimed is a time that is off.
func mistimed(l *calledfor.SheetLog, stops float64, how string) *deviation {
	v := &deviation{on: l, apply: exposedBy(stops), shows: besideTones(l, stops)}
	v.Cause = "cap-mistimed"
	v.Entries = idsOf(l.Exposure)
	v.Done, v.CalledFor, v.Unit, v.Stops = new(l.X.TimeS), l.Step.CalledForS, "s", new(twoPlaces(stops))
	v.Text = fmt.Sprintf("%s got %s: %s", noun(l), tooMuch(stops), how)
	v.Next = "count aloud or let the timer run; a smaller aperture gives the hand more time"
	return v
}

// misset is an aperture that is off.
func misset(l *calledfor.SheetLog, plannedF, stops float64) *deviation {
	v := &deviation{on: l, apply: exposedBy(stops), shows: besideTones(l, stops)}
	v.Cause = "wrong-aperture"
	v.Entries = idsOf(l.Exposure)
	v.Done, v.Unit, v.Stops = new(l.X.F), "f", new(twoPlaces(stops))
	if plannedF > 0 {
		v.CalledFor = new(plannedF)
		v.Text = fmt.Sprintf("%s got %s: f/%s was planned and f/%s set", noun(l), tooMuch(stops), wording.Number(plannedF), wording.Number(l.X.F))
	} else {
		f := calc.ExactF(l.X.F) * math.Exp2(stops/2)
		v.CalledFor = new(twoPlaces(f))
		v.Text = fmt.Sprintf("%s got %s: for %s the lens wanted f/%s, and f/%s was set", noun(l), tooMuch(stops), wording.Seconds(l.X.TimeS), wording.Number(f), wording.Number(l.X.F))
	}
	v.Next = "read the ring aloud before the cap comes off"
	return v
}

// exposedBy puts so many stops of exposure into a sheet.
func exposedBy(stops float64) func(*calc.SheetModel) {
	return func(m *calc.SheetModel) { m.ExposureStops += stops }
}

// besideTones is what a wrong exposure shows beside what the mid-tone and the ends of the replay tell. An over-exposed
// sheet comes up at once and unevenly (published: US Army subcourse SS0509 p. 45). The print of a wrong negative loses
// its ends, less by the model's ordinary scene than by one with more in its ends: our own model.
func besideTones(l *calledfor.SheetLog, stops float64) func(symptom string, seen *calledfor.SheetLog) float64 {
	size := clamp01(0.3 + math.Abs(stops)/4)
	return func(symptom string, seen *calledfor.SheetLog) float64 {
		switch {
		case seen == l && symptom == "mottled" && stops > 0:
			return 0.6
		case seen == l || l.Sheet.Generation == snapshot.Positive:
			return 0
		case symptom == "fogged-highlights" && (stops < 0 || seen.Metered):
			return size
		case symptom == "flat" && seen.Metered:
			return size
		case symptom == "weak-blacks" && (stops < 0) == seen.Metered:
			return size
		}
		return 0
	}
}
