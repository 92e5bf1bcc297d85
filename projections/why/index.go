package why

import (
	"fmt"
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Limits of what other sheets of a box are asked.
const (
	leanLook  = 40 // exposures looked at, the newest of the box
	leanSteps = 14 // of them, the judged ones that are worked out
	leanLeast = 2  // others that must tell, beside this one
	// What a sheet tells of an index scatters by so many stops where it was kept, and where the eye named a direction alone,
	// which then counts as leanUsual. Our own model.
	keptScatter = 0.35
	leanScatter = 0.45
	leanUsual   = 0.7
	offPrior    = 0.1  // how often an index in use is off for the light at hand
	offScatter  = 1.0  // by how much, in stops, as the fit takes it
	indexOdds   = 0.8  // that such a fit is right: a few sheets may have failed alike by something else
	leanShare   = 0.55 // of the others that must lean the same way
	strayLean   = 1.2  // stops from the middle one: something else was wrong with such a sheet
)

// indexed holds a sheet's index against the judged sheets of its box, by the fit of calibrate: those that were kept count
// against an index that is off as those that failed count for it. What it is off by is a deviation like any other: it goes
// into the replay, and from a negative into its prints.
func (r *replay) indexed(l *calledfor.SheetLog) error {
	if r.fitted[l] || l.Exposure == nil || l.Step.CalledForS == nil || l.Box == nil || l.Paper.Index == 0 {
		return nil
	}
	r.fitted[l] = true
	kind := events.SheetReprinted
	if l.Sheet.Generation == snapshot.Negative {
		kind = events.SheetExposed
	}
	uses, err := r.newestOf(l.Box.Entity, kind)
	if err != nil {
		return err
	}
	var sheets []calc.JudgedSheet
	var leans []float64
	var entries []string
	own := 0
	if s, ok, err := r.tellsOf(l.Sheet.Name, l); err != nil {
		return err
	} else if ok && s.Stops != 0 {
		sheets, own = append(sheets, s), 1
		entries = append(entries, l.Exposure.ID.String())
	} else {
		entries = append(entries, l.Exposure.ID.String())
	}
	for i := len(uses) - 1; i >= 0 && len(leans) < leanSteps; i-- {
		sheet := events.SheetOf(uses[i].Data)
		if sheet == l.Sheet.Name {
			continue
		}
		s, ok, err := r.tellsOf(sheet, l)
		if err != nil {
			return err
		}
		if ok {
			sheets = append(sheets, s)
			leans = append(leans, lean(s))
			entries = append(entries, uses[i].ID.String())
			// Reading a sheet is dear: the rest are not asked where they cannot make enough of them lean alike.
			if most := min(leanSteps, len(leans)+i); float64(alike(leans)+most-len(leans)) < leanShare*float64(most) {
				return nil
			}
		}
	}
	if len(leans) < leanLeast || len(sheets) < calc.FitSheetsLeast {
		return nil
	}
	if len(leans) >= calc.FitSheetsLeast { // what is asked about this sheet is not its own witness where others are enough
		sheets, own = sheets[own:], 0
	}
	slices.Sort(leans)
	middle := (leans[(len(leans)-1)/2] + leans[len(leans)/2]) / 2
	if float64(alike(leans)) < leanShare*float64(len(leans)) {
		return nil
	}
	var near []calc.JudgedSheet
	for i, s := range sheets {
		if i < own || math.Abs(lean(s)-middle) <= strayLean {
			near = append(near, s)
		}
	}
	fit, err := calc.FitIndex(near, l.Paper.P)
	if err != nil {
		return nil // too few are left, or a figure lies beyond the fit: nobody is accused
	}
	off := fit.OffsetInUse // at the times that were given: the exponent in force stays
	aged := r.agedStops(l) // what the age of its paper accounts for the others lost as well
	off.Mean, off.Low, off.High = off.Mean-aged, off.Low-aged, off.High-aged
	if middle -= aged; math.Abs(off.Mean) < calc.LeaveItStops || offOdds(sheets, aged) < probably || math.Abs(middle) < calc.LeaveItStops/2 || (middle > 0) != (off.Mean > 0) {
		return nil
	}
	v := &deviation{on: l, beyond: exposedBy(off.Mean), quiet: true, chance: indexOdds * offOdds(sheets, aged)}
	v.Cause, v.Entries = "index-off", entries
	should := l.Paper.Index * math.Exp2(off.Mean)
	v.Done, v.CalledFor, v.Unit, v.Stops = new(l.Paper.Index), new(twoPlaces(should)), "index", new(twoPlaces(off.Mean))
	v.Text = fmt.Sprintf("%s got %s: by %s of %s, the kept ones counted, its index is nearer %s than %s", noun(l), tooMuch(off.Mean), wording.CountOf(len(near), "judged sheet"), l.Sheet.Box, wording.Number(should), wording.Number(l.Paper.Index))
	v.Next = "make a strip, or ask calibrate and rate the box anew"
	r.add(v)
	return nil
}

// offOdds is the probability that an index is off, by what the judged sheets of its box lean to, against one that is right within
// the least that is told of. A sheet may lean by something that no log shows. aged is what the age of the paper accounts for.
func offOdds(sheets []calc.JudgedSheet, aged float64) float64 {
	likely := func(off float64) float64 {
		p := 1.0
		for _, s := range sheets {
			d, sd := lean(s)-aged-off, math.Hypot(sheetScatter, s.SD)
			p *= (1-unseenPrior)*normal(d, sd) + unseenPrior*normal(d, math.Hypot(sd, unseenScatter))
		}
		return p
	}
	given := func(scatter float64) float64 {
		const steps = 60
		var sum, weight float64
		for i := range steps + 1 {
			off := (2*float64(i)/steps - 1) * 3 * scatter
			w := normal(off, scatter)
			sum, weight = sum+w*likely(off), weight+w
		}
		return sum / weight
	}
	off, right := offPrior*given(offScatter), (1-offPrior)*given(calc.FloorStops)
	return off / (off + right)
}

// agedStops is what the age of its paper is taken to have done to a sheet's exposure.
func (r *replay) agedStops(l *calledfor.SheetLog) float64 {
	m := l.Ideal
	for _, v := range r.on[l] {
		if v.Cause == "paper-expired" {
			both(v.apply, v.beyond)(&m)
		}
	}
	return m.ExposureStops - l.Ideal.ExposureStops
}

// lean is by how many stops a sheet says that its paper is faster than its index.
func lean(s calc.JudgedSheet) float64 { return math.Log2(s.CalledForS/s.DoneS) - s.Stops }

// alike is how many lean by a stop that counts to the side to which more of them do.
func alike(leans []float64) int {
	var slower, faster int
	for _, by := range leans {
		switch {
		case by >= calc.FloorStops:
			faster++
		case by <= -calc.FloorStops:
			slower++
		}
	}
	return max(slower, faster)
}

// newestOf gives the newest exposures from a box, which are asked for once.
func (r *Replays) newestOf(box events.Entity, kind events.Kind) ([]events.Entry, error) {
	key := boxUse{box.ID, kind}
	uses, asked := r.newest[key]
	if !asked {
		var err error
		if uses, err = r.d.Entries(events.Query{Box: box.ID, Kinds: []events.Kind{kind}, Newest: true, Limit: leanLook}); err != nil {
			return nil, err
		}
		r.newest[key] = uses
	}
	return uses, nil
}

type boxUse struct {
	box  int64
	kind events.Kind
}

// developedRight says whether a sheet was developed as called for.
func (r *replay) developedRight(p *snapshot.Picture, s *snapshot.Sheet) (bool, error) {
	for _, e := range s.Developed {
		dev, err := calledfor.StepOf(r.d, p, e)
		if err != nil || dev.CalledForS == nil || dev.DoneS == nil || *dev.DoneS < calc.DevelopLossBelow**dev.CalledForS || *dev.DoneS > calc.DevelopDarkAbove**dev.CalledForS {
			return false, err
		}
	}
	return true, nil
}

// otherSheet is what is asked of another sheet, whichever sheet it is held against.
type otherSheet struct {
	picture *snapshot.Picture
	log     *calledfor.SheetLog // what was judged of it
	filter  string
}

// told is what another sheet tells of the index of one of this picture, where it does.
type told struct {
	sheet calc.JudgedSheet
	tells bool
}

// otherSheet reads a sheet once; nil for one that was not judged.
func (r *Replays) otherSheet(sheet string) (*otherSheet, error) {
	if o, asked := r.others[sheet]; asked {
		return o, nil
	}
	var o *otherSheet
	picture, part, _ := events.SplitSheet(sheet)
	verdict, err := r.verdictOf(picture, part)
	if err != nil {
		return nil, err
	}
	if verdict != "" {
		p, s, err := r.d.SheetByName(sheet)
		if err != nil && !wording.Refused(err) {
			return nil, err
		}
		if err == nil && s.Verdict() != nil {
			o = &otherSheet{picture: p, log: &calledfor.SheetLog{Sheet: s}, filter: calledfor.ExposureOf(s).Filter}
			o.log.Judged()
		}
	}
	r.others[sheet] = o
	return o, nil
}

// verdictOf is the latest verdict on a sheet, "" where nobody judged it. A picture's sheets are asked for once.
func (r *Replays) verdictOf(picture, part string) (string, error) {
	parts, asked := r.judged[picture]
	if !asked {
		st, err := r.d.StateOf(picture)
		if err != nil {
			return "", err
		}
		parts = map[string]string{}
		for _, s := range st.Sheets {
			parts[s.Part] = s.Verdict
		}
		r.judged[picture] = parts
	}
	return parts[part], nil
}

// tellsOf is what a sheet tells of the index of its paper: exposed once, by a reading, and developed as called for; a slip
// that its log shows is counted in. ok is false where it tells nothing.
func (r *replay) tellsOf(sheet string, like *calledfor.SheetLog) (calc.JudgedSheet, bool, error) {
	o, err := r.otherSheet(sheet)
	if err != nil || o == nil || o.filter != like.X.Filter || o.log.Sheet.Box != like.Sheet.Box || len(o.log.Sheet.Exposures) != 1 {
		return calc.JudgedSheet{}, false, err
	}
	known, asked := r.told[o]
	if !asked {
		if known.sheet, known.tells, err = r.tellsOfIndex(o, like); err != nil {
			return known.sheet, false, err
		}
		r.told[o] = known
	}
	return known.sheet, known.tells, nil
}

// tellsOfIndex works out what tellsOf gives.
func (r *replay) tellsOfIndex(o *otherSheet, like *calledfor.SheetLog) (out calc.JudgedSheet, ok bool, err error) {
	step, err := calledfor.StepOf(r.d, o.picture, *o.log.Sheet.Exposure())
	if err != nil || step.CalledForS == nil || step.DoneS == nil || step.Paper == nil || step.Serving == nil || step.Serving.Kind != events.LightMetered {
		return out, false, err
	}
	if reading := snapshot.Metered(step.Serving); o.log.Sheet.Generation == snapshot.Positive && reading.Of == "average" {
		return out, false, nil
	}
	if borrowed, err := r.borrowed(o.log.Sheet.Exposure(), step.Serving); err != nil || borrowed {
		return out, false, err
	}
	right, err := r.developedRight(o.picture, o.log.Sheet)
	if err != nil || !right {
		return out, false, err
	}
	light, err := calc.ReciprocityInverse(*step.CalledForS, step.Paper.P)
	if err != nil {
		return out, false, nil
	}
	// The index of its day may have been another.
	light *= step.Paper.Index / like.Paper.Index
	out = calc.JudgedSheet{CalledForS: light, DoneS: *step.DoneS, SD: keptScatter}
	switch stops, sign := o.asks(like); {
	case stops != 0:
		out.Stops, out.SD = stops, 0
	case sign != 0:
		out.Stops, out.SD = sign*leanUsual, leanScatter
	case o.log.Sheet.Verdict().Verdict != "keep":
		return out, false, nil
	}
	return out, math.Abs(out.Stops) <= 10, nil
}

// asks is the change of exposure that the eye or a density asked of a sheet, and where it gave no size the direction: + = it
// got too little; 0 where it was found good.
func (o *otherSheet) asks(like *calledfor.SheetLog) (stops, sign float64) {
	l := o.log
	if !l.Failed {
		if v := l.Sheet.Verdict(); v.Stops != nil {
			return *v.Stops, 0
		}
		return 0, 0
	}
	for _, symptom := range l.Symptoms {
		switch symptom {
		case "too-dark", "dense":
			sign = -1
		case "too-light", "thin":
			sign = 1
		}
	}
	if len(l.Symptoms) == 0 && l.Density != nil && l.Density.Mid != nil {
		stops = -calledfor.DarkStops(like.Ideal.Curve, *l.Density.Mid)
		sign = math.Copysign(1, stops)
	}
	if like.Ideal.Curve.Falling {
		stops, sign = -stops, -sign
	}
	if l.Asked != nil && (*l.Asked > 0) == (sign > 0) {
		stops = *l.Asked
	}
	return stops, sign
}
