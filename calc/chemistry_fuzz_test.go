package calc

import (
	"errors"
	"math"
	"testing"
)

// sane fails on what no caller may ever see: a NaN, an infinity, or less than
// nothing, without an error beside it; and an error that names nothing.
func sane(t *testing.T, what string, err error, floor float64, got ...float64) {
	t.Helper()
	if err != nil {
		var re *RangeError
		var few *TooFewError
		switch {
		case errors.As(err, &re):
			if re.Quantity == "" {
				t.Fatalf("%s: an error without a name", what)
			}
		case errors.As(err, &few), errors.Is(err, ErrDeveloperCold):
		default:
			t.Fatalf("%s: a nameless error %v", what, err)
		}
		return
	}
	for _, v := range got {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < floor {
			t.Fatalf("%s answers %g without an error", what, v)
		}
	}
}

var unbounded = math.Inf(-1)

func FuzzPaper(f *testing.F) {
	f.Add(2.0, 110.0, 0.08, 2.0, 0.5)
	f.Add(math.NaN(), -1.0, 0.0, math.Inf(1), 1.0)
	f.Add(1e-6, 10.0, 0.5, 1.3, 0.0)
	f.Add(1e6, 400.0, 0.0, 4.0, 1e300)
	f.Fuzz(func(t *testing.T, hm, r, dmin, dmax, x float64) {
		for _, make := range []func(hm, r, dmin, dmax float64) (Curve, error){NewCurve, NewDirectPositiveCurve} {
			c, err := make(hm, r, dmin, dmax)
			sane(t, "curve", err, 0)
			if err != nil {
				continue
			}
			sane(t, "density", nil, 0, c.Density(x), c.Ht(), c.Hs(), c.ZoneOfMaximumBlack(), -c.ZoneOfThreshold())
			sane(t, "gradient", nil, unbounded, c.Gradient(x), c.MidGradient())
			logH, err := c.LogH(x)
			sane(t, "log exposure", err, unbounded, logH)
			stops, err := c.StopsFromDensity(x, dmin+MidAboveBase)
			sane(t, "stops from density", err, unbounded, stops)
			pts, err := c.Points(5)
			sane(t, "points", err, 0)
			for _, p := range pts {
				sane(t, "point", nil, unbounded, p.LogH, p.Density)
			}
		}
		one := func(what string, floor, v float64, err error) { t.Helper(); sane(t, what, err, floor, v) }
		call := func(what string, g func(float64) (float64, error)) { t.Helper(); v, err := g(x); one(what, 0, v, err) }
		call("Hm from index", HmFromIndex)
		call("Hm from P", HmFromISOP)
		call("index from P", IndexFromISOP)
		call("range in stops", RangeStops)
		g, err := GradeOfRange(x)
		sane(t, "grade", err, 0, g.Low, g.High, float64(g.Number))
		if err == nil && g.Words == "" {
			t.Fatalf("R%g has a grade without words", x)
		}
		v, err := PreFlashedR(r, x)
		one("pre-flashed range", 0, v, err)
		v, err = PreFlashShare(x, hm)
		one("pre-flash share", 0, v, err)
		a, b, d, err := PreFlashThreshold([]float64{hm, r, x}, int(math.Mod(dmax, 5)))
		sane(t, "pre-flash threshold", err, 0, a, b, d)
		v, err = RangeAfterFlare(x, r)
		one("range after flare", -1e-9, v, err)
		_, v, err = PaperSuits(x, r, dmin)
		one("offer less range", unbounded, v, err)
	})
}

func FuzzTones(f *testing.F) {
	f.Add(0.0, 0.0, 0.0098, 0.5, 0.0, 0.0, 1.0, 1.0, true)
	f.Add(-20.0, 20.0, 1.0, 1000.0, 1e6, 4.0, 0.0, 20.0, false)
	f.Add(20.0, -20.0, 0.0, 0.0, 0.0, 0.0, 1e-300, 2.0, true)
	f.Fuzz(func(t *testing.T, e1, e2, flare, flash, fog, density, r1, r2 float64, metered bool) {
		c, err := NewCurve(2, 110, 0.08, 2.0)
		if err != nil {
			t.Fatal(err)
		}
		g := TwoGenerations{Neg: NewSheet(c, CameraFlare), Print: NewSheet(c, CopyFlare), CopyMeteredMid: metered}
		g.Neg.ExposureStops, g.Print.ExposureStops = e1, e2
		g.Neg.Flare, g.Print.Flare = flare, flare
		g.Neg.PreFlashShare, g.Print.PreFlashShare = flash, flash
		g.Neg.FogShare, g.Print.LeakShare = fog, fog
		g.Neg.FogDensity, g.Print.FogDensity = density, density
		g.Neg.DevRatio, g.Print.DevRatio = r1, r2
		if err := errors.Join(g.Neg.Check(), g.Print.Check()); err != nil {
			sane(t, "check", err, 0)
			return
		}
		out := g.Tones()
		for _, z := range out.Zones {
			sane(t, "tone", nil, c.Dmin-1e-9, z.Negative, z.Print)
			if z.Negative > c.Dmax+1e-9 || z.Print > c.Dmax+1e-9 {
				t.Fatalf("blacker than black: %+v", z)
			}
		}
		for _, s := range []TonesOf{out.Neg, out.Print} {
			sane(t, "sheet", nil, -1e-9, s.Mid, s.Min, s.Max, s.Range, s.Light, s.Black, s.Veil, s.BorderFog)
		}
		sane(t, "gradient and copy", nil, unbounded, out.Gradient, out.CopyStops)
		if out.Gradient > 1e-6 {
			t.Fatalf("a print that darkens with its subject: %g", out.Gradient)
		}
	})
}

func FuzzBaths(f *testing.F) {
	f.Add(60.0, 20.0, 20.0, 2.0, 0.0)
	f.Add(60.0, 20.0, 12.0, 2.0, 0.5)
	f.Add(-1.0, math.NaN(), math.Inf(1), 0.0, 99.0)
	f.Add(1e-300, 1e300, 5e-324, 1.0, 1.0)
	f.Fuzz(func(t *testing.T, a, b, c, d, e float64) {
		v, _, err := DevelopTime(a, b, c, d, e)
		sane(t, "develop", err, 0, v)
		v, _, err = FixTime(a, b, c, d, e)
		sane(t, "fix", err, 0, v)
		one := func(what string, v float64, err error) { t.Helper(); sane(t, what, err, 0, v) }
		pair := func(what string, g func(x, y float64) (float64, error)) {
			t.Helper()
			v, err := g(a, b)
			one(what, v, err)
		}
		pair("factorial", FactorialTime)
		pair("factor", FactorFromTimes)
		pair("used from clearing", FixerUsedFromClearing)
		pair("area", SheetArea)
		pair("used", UsedShare)
		pair("grams", GramsFor)
		pair("least water", LeastWater)
		v, err = TemperatureFactor(a, b, c)
		one("temperature factor", v, err)
		v, err = FixTimeFromClearing(a)
		one("fix from clearing", v, err)
		x, y, err := Dilute(a, b, c)
		sane(t, "dilute", err, 0, x, y)
		x, y, err = DiluteStrength(a, b, c)
		sane(t, "strength", err, 0, x, y)
		x, y, err = CrissCross(a, b, c)
		sane(t, "criss-cross", err, 0, x, y)
		x, y, err = BathDefaults("fixer", a)
		sane(t, "defaults", err, 0, x, y)
		if BathState(a, b, c) == "" {
			t.Fatal("a bath without a state")
		}
		dev := DevelopmentEffect(a)
		sane(t, "development", nil, -20, dev.SpeedStops, dev.BlackShare, dev.Fog)
	})
}

func FuzzWash(f *testing.F) {
	f.Add(6.0, 1000.0, 300.0, 0.0, 20.0, 0.01, 1.0, true, false)
	f.Add(1000.0, 1e-300, 0.0, 604800.0, 0.0, 10.0, 1000.0, false, true)
	f.Add(math.NaN(), -1.0, math.Inf(1), 1.0, 99.0, 0.0, 0.0, true, true)
	f.Fuzz(func(t *testing.T, n, v, soak, running, temp, area, together float64, fibre, aid bool) {
		base := ResinCoated
		if fibre {
			base = FibreBase
		}
		r, err := Unwashed().After(WashDone{Base: base, Aid: aid, Changes: n, VolumeML: v, SoakS: soak, RunningS: running, TempC: temp, AreaM2: area, Together: together})
		sane(t, "wash", err, 0, r.Residual, r.GPerM2, r.Share)
		if err == nil && r.Residual > 1 {
			t.Fatalf("a wash that adds: %+v", r)
		}
		left, err := WashResidual(n, v, area, temp)
		sane(t, "residual", err, 0, left)
		k, err := WashChangesFor(n, v, area, temp)
		sane(t, "changes", err, 0, float64(k))
		each, err := WashVolumeFor(n, int(math.Mod(soak, 2000)), v)
		sane(t, "volume", err, 0, each)
		e, err := SoakLeaves(base, soak, temp)
		sane(t, "soak", err, 0, e)
	})
}

func FuzzFit(f *testing.F) {
	f.Add(4.0, 4.0, 0.5, 0.3, 1.0)
	f.Add(0.001, 86400.0, -10.0, 0.0, 0.5)
	f.Add(math.NaN(), 1.0, 0.0, -1.0, 2.0)
	f.Fuzz(func(t *testing.T, called, done, stops, sd, p float64) {
		s := JudgedSheet{called, done, stops, sd}
		other := JudgedSheet{done, called, -stops, 0}
		fit, err := FitIndex([]JudgedSheet{s, other, s, {1, 1, 0, 0}, s, other, s}, p)
		for _, i := range []Interval{fit.Offset, fit.OffsetInUse, fit.P} {
			sane(t, "fit", err, unbounded, i.Low, i.Mean, i.High)
			if err == nil && (i.Low > i.Mean+1e-6 || i.Mean > i.High+1e-6) {
				// the mean of a mixture may leave its own bounds only where they all but meet
				t.Fatalf("mean outside its bounds: %+v", i)
			}
		}
		idx, err := fit.Index(called)
		sane(t, "index", err, 0, idx.Low, idx.Mean, idx.High)
		cap1 := CapPress{called, done}
		cf, err := FitCap([]CapPress{cap1, cap1, {done, called}, cap1, {1, 2}})
		sane(t, "cap", err, unbounded, cf.BiasS.Low, cf.BiasS.Mean, cf.BiasS.High)
		sane(t, "cap scatter", err, 0, cf.Share.Low, cf.Share.Mean, cf.Share.High, cf.ConstS.Low, cf.ConstS.Mean, cf.ConstS.High)
		bf, err := FitBlack([]BlackTime{{sd, called}, {p, done}, {sd + p, called}, {0, 1}})
		sane(t, "black", err, 0, bf.FreshS, bf.Growth.Low, bf.Growth.Mean, bf.Growth.High)
		ff, err := FilterFactorFit(Interval{called, called, done}, Interval{done, done, called})
		sane(t, "filter", err, 0, ff.Low, ff.Mean, ff.High)
	})
}
