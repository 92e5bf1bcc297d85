package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFocusFigure(t *testing.T) {
	t.Run("a sitter", func(t *testing.T) {
		f, err := Focus{FocalMM: 135, SubjectMM: 2000, F: 8, SheetWidthMM: 90, SheetHeightMM: 120}.Figure()
		require.NoError(t, err)
		assert.InDelta(t, 144.77, f.ImageDistanceMM, 0.005)
		assert.InDelta(t, 9.77, f.ExtensionMM, 0.005)
		assert.InDelta(t, 0.07239, f.Magnification, 1e-5)
		assert.InDelta(t, 1.1500, f.ExposureFactor, 1e-4)
		assert.InDelta(t, 11525.6, f.HyperfocalMM, 0.05)
		assert.InDelta(t, 1.7158, f.RailToleranceMM, 1e-4)
		assert.InDelta(t, 1243.33, f.FieldWidthMM, 0.01)
		assert.InDelta(t, 1657.78, f.FieldHeightMM, 0.01)
		assert.InDelta(t, 34.53, f.AngleWidthDeg, 0.01)
		assert.InDelta(t, 45.02, f.AngleHeightDeg, 0.01)
		assert.InDelta(t, 54.77, f.AngleDiagonalDeg, 0.01)
		assert.InDelta(t, f.FieldWidthMM, 2*2000*math.Tan(f.AngleWidthDeg/2*radians), 0.1, "field and angle agree")
	})
	t.Run("a copy, pupil ratio counted", func(t *testing.T) {
		f, err := Focus{FocalMM: 135, Magnification: 1, Pupil: 2}.Figure()
		require.NoError(t, err)
		assert.InDelta(t, 270, f.SubjectMM, 1e-9)
		assert.InDelta(t, 2.25, f.ExposureFactor, 1e-12)
		assert.Zero(t, f.HyperfocalMM)
	})
	t.Run("infinity", func(t *testing.T) {
		f, err := Focus{FocalMM: 135, F: 8, SheetWidthMM: 90, SheetHeightMM: 120}.Figure()
		require.NoError(t, err)
		assert.Zero(t, f.ExtensionMM)
		assert.True(t, math.IsInf(f.FarMM, 1) && math.IsInf(f.FieldWidthMM, 1) && math.IsInf(f.SubjectMM, 1))
		assert.InDelta(t, 135.0*135/1.6, f.NearMM, 1e-6)
		assert.InDelta(t, COC, ok(t)(FocusBlur(135, 8, 1e9, f.NearMM)), 1e-5)
	})
	for name, f := range map[string]Focus{
		"placed twice":             {FocalMM: 135, SubjectMM: 2000, Magnification: 1},
		"inside the focal length":  {FocalMM: 135, SubjectMM: 135},
		"no lens":                  {SubjectMM: 2000},
		"below the axis":           {FocalMM: 135, Magnification: -1},
		"no aperture":              {FocalMM: 135, F: -8},
		"circle below zero":        {FocalMM: 135, F: 8, COCMM: -1},
		"sheet below zero":         {FocalMM: 135, SheetWidthMM: -90},
		"impossible pupil":         {FocalMM: 135, Pupil: -1},
		"magnified beyond measure": {FocalMM: 135, Magnification: 1e9},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := f.Figure()
			var re *RangeError
			require.ErrorAs(t, err, &re)
		})
	}
}

func TestCopyGeometryKnowsTheDraw(t *testing.T) {
	s, err := CopyGeometry(135, 250, 1, 90, 120, 0)
	require.NoError(t, err)
	assert.False(t, s.Fits)
	assert.InDelta(t, 0.8519, s.LargestM, 1e-4)
	assert.InDelta(t, 540, s.TotalMM, 1e-9)
	s, err = CopyGeometry(135, 270, 1, 90, 120, 0)
	require.NoError(t, err)
	assert.True(t, s.Fits, "2f is enough for 1:1")
	s, err = CopyGeometry(135, 0, 0.5, 90, 120, 0)
	require.NoError(t, err)
	assert.True(t, s.Fits)
	assert.Equal(t, []float64{45, 60}, []float64{s.PrintWidthMM, s.PrintHeightMM})
	assert.InDeltaSlice(t, []float64{405, 202.5, 67.5, 607.5}, []float64{s.SubjectMM, s.ImageMM, s.ExtensionMM, s.TotalMM}, 1e-9, "f(1 + 1/m), f(1 + m), f·m, their sum")
	_, err = CopyGeometry(135, 100, 1, 90, 120, 0)
	assert.ErrorContains(t, err, "greatest distance from lens to paper of 100 mm")
	_, err = CopyGeometry(135, 300, 0, 90, 120, 0)
	assert.ErrorContains(t, err, "magnification of 0")
	for m := 0.5; m < 1.5; m += 0.01 { // a draw that just reaches is enough, however the division comes out
		s, err := CopyGeometry(135, 135*(1+m), m, 90, 120, 1)
		require.NoError(t, err)
		assert.True(t, s.Fits, m)
	}
}

func TestRailTable(t *testing.T) {
	rows, err := RailTable(135, 8, COC, 0, RailDistances(135))
	require.NoError(t, err)
	require.Equal(t, 270.0, rows[0].SubjectMM)
	assert.InDelta(t, 135, rows[0].ExtensionMM, 1e-9)
	assert.InDelta(t, 3.2, rows[0].ToleranceMM, 1e-9)
	assert.InDelta(t, 2, rows[0].Stops, 1e-12)
	last := rows[len(rows)-1]
	assert.True(t, math.IsInf(last.SubjectMM, 1))
	assert.Equal(t, RailRow{SubjectMM: math.Inf(1), ToleranceMM: 1.6, Factor: 1}, last)
	for i := 1; i < len(rows); i++ {
		assert.Greater(t, rows[i].SubjectMM, rows[i-1].SubjectMM)
		assert.Less(t, rows[i].ExtensionMM, rows[i-1].ExtensionMM)
	}
	_, err = RailTable(135, 8, COC, 0, []float64{100})
	assert.ErrorContains(t, err, "distance to the subject of 100 mm")
	_, err = RailTable(135, 0, COC, 0, []float64{1000})
	assert.ErrorContains(t, err, "aperture")
}

func TestBlur(t *testing.T) {
	must := ok(t)
	assert.InDelta(t, 0.0625, must(RailBlur(-1, 8, 1)), 1e-12)
	tol := must(RailTolerance(COC, 8, 0.5))
	assert.InDelta(t, COC, must(RailBlur(tol, 8, 0.5)), 1e-12, "the tolerance is the setting that blurs by the circle")

	near, far := depthLimits(must(Hyperfocal(135, 8, COC)), 135, 2000)
	for _, u := range []float64{near, far} {
		assert.InDelta(t, COC, must(FocusBlur(135, 8, 2000, u)), 1e-9, "the limits blur by the circle")
	}
	assert.Zero(t, must(FocusBlur(135, 8, 2000, 2000)))

	best := must(ApertureOfLeastBlur(2, 1))
	blur := func(n float64) float64 { return math.Hypot(must(RailBlur(2, n, 1)), must(AiryUM(n, 1))/1000) }
	assert.Less(t, blur(best), blur(best*1.1))
	assert.Less(t, blur(best), blur(best/1.1))
	assert.InDelta(t, must(RailBlur(2, best, 1)), must(AiryUM(best, 1))/1000, 1e-9)
}

func TestMotion(t *testing.T) {
	must := ok(t)
	for _, c := range []struct {
		kind    string
		t, want float64
	}{
		{"rest", 100, 0}, {"seated", 0.5, 0.25}, {"seated", 10, 0.5}, {"standing", 10, 1.5}, {"child", 0.5, 2.5},
		{"child", 10, 5}, {"walking", 10, 1400}, {"afloat", 1, 10}, {"afloat", 60, 30}, {"flying", 10, 0},
	} {
		assert.InDelta(t, c.want, must(MotionBlur(c.kind, 0.1, c.t)), 1e-9, "%s %v s", c.kind, c.t)
	}
	seated, known := MotionOf("seated")
	require.True(t, known)
	assert.InDelta(t, 0.4, must(seated.StillS(0.1, 0.2)), 1e-12)
	assert.True(t, math.IsInf(must(seated.StillS(0.01, 0.2)), 1), "the bound keeps it sharp for ever")
	_, known = MotionOf("flying")
	assert.False(t, known)
	_, err := Motion{-1, 0}.Blur(1, 1)
	assert.ErrorContains(t, err, "speed of -1 mm/s")
	_, err = Motion{1, -1}.StillS(1, 1)
	assert.ErrorContains(t, err, "amplitude")
}

func TestStrips(t *testing.T) {
	times, err := StripTimes(2, 0.5, 5)
	require.NoError(t, err)
	added, err := StripAdded(times)
	require.NoError(t, err)
	var sum float64
	for i := range added {
		sum += added[i]
		assert.InDelta(t, times[i], sum, 1e-9)
	}
	assert.Empty(t, StripWarnings(added, CapSDS))
	times, err = StripTimes(0.5, 1./3, 3)
	require.NoError(t, err)
	added, err = StripAdded(times)
	require.NoError(t, err)
	short := func(fields ...any) []Warning { return []Warning{{WarnStepsShort, append(fields, 0.2)}} }
	assert.Equal(t, short([]int{2, 3}, []float64{0.13, 0.164}), StripWarnings(added, CapSDS))
	assert.Equal(t, []Warning{{WarnStepShort, []any{2, 0.1, 0.2}}}, StripWarnings([]float64{1, 0.1, 1}, CapSDS))
	assert.Equal(t, short([]int{1, 2, 3}, []float64{0.1}), StripWarnings([]float64{0.1, 0.1, 0.1, 1}, CapSDS))
	assert.Equal(t, short([]int{1, 3, 4}, []float64{0.1, 0.12}), StripWarnings([]float64{0.1, 1, 0.12, 0.11}, CapSDS))
	for name, c := range map[string]struct {
		base, step float64
		count      int
		says       string
	}{
		"no base": {0, 1, 3, "base time of 0 s"}, "no step": {1, 0, 3, "step of 0 stops"}, "step too wide": {1, 5, 3, "step of 5 stops"},
		"no steps": {1, 1, 0, "number of steps of 0"}, "too long": {1000, 4, 40, "longest time"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := StripTimes(c.base, c.step, c.count)
			assert.ErrorContains(t, err, c.says)
		})
	}
	_, err = StripAdded([]float64{4, 2})
	assert.ErrorContains(t, err, "total time of a step of 2 s")
}

func TestMagnificationOfTakesTheBestKnown(t *testing.T) {
	ext, m, u, bad := 13.5, 0.5, 2000.0, -1.0
	for name, c := range map[string]struct {
		ext, m, u *float64
		want      float64
		known     bool
	}{
		"a ruler beats all":    {&ext, &m, &u, 0.1, true},
		"a ratio beats a walk": {nil, &m, &u, 0.5, true},
		"a distance":           {nil, nil, &u, 135.0 / 1865, true},
		"nothing":              {nil, nil, nil, 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			got, known, err := MagnificationOf(135, c.ext, c.m, c.u)
			require.NoError(t, err)
			assert.Equal(t, c.known, known)
			assert.InDelta(t, c.want, got, 1e-12)
		})
	}
	for _, c := range [][3]*float64{{&bad}, {nil, &bad}, {nil, nil, &bad}} {
		_, known, err := MagnificationOf(135, c[0], c[1], c[2])
		assert.Error(t, err)
		assert.False(t, known)
	}
}
