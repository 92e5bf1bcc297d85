package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawCurve is any paper a curve can be made of.
func drawCurve(t *rapid.T) Curve {
	dmin := rapid.Float64Range(0, 0.3).Draw(t, "dmin")
	dmax := rapid.Float64Range(1.3, 2.6).Draw(t, "dmax")
	c, err := NewCurve(
		rapid.Float64Range(0.01, 100).Draw(t, "hm"),
		rapid.Float64Range(40, 220).Draw(t, "r"), dmin, dmax)
	require.NoError(t, err)
	return c
}

func TestCurveHoldsItsThreePoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCurve(t)
		assert.InDelta(t, c.Dmin+MidAboveBase, c.Density(math.Log10(c.Hm)), 1e-9, "M")
		assert.InDelta(t, c.Dmin+ThresholdAboveBase, c.Density(math.Log10(c.Ht())), 1e-9, "T")
		assert.InDelta(t, MaximumBlackDensity(c.Dmax), c.Density(math.Log10(c.Hs())), 1e-9, "S")
		assert.InDelta(t, c.R, 100*math.Log10(c.Hs()/c.Ht()), 1e-9, "R")
	})
}

func TestCurveInverseAndSlope(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCurve(t)
		if rapid.Bool().Draw(t, "direct positive") {
			var err error
			c, err = NewDirectPositiveCurve(c.Hm, c.R, c.Dmin, c.Dmax)
			require.NoError(t, err)
		}
		x := math.Log10(c.Hm) + rapid.Float64Range(-1, 1).Draw(t, "log H from the mid-tone")*c.R/100
		d := c.Density(x)
		back, err := c.LogH(d)
		require.NoError(t, err)
		assert.InDelta(t, x, back, 1e-6)
		const h = 1e-5
		up, down := c.Density(x+h), c.Density(x-h)
		assert.InDelta(t, (up-down)/(2*h), c.Gradient(x), 1e-4)
		if c.Falling {
			assert.Less(t, up, down, "a direct-positive paper lightens with light")
		} else {
			assert.Greater(t, up, down, "a paper darkens with light")
		}
	})
}

func TestCurveNumbers(t *testing.T) {
	soft, normal := curveFor(t, 180), curveFor(t, 110)
	// the places of clear base, for glossy paper of 0.08 to 2.0
	assert.InDelta(t, 1.8, normal.ZoneOfMaximumBlack(), 0.05)
	assert.InDelta(t, 2.9, soft.ZoneOfMaximumBlack(), 0.05)
	// and of the densest patch: the whole range lies between the two
	for r, c := range map[float64]Curve{110: normal, 180: soft} {
		assert.InDelta(t, r/100/math.Log10(2), c.ZoneOfMaximumBlack()-c.ZoneOfThreshold(), 0.01)
	}
	// the slopes were first calculated with a paper of 0.05 to 2.05
	for r, want := range map[float64]float64{110: 5.4, 180: 2.0} {
		c, err := NewCurve(2, r, 0.05, 2.05)
		require.NoError(t, err)
		assert.InDelta(t, want, c.MidGradient()*c.MidGradient(), 0.05, "R%g on itself", r)
	}
	assert.InDelta(t, 2.3, normal.MidGradient(), 0.06)
	assert.InDelta(t, 5.4, normal.MidGradient()*normal.MidGradient(), 0.4)
	assert.InDelta(t, 2.0, soft.MidGradient()*soft.MidGradient(), 0.15)
	// mean slope between T and S: 1.6 at R110, 2.56 multiplied
	mean := (MaximumBlackDensity(2.1) - (0.05 + ThresholdAboveBase)) / 1.10
	assert.InDelta(t, 1.6, mean, 0.05)
}

func TestCurveOfNoLight(t *testing.T) {
	c := curveFor(t, 110)
	for _, x := range []float64{math.Inf(-1), math.NaN(), -1e9} {
		assert.Equal(t, c.Dmin, c.Density(x))
		assert.Zero(t, c.Gradient(x))
	}
	assert.InDelta(t, c.Dmax, c.Density(math.Inf(1)), 1e-12)
	assert.Zero(t, Curve{}.Density(0), "the zero curve has no slope")
	p, err := NewDirectPositiveCurve(2, 110, 0.08, 2)
	require.NoError(t, err)
	assert.InDelta(t, p.Dmax, p.Density(math.Inf(-1)), 1e-12, "no light leaves it black")
	assert.Greater(t, p.Ht(), p.Hs(), "its threshold takes more light than its black")
	assert.Less(t, p.MidGradient(), 0.0)
}

func TestCurvePoints(t *testing.T) {
	for _, falling := range []bool{false, true} {
		c := curveFor(t, 110)
		if falling {
			c, _ = NewDirectPositiveCurve(2, 110, 0.08, 2)
		}
		pts, err := c.Points(41)
		require.NoError(t, err)
		require.Len(t, pts, 41)
		for i := 1; i < len(pts); i++ {
			assert.Greater(t, pts[i].LogH, pts[i-1].LogH)
			assert.Equal(t, !falling, pts[i].Density > pts[i-1].Density)
		}
		lo, hi := math.Min(c.Ht(), c.Hs()), math.Max(c.Ht(), c.Hs())
		assert.Less(t, pts[0].LogH, math.Log10(lo))
		assert.Greater(t, pts[40].LogH, math.Log10(hi))
	}
}

func TestIndexAndSpeed(t *testing.T) {
	assert.Equal(t, 2.0, must2(HmFromISOP(500)))
	assert.Equal(t, 5.0, must2(IndexFromISOP(500)))
	assert.Equal(t, 2.5, must2(HmFromIndex(4)))
	for _, p := range []float64{100, 200, 500} {
		hm := must2(HmFromISOP(p))
		assert.InDelta(t, must2(HmFromIndex(must2(IndexFromISOP(p)))), hm, 1e-12, "speed and index name the same exposure")
	}
	// read off a strip by its densities, the range of a paper is the one it was given
	for _, r := range []float64{50, 60, 95, 110, 140, 180} {
		assert.InDelta(t, r, measuredRange(t, curveFor(t, r)), 1e-6)
	}
	assert.InDelta(t, 3.65, must2(RangeStops(110)), 0.01)
}

func TestGradesMeetWithoutGap(t *testing.T) {
	for g := 1; g <= 6; g++ {
		_, high, err := GradeSpan(g)
		require.NoError(t, err)
		low, _, err := GradeSpan(g - 1)
		require.NoError(t, err)
		assert.Equal(t, low, high)
		at, err := GradeOfRange(100 * low)
		require.NoError(t, err)
		assert.Equal(t, g-1, at.Number, "the border belongs to the softer grade")
		assert.Equal(t, gradeWords[g-1], at.Words)
	}
	for r, words := range map[float64]string{170: "grade 0", 170.1: "softer than grade 0", 95: "grade 2", 60: "grade 5", 35: "grade 6", 34: "harder than grade 6"} {
		at, err := GradeOfRange(r)
		require.NoError(t, err)
		assert.Equal(t, words, at.Words, "R%g", r)
		if at.Fits {
			assert.True(t, at.Low <= r/100 && r/100 <= at.High)
		}
	}
}

func TestFlashSoftens(t *testing.T) {
	assert.InDelta(t, 138.3, must2(PreFlashedR(110, 0.5)), 0.1) // log10((12.589 − 0.5)/0.5)
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.Float64Range(40, 220).Draw(t, "r")
		a := rapid.Float64Range(0, 0.95).Draw(t, "share")
		more := a + rapid.Float64Range(0.001, 0.04).Draw(t, "more")
		assert.InDelta(t, r, must2(PreFlashedR(r, 0)), 1e-9)
		assert.Greater(t, must2(PreFlashedR(r, more)), must2(PreFlashedR(r, a)))
		// by the curve: the picture's own light for T and S under that pre-flash
		c := curveFor(t, r)
		assert.InDelta(t, 100*math.Log10((c.Hs()-a*c.Ht())/(c.Ht()-a*c.Ht())), must2(PreFlashedR(r, a)), 1e-6)
	})
}

func TestFlashTimes(t *testing.T) {
	assert.Equal(t, 0.7, must2(PreFlashShare(2.8, 4)))
	est, low, high, err := PreFlashThreshold([]float64{1, 2, 4, 8}, 3)
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(8), est, 1e-12)
	assert.Equal(t, []float64{2, 4}, []float64{low, high})
	est, low, high, err = PreFlashThreshold([]float64{1, 2}, 1)
	require.NoError(t, err)
	assert.Equal(t, []float64{1, 0, 1}, []float64{est, low, high})
	for name, bad := range map[string]struct {
		times []float64
		step  int
	}{
		"no steps":  {nil, 1},
		"falling":   {[]float64{2, 1}, 1},
		"not there": {[]float64{1, 2}, 3},
		"nought":    {[]float64{1, 2}, 0},
	} {
		_, _, _, err := PreFlashThreshold(bad.times, bad.step)
		assert.Error(t, err, name)
	}
}

func TestStopsFromDensity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCurve(t)
		s := rapid.Float64Range(-1.5, 1.5).Draw(t, "stops")
		at := c.Density(math.Log10(c.Hm) + s*log10of2)
		assert.InDelta(t, -s, must2(c.StopsFromDensity(at, c.Dmin+MidAboveBase)), 1e-6)
	})
	c := curveFor(t, 110)
	_, err := c.StopsFromDensity(0.01, 0.68)
	assert.Error(t, err)
	_, err = c.StopsFromDensity(0.68, 3)
	assert.Error(t, err)
}

func TestVariableContrast(t *testing.T) {
	last := 400.0
	for _, name := range []string{"00", "0", "0.5", "1", "1.5", "2", "2.5", "3", "3.5", "4", "4.5", "5"} {
		r, factor, ok := VariableFilter(name)
		require.True(t, ok, name)
		assert.Less(t, r, last, "%s is harder than the one before", name)
		assert.Equal(t, name >= "4", factor == 5, name)
		last = r
	}
	half, _, _ := VariableFilter("1.5")
	assert.InDelta(t, 120, half, 1e-9, "half between 130 and 110")
	for _, word := range []string{"", "yellow", "-1", "5.5", "NaN", "Inf", "000x"} {
		_, _, ok := VariableFilter(word)
		assert.False(t, ok, word)
	}
}

func TestHarderByGrades(t *testing.T) {
	for _, c := range []struct{ r, grades, want float64 }{
		{110, 0, 110}, {127.5, 1, 105}, {127.5, 2, 87.5}, {116.25, 1, 96.25}, // from middle to middle, and half between two
		{155, 1, 127.5}, {170, 1, 142.5}, // softer than the middle of grade 0: as steep as beside it
		{57.5, 2, 42.5}, {40, 1, 40}, // no harder than grade 6, and what is harder already stays
	} {
		got, err := HarderBy(c.r, c.grades)
		require.NoError(t, err)
		assert.InDelta(t, c.want, got, 1e-9, "R%v, %v harder", c.r, c.grades)
	}
	for light, want := range map[string]float64{"sun": 1.5, "shade": 1.5, "overcast": 0.5, "dusk": 0, "lamp": 0, "": 0} {
		grades, _ := SkyGrades(light)
		assert.Equal(t, want, grades, light)
	}
}
