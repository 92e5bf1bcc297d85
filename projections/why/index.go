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
	leanSteps = 10 // of them, the judged ones that are worked out
	leanLeast = 3  // sheets, this one counted, that must lean the same way
	leanShare = 0.75
	leanUsual = 0.7 // stops, where no sheet gives a size. Our own model
)

// leaning looks, where a sheet came out too dark or too light and its own log does not say why, at other sheets of the
// same box: where they lean the same way as called for, the index is off.
func (r *replay) leaning() error {
	for _, w := range r.weighed {
		_, _, mid := tonal(w.seen, w.symptom)
		if !mid || w.seen.Exposure == nil || w.seen.Step.CalledForS == nil || w.seen.Box == nil {
			continue
		}
		var explained float64
		for _, v := range r.concerning(w.seen) {
			explained += w.share[v]
		}
		if explained >= 0.5 {
			continue
		}
		if err := r.leans(w, explained); err != nil {
			return err
		}
	}
	return nil
}

// leans asks the other sheets of the box.
func (r *replay) leans(w *attribution, explained float64) error {
	l := w.seen
	sign := 1.0 // + = the sheet got too little
	if (w.symptom == "too-light" || w.symptom == "thin") == l.Ideal.Curve.Falling {
		sign = -1
	}
	kind := events.SheetReprinted
	if l.Sheet.Generation == snapshot.Negative {
		kind = events.SheetExposed
	}
	uses, err := r.newestOf(l.Box.Entity, kind)
	if err != nil {
		return err
	}
	var sizes []float64
	entries := []string{l.Exposure.ID.String()}
	same, judged, looked := 1, 1, 0
	if w.size != 0 {
		sizes = append(sizes, w.size)
	}
	for i := len(uses) - 1; i >= 0 && looked < leanSteps; i-- {
		sheet := events.SheetOf(uses[i].Data)
		if sheet == l.Sheet.Name {
			continue
		}
		lean, size, ok, err := r.leanOf(sheet, l)
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		looked++
		judged++
		if lean == sign {
			same++
			entries = append(entries, uses[i].ID.String())
			if size != 0 {
				sizes = append(sizes, size)
			}
		}
	}
	if same < leanLeast || float64(same) < leanShare*float64(judged) {
		return nil
	}
	stops := sign * leanUsual
	if len(sizes) > 0 {
		slices.Sort(sizes)
		stops = sizes[len(sizes)/2]
		if len(sizes)%2 == 0 {
			stops = (sizes[len(sizes)/2-1] + sizes[len(sizes)/2]) / 2
		}
	}
	if math.Abs(stops) < calc.LeaveItStops {
		return nil
	}
	v := &deviation{on: l}
	v.Cause, v.Entries = "index-off", entries
	should := l.Paper.Index * math.Exp2(-stops)
	v.Done, v.CalledFor, v.Unit, v.Stops = new(l.Paper.Index), new(twoPlaces(should)), "index", new(twoPlaces(-stops))
	v.Text = fmt.Sprintf("%d of %d judged sheets of %s lean the same way with nothing else amiss: %s, so its index is nearer %s than %s", same, judged, l.Sheet.Box, tooMuch(-stops), wording.Number(should), wording.Number(l.Paper.Index))
	v.Next = "make a strip, or ask calibrate and rate the box anew"
	r.add(v)
	share := 0.9
	if w.size != 0 {
		share = clamp01(math.Abs(stops) / math.Abs(w.size))
	}
	w.share[v] = min(share, 1-explained)
	return nil
}

// newestOf gives the newest exposures from a box, which are asked for once.
func (r *replay) newestOf(box events.Entity, kind events.Kind) ([]events.Entry, error) {
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

// doneAsCalledFor says whether a sheet was exposed and developed as called for.
func (r *replay) doneAsCalledFor(p *snapshot.Picture, s *snapshot.Sheet) (bool, error) {
	step, err := calledfor.StepOf(r.d, p, *s.Exposure())
	if err != nil || step.DeviationStops == nil || math.Abs(*step.DeviationStops) > calc.LeaveItStops {
		return false, err
	}
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
	picture     *snapshot.Picture
	log         *calledfor.SheetLog // what was judged of it
	filter      string
	asCalledFor *bool // it was exposed and developed so; nil before that was asked
}

// otherSheet reads a sheet once; nil for one that was not judged.
func (r *replay) otherSheet(sheet string) (*otherSheet, error) {
	if o, asked := r.others[sheet]; asked {
		return o, nil
	}
	var o *otherSheet
	picture, part, _ := events.SplitSheet(sheet)
	judged, err := r.isJudged(picture, part)
	if err != nil {
		return nil, err
	}
	if judged {
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

// isJudged says whether a sheet was judged. A picture's sheets are asked for once.
func (r *replay) isJudged(picture, part string) (bool, error) {
	parts, asked := r.judged[picture]
	if !asked {
		st, err := r.d.StateOf(picture)
		if err != nil {
			return false, err
		}
		parts = map[string]bool{}
		for _, s := range st.Sheets {
			parts[s.Part] = parts[s.Part] || s.Verdict != ""
		}
		r.judged[picture] = parts
	}
	return parts[part], nil
}

// leanOf says which way another sheet leaned that was exposed and developed as called for: + = it got too little, 0 =
// it was found good; ok is false where it was not judged or its own log says why.
func (r *replay) leanOf(sheet string, like *calledfor.SheetLog) (sign, size float64, ok bool, err error) {
	o, err := r.otherSheet(sheet)
	if err != nil || o == nil {
		return 0, 0, false, err
	}
	probe := o.log
	for _, symptom := range probe.Symptoms {
		switch symptom {
		case "too-dark", "dense":
			sign = -1
		case "too-light", "thin":
			sign = 1
		}
	}
	if len(probe.Symptoms) == 0 && probe.Failed && probe.Density != nil && probe.Density.Mid != nil {
		size = -calledfor.DarkStops(like.Ideal.Curve, *probe.Density.Mid)
		sign = math.Copysign(1, size)
	}
	if sign == 0 && probe.Sheet.Verdict().Verdict != "keep" || o.filter != like.X.Filter {
		return 0, 0, false, nil
	}
	if o.asCalledFor == nil {
		done, err := r.doneAsCalledFor(o.picture, probe.Sheet)
		if err != nil {
			return 0, 0, false, err
		}
		o.asCalledFor = &done
	}
	if !*o.asCalledFor {
		return 0, 0, false, nil
	}
	if like.Ideal.Curve.Falling {
		sign = -sign
	}
	if probe.Asked != nil && (*probe.Asked > 0) == (sign > 0) {
		size = *probe.Asked
	}
	return sign, size, true, nil
}
