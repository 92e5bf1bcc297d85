package calc

import "math"

// Defaults of a paper's curve. All three are common practice without a source;
// a box that was measured puts its own numbers in their place.
const (
	// DefaultDmin is the density of fixed, unexposed paper.
	DefaultDmin = 0.08
	// DefaultDmaxGlossy and DefaultDmaxMatt are the greatest densities of a
	// fully exposed and developed sheet.
	DefaultDmaxGlossy = 2.0
	DefaultDmaxMatt   = 1.65
	// DefaultISORange is the ISO range of a box that names none: that of
	// variable-contrast paper used without a filter, the middle of grade 2.
	DefaultISORange = 110.0
)

// The three points of a paper's curve. Published: ISO 6846:1992 as quoted in
// public texts.
const (
	// MidAboveBase is the density above base that M, and with it the speed P, is
	// read at.
	MidAboveBase = 0.60
	// ThresholdAboveBase is the density above base of T, the threshold an eye
	// can part from the paper.
	ThresholdAboveBase = 0.04
	// MaximumBlackShare is the share of the greatest density, base included, that S
	// is read at.
	MaximumBlackShare = 0.90
)

// log10of2 is one stop in log10 units.
const log10of2 = 0.30102999566398119521

// Curve is the characteristic curve of a paper: density against log10 exposure.
// Make one with NewCurve; the zero Curve has no slope and answers Dmin.
//
// Our own model: a logistic in log10 H between Dmin and Dmax. Its place follows
// from Hm, its slope from R.
type Curve struct {
	// Hm is the exposure, lux seconds, that gives 0.60 above base.
	Hm float64
	// R is the ISO range, 100·log10(Hs/Ht).
	R float64
	// Dmin and Dmax are the densities of bare and of blackest paper.
	Dmin, Dmax float64
	// Falling is true for a direct-positive paper, whose density falls with
	// exposure.
	Falling bool

	k    float64 // slope of the logistic per unit of log10 H, always positive
	logM float64 // log10 of Hm
	midL float64 // logit of the share of density at Hm
	htHm float64 // Ht ÷ Hm
}

// NewCurve builds the curve of a paper that darkens with light.
//
// hm is the exposure in lux seconds for 0.60 above base (1e-6 to 1e6), r the ISO
// range (10 to 400), dmin and dmax the densities of bare (0 to 0.5) and blackest
// paper (so great that 0.60 above base lies under 90 % of it, up to 4). Points M,
// T and S are published (ISO 6846:1992 as quoted), the logistic between them is
// our own model. Anything outside gives a *RangeError.
func NewCurve(hm, r, dmin, dmax float64) (Curve, error) {
	if err := firstError(
		within("exposure for the mid-tone", hm, 1e-6, 1e6, "lux s"),
		within("ISO range", r, 10, 400, ""),
		within("least density", dmin, 0, 0.5, ""),
	); err != nil {
		return Curve{}, err
	}
	if err := within("greatest density", dmax, (dmin+MidAboveBase+0.05)/MaximumBlackShare, 4, ""); err != nil {
		return Curve{}, err
	}
	span := dmax - dmin
	c := Curve{Hm: hm, R: r, Dmin: dmin, Dmax: dmax}
	threshold := paperLogit(ThresholdAboveBase / span)
	black := paperLogit((MaximumBlackShare*dmax - dmin) / span)
	c.k = (black - threshold) / (r / 100)
	c.logM = math.Log10(hm)
	c.midL = paperLogit(MidAboveBase / span)
	c.htHm = math.Pow(10, (threshold-c.midL)/c.k)
	return c, nil
}

// NewDirectPositiveCurve builds the curve of a direct-positive paper: the same
// shape upside down, the mid-tone again 0.60 above base at hm. Arguments and
// errors are those of NewCurve. Our own model.
func NewDirectPositiveCurve(hm, r, dmin, dmax float64) (Curve, error) {
	c, err := NewCurve(hm, r, dmin, dmax)
	if err != nil {
		return Curve{}, err
	}
	c.Falling = true
	c.htHm = 1 / c.htHm
	return c, nil
}

// Density is the density at an exposure given as log10 lux seconds. A NaN, the
// logarithm of no light or less, counts as no light.
func (c Curve) Density(logH float64) float64 {
	return c.Dmin + (c.Dmax-c.Dmin)*c.share(logH)
}

// share is the share of the density between Dmin and Dmax.
func (c Curve) share(logH float64) float64 {
	if math.IsNaN(logH) {
		logH = math.Inf(-1)
	}
	if c.k == 0 {
		return 0
	}
	d := c.k * (logH - c.logM)
	if c.Falling {
		d = -d
	}
	return 1 / (1 + math.Exp(-(c.midL + d)))
}

// LogH is the exposure, log10 lux seconds, that gives a density. The density
// must lie between Dmin and Dmax, both excluded; else a *RangeError.
func (c Curve) LogH(density float64) (float64, error) {
	share := (density - c.Dmin) / (c.Dmax - c.Dmin)
	if !(share > 0 && share < 1) || math.IsInf(paperLogit(share), 0) {
		return 0, &RangeError{Quantity: "density on this paper", Value: density, Min: c.Dmin, Max: c.Dmax, Above: true}
	}
	d := (paperLogit(share) - c.midL) / c.k
	if c.Falling {
		d = -d
	}
	return c.logM + d, nil
}

// Ht is the exposure in lux seconds of T, 0.04 above base.
func (c Curve) Ht() float64 { return c.Hm * c.htHm }

// Hs is the exposure in lux seconds of S, 90 % of the greatest density.
func (c Curve) Hs() float64 {
	if c.Falling {
		return c.Ht() / math.Pow(10, c.R/100)
	}
	return c.Ht() * math.Pow(10, c.R/100)
}

// Gradient is the slope of the curve, density per unit of log10 H, at an
// exposure given as log10 lux seconds; negative for a direct-positive paper.
// Derived from the logistic.
func (c Curve) Gradient(logH float64) float64 {
	p := c.share(logH)
	g := (c.Dmax - c.Dmin) * c.k * p * (1 - p)
	if c.Falling {
		return -g
	}
	return g
}

// MidGradient is the slope at the mid-tone.
func (c Curve) MidGradient() float64 { return c.Gradient(c.logM) }

// ZoneOfMaximumBlack is where a reading of the lightest patch is placed, in stops
// from the mid-tone, so that clear base comes out just maximum black: from Hm to
// Hs. Derived.
func (c Curve) ZoneOfMaximumBlack() float64 {
	return math.Abs(math.Log2(c.Hs() / c.Hm))
}

// ZoneOfThreshold is where a reading of the darkest patch is placed, in stops from
// the mid-tone, negative, so that it comes out the first tone over white: from Hm
// to Ht. Derived.
func (c Curve) ZoneOfThreshold() float64 {
	return -math.Abs(math.Log2(c.Hm / c.Ht()))
}

// StopsFromDensity is the change of exposure in stops, + for more, that would
// bring a tone measured at got to the density want. Both must lie on the curve;
// else a *RangeError. Derived.
func (c Curve) StopsFromDensity(got, want float64) (float64, error) {
	a, err := c.LogH(got)
	if err != nil {
		return 0, err
	}
	b, err := c.LogH(want)
	if err != nil {
		return 0, err
	}
	return (b - a) / log10of2, nil
}

// CurvePoint is one point of a curve: log10 of the exposure in lux seconds and
// the density there.
type CurvePoint struct{ LogH, Density float64 }

// Points lays n points, at least 2, evenly in log10 H from a stop before the
// threshold to a stop past maximum black, exposures rising.
func (c Curve) Points(n int) ([]CurvePoint, error) {
	if err := within("number of points on the curve", float64(n), 2, 10000, ""); err != nil {
		return nil, err
	}
	lo, hi := math.Log10(c.Ht()), math.Log10(c.Hs())
	if lo > hi {
		lo, hi = hi, lo
	}
	lo, hi = lo-log10of2, hi+log10of2
	pts := make([]CurvePoint, n)
	for i := range pts {
		x := lo + (hi-lo)*float64(i)/float64(n-1)
		pts[i] = CurvePoint{LogH: x, Density: c.Density(x)}
	}
	return pts, nil
}

// MaximumBlackDensity is the density of S for a greatest density. Published: ISO
// 6846:1992 as quoted.
func MaximumBlackDensity(dmax float64) float64 { return MaximumBlackShare * dmax }

func paperLogit(p float64) float64 { return math.Log(p / (1 - p)) }

// How paper ages. Published sources only name the directions (speed loss,
// change of contrast, stain, fog: US Navy 14262 p. 7-43); the numbers are our
// own model.
const (
	// PaperGraceMonths is how far past its date a paper shows nothing.
	PaperGraceMonths = 12.0
	agedStopsPerYear = 0.2
	agedStopsMost    = 1.0
	agedFogPerYear   = 0.03
	agedFogMost      = 0.3
)

// AgedPaper is what a paper has lost so many months past its date: speed in
// stops, 0 or less, and fog as density. Nothing within a year of the date; then
// a fifth of a stop and 0.03 a year, to 1 stop and 0.3. Months run from −1200 to
// 1200; not yet past is nothing. Our own model.
func AgedPaper(monthsPast float64) (speedStops, fog float64, err error) {
	if err := within("months past the date of the paper", monthsPast, -1200, 1200, "months"); err != nil {
		return 0, 0, err
	}
	if monthsPast <= PaperGraceMonths {
		return 0, 0, nil
	}
	years := (monthsPast - PaperGraceMonths) / 12
	return -math.Min(agedStopsMost, agedStopsPerYear*years), math.Min(agedFogMost, agedFogPerYear*years), nil
}
