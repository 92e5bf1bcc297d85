package why

import (
	"fmt"
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// exposed holds an exposure against what it called for. A plan that equals what one would have planned with a factor
// left out accuses the factor; a right plan accuses the hand; what the log cannot part is told together.
func (r *replay) exposed(l *calledfor.SheetLog) error {
	if l.Exposure == nil || l.X.TimeS <= 0 {
		return nil
	}
	if l.Step.CalledForS == nil || l.Step.Called == nil {
		return r.againstPlan(l)
	}
	pl := planOf(l)
	if err := r.wrongBox(l, pl); err != nil {
		return err
	}
	total := math.Log2(l.X.TimeS / *l.Step.CalledForS)
	hand, err := r.handOf(l)
	if err != nil {
		return err
	}
	floor, err := r.floorOf(l, *l.Step.CalledForS, total)
	if err != nil || r.corrects(l, total) {
		return err
	}
	borrowed, err := r.borrowed(l.Exposure, l.Step.Serving)
	if err != nil {
		return err
	}
	if l.X.PlannedS == 0 && (l.X.PlannedF == 0 || calc.ExactF(l.X.PlannedF) == calc.ExactF(l.X.F)) {
		if math.Abs(total) >= floor {
			r.unplanned(l, pl, total, floor, hand, borrowed)
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
		r.misplanned(l, pl, planned, off, untold, floor, borrowed)
		off = 0
	}
	r.hand(l, planned, f, late, wide, off, floor, hand)
	return nil
}

// borrowedAfter is how long after it was taken a reading of the scene that served another picture tells no longer surely of
// the light before this one. Our own choice.
const borrowedAfter = 20 * time.Minute

// borrowed says whether the reading that serves an exposure of a negative was taken for another picture, and a while ago.
func (r *replay) borrowed(exposure, serving *events.Entry) (bool, error) {
	own, ok := exposure.Data.(*events.SheetExposedData)
	if !ok || serving == nil || serving.Kind != events.LightMetered || exposure.At.Sub(serving.At) < borrowedAfter || own.Session == "" {
		return false, nil
	}
	t, ok, err := r.d.R.Entity(own.Session)
	if err != nil || !ok {
		return false, err
	}
	between, err := r.d.Entries(events.Query{Session: t.ID, Kinds: []events.Kind{events.SheetExposed}, From: serving.At, To: exposure.At, Limit: 4})
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(between, func(e events.Entry) bool {
		x, ok := e.Data.(*events.SheetExposedData)
		return ok && x.Picture != own.Picture
	}), nil
}

// againstPlan holds the hand against its own plan where nothing else says what was called for.
func (r *replay) againstPlan(l *calledfor.SheetLog) error {
	f := l.X.PlannedF
	if f == 0 {
		f = l.X.F
	}
	if l.X.PlannedS == 0 || f == 0 || l.X.F == 0 {
		return nil
	}
	wide := 2 * math.Log2(calc.ExactF(f)/calc.ExactF(l.X.F))
	late := math.Log2(l.X.TimeS / l.X.PlannedS)
	floor, err := r.floorOf(l, l.X.PlannedS, wide+late)
	if err != nil || math.Abs(wide+late) < floor {
		return err
	}
	l.Made.ExposureStops += wide + late // the plan is all that it can be held against
	hand, err := r.handOf(l)
	if err != nil {
		return err
	}
	r.hand(l, l.X.PlannedS, f, late, wide, 0, floor, hand)
	return nil
}

// corrects says whether a print went the way in which an earlier print of its negative on its box was found wrong, without
// a size: it was meant to be off.
func (r *replay) corrects(l *calledfor.SheetLog, total float64) bool {
	if l.Sheet.Generation != snapshot.Positive {
		return false
	}
	for _, s := range r.p.Sheets {
		v := s.Verdict()
		if s == l.Sheet || s.Generation != snapshot.Positive || s.Box != l.Sheet.Box || v == nil || v.Verdict == "keep" || v.Stops != nil ||
			s.Exposure() == nil || !s.Exposure().At.Before(l.Exposure.At) || !s.Judged[len(s.Judged)-1].At.Before(l.Exposure.At) {
			continue
		}
		light := slices.Contains(v.Symptoms, "too-light") || slices.Contains(v.Symptoms, "thin")
		dark := slices.Contains(v.Symptoms, "too-dark") || slices.Contains(v.Symptoms, "dense")
		if light && total > 0 || dark && total < 0 {
			return true
		}
	}
	return false
}

// misplanned finds what was left out of a plan that is off. What the hand did beside it, untold, goes with the largest part
// of it, so that what is told of the sheet is what the sheet got.
func (r *replay) misplanned(l *calledfor.SheetLog, pl *planned, plannedS, off, untold, floor float64, borrowed bool) {
	const other = "planned-otherwise"
	f := l.X.PlannedF
	if f == 0 {
		f = l.X.F
	}
	ways := pl.ways(l, l.X.PlannedF, plannedS, scatter{}, other)
	if borrowed && elsewhere(ways, off) {
		l.Made.ExposureStops -= off
		return
	}
	with := "reckoning"
	if l.X.PlannedF == 0 {
		with = "planned_f"
	}
	r.choose(l, pl, ways, choice{f: f, off: off + untold, floor: floor, other: other, with: with, alike: 4, rest: func(stops float64) *deviation { return plannedOtherwise(l, stops) }})
}

// unplanned tells everything that could have made an exposure without a plan what it was.
func (r *replay) unplanned(l *calledfor.SheetLog, pl *planned, total, floor float64, hand scatter, borrowed bool) {
	const other = "cap-mistimed"
	ways := pl.ways(l, l.X.PlannedF, l.X.TimeS, hand, other)
	if borrowed && elsewhere(ways, total) {
		l.Made.ExposureStops -= total
		return
	}
	within := 0.0
	if hand.fitted {
		within = math.Hypot(2.5*planScatter, hand.reach(*l.Step.CalledForS, 2.5, total))
	}
	with := "planned_s"
	if len(ways[0].left) == 0 && l.X.PlannedF == 0 {
		with = "planned_f"
	}
	how := fmt.Sprintf("%s called for and %s given", wording.Seconds(*l.Step.CalledForS), wording.Seconds(l.X.TimeS))
	if l.X.PlannedBox != "" && len(ways[0].left) > 0 {
		how = fmt.Sprintf("%s given, not quite what %s called for", wording.Seconds(l.X.TimeS), l.X.PlannedBox)
	}
	r.choose(l, pl, ways, choice{f: l.X.F, off: total, floor: floor, other: other, with: with, alike: 30, always: l.X.PlannedF == 0, within: within,
		rest: func(stops float64) *deviation { return mistimed(l, stops, how) }})
}

// choice is what a way is chosen for: a time that is off by so many stops at an aperture.
type choice struct {
	f, off, floor float64
	other, with   string
	alike         float64 // odds up to which one cause is told as not to be parted from another
	within        float64 // stops in which this hand scatters about a plan: no slip
	always        bool    // the hand, and where no factor is named the aperture, are never ruled out
	rest          func(stops float64) *deviation
}

// choose takes the likeliest way for true, and tells the causes with it that are about as likely.
func (r *replay) choose(l *calledfor.SheetLog, pl *planned, ways []way, c choice) {
	chance := chances(ways, c.f, c.other)
	best := ways[0]
	if len(best.causes(c.f, c.other)) == 0 {
		if math.Abs(c.off) < c.within {
			return // the book knows this hand: it scatters so
		}
		best.rest = true // off by more than its floor: something did it
	}
	of := unparted{taken: r.build(l, pl, best, c)}
	named := func(list []*deviation, cause string) bool {
		return slices.ContainsFunc(list, func(v *deviation) bool { return v.Cause == cause })
	}
	head := 0.0
	for _, v := range of.taken {
		v.chance = math.Max(chance[v.Cause], leastOdds)
		head = math.Max(head, v.chance)
	}
	for _, w := range ways {
		causes := w.causes(c.f, c.other)
		if len(of.taken) == 0 || len(causes) != 1 || named(of.taken, causes[0]) || named(of.instead, causes[0]) || ways[0].log-w.log > math.Log(c.alike) || w.log < ways[0].log-12 {
			continue
		}
		if v := r.build(l, pl, w, c); len(v) == 1 {
			v[0].chance = chance[v[0].Cause]
			of.instead = append(of.instead, v[0])
		}
	}
	factor := slices.ContainsFunc(of.taken, func(v *deviation) bool { return v.Cause != "cap-mistimed" && v.Cause != "wrong-aperture" })
	if c.always && len(of.taken) == 1 {
		if !named(of.taken, c.other) && !named(of.instead, c.other) {
			v := c.rest(c.off)
			v.chance = chance[c.other]
			of.instead = append(of.instead, v)
		}
		if !factor && !named(of.taken, "wrong-aperture") && !named(of.instead, "wrong-aperture") {
			v := misset(l, 0, c.off)
			v.chance = chance[v.Cause]
			of.instead = append(of.instead, v)
		}
	}
	if len(of.instead) == 0 {
		for _, v := range of.taken {
			r.add(v)
		}
		return
	}
	for _, v := range slices.Concat(of.taken, of.instead) {
		v.With = c.with
	}
	r.addUnparted(of)
}

// build makes the deviations of a way. What is less than its floor, and what the hand's scatter left, goes with the largest,
// so that what is told of a sheet is what it got.
func (r *replay) build(l *calledfor.SheetLog, pl *planned, w way, c choice) []*deviation {
	type part struct {
		o     *omission
		stops float64
		make  func(float64) *deviation
	}
	var parts []part
	right := pl.time(w.fromF, nil)
	all, sum := math.Log2(pl.time(w.fromF, w.left)/right), 0.0
	for i := range w.left {
		o := w.left[i]
		stops := math.Log2(pl.time(w.fromF, w.left[i:i+1]) / right)
		sum += stops
		parts = append(parts, part{&o, stops, func(stops float64) *deviation { return factor(l, o, stops) }})
	}
	for i := range parts { // each by what it does alone, scaled to what all do together
		parts[i].stops += (all - sum) / float64(len(parts))
	}
	if wide := 2 * math.Log2(calc.ExactF(w.fromF)/calc.ExactF(c.f)); math.Abs(wide) > 1e-9 {
		parts = append(parts, part{nil, wide, func(stops float64) *deviation { return misset(l, 0, stops) }})
	}
	rest := c.off
	for _, p := range parts {
		rest -= p.stops
	}
	if len(parts) == 0 && w.rest || math.Abs(rest) >= max(c.floor, leastRest) || w.rest && math.Abs(rest) >= c.floor {
		parts = append(parts, part{nil, rest, c.rest})
		rest = 0
	}
	if len(parts) == 0 {
		return nil
	}
	largest := 0
	for i := range parts {
		if math.Abs(parts[i].stops) > math.Abs(parts[largest].stops) {
			largest = i
		}
	}
	for i := range parts {
		if i != largest && math.Abs(parts[i].stops) < c.floor {
			rest += parts[i].stops
		}
	}
	parts[largest].stops += rest
	var out []*deviation
	for i, p := range parts {
		if i == largest || math.Abs(p.stops) >= c.floor {
			out = append(out, p.make(p.stops))
		}
	}
	return out
}

// hand tells what the hand did otherwise than planned. untold is by how much the plan was off, where that is too little to
// be told by itself.
func (r *replay) hand(l *calledfor.SheetLog, plannedS, plannedF, late, wide, untold, floor float64, hand scatter) {
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
	v.chance = slipNotScatter(net, hand.Stops(plannedS))
	r.add(v)
}

// factor is one thing left out of a plan, or put in where it was not wanted.
func factor(l *calledfor.SheetLog, o omission, stops float64) *deviation {
	v := &deviation{on: l, apply: exposedBy(stops)}
	v.Cause = o.cause
	v.Entries = idsOf(l.Exposure, l.Step.Serving)
	v.Done, v.CalledFor, v.Unit, v.Stops = new(l.X.TimeS), new(*l.Step.CalledForS), "s", new(twoPlaces(stops))
	v.LowS, v.HighS = l.Step.Bounds()
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
	v.LowS, v.HighS = l.Step.Bounds()
	v.Text = fmt.Sprintf("%s got %s: %s", noun(l), tooMuch(stops), how)
	v.Next = "count aloud or let the timer run; a smaller aperture gives the hand more time"
	return v
}

// plannedOtherwise is a plan that is off by nothing that was left out: so it was meant.
func plannedOtherwise(l *calledfor.SheetLog, stops float64) *deviation {
	v := mistimed(l, stops, "so it was planned, and nothing left out of the plan accounts for it")
	v.Cause = "planned-otherwise"
	v.Next = "write down why a plan leaves what is called for, or plan by what is called for"
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
