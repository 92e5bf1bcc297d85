package calc

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// draw is a number spread evenly over the decades from lo to hi.
func draw(t *rapid.T, label string, lo, hi float64) float64 {
	return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, label))
}

func sure(t *rapid.T) func(float64, error) float64 {
	return func(v float64, err error) float64 {
		require.NoError(t, err)
		return v
	}
}

func TestInversesInvert(t *testing.T) {
	type pair struct {
		lo, hi    float64
		there, to func(float64) (float64, error)
	}
	for name, p := range map[string]pair{
		"stops and ratio":          {1e-9, 1e9, Stops, Ratio},
		"time by index":            {1e-3, 1e5, func(v float64) (float64, error) { return EV100FromExposure(11, v, 3) }, func(v float64) (float64, error) { return ExposureTime(v, 11, 3) }},
		"reciprocity":              {1e-3, 1e4, func(v float64) (float64, error) { return Reciprocity(v, 0.8) }, func(v float64) (float64, error) { return ReciprocityInverse(v, 0.8) }},
		"magnification":            {135.5, 1e6, func(v float64) (float64, error) { return Magnification(135, v) }, func(v float64) (float64, error) { return SubjectDistance(135, v) }},
		"extension":                {0.01, 100, func(v float64) (float64, error) { return Extension(135, v) }, func(v float64) (float64, error) { return MagnificationFromExtension(135, v) }},
		"image and subject change": {136, 1e5, func(v float64) (float64, error) { return ImageDistance(135, v) }, func(v float64) (float64, error) { return ImageDistance(135, v) }},
	} {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			v := draw(t, "v", p.lo, p.hi)
			assert.InEpsilon(t, v, sure(t)(p.to(sure(t)(p.there(v)))), 1e-6)
		}))
	}
	t.Run("EV between indices", rapid.MakeCheck(func(t *rapid.T) {
		ev, s := rapid.Float64Range(-10, 20).Draw(t, "ev"), draw(t, "index", 0.1, 1e4)
		assert.InDelta(t, ev, sure(t)(EV100FromEV(sure(t)(EV100FromEV(ev, s)), 100*100/s)), 1e-9)
	}))
}

func TestMonotone(t *testing.T) {
	rising := func(t *rapid.T, lo, hi float64, f func(float64) float64) {
		a := draw(t, "a", lo, hi)
		b := a * (1 + draw(t, "more", 1e-6, 10))
		if b > hi {
			return
		}
		assert.LessOrEqual(t, f(a), f(b)*(1+1e-12))
	}
	for name, c := range map[string]struct {
		lo, hi float64
		f      func(t *rapid.T, v float64) float64
	}{
		"a longer meter time asks a longer time": {1e-3, 1e4, func(t *rapid.T, v float64) float64 {
			c, err := Exposure{Reading: Reading{F: 8, TimeS: v, Index: 100}, PaperIndex: 3, SetF: 11, P: 0.9}.CalledFor()
			require.NoError(t, err)
			return c.TimeS
		}},
		"more light asks a shorter time": {1, 1e6, func(t *rapid.T, v float64) float64 {
			c, err := Exposure{Reading: Reading{Lux: v}, PaperIndex: 3, SetF: 11}.CalledFor()
			require.NoError(t, err)
			return -c.TimeS
		}},
		"a long time scatters less":      {0.1, 1e4, func(t *rapid.T, v float64) float64 { return -sure(t)(CapScatterStops(v, CapSDS)) }},
		"reciprocity":                    {1e-3, 1e4, func(t *rapid.T, v float64) float64 { return sure(t)(Reciprocity(v, 0.86)) }},
		"set times":                      {0.2, 1e5, func(t *rapid.T, v float64) float64 { return sure(t)(SetTime(v)) }},
		"closer is larger":               {136, 1e6, func(t *rapid.T, v float64) float64 { return -sure(t)(Magnification(135, v)) }},
		"larger costs more":              {1e-3, 100, func(t *rapid.T, v float64) float64 { return sure(t)(ExtensionFactor(v, 1)) }},
		"stopping down deepens":          {1, 128, func(t *rapid.T, v float64) float64 { return -sure(t)(Hyperfocal(135, v, COC)) }},
		"stopping down diffracts":        {1, 128, func(t *rapid.T, v float64) float64 { return sure(t)(AiryUM(v, 1)) }},
		"a longer time blurs more":       {0.1, 1e3, func(t *rapid.T, v float64) float64 { return sure(t)(MotionBlur("child", 0.1, v)) }},
		"a larger sheet sees more":       {1, 1e4, func(t *rapid.T, v float64) float64 { return sure(t)(AngleOfView(v, 135)) }},
		"a slower index asks more light": {0.1, 1e4, func(t *rapid.T, v float64) float64 { return -sure(t)(EV100FromExposure(8, 1, v)) }},
	} {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			f := c.f
			rising(t, c.lo, c.hi, func(v float64) float64 { return math.Exp2(f(t, v) / 1e4) })
		}))
	}
}

func TestFactorsMultiply(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := Exposure{Reading: Reading{F: 8, TimeS: draw(t, "time", 0.1, 1), Index: draw(t, "index", 1, 100)},
			PaperIndex: draw(t, "paper", 1, 50), SetF: rapid.SampledFrom(nominalMarks()).Draw(t, "f")}
		full := base
		full.ExtensionFactor = draw(t, "extension", 1, 9)
		a, b := draw(t, "filter", 1, 4), draw(t, "another", 1, 4)
		full.FilterFactor = sure(t)(FilterFactor(a, b))
		full.ZoneStops = rapid.Float64Range(-3, 3).Draw(t, "zone")
		plain, err := base.CalledFor()
		require.NoError(t, err)
		c, err := full.CalledFor()
		require.NoError(t, err)
		assert.InEpsilon(t, plain.TimeS*full.ExtensionFactor*a*b*math.Exp2(full.ZoneStops), c.TimeS, 1e-9)
		full.P = rapid.Float64Range(0.85, 1).Draw(t, "p")
		slow, err := full.CalledFor()
		require.NoError(t, err)
		assert.InEpsilon(t, sure(t)(Reciprocity(c.TimeS, full.P)), slow.TimeS, 1e-9, "reciprocity comes last")
		assert.InEpsilon(t, slow.TimeS, slow.FromTimeS*math.Exp2(sumStops(slow)), 1e-9)
		same := Exposure{Reading: Reading{EV: &plain.EV100}, PaperIndex: base.PaperIndex, SetF: base.SetF}
		byEV, err := same.CalledFor()
		require.NoError(t, err)
		assert.InEpsilon(t, plain.TimeS, byEV.TimeS, 1e-9, "the way of reading does not matter")
	})
}

func TestLensAndDepthHoldTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		focal := draw(t, "focal", 30, 600)
		u := focal * (1 + draw(t, "u", 0.05, 1000))
		n := rapid.SampledFrom(nominalMarks()).Draw(t, "f")
		f, err := Focus{FocalMM: focal, SubjectMM: u, F: n, SheetWidthMM: 90, SheetHeightMM: 120}.Figure()
		require.NoError(t, err)
		assert.InEpsilon(t, 1/focal, 1/u+1/f.ImageDistanceMM, 1e-9, "the thin lens")
		assert.InEpsilon(t, f.ImageDistanceMM, focal+f.ExtensionMM, 1e-9)
		assert.InEpsilon(t, f.ImageDistanceMM/u, f.Magnification, 1e-9)
		assert.Less(t, f.NearMM, u)
		assert.Greater(t, f.FarMM, u)
		assert.Greater(t, f.NearMM, focal, "what is sharp has an image")
		assert.InDelta(t, COC, sure(t)(FocusBlur(focal, n, u, f.NearMM)), 1e-6)
		back, err := Focus{FocalMM: focal, Magnification: f.Magnification, F: n, SheetWidthMM: 90, SheetHeightMM: 120}.Figure()
		require.NoError(t, err)
		assert.InEpsilon(t, u, back.SubjectMM, 1e-6)
		assert.InEpsilon(t, f.NearMM, back.NearMM, 1e-6)
	})
}

func TestStripsHoldTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base, step := draw(t, "base", 0.1, 60), draw(t, "step", 0.05, 1)
		count := rapid.IntRange(1, 12).Draw(t, "count")
		times, err := StripTimes(base, step, count)
		require.NoError(t, err)
		added, err := StripAdded(times)
		require.NoError(t, err)
		var sum float64
		for i, a := range added {
			sum += a
			assert.InEpsilon(t, times[i], sum, 1e-9)
		}
		assert.InDelta(t, step*float64(count-1), sure(t)(Stops(times[count-1]/base)), 1e-9)
	})
}

func TestSunHoldsTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(-2e9, 4e9).Draw(t, "at"), 0).In(time.FixedZone("", 3600*rapid.IntRange(-11, 13).Draw(t, "offset")))
		lat, lon := rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")
		p, err := SunPosition(at, lat, lon)
		require.NoError(t, err)
		assert.True(t, p.AzimuthDeg >= 0 && p.AzimuthDeg < 360)
		assert.GreaterOrEqual(t, p.AltitudeDeg, p.TrueAltitudeDeg-1e-6, "air lifts")
		_, alt := circularSun(at, lat, lon)
		assert.InDelta(t, p.AltitudeDeg, alt, 0.35, "the short theory agrees with the longer one")
		d, err := SunOn(at, lat, lon)
		require.NoError(t, err)
		for _, edge := range []time.Time{d.Sunrise, d.Sunset} {
			if !edge.IsZero() {
				assert.InDelta(t, horizonDeg, centreAltitude(JulianDay(edge), lat, lon), 0.005)
				assert.Equal(t, at.Format("2006-01-02 -0700"), edge.Format("2006-01-02 -0700"))
			}
		}
	})
}
