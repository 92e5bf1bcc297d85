package why

import (
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/wording"
)

// omission is one way in which a plan can go wrong, in stops of light: what was left out is below 0 where the time
// comes out too short.
type omission struct {
	factor  string // that was left out, or put in: of one factor only one thing can be
	cause   string
	stops   float64
	noRecip bool // the long exposure was not calculated with
}

// planned calculates the times that one would plan with something left out.
type planned struct {
	base      float64 // log2 seconds of light, but for the aperture
	setF      float64
	p         float64
	omissions []omission
}

func planOf(l *calledfor.SheetLog) *planned {
	c := l.Step.Called
	pl := &planned{setF: l.X.F, p: l.Paper.P}
	start := c.FromTimeS
	_, again := l.Step.Serving.Data.(*events.SheetReprintedData)
	if again {
		if t, err := calc.ReciprocityInverse(start, pl.p); err == nil {
			start = t
		}
	}
	pl.base = math.Log2(start)
	filter := 0.0
	for _, s := range c.Stops {
		switch s.Factor {
		case "reciprocity":
			if math.Abs(s.Stops) >= calc.FloorStops {
				pl.omissions = append(pl.omissions, omission{s.Factor, "reciprocity-forgotten", 0, true})
			}
			continue
		case "extension":
			if !again && s.Stops >= calc.FloorStops {
				pl.omissions = append(pl.omissions, omission{s.Factor, "bellows-factor-forgotten", -s.Stops, false}, omission{s.Factor, "bellows-factor-twice", s.Stops, false})
			}
		case "index":
			if math.Abs(s.Stops) >= calc.FloorStops {
				pl.omissions = append(pl.omissions, omission{s.Factor, "meter-at-wrong-index", -s.Stops, false})
			}
		case "filter":
			filter = s.Stops
			if !again && filter >= calc.FloorStops {
				pl.omissions = append(pl.omissions, omission{s.Factor, "filter-factor-forgotten", -filter, false})
			}
		case "zone":
			if math.Abs(s.Stops) >= calc.FloorStops {
				pl.omissions = append(pl.omissions, omission{s.Factor, "average-misread", -s.Stops, false})
			}
		}
		pl.base += s.Stops
	}
	if filter == 0 {
		for _, f := range strayFactors(l) {
			pl.omissions = append(pl.omissions, omission{"filter", "filter-factor-without-filter", math.Log2(f), false})
		}
	}
	return pl
}

// strayFactors are the filter factors that one might apply where none is called for: the one written with the exposure,
// those measured for the box.
func strayFactors(l *calledfor.SheetLog) []float64 {
	var out []float64
	seen := map[float64]bool{}
	add := func(f float64) {
		if math.Log2(f) >= calc.FloorStops && !seen[f] {
			seen[f] = true
			out = append(out, f)
		}
	}
	if l.X.Factor != nil {
		add(*l.X.Factor)
	}
	if l.Box != nil {
		for _, e := range l.Box.Ratings {
			x := e.Data.(*events.PaperRatedData)
			if x.FilterFactor != nil && !e.At.After(l.Exposure.At) && (l.X.Filter == "" || l.X.Filter == x.Filter) {
				add(*x.FilterFactor)
			}
		}
	}
	return out
}

// time is the time that is called for at an aperture with some things left out.
func (pl *planned) time(f float64, left []omission) float64 {
	light := pl.base + 2*math.Log2(calc.ExactF(f)/calc.ExactF(pl.setF))
	p := pl.p
	for _, o := range left {
		light += o.stops
		if o.noRecip {
			p = 1
		}
	}
	t, err := calc.Reciprocity(math.Exp2(light), p)
	if err != nil {
		return math.Exp2(light)
	}
	return t
}

// eachSet calls f for every set of so many omissions; no factor stands twice in one.
func eachSet(all []omission, size int, f func([]omission)) {
	past := make([]int, len(all)) // behind those of one factor that stand together: a box may have many
	for i := len(all) - 1; i >= 0; i-- {
		past[i] = i + 1
		if i+1 < len(all) && all[i].factor == all[i+1].factor {
			past[i] = past[i+1]
		}
	}
	set := make([]omission, 0, size)
	var grow func(from int)
	grow = func(from int) {
		if len(set) == size {
			f(set)
			return
		}
		for i := from; i < len(all); {
			if slices.ContainsFunc(set, func(o omission) bool { return o.factor == all[i].factor }) {
				i = past[i]
				continue
			}
			set = append(set, all[i])
			grow(i + 1)
			set = set[:len(set)-1]
			i++
		}
	}
	grow(0)
}

// wrongBox adds, to what may have gone wrong with a plan, that it was made for another box.
func (r *replay) wrongBox(l *calledfor.SheetLog, pl *planned) error {
	if l.X.PlannedBox == "" || l.X.PlannedBox == l.Sheet.Box {
		return nil
	}
	b, err := wording.IgnoreMissing(r.d.Box(l.X.PlannedBox))
	if err != nil || b == nil || l.Paper.Index == 0 {
		return err
	}
	other := b.PaperFor(l.Exposure.At, l.Sheet.Generation, l.X.Filter, "")
	if other.Index == 0 {
		return nil
	}
	if stops := math.Log2(l.Paper.Index / other.Index); math.Abs(stops) >= calc.FloorStops {
		pl.omissions = slices.Insert(pl.omissions, 0, omission{"paper", "wrong-paper", stops, false})
	}
	return nil
}
