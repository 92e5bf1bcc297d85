package snapshot

import (
	"math"
	"strings"
	"time"

	"traybook/calc"
	"traybook/events"
)

// Paper is what a box calls for at one act: the latest rating before it that fits, over what came with the box.
type Paper struct {
	Index        float64
	Measured     bool // the index was measured or given, not taken from the maker's P
	FilterFactor float64
	FilterRated  bool // the factor was measured for this paper
	FilterUsual  bool // the factor is the usual one of a filter for variable-contrast paper
	InIndex      bool // the index in force was measured through the filter, so no factor comes on top
	ISOR         float64
	ISORKnown    float64 // share either way to which ISOR is known where nobody measured it on this box, else 0
	Variable     bool    // variable-contrast paper
	P            float64 // reciprocity exponent
	PKnown       bool    // somebody measured it, or the maker gives it
	DevelopS     float64 // 0: the bath's own
	FixS         float64
	ThresholdS   float64 // of the pre-flash, 0 = not known
	Dmin, Dmax   float64
	Base         string
	Positive     bool // direct-positive paper
}

// PaperFor gives what a box calls for at an instant, for a generation, a filter and a light ("" = not said). A rating
// fits when every one of the three that it names agrees.
func (b *Box) PaperFor(at time.Time, generation, filter, light string) Paper {
	fit := paperUse{generation, filter, light}
	rated, known := b.Papers[fit]
	if !known {
		if b.Papers == nil {
			b.Papers = map[paperUse]Timeline[Paper]{}
		}
		rated = b.ratedFor(fit)
		b.Papers[fit] = rated
	}
	if c := rated.Then(at); c != nil {
		return c.Value
	}
	return b.asReceived(fit)
}

// paperUse is what a paper is rated for.
type paperUse struct{ generation, filter, light string }

// What is not measured of a paper's ISO range is known to. Common practice: boxes of one maker's paper differ so, and the
// published tables of variable-contrast papers.
const (
	rangeByMaker  = 0.1
	rangeByFilter = 0.15
)

// asReceived is the paper by what came with its box.
func (b *Box) asReceived(fit paperUse) Paper {
	p := Paper{FilterFactor: 1, P: 1}
	r := b.Received
	if r == nil {
		r = &events.PaperReceivedData{}
	}
	p.Base, p.Positive = r.Base, r.Works == "direct-positive"
	p.ISOR, p.P = ValueOr(r.ISOR, calc.DefaultISORange), ValueOr(r.ReciprocityP, 1)
	p.PKnown = r.ReciprocityP != nil
	if p.ISORKnown = rangeByMaker; r.ISOR == nil {
		p.ISORKnown = rangeByFilter
	}
	if b.Variable() {
		p.vary(fit)
	}
	p.DevelopS, p.FixS = ValueOr(r.DevelopS, 0), ValueOr(r.FixS, 0)
	p.Dmin = ValueOr(r.Dmin, calc.DefaultDmin)
	p.Dmax = ValueOr(r.Dmax, dmaxOf(r.Surface))
	switch {
	case r.Index != nil:
		p.Index, p.Measured = *r.Index, true
	case r.ISOP != nil:
		if i, err := calc.IndexFromISOP(*r.ISOP); err == nil {
			p.Index = i
		}
	}
	return p
}

// vary makes the range of variable-contrast paper that of its filter, or of its light where there is none.
func (p *Paper) vary(fit paperUse) {
	p.Variable = true
	if fit.filter != "" {
		if r, factor, ok := calc.VariableFilter(fit.filter); ok {
			p.ISOR, p.ISORKnown, p.FilterFactor, p.FilterUsual = r, rangeByFilter, factor, true
		}
		return
	}
	grades, known := calc.SkyGrades(fit.light)
	harder, err := calc.HarderBy(p.ISOR, grades)
	most, err2 := calc.HarderBy(p.ISOR, grades+known)
	if err == nil && err2 == nil && known > 0 {
		p.ISORKnown = math.Hypot(p.ISORKnown, (harder-most)/harder)
		p.ISOR = harder
	}
}

// ratedFor is the paper from each rating that fits on.
func (b *Box) ratedFor(fit paperUse) Timeline[Paper] {
	var out Timeline[Paper]
	p := b.asReceived(fit)
	for _, e := range b.Ratings {
		d := e.Data.(*events.PaperRatedData)
		if d.Generation != "" && d.Generation != fit.generation || d.Filter != "" && d.Filter != fit.filter || d.Light != "" && d.Light != fit.light {
			continue
		}
		if d.Index != nil {
			p.Index, p.Measured, p.InIndex = *d.Index, true, d.Filter != ""
		}
		if d.Filter != "" && d.FilterFactor != nil {
			p.FilterFactor, p.FilterRated, p.FilterUsual = *d.FilterFactor, true, false
		}
		if d.ISOR != nil && (!p.Variable || d.Filter == fit.filter) { // a filter changes what was measured without it
			p.ISOR, p.ISORKnown = *d.ISOR, 0
		}
		p.P, p.PKnown = ValueOr(d.ReciprocityP, p.P), p.PKnown || d.ReciprocityP != nil
		p.DevelopS, p.ThresholdS = ValueOr(d.DevelopS, p.DevelopS), ValueOr(d.ThresholdS, p.ThresholdS)
		out = append(out, Change[Paper]{e.At, p})
	}
	return out
}

// RatedSince is when the box was last rated for its index and for its range at an instant, each as PaperFor takes it; zero
// where it was not.
func (b *Box) RatedSince(at time.Time, generation, filter, light string) (index, isoR time.Time) {
	for _, e := range b.Ratings {
		d := e.Data.(*events.PaperRatedData)
		if e.At.After(at) || d.Generation != "" && d.Generation != generation || d.Filter != "" && d.Filter != filter || d.Light != "" && d.Light != light {
			continue
		}
		if d.Index != nil {
			index = e.At
		}
		if d.ISOR != nil && (!b.Variable() || d.Filter == filter) {
			isoR = e.At
		}
	}
	return index, isoR
}

// WashBase is the paper's base as a wash counts it; a paper that is not known washes as resin-coated.
func (p *Paper) WashBase() calc.Base {
	if p != nil && p.Base == "fb" {
		return calc.FibreBase
	}
	return calc.ResinCoated
}

// Curve is the paper's characteristic curve, anchored by the index in force.
func (p Paper) Curve() (calc.Curve, error) {
	hm, err := calc.HmFromIndex(p.Index)
	if err != nil {
		return calc.Curve{}, err
	}
	if p.Positive {
		return calc.NewDirectPositiveCurve(hm, p.ISOR, p.Dmin, p.Dmax)
	}
	return calc.NewCurve(hm, p.ISOR, p.Dmin, p.Dmax)
}

// dmaxOf is the greatest density to expect of a surface: matt papers reach less.
func dmaxOf(surface string) float64 {
	if strings.Contains(strings.ToLower(surface), "mat") {
		return calc.DefaultDmaxMatt
	}
	return calc.DefaultDmaxGlossy
}
