package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestDevelopTime(t *testing.T) {
	for name, c := range map[string]struct {
		nominal, at, temp, q10, used float64
		want                         float64
		warnings                     []Warning
	}{
		// a resin-coated sheet in about a minute: common practice
		"as on the label":                   {60, 20, 20, 2, 0, 60, nil},
		"ten degrees up, half":              {60, 16, 26, 2, 0, 30, nil},
		"five degrees down":                 {60, 20, 15, 2, 0, 60 * math.Sqrt2, []Warning{{Code: WarnDeveloperSlow}}},
		"just not slow":                     {60, 20, 16, 2, 0, 79.17, nil},
		"at the limit":                      {60, 20, 13, 2, 0, 97.47, []Warning{{Code: WarnDeveloperSlow}}},
		"55 °F, in the tables of handbooks": {60, 20, 12.78, 2, 0, 98.97, []Warning{{Code: WarnHydroquinoneStopped}}},
		"as cold as may be":                 {60, 20, 10, 2, 0, 120, []Warning{{Code: WarnHydroquinoneStopped}}},
		"just too warm":                     {60, 20, 26.1, 2, 0, 39.31, []Warning{{Code: WarnBathWarm}}},
		"half used":                         {60, 20, 20, 2, 0.5, 75, nil},
		"spent":                             {60, 20, 20, 2, 1, 90, []Warning{{Code: WarnBathExhausted}}},
		"cold and spent":                    {60, 20, 14, 2, 1, 136.4, []Warning{{Code: WarnDeveloperSlow}, {Code: WarnBathExhausted}}},
		"named for 24, stands at":           {45, 24, 20, 2.5, 0, 64.92, nil},
		"no slope with a q10 of 1":          {60, 20, 15, 1, 0, 60, []Warning{{Code: WarnDeveloperSlow}}},
	} {
		t.Run(name, func(t *testing.T) {
			got, warnings, err := DevelopTime(c.nominal, c.at, c.temp, c.q10, c.used)
			require.NoError(t, err)
			assert.InDelta(t, c.want, got, 0.01*c.want/10)
			assert.Equal(t, c.warnings, warnings)
		})
	}
	got, _, err := DevelopTime(60, 20, 9.99, 2, 0)
	assert.ErrorIs(t, err, ErrDeveloperCold)
	assert.Zero(t, got)
	_, _, err = DevelopTime(0, 20, 9, 2, 0)
	var re *RangeError
	assert.ErrorAs(t, err, &re, "a bad number is named before the cold")
	assert.True(t, BathsApart(20, 14.9))
	assert.False(t, BathsApart(15, 20))
}

func TestQ10IsInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q10 := rapid.Float64Range(1.1, 4).Draw(t, "q10")
		a := rapid.Float64Range(5, 30).Draw(t, "temp")
		b := a + rapid.Float64Range(0.5, 15).Draw(t, "warmer")
		f := must2(TemperatureFactor(a, b, q10))
		assert.Less(t, f, 1.0, "warmer is quicker")
		assert.InEpsilon(t, 1, f*must2(TemperatureFactor(b, a, q10)), 1e-9, "there and back")
		assert.InEpsilon(t, q10, must2(Ratio(must2(Stops(f))*10/(a-b))), 1e-9)
	})
}

func TestDevelopmentEffect(t *testing.T) {
	assert.Equal(t, DevEffect{BlackShare: 1}, DevelopmentEffect(1))
	for r, speed := range map[float64]float64{DevelopLossBelow: -0.082, 1.2: 0.092, DevelopDarkAbove: 0.170} { // 0.35 × log2 r
		got := DevelopmentEffect(r)
		assert.InDelta(t, speed, got.SpeedStops, 0.001)
		assert.Equal(t, DevEffect{SpeedStops: got.SpeedStops, BlackShare: 1}, got, "a perfect print, the exposure adjusted")
		assert.InDelta(t, got.SpeedStops, DevelopmentEffect(r+1e-9).SpeedStops, 1e-6)
		assert.InDelta(t, got.SpeedStops, DevelopmentEffect(r-1e-9).SpeedStops, 1e-6)
	}
	at := func(r float64) DevEffect { return DevelopmentEffect(r) }
	assert.True(t, at(0.7).BlackShare < 0.95 && at(0.7).BlackShare > 0.85, "grey blacks at 0.7, not gone")
	assert.True(t, at(1.8).SpeedStops > 0 && at(1.8).Fog == 0, "first the mid-tones")
	assert.True(t, at(2.5).Fog > 0 && at(2.5).Stained, "then fog and stain")
	assert.False(t, at(1.99).Stained)
	for _, r := range []float64{0, -1, math.NaN()} {
		assert.Zero(t, at(r).BlackShare)
	}
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.01, 6).Draw(t, "r")
		b := a + rapid.Float64Range(0, 2).Draw(t, "longer")
		x, y := at(a), at(b)
		assert.LessOrEqual(t, x.SpeedStops, y.SpeedStops)
		assert.LessOrEqual(t, x.BlackShare, y.BlackShare)
		assert.LessOrEqual(t, x.Fog, y.Fog)
		assert.True(t, y.BlackShare >= 0 && y.BlackShare <= 1)
		near := at(a + 1e-9) // no jump anywhere
		assert.InDelta(t, x.SpeedStops, near.SpeedStops, 1e-5)
		assert.InDelta(t, x.BlackShare, near.BlackShare, 1e-5)
	})
}

func TestEarlyImageAccusesTheExposure(t *testing.T) {
	assert.True(t, EarlyImage(3, 10))
	assert.False(t, EarlyImage(4, 10))
	assert.False(t, EarlyImage(0, 10), "no image noted")
	assert.False(t, EarlyImage(3, 0))
}

func TestFixTime(t *testing.T) {
	got, warnings, err := FixTime(60, 20, 20, 2, 0)
	require.NoError(t, err)
	assert.Equal(t, 60.0, got)
	assert.Empty(t, warnings)
	got, warnings, err = FixTime(60, 20, 10, 2, 1)
	require.NoError(t, err)
	assert.InDelta(t, 240, got, 1e-9, "dead and cold: twice twice")
	assert.Equal(t, []Warning{{Code: WarnBathExhausted}}, warnings)
	_, warnings, err = FixTime(60, 20, 27, 2, 0)
	require.NoError(t, err)
	assert.Equal(t, []Warning{{Code: WarnBathWarm}}, warnings)

	rapid.Check(t, func(t *rapid.T) {
		used := rapid.Float64Range(0, 2).Draw(t, "used")
		fresh := rapid.Float64Range(5, 120).Draw(t, "fresh")
		now, _, err := FixTime(fresh, 20, 20, 2, used)
		require.NoError(t, err)
		assert.InDelta(t, used, must2(FixerUsedFromClearing(now, fresh)), 1e-9)
	})
	assert.Zero(t, must2(FixerUsedFromClearing(20, 30)), "quicker than fresh is fresh")
}

func TestFixTooLong(t *testing.T) {
	assert.False(t, FixTooLong(240, 60))
	assert.True(t, FixTooLong(241, 60))
	assert.True(t, FixTooLong(601, 300))
	assert.False(t, FixTooLong(700, 700), "as long as a cold bath asked for")
	assert.True(t, FixCreeps(ResinCoated, 121, 60))
	assert.False(t, FixCreeps(ResinCoated, 120, 60))
	assert.False(t, FixCreeps(ResinCoated, 130, 130), "as long as a cold bath asked for")
	assert.False(t, FixCreeps(FibreBase, 121, 60))
}

func TestBathState(t *testing.T) {
	for _, c := range []struct {
		used, age, life float64
		want            string
	}{
		{0, 0, 8, BathFresh}, {0.199, 1, 8, BathFresh}, {0.2, 1, 8, BathWorking}, {0.799, 8, 8, BathWorking},
		{0.8, 1, 8, BathTired}, {0.999, 1, 8, BathTired}, {1, 1, 8, BathExhausted}, {1.2, 9, 8, BathExhausted},
		{0, 8.1, 8, BathPastLife}, {0.9, 9, 8, BathPastLife}, {0.1, 1000, 0, BathFresh}, {math.NaN(), 0, 0, BathFresh},
	} {
		assert.Equal(t, c.want, BathState(c.used, c.age, c.life), "%+v", c)
	}
}

func TestBathDefaultsAndShares(t *testing.T) {
	for role, want := range map[string][2]float64{
		"developer": {2, 8}, "stop": {3, 24}, "fixer": {2 * 20 * 0.0516128, 24}, "water": {0, 0}, "toner": {0, 0},
	} {
		m2, hours, err := BathDefaults(role, 2000)
		require.NoError(t, err)
		assert.InDelta(t, want[0], m2, 1e-9, role)
		assert.Equal(t, want[1], hours, role)
	}
	assert.InDelta(t, 0.0516128, must2(SheetArea(203.2, 254)), 1e-12)
	assert.InDelta(t, Sheet8x10Area, must2(SheetArea(203.2, 254)), 1e-12)
	assert.InDelta(t, 0.25, must2(UsedShare(0.5, 2)), 1e-12)
	assert.Zero(t, must2(UsedShare(0.5, 0)), "no capacity known")
	_, err := UsedShare(1e6, 1e-310)
	assert.Error(t, err)
}

func TestMixInverses(t *testing.T) {
	c, w, err := Dilute(1, 9, 1000)
	require.NoError(t, err)
	assert.InDelta(t, 100, c, 1e-9)
	assert.InDelta(t, 900, w, 1e-9)
	c, w, err = DiluteStrength(28, 1, 1000)
	require.NoError(t, err)
	assert.InDelta(t, 1000.0/28, c, 1e-9)
	assert.InDelta(t, 1000-1000.0/28, w, 1e-9)
	_, _, err = DiluteStrength(1, 28, 1000)
	assert.Error(t, err, "water makes nothing stronger")
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(1, 100).Draw(t, "from")
		to := from * rapid.Float64Range(0.01, 1).Draw(t, "share")
		total := rapid.Float64Range(10, 5000).Draw(t, "total")
		c, w, err := DiluteStrength(from, to, total)
		require.NoError(t, err)
		assert.InEpsilon(t, to, from*c/(c+w), 1e-9)
		assert.GreaterOrEqual(t, w, 0.0)
		if to < from*0.99 {
			a, b, err := CrissCross(from, 0, to)
			require.NoError(t, err)
			assert.InEpsilon(t, c/w, a/b, 1e-6, "criss-cross names the same mixture")
		}
		assert.InEpsilon(t, to, 100*must2(GramsFor(to, total))/total, 1e-9)
	})
	a, b, err := CrissCross(15, 30, 20)
	require.NoError(t, err)
	assert.Equal(t, []float64{10, 5}, []float64{a, b}, "either order")
}

func TestPaperAndBathsAge(t *testing.T) {
	for months, want := range map[float64][2]float64{
		-24: {0, 0}, 0: {0, 0}, 12: {0, 0}, 24: {-0.2, 0.03}, 36: {-0.4, 0.06}, 1200: {-1, 0.3},
	} {
		stops, fog, err := AgedPaper(months)
		require.NoError(t, err)
		assert.InDelta(t, want[0], stops, 1e-12, "%g months", months)
		assert.InDelta(t, want[1], fog, 1e-12, "%g months", months)
	}
	for _, c := range [][3]float64{{0, 8, 1}, {8, 8, 1}, {16, 8, 1.5}, {1000, 8, 4}, {1000, 0, 1}} {
		assert.InDelta(t, c[2], must2(OldDeveloperGrowth(c[0], c[1])), 1e-12, "%v", c)
	}
	_, _, err := AgedPaper(math.NaN())
	assert.Error(t, err)
	_, err = OldDeveloperGrowth(-1, 8)
	assert.Error(t, err)
}

// Common practice without a source: a resin-coated sheet is through developer,
// rinse and fixer within three minutes, and so is its print.
func TestPracticeThreeMinutesASheet(t *testing.T) {
	develop, _, err := DevelopTime(60, 20, 20, DefaultQ10, 0)
	require.NoError(t, err)
	fix, _, err := FixTime(60, 20, 20, DefaultQ10, 0)
	require.NoError(t, err)
	const rinse = 15
	assert.Less(t, develop+rinse+fix, 180.0)
	cold, _, err := DevelopTime(60, 20, 14, DefaultQ10, 0)
	require.NoError(t, err)
	coldFix, _, err := FixTime(60, 20, 14, DefaultQ10, 0)
	require.NoError(t, err)
	assert.Greater(t, cold+rinse+coldFix, 180.0, "on a cold day it is not")
}

func TestErrorsNameWhatIsWrong(t *testing.T) {
	_, err := NewCurve(2, 5, 0.08, 2)
	assert.EqualError(t, err, "ISO range of 5 is outside what can be calculated; it must be between 10 and 400")
	_, err = NewCurve(2, 110, 0.08, 0.7)
	assert.ErrorContains(t, err, "greatest density of 0.7")
	_, err = NewDirectPositiveCurve(0, 110, 0.08, 2)
	assert.ErrorContains(t, err, "exposure for the mid-tone")
	_, err = PreFlashedR(110, 1)
	assert.ErrorContains(t, err, "from 1 on it veils the sheet")
	_, _, err = DevelopTime(60, 20, 80, 2, 0)
	assert.ErrorContains(t, err, "temperature of the bath of 80 °C")
	_, err = curveFor(t, 110).LogH(2)
	assert.ErrorContains(t, err, "density on this paper of 2")
	_, _, err = GradeSpan(7)
	assert.ErrorContains(t, err, "grade of 7")
	_, err = PreFlashShare(1e5, 1e-320)
	assert.Error(t, err)
	_, err = PreFlashShare(80000, 1e-320)
	assert.ErrorContains(t, err, "threshold time of the pre-flash")
	_, err = curveFor(t, 110).Points(1)
	assert.ErrorContains(t, err, "number of points")
}
