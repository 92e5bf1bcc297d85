package why

import (
	"cmp"
	"slices"

	"traybook/calc"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// replay is a picture made ready to be run again.
type replay struct {
	*Replays
	p          *snapshot.Picture
	neg        *calledfor.SheetLog
	sheets     []*calledfor.SheetLog
	deviations []*deviation // that are taken for true
	on         map[*calledfor.SheetLog][]*deviation
	told       map[*otherSheet]told        // what they tell of an index
	kept       map[string][]neighbour      // by sheet: the kept ones from near in time
	stays      map[stayKey]*calledfor.Stay // the first in a bath of a role
	weighed    []*attribution
	hands      map[int64]scatter            // by box
	fitted     map[*calledfor.SheetLog]bool // of which the index was held against other sheets
	count      int                          // of all that was found, what may have been instead included
}

// unparted are explanations of one thing that the log cannot part.
type unparted struct {
	taken   []*deviation // for true: the likeliest
	instead []*deviation // may have been; a tone follows none of them
}

// deviation is one thing done otherwise than called for.
type deviation struct {
	Finding
	on *calledfor.SheetLog
	// apply puts it into a sheet that was done as called for; nil where no tone shows it.
	apply func(*calc.SheetModel)
	// beyond puts in what the log does not show of it and other sheets tell; nil for nothing.
	beyond func(*calc.SheetModel)
	// only are the symptoms that it may be accused of and be put right for; nil for all.
	only []string
	// shows is the share of a symptom, seen on a sheet, that it explains by itself; nil where only tones tell.
	shows func(symptom string, seen *calledfor.SheetLog) float64
	of    *unparted // what it stands among that the log cannot part; nil where it stands alone
	// chance is the probability that this and nothing else made what the log shows, 0 for 1: it is what the log shows.
	chance float64
	order  int
	// most is the largest share of a symptom that it is told to explain, where its size is a rule of thumb; nil for all. It is asked
	// for where it explains something: other sheets may have to be read for it.
	most  func() (float64, error)
	quiet bool // no act against what was called for: told as a cause or not at all
}

func just(most float64) func() (float64, error) {
	return func() (float64, error) { return most, nil }
}

// add takes a deviation for true.
func (r *replay) add(v *deviation) *deviation {
	r.found(v)
	r.take(v)
	return v
}

func (r *replay) take(v *deviation) {
	r.deviations, r.on[v.on] = append(r.deviations, v), append(r.on[v.on], v)
}

// concerning are the deviations that may show on a sheet, in their order: those on itself, and on a print those on its
// negative. What was done to a print shows on no other sheet.
func (r *replay) concerning(l *calledfor.SheetLog) []*deviation {
	own := r.on[l]
	if l.Sheet.Generation == snapshot.Negative || r.neg == nil || len(r.on[r.neg]) == 0 {
		return own
	}
	out := slices.Concat(r.on[r.neg], own)
	slices.SortFunc(out, func(a, b *deviation) int { return cmp.Compare(a.order, b.order) })
	return out
}

// addUnparted takes the likeliest of some explanations for true that the log cannot part.
func (r *replay) addUnparted(of unparted) {
	for _, v := range of.taken {
		r.add(v).of = &of
	}
	for _, v := range of.instead {
		r.found(v)
		v.of = &of
	}
}

func (r *replay) found(v *deviation) {
	v.order = r.count
	r.count++
	if v.Entries == nil {
		v.Entries = []string{}
	}
	v.Sheet = v.on.Sheet.Name
}

// finding is a deviation as it is told, with the share of what was judged that it explains and the probability that it is a
// cause of it.
func (v *deviation) finding(explains, odds float64) Finding {
	f := v.Finding
	if f.Probability = twoPlaces(odds); odds > 0 {
		f.Odds = OddsIn(odds)
	}
	f.Explains, f.Together = twoPlaces(explains), []string{}
	if v.of != nil {
		for _, o := range slices.Concat(v.of.taken, v.of.instead) {
			if o != v {
				f.Together = append(f.Together, o.Cause)
			}
		}
	}
	return f
}

// merge makes one of the deviations of one cause on one sheet, such as too small a developer and too small a fixer.
func (r *replay) merge() {
	type key struct {
		on    *calledfor.SheetLog
		cause string
	}
	all, alone := r.deviations, map[key]*deviation{}
	r.deviations, r.on = nil, map[*calledfor.SheetLog][]*deviation{}
	for _, v := range all {
		k := key{v.on, v.Cause}
		if like := alone[k]; like != nil && v.of == nil {
			like.take(v)
			continue
		}
		if v.of == nil {
			alone[k] = v
		}
		r.take(v)
	}
}

// take adds another deviation of the same cause.
func (v *deviation) take(o *deviation) {
	for _, id := range o.Entries {
		if !slices.Contains(v.Entries, id) {
			v.Entries = append(v.Entries, id)
		}
	}
	if o.Text != v.Text {
		v.Text += "; " + o.Text
	}
	v.apply, v.beyond = both(v.apply, o.apply), both(v.beyond, o.beyond)
	if a, b := v.shows, o.shows; a == nil {
		v.shows = b
	} else if b != nil {
		v.shows = func(s string, seen *calledfor.SheetLog) float64 { return max(a(s, seen), b(s, seen)) }
	}
	if v.Stops == nil {
		v.Stops = o.Stops
	} else if o.Stops != nil {
		v.Stops = new(*v.Stops + *o.Stops)
	}
}

func both(a, b func(*calc.SheetModel)) func(*calc.SheetModel) {
	if a == nil || b == nil {
		if a == nil {
			return b
		}
		return a
	}
	return func(m *calc.SheetModel) { a(m); b(m) }
}

// toned says whether tones show it as a symptom.
func (v *deviation) toned(symptom string) bool {
	return (v.apply != nil || v.beyond != nil) && (v.only == nil || slices.Contains(v.only, symptom))
}

// replay reads what the log says of every sheet of a picture and lists the deviations.
func (all *Replays) replay(p *snapshot.Picture) (*replay, error) {
	r := &replay{Replays: all, p: p, on: map[*calledfor.SheetLog][]*deviation{}, told: map[*otherSheet]told{}, fitted: map[*calledfor.SheetLog]bool{}, kept: map[string][]neighbour{}, stays: map[stayKey]*calledfor.Stay{}}
	for _, s := range p.Sheets {
		l, err := calledfor.SheetLogOf(r.d, p, s)
		if err != nil {
			return nil, err
		}
		r.sheets = append(r.sheets, l)
		if s.Generation == snapshot.Negative {
			r.neg = l
		}
	}
	for _, l := range r.sheets {
		for _, find := range []func(*calledfor.SheetLog) error{
			r.exposed, r.lightChanged, r.averaged, r.twice, r.flashed, r.outdated,
			r.developed, r.fixed, r.rinsed, r.washed, r.tested, r.shallow, r.rocked,
			r.focused, r.moved, r.leaked, r.contrast,
		} {
			if err := find(l); err != nil {
				return nil, err
			}
		}
	}
	r.merge()
	return r, nil
}

// tonesOf runs the picture that ends in one sheet as it was made, with the deviations put right that on does not pick. fitted
// asks for what other sheets tell of them too, and not for what the log shows alone.
func (r *replay) tonesOf(seen *calledfor.SheetLog, fitted bool, on func(*deviation) bool) calc.Tones {
	neg := seen
	if seen.Sheet.Generation == snapshot.Positive && r.neg != nil {
		neg = r.neg
	}
	return seen.TwoGenerations(r.without(neg, fitted, on), r.without(seen, fitted, on)).Tones()
}

// without is a sheet as it was made, less the deviations on it that on does not pick.
func (r *replay) without(l *calledfor.SheetLog, fitted bool, on func(*deviation) bool) calc.SheetModel {
	off, m := l.Ideal, l.Made
	for _, v := range r.on[l] {
		switch {
		case !on(v) && v.apply != nil:
			v.apply(&off)
		case on(v) && v.beyond != nil && fitted:
			v.beyond(&m)
		}
	}
	m.ExposureStops -= off.ExposureStops - l.Ideal.ExposureStops
	m.PreFlashShare -= off.PreFlashShare - l.Ideal.PreFlashShare
	m.FogDensity -= off.FogDensity - l.Ideal.FogDensity
	m.DevRatio *= l.Ideal.DevRatio / off.DevRatio
	if off.Curve.R != l.Ideal.Curve.R {
		if c, err := calc.NewCurve(m.Curve.Hm, m.Curve.R*l.Ideal.Curve.R/off.Curve.R, m.Curve.Dmin, m.Curve.Dmax); err == nil {
			m.Curve = c
		}
	}
	return m
}
