// Package examtest examines why by seasons whose physics is its own: what happened to light, paper and baths is written here
// once more from the formulas of the trade, so that no error of the program's own model can hide behind itself.
package examtest

import "math"

// exact is the f-number behind an engraved whole stop: 2^(k/2).
func exact(f float64) float64 { return math.Exp2(math.Round(4*math.Log2(f)) / 4) }

// quantile is the inverse of the normal distribution.
func quantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// stock is a paper as it truly is. Its curve is the integral of a bell over log10 H, another shape than the program's: the
// mid-tone 0.60 above base, 0.04 above base and 90 % of the greatest density R/100 apart (ISO 6846 as quoted).
type stock struct {
	isoR, p    float64
	dmin, dmax float64
}

func (s stock) width() float64 {
	span := s.dmax - s.dmin
	return s.isoR / 100 / (quantile((0.9*s.dmax-s.dmin)/span) - quantile(0.04/span))
}

// density is that of an exposure h, 1 being what puts a mid-tone 0.60 above base, after a development of ratio r.
func (s stock) density(h, r, fog float64) float64 {
	span := s.dmax - s.dmin
	at := math.Log10(math.Max(h, 1e-9))/s.width() + quantile(0.6/span) + speed(r)*math.Log10(2)/s.width()
	share := blacks(r) * (1 + math.Erf(at/math.Sqrt2)) / 2
	veil := fog + math.Max(0, 0.1*(r-1.9))
	return s.dmin + math.Min(span, share*span+veil*(1-share))
}

// threshold is the exposure that by itself gives 0.04 above base.
func (s stock) threshold() float64 {
	span := s.dmax - s.dmin
	return math.Pow(10, (quantile(0.04/span)-quantile(0.6/span))*s.width())
}

// black is how many stops of exposure lie between a mid-tone and maximum black, 90 % of the greatest density.
func (s stock) black() float64 {
	span := s.dmax - s.dmin
	return (quantile((0.9*s.dmax-s.dmin)/span) - quantile(0.6/span)) * s.width() / math.Log10(2)
}

// off is by how many stops of exposure a density is darker than a mid-tone should be, within what an eye can tell.
func (s stock) off(density float64) float64 {
	span := s.dmax - s.dmin
	share := math.Min(0.985, math.Max(0.006, (density-s.dmin)/span))
	return (quantile(share) - quantile(0.6/span)) * s.width() / math.Log10(2)
}

// speed is what a development of ratio r does to the speed in stops: nothing that an eye sees from 1 to 1.4, a loss below
// 0.85, darker mid-tones above 1.4.
func speed(r float64) float64 {
	switch {
	case r < 0.85:
		return 0.9 * math.Log2(math.Max(r, 0.02)/0.85)
	case r > 1.4:
		return 0.6 * math.Log2(r/1.4)
	}
	return 0
}

// blacks is the share of the greatest density that a development reaches: grey at 0.7, full at 1.
func blacks(r float64) float64 { return math.Min(1, (1-math.Exp(-3.2*r))/(1-math.Exp(-3.2))) }

// ratio is how much a stay of t seconds is of the time that a developer truly wants: nominal at 20 °C, twice as long for each
// 10 °C below, half as long again at the end of its capacity; a developer under 13 °C does half of that.
func ratio(t, nominal, c, used, age float64) float64 {
	want := nominal * math.Exp2((20-c)/10) * (1 + 0.5*used) * age
	if c < 13 {
		want *= 2
	}
	return t / want
}

// scene has tones from four stops below the mid-tone to three above; its stray light is 0.0098 of the lightest.
func (s stock) negative(x, veil, r, fog float64) (mid, dark, light float64) {
	lightest := math.Exp2(2.5)
	at := func(z float64) float64 {
		return s.density(math.Exp2(x)*(math.Exp2(z)+0.0098*lightest)/(1+0.0098*lightest)+veil*s.threshold(), r, fog)
	}
	return at(0), at(-3), at(2)
}

// print is the print of a negative's tone: the copy sees 10^−D, and a hundredth of clear base as stray light; x is by how
// much the exposure is off for a mid-tone of density mid.
func (s stock) print(d, mid, x, veil, r, fog float64) float64 {
	stray := 0.01 * math.Pow(10, -0.08)
	seen, asked := math.Pow(10, -d)+stray, math.Pow(10, -mid)+stray
	return s.density(math.Exp2(x)*seen/asked+veil*s.threshold(), r, fog)
}
