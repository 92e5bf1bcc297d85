package calc

import (
	"fmt"
	"math"
	"slices"
)

// Priors and limits of the fits. Our own model.
const (
	// OffsetPriorSD is the spread of an index before anything is measured, stops
	// about 0.
	OffsetPriorSD = 1.0
	// SheetScatter is the scatter of one judged sheet, stops.
	SheetScatter = 0.3
	// ReciprocityPrior and ReciprocityPriorSD are the exponent before anything is
	// measured; it lies between ReciprocityLeast and 1.
	ReciprocityPrior   = 0.95
	ReciprocityPriorSD = 0.05
	ReciprocityLeast   = 0.75
	// FitSheetsLeast is the number of judged sheets under which no index is said.
	FitSheetsLeast = 3
	// FitConfidence is the share of cases in which the stated intervals hold.
	FitConfidence = 0.95
	// LeaveItStops is the offset under which an index is left alone.
	LeaveItStops = 1.0 / 3
	// ReciprocitySpread is how far the long times must lie apart, stops, and
	// ReciprocityNarrowed to what share of the prior's spread the fit must have
	// come, before the exponent is called measured.
	ReciprocitySpread   = 2.0
	ReciprocityNarrowed = 0.8
)

// TooFewError is the error where a fit has too little to go on.
type TooFewError struct {
	// What is what is missing, in the plural; Have how many there are, Need the
	// least.
	What       string
	Have, Need int
}

// Error says what is missing and how many more it takes.
func (e *TooFewError) Error() string {
	return fmt.Sprintf("too few %s: %d; at least %d are needed", e.What, e.Have, e.Need)
}

// JudgedSheet is what one sheet tells of its paper's index.
type JudgedSheet struct {
	// CalledForS is the exposure in seconds that the index in force called for,
	// everything counted in but reciprocity, at the aperture used.
	CalledForS float64
	// DoneS is the exposure given, seconds.
	DoneS float64
	// Stops is the change of this sheet's exposure that the eye or the density
	// asks for, + for more.
	Stops float64
	// SD is the scatter of Stops; 0 counts as SheetScatter.
	SD float64
}

// Interval is a mean and the bounds between which the truth lies in
// FitConfidence of cases.
type Interval struct{ Mean, Low, High float64 }

// IndexFit is what sheets tell of an index.
type IndexFit struct {
	// N is the number of sheets.
	N int
	// Offset is log2(true index ÷ index in force), the reciprocity exponent
	// fitted beside it: + means the paper is faster than thought.
	Offset Interval
	// OffsetInUse is the offset to apply when the exponent in force is kept: the
	// fit at the middle of the times given. Where Reciprocity is not measured it
	// is the one to say.
	OffsetInUse Interval
	// P is the reciprocity exponent.
	P Interval
	// PMeasured is true where the times spread enough for P to say more than the
	// prior.
	PMeasured bool
	// SDStops is the scatter of a sheet about the fit; at least SheetScatter where
	// no sheet named its own.
	SDStops float64
}

// Best is the offset to act on: Offset with a measured exponent, else
// OffsetInUse.
func (f IndexFit) Best() Interval {
	if f.PMeasured {
		return f.Offset
	}
	return f.OffsetInUse
}

// LeaveIt is true where the best offset is under a third of a stop.
func (f IndexFit) LeaveIt() bool { return math.Abs(f.Best().Mean) < LeaveItStops }

// Index is the best index with its bounds, from the index in force (0.001 to
// 10000).
func (f IndexFit) Index(inForce float64) (Interval, error) {
	if err := within("exposure index", inForce, 0.001, 10000, ""); err != nil {
		return Interval{}, err
	}
	b := f.Best()
	return Interval{inForce * math.Exp2(b.Mean), inForce * math.Exp2(b.Low), inForce * math.Exp2(b.High)}, nil
}

// FitIndex fits the offset of an index δ and the reciprocity exponent p to
// judged sheets of one box, filter, light and generation. pInForce is the
// exponent in force, 0.5 to 1. A sheet of which DoneS is t asks
//
//	stops = log2(called-for) − δ − p·log2(t) + scatter   for t over 1 s, p = 1 below
//
// a Bayesian linear fit with the priors above, p cut to its range. Our own
// model. Under three sheets a *TooFewError; times 0.001 s to a day, stops
// within ±10, else a *RangeError.
func FitIndex(sheets []JudgedSheet, pInForce float64) (IndexFit, error) {
	if len(sheets) < FitSheetsLeast {
		return IndexFit{}, &TooFewError{"judged sheets", len(sheets), FitSheetsLeast}
	}
	if err := within("reciprocity exponent", pInForce, 0.5, 1, ""); err != nil {
		return IndexFit{}, err
	}
	for _, s := range sheets {
		if err := firstError(
			within("called-for time of a judged sheet", s.CalledForS, 0.001, 86400, "s"),
			within("time of a judged sheet", s.DoneS, 0.001, 86400, "s"),
			within("change of exposure asked for", s.Stops, -10, 10, "stops"),
			within("scatter of a judged sheet", s.SD, 0, 5, "stops"),
		); err != nil {
			return IndexFit{}, err
		}
	}
	scale := 1.0
	fit := fitLine(sheets, scale)
	if sd := fitScatter(sheets, fit); sd > 1 { // they scatter more than they said: believe them less
		scale = sd
		fit = fitLine(sheets, scale)
	}
	out := IndexFit{N: len(sheets), SDStops: SheetScatter * scale}
	fit.summarise(&out, pInForce)
	out.PMeasured = out.PMeasured && fit.spread >= ReciprocitySpread
	return out, nil
}

// fitState is the posterior of offset and exponent before p is cut to its
// range: a Gaussian with mean (d, p) and covariance.
type fitState struct {
	d, p          float64
	vdd, vdp, vpp float64
	middle        float64 // of the long times, log2 s, weighed
	spread        float64 // of the long times, stops
}

// fitLong is log2 of a time that reciprocity touches, else 0.
func fitLong(t float64) float64 { return math.Max(0, math.Log2(t)) }

// fitLine adds the sheets to the priors. scale multiplies their scatter.
func fitLine(sheets []JudgedSheet, scale float64) fitState {
	// Precisions and their products with the data, of (δ, p).
	aDD, aDP, aPP := 1/(OffsetPriorSD*OffsetPriorSD), 0.0, 1/(ReciprocityPriorSD*ReciprocityPriorSD)
	bD, bP := 0.0, ReciprocityPrior*aPP
	var weights, middle float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range sheets {
		w := fitWeight(s, scale)
		long := fitLong(s.DoneS)
		short := math.Log2(s.DoneS) - long
		y := math.Log2(s.CalledForS) - short - s.Stops // = δ + p·long + scatter
		aDD += w
		aDP += w * long
		aPP += w * long * long
		bD += w * y
		bP += w * y * long
		weights += w
		middle += w * long
		lo, hi = math.Min(lo, long), math.Max(hi, long)
	}
	det := aDD*aPP - aDP*aDP
	f := fitState{vdd: aPP / det, vdp: -aDP / det, vpp: aDD / det, middle: middle / weights, spread: hi - lo}
	f.d = f.vdd*bD + f.vdp*bP
	f.p = f.vdp*bD + f.vpp*bP
	return f
}

func fitWeight(s JudgedSheet, scale float64) float64 {
	sd := s.SD
	if sd == 0 {
		sd = SheetScatter
	}
	sd = math.Max(sd, 0.01) * scale
	return 1 / (sd * sd)
}

// fitScatter is the scatter of the sheets about the fit in units of what they
// said; 0 under six sheets, which tell too little of it.
func fitScatter(sheets []JudgedSheet, f fitState) float64 {
	if len(sheets) < 6 {
		return 0
	}
	sum := 0.0
	for _, s := range sheets {
		long := fitLong(s.DoneS)
		y := math.Log2(s.CalledForS) - (math.Log2(s.DoneS) - long) - s.Stops
		r := y - f.d - f.p*long
		sum += r * r * fitWeight(s, 1)
	}
	return math.Sqrt(sum / float64(len(sheets)-2))
}

// fitGrid is the number of steps in which p is summed over its range.
const fitGrid = 200

// summarise cuts p to its range and reads means and bounds. Given p the offset
// is a Gaussian, so both are sums over a grid of p.
func (f fitState) summarise(out *IndexFit, pInForce float64) {
	sp := math.Sqrt(f.vpp)
	slope := f.vdp / f.vpp
	sd := math.Sqrt(math.Max(0, f.vdd-f.vdp*f.vdp/f.vpp))
	var ps, ws [fitGrid + 1]float64
	most := math.Inf(-1)
	for i := range ps {
		ps[i] = ReciprocityLeast + (1-ReciprocityLeast)*float64(i)/fitGrid
		z := (ps[i] - f.p) / sp
		ws[i] = -z * z / 2
		most = math.Max(most, ws[i])
	}
	total := 0.0
	for i := range ws {
		ws[i] = math.Exp(ws[i] - most)
		if i == 0 || i == fitGrid {
			ws[i] /= 2
		}
		total += ws[i]
	}
	var meanP, meanPP float64
	for i := range ws {
		ws[i] /= total
		meanP += ws[i] * ps[i]
		meanPP += ws[i] * ps[i] * ps[i]
	}
	tail := (1 - FitConfidence) / 2
	out.P = Interval{meanP, fitGridQuantile(ps[:], ws[:], tail), fitGridQuantile(ps[:], ws[:], 1-tail)}
	out.PMeasured = math.Sqrt(math.Max(0, meanPP-meanP*meanP)) < ReciprocityNarrowed*ReciprocityPriorSD

	// A mixture of Gaussians about centre(p), all with the same spread.
	mixture := func(centre func(p float64) float64) Interval {
		mean := 0.0
		for i := range ws {
			mean += ws[i] * centre(ps[i])
		}
		share := func(x float64) (s, slope float64) {
			for i := range ws {
				if ws[i] > 1e-12 {
					z := (x - centre(ps[i])) / sd
					s += ws[i] * fitNormal(z)
					slope += ws[i] * math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
				}
			}
			return s, slope
		}
		return Interval{mean, fitSolve(share, tail, mean), fitSolve(share, 1-tail, mean)}
	}
	out.Offset = mixture(func(p float64) float64 { return f.d + slope*(p-f.p) })
	out.OffsetInUse = mixture(func(p float64) float64 {
		return f.d + slope*(p-f.p) + (p-pInForce)*f.middle
	})
}

// fitNormal is the standard normal distribution function.
func fitNormal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// fitSolve is where a rising function passes share, by Newton's steps from a middle, halving where one leads out of what is
// left. f gives the function and its slope.
func fitSolve(f func(float64) (float64, float64), share, middle float64) float64 {
	lo, hi, at := middle-20, middle+20, middle
	for range 60 {
		v, slope := f(at)
		if v < share {
			lo = at
		} else {
			hi = at
		}
		next := at - (v-share)/slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-at) < 1e-12 {
			return next
		}
		at = next
	}
	return at
}

// fitGridQuantile is where the summed weights pass share, between grid points.
func fitGridQuantile(xs, ws []float64, share float64) float64 {
	sum := 0.0
	for i, w := range ws {
		if sum+w >= share && w > 0 {
			if i == 0 {
				return xs[0]
			}
			return xs[i-1] + (xs[i]-xs[i-1])*(share-sum)/w
		}
		sum += w
	}
	return xs[len(xs)-1]
}

// FilterFactorFit is the factor of a filter in one light from the fitted indexes
// without and with it: index without ÷ index with, bounds from both (as if
// independent). Derived.
func FilterFactorFit(without, with Interval) (Interval, error) {
	for _, v := range []float64{without.Low, without.Mean, without.High, with.Low, with.Mean, with.High} {
		if err := within("exposure index", v, 1e-6, 1e7, ""); err != nil {
			return Interval{}, err
		}
	}
	if !slices.IsSorted([]float64{without.Low, without.Mean, without.High}) || !slices.IsSorted([]float64{with.Low, with.Mean, with.High}) {
		return Interval{}, &RangeError{Quantity: "bounds of an index", Value: without.Low, Min: 0, Max: without.High}
	}
	mean := math.Log2(without.Mean / with.Mean)
	low := math.Hypot(math.Log2(without.Mean/without.Low), math.Log2(with.High/with.Mean))
	high := math.Hypot(math.Log2(without.High/without.Mean), math.Log2(with.Mean/with.Low))
	return Interval{math.Exp2(mean), math.Exp2(mean - low), math.Exp2(mean + high)}, nil
}
