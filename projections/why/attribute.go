package why

import (
	"math"
	"slices"

	"traybook/calc"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// attribution is one symptom on one sheet, held against what the log predicts.
type attribution struct {
	seen    *calledfor.SheetLog
	symptom string
	weight  float64 // of it among all; 0 = the paper explains it, nobody is accused
	size    float64 // stops that the eye asked for, 0 = not said
	share   map[*deviation]float64
	odds    map[*deviation]float64 // the probability that it is a cause of this
	extra   float64                // share that is explained without a cause
}

// accused is the share that the deviations explain which are told.
func (w *attribution) accused(r *replay, told map[*deviation]bool) float64 {
	sum := w.extra
	for _, v := range r.concerning(w.seen) { // in their order: a sum of floats must not depend on a map's
		if told[v] {
			sum += w.share[v]
		}
	}
	return clamp01(sum)
}

// How far a tone must move before an eye names it, in density unless said otherwise. Our own model; a veil of 0.05 is
// where handbooks begin to see one.
const (
	seenStops = 0.3 // of exposure, where no size was given
	seenBlack = 0.15
	seenVeil  = 0.05
	seenSpan  = 0.15
	seenEnds  = 0.1
	seenAll   = 2.5 // stops: a sheet blank or black
	faintest  = 0.35
	// byStrength turns how strongly a deviation shows as a symptom into the odds that it is its cause: what shows half as
	// strongly as the strongest is probably one. Our own choice.
	byStrength = 1.5
)

// attributeAll weighs every symptom of every sheet that failed.
func (r *replay) attributeAll() error {
	for _, l := range r.sheets {
		if !l.Failed {
			continue
		}
		if len(l.Symptoms) == 0 {
			if s := r.densitySymptom(l); s != "" {
				l.Symptoms = []string{s}
			}
		}
		for _, s := range l.Symptoms {
			if measure, _, mid := tonal(l, s); mid && r.leavesRoom(l, s, measure) {
				if err := r.indexed(l); err != nil {
					return err
				}
				if r.neg != nil && r.neg != l {
					if err := r.indexed(r.neg); err != nil {
						return err
					}
				}
			}
		}
		for _, s := range l.Symptoms {
			w, err := r.attribute(l, s)
			if err != nil {
				return err
			}
			r.weighed = append(r.weighed, w)
		}
	}
	return nil
}

// leavesRoom says whether what its own log shows falls short of what the eye saw of a sheet's mid-tone: only then are the other
// sheets of its box asked, which are many.
func (r *replay) leavesRoom(l *calledfor.SheetLog, symptom string, measure func(t, called *calc.Tones) float64) bool {
	size := math.Abs(sizeOf(l, symptom))
	if size == 0 {
		size = math.Abs(r.sizeByKept(l, symptom))
	}
	if size == 0 {
		size = leanUsual
	}
	called := r.tonesOf(l, true, func(*deviation) bool { return false })
	logged := r.tonesOf(l, true, func(*deviation) bool { return true })
	return measure(&logged, &called) < size-keptScatter
}

// densitySymptom names what a measured mid-tone says where nobody named a symptom.
func (r *replay) densitySymptom(l *calledfor.SheetLog) string {
	if l.Density == nil || l.Density.Mid == nil {
		return ""
	}
	switch off := calledfor.DarkStops(l.Ideal.Curve, *l.Density.Mid); {
	case off > calc.FloorStops:
		return "too-dark"
	case off < -calc.FloorStops:
		return "too-light"
	}
	return ""
}

// tonal says how a symptom is measured: by how much, in units that an eye just names, tones are off from what was called
// for in the symptom's direction. mid is true for symptoms of the mid-tone, which have a size in stops.
func tonal(l *calledfor.SheetLog, symptom string) (measure func(t, called *calc.Tones) float64, unit float64, mid bool) {
	c := l.Ideal.Curve
	neg := l.Sheet.Generation == snapshot.Negative
	of := func(t *calc.Tones) calc.TonesOf {
		if neg {
			return t.Neg
		}
		return t.Print
	}
	dark := func(t, called *calc.Tones) float64 {
		return calledfor.DarkStops(c, of(t).Mid) - calledfor.DarkStops(c, of(called).Mid)
	}
	light := func(t, called *calc.Tones) float64 { return -dark(t, called) }
	switch symptom {
	case "too-dark", "dense":
		return dark, seenStops, true
	case "too-light", "thin":
		return light, seenStops, true
	case "all-black":
		return dark, seenAll, false
	case "blank":
		return light, seenAll, false
	case "flat":
		return func(t, called *calc.Tones) float64 { return flatter(of(t), of(called)) }, 1, false
	case "contrasty":
		return func(t, called *calc.Tones) float64 {
			return max(span(of(t))-span(of(called)), steeper(t, called, neg))
		}, seenSpan, false
	case "weak-blacks":
		return func(t, called *calc.Tones) float64 { return of(called).Max - of(t).Max }, seenBlack, false
	case "fogged-highlights":
		if neg { // the clear end of a negative
			return func(t, called *calc.Tones) float64 { return t.Neg.Veil - called.Neg.Veil }, seenVeil, false
		}
		return func(t, called *calc.Tones) float64 { return lights(t) - lights(called) }, seenVeil, false
	case "grey-fog":
		return func(t, called *calc.Tones) float64 { return of(t).BorderFog - of(called).BorderFog }, seenVeil, false
	}
	return nil, 0, false
}

// span is the density between maximum black and the highlights of a sheet.
func span(t calc.TonesOf) float64 { return math.Abs(t.Black - t.Light) }

// flatter is how much flatter tones are than called for, 1 where an eye just names it: less between shadows and highlights,
// or, where the mid-tone stands where it should, less between it and either end.
func flatter(t, called calc.TonesOf) float64 {
	out := (span(called) - span(t)) / seenSpan
	if math.Abs(t.Mid-called.Mid) < 0.1 {
		lost := func(end, was float64) float64 { return (math.Abs(was-called.Mid) - math.Abs(end-t.Mid)) / seenEnds }
		out = max(out, lost(t.Light, called.Light), lost(t.Black, called.Black))
	}
	return out
}

// steeper is by how much the tones a stop either side of the mid-tone lie further apart than called for, where the mid-tone
// stands where it should: what is soot and chalk has lost nothing at its ends, but has little between.
func steeper(t, called *calc.Tones, neg bool) float64 {
	density := func(t *calc.Tones, stops int) float64 {
		if neg {
			return t.Zones[stops-calc.FirstZone].Negative
		}
		return t.Zones[stops-calc.FirstZone].Print
	}
	if math.Abs(density(t, 0)-density(called, 0)) >= 0.1 {
		return 0
	}
	apart := func(t *calc.Tones) float64 { return math.Abs(density(t, 1) - density(t, -1)) }
	return apart(t) - apart(called)
}

// lights is the mean density of the highlights of a print, from one to three stops over the mid-tone.
func lights(t *calc.Tones) float64 {
	var sum float64
	for z := 1; z <= 3; z++ {
		sum += t.Zones[z-calc.FirstZone].Print
	}
	return sum / 3
}

// attribute shares one symptom out among the deviations.
func (r *replay) attribute(l *calledfor.SheetLog, symptom string) (*attribution, error) {
	w := &attribution{seen: l, symptom: symptom, weight: 1, share: map[*deviation]float64{}, odds: map[*deviation]float64{}}
	if ofItself(l, symptom) != "" {
		w.weight, w.extra = 0, 1
		return w, nil
	}
	if measure, unit, mid := tonal(l, symptom); measure != nil {
		if mid {
			if w.size = sizeOf(l, symptom); w.size == 0 {
				w.size = r.sizeByKept(l, symptom)
			}
			if w.size != 0 {
				unit = math.Max(math.Abs(w.size), calc.FloorStops)
			}
		}
		r.shareTones(w, measure, unit, mid)
	}
	concerning := r.concerning(l)
	_, _, mid := tonal(l, symptom)
	proved := r.proved(l, mid)
	for _, v := range concerning {
		if v.shows == nil || proved && v.on == r.neg && v.toned(symptom) {
			continue
		}
		if s := clamp01(v.shows(symptom, l)); s > w.share[v] {
			w.share[v] = s
			w.odds[v] = max(w.odds[v], clamp01(s*byStrength))
		}
	}
	var sum float64
	for _, v := range concerning {
		if v.most != nil && w.share[v] > 0 {
			most, err := v.most()
			if err != nil {
				return nil, err
			}
			if most > 0 {
				w.share[v], w.odds[v] = min(w.share[v], most), min(w.odds[v], most)
			}
		}
		sum += w.share[v]
	}
	if sum > 1 {
		for v := range w.share {
			w.share[v] /= sum
		}
	}
	return w, nil
}

// proved says whether another print that was kept proves the tones of the negative: all of them, and of the mid-tone where
// this print's own exposure followed the negative.
func (r *replay) proved(l *calledfor.SheetLog, mid bool) bool {
	return l.Sheet.Generation == snapshot.Positive && (!mid || l.Metered) && slices.ContainsFunc(r.sheets, func(o *calledfor.SheetLog) bool {
		v := o.Sheet.Verdict()
		return o != l && o.Sheet.Generation == snapshot.Positive && v != nil && v.Verdict == "keep"
	})
}

// sizeByKept is the size of a symptom of a print's mid-tone by a later print that was kept, on the same box behind the same
// filter: what that one got more. 0 where there is none, or where it contradicts the word.
func (r *replay) sizeByKept(l *calledfor.SheetLog, symptom string) float64 {
	light := symptom == "too-light" || symptom == "thin"
	for _, o := range r.sheets {
		v := o.Sheet.Verdict()
		if l.Sheet.Generation != snapshot.Positive || o == l || o.Sheet.Generation != snapshot.Positive || v == nil || v.Verdict != "keep" ||
			l.Exposure == nil || o.Exposure == nil || !o.Exposure.At.After(l.Exposure.At) || o.Sheet.Box != l.Sheet.Box || o.X.Filter != l.X.Filter ||
			o.X.F == 0 || l.X.F == 0 || o.Step.Magnification != l.Step.Magnification {
			continue
		}
		was, err1 := calc.ReciprocityInverse(l.X.TimeS, l.Paper.P)
		is, err2 := calc.ReciprocityInverse(o.X.TimeS, l.Paper.P)
		if err1 != nil || err2 != nil {
			continue
		}
		if size := math.Log2(is/was) - 2*math.Log2(calc.ExactF(o.X.F)/calc.ExactF(l.X.F)); size != 0 && (size > 0) == (light != l.Ideal.Curve.Falling) {
			return size
		}
	}
	return 0
}

// sizeOf is the size of a symptom of the mid-tone in stops, + = the sheet got too little; 0 where nobody gave one or
// where it contradicts the word.
func sizeOf(l *calledfor.SheetLog, symptom string) float64 {
	light := symptom == "too-light" || symptom == "thin"
	falling := l.Ideal.Curve.Falling
	size := snapshot.ValueOr(l.Asked, 0)
	if size == 0 && l.Density != nil && l.Density.Mid != nil {
		size = -calledfor.DarkStops(l.Ideal.Curve, *l.Density.Mid)
		if falling {
			size = -size
		}
	}
	if (size > 0) != (light != falling) {
		return 0
	}
	return size
}

// shareTones holds the replayed tones against the reference and shares out, among the deviations, what they explain:
// to each the mean of what goes when it alone is put right and of what it does when all else is right.
func (r *replay) shareTones(w *attribution, measure func(t, called *calc.Tones) float64, unit float64, mid bool) {
	proved := r.proved(w.seen, mid)
	tones := func(on func(*deviation) bool) calc.Tones {
		return r.tonesOf(w.seen, true, func(v *deviation) bool {
			return !v.toned(w.symptom) || on(v) && !(proved && v.on == r.neg)
		})
	}
	called := tones(func(*deviation) bool { return false })
	at := func(on func(*deviation) bool) float64 {
		t := tones(on)
		return measure(&t, &called)
	}
	net := at(func(*deviation) bool { return true })
	const hair = 1e-6
	if net <= hair {
		return // the log predicts nothing of the kind, or the opposite
	}
	part := map[*deviation]float64{}
	var sum float64
	for _, v := range r.concerning(w.seen) {
		if !v.toned(w.symptom) || proved && v.on == r.neg {
			continue
		}
		without := net - at(func(o *deviation) bool { return o != v })
		only := at(func(o *deviation) bool { return o == v })
		if p := (without + only) / 2; p > hair {
			part[v] = p
			sum += p
		}
	}
	explained := clamp01(net / unit)
	for v, p := range part {
		s := explained * p / sum
		w.odds[v] = clamp01(s * byStrength)
		if mid {
			w.odds[v] = material(p, net, math.Abs(w.size))
			if w.size == 0 && v.AsIf() { // how far baths and age move a tone is known too roughly to rule one out
				w.odds[v] = math.Max(w.odds[v], leastOdds*p/sum)
			}
		}
		if mid && w.size == 0 { // beyond its floor it counts as seen, however little the model moves the tone
			s = math.Max(s, faintest*p/sum)
		}
		w.share[v] = s
	}
}

// grey lays the tones of the sheet that failed first beside what they would have been.
func (r *replay) grey(told map[*deviation]bool) *Strips {
	if len(r.weighed) == 0 || len(told) == 0 {
		return nil
	}
	seen := r.weighed[0].seen
	// What other sheets tell of it is not written: every page shows a sheet as its log says that it was.
	was := r.tonesOf(seen, false, func(*deviation) bool { return true })
	would := r.tonesOf(seen, false, func(v *deviation) bool { return !told[v] })
	s := &Strips{Sheet: seen.Sheet.Name, Dmin: seen.Ideal.Curve.Dmin}
	differ := false
	b := calledfor.Densities(&would, seen.Sheet.Generation == snapshot.Positive)
	for i, a := range calledfor.Densities(&was, seen.Sheet.Generation == snapshot.Positive) {
		differ = differ || math.Abs(a-b[i]) > 0.01
		s.Was, s.WouldBe = append(s.Was, twoPlaces(a)), append(s.WouldBe, twoPlaces(b[i]))
	}
	if !differ {
		return nil
	}
	return s
}
