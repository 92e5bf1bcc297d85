package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// twoSheets is a picture done as called for on one paper twice.
func twoSheets(t require.TestingT, r float64) TwoGenerations {
	c := curveFor(t, r)
	return TwoGenerations{Neg: NewSheet(c, CameraFlare), Print: NewSheet(c, CopyFlare)}
}

// withoutFlare is the same without stray light, as the published model rows
// were calculated.
func withoutFlare(g TwoGenerations) TwoGenerations {
	g.Neg.Flare, g.Neg.IndexFlare, g.Print.Flare, g.Print.IndexFlare = 0, 0, 0, 0
	return g
}

// drawTwo is any picture: two papers, stray light, pre-flash.
func drawTwo(t *rapid.T) TwoGenerations {
	g := TwoGenerations{
		Neg:   NewSheet(drawCurve(t), rapid.Float64Range(0, 0.05).Draw(t, "flare")),
		Print: NewSheet(drawCurve(t), rapid.Float64Range(0, 0.05).Draw(t, "copy flare")),
	}
	g.Neg.PreFlashShare = rapid.Float64Range(0, 0.9).Draw(t, "pre_flash")
	return g
}

func TestCalledForPutsTheMidToneInItsPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawTwo(t)
		g.Neg.PreFlashShare = 0
		for _, metered := range []bool{false, true} {
			g.CopyMeteredMid = metered
			out := g.Tones()
			assert.InDelta(t, g.Neg.Curve.Dmin+MidAboveBase, out.Neg.Mid, 1e-9)
			assert.InDelta(t, g.Print.Curve.Dmin+MidAboveBase, out.Print.Mid, 1e-9)
			assert.InDelta(t, 0, out.CopyStops, 1e-9)
		}
	})
}

func TestInversionHasItsSigns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawTwo(t)
		g.Neg.ExposureStops = rapid.Float64Range(-1, 1).Draw(t, "deviation")
		base := g.Tones()
		more := g
		more.Neg.ExposureStops += 0.2
		assert.Less(t, more.Tones().Print.Mid, base.Print.Mid, "an over-exposed negative prints light")
		more = g
		more.Print.ExposureStops += 0.2
		assert.Greater(t, more.Tones().Print.Mid, base.Print.Mid, "an over-exposed copy prints dark")
		assert.Less(t, base.Gradient, 0.0)
		for i := 1; i < len(base.Zones); i++ {
			assert.GreaterOrEqual(t, base.Zones[i].Negative, base.Zones[i-1].Negative)
			assert.LessOrEqual(t, base.Zones[i].Print, base.Zones[i-1].Print)
		}
	})
}

func TestSlopesMultiply(t *testing.T) {
	for _, r := range []float64{60, 110, 180} {
		g := withoutFlare(twoSheets(t, r))
		out := g.Tones()
		want := -g.Neg.Curve.MidGradient() * g.Print.Curve.MidGradient()
		assert.InEpsilon(t, want, out.Gradient, 1e-3, "R%g", r)
	}
}

// Numbers of the two-generation model (derived), first calculated without flare for
// a paper of about 0.05 to 2.05 at R110 and a copy that keeps its exposure.
func TestModelNumbers(t *testing.T) {
	c, err := NewCurve(2, 110, 0.05, 2.05)
	require.NoError(t, err)
	g := withoutFlare(TwoGenerations{Neg: NewSheet(c, 0), Print: NewSheet(c, 0)})
	good := g.Tones()
	assert.InDelta(t, 0.06, good.Zones[1-FirstZone].Print, 0.02, "light patch")
	assert.InDelta(t, 1.89, good.Print.Black, 0.02, "black")

	for stops, want := range map[float64]float64{0.5: 1.04, 1: 1.44} {
		over := g
		over.Print.ExposureStops = stops
		assert.InDelta(t, want, over.Tones().Print.Mid, 0.02, "copy %+g stop", stops)
	}
	thin := g
	thin.Neg.ExposureStops = -1
	assert.InDelta(t, 0.65, thin.Tones().Zones[1-FirstZone].Print, 0.02, "light patch of a negative a stop under")

	fogged := g
	fogged.Neg.FogShare = 3
	assert.InDelta(t, 0.72, fogged.Tones().Print.Black, 0.02, "black of a negative fogged by three thresholds")
}

func TestReadingOnTheNegativeMovesWithIt(t *testing.T) {
	g := twoSheets(t, 110)
	g.Neg.ExposureStops = -1.5
	stays := g.Tones()
	g.CopyMeteredMid = true
	moves := g.Tones()
	assert.InDelta(t, DefaultDmin+MidAboveBase, moves.Print.Mid, 1e-9, "the mid-tone is right")
	assert.Less(t, moves.Print.Black, stays.Print.Black-0.5, "the blacks are not")
	assert.Less(t, moves.CopyStops, -1.0, "a thin negative asked for a short copy")
	assert.InDelta(t, 0, stays.CopyStops, 1e-9)
	assert.Greater(t, stays.Print.Mid, 1.4)

	g.Print.ExposureStops = 0.5
	assert.InDelta(t, moves.CopyStops+0.5, g.Tones().CopyStops, 1e-9, "the deviation is kept")
}

func TestPlannedDensityHoldsTheCopy(t *testing.T) {
	g := twoSheets(t, 110)
	g.Neg.ExposureStops = 1
	unplanned := g.Tones()
	g.Planned = unplanned.Neg.Mid
	planned := g.Tones()
	assert.InDelta(t, DefaultDmin+MidAboveBase, planned.Print.Mid, 1e-9)
	g.Neg.ExposureStops = 0
	assert.Greater(t, g.Tones().Print.Mid, planned.Print.Mid+0.5, "put right, the logged copy is too long")
}

// One test for each direction of a fault that the model can express; the directions
// are those of the handbooks and the US Army and Navy courses on laboratory work.
func TestFaultDirections(t *testing.T) {
	good := twoSheets(t, 110)
	of := func(change func(*TwoGenerations)) Tones {
		g := good
		change(&g)
		return g.Tones()
	}
	ref := good.Tones()
	lighter := func(t *testing.T, out Tones) { assert.Less(t, out.Print.Mid, ref.Print.Mid-0.02) }
	darker := func(t *testing.T, out Tones) { assert.Greater(t, out.Print.Mid, ref.Print.Mid+0.02) }
	cases := []struct {
		name   string
		change func(*TwoGenerations)
		look   func(*testing.T, Tones)
	}{
		{"negative over-developed prints light", func(g *TwoGenerations) { g.Neg.DevRatio = 1.8 }, lighter},
		{"index set too low prints light", func(g *TwoGenerations) { g.Neg.ExposureStops = must2(Stops(6.0 / 3)) }, lighter},
		{"filter factor without filter prints light", func(g *TwoGenerations) { g.Neg.ExposureStops = 1.32 }, lighter},
		{"extension applied twice prints light", func(g *TwoGenerations) { g.Neg.ExposureStops = 2 * math.Log2(1.2) }, lighter},
		{"print pulled early is light", func(g *TwoGenerations) { g.Print.DevRatio = 0.6 }, lighter},
		{"print in a cold developer is light", func(g *TwoGenerations) {
			called, _, err := DevelopTime(60, 20, 14, 2, 0)
			require.NoError(t, err)
			g.Print.DevRatio = 60 / called
		}, lighter},
		{"print in a spent developer is light, its blacks weak", func(g *TwoGenerations) {
			g.Print.DevRatio = 1 / DeveloperGrowth(1.5)
		}, func(t *testing.T, out Tones) {
			lighter(t, out)
			assert.Less(t, out.Print.Black, ref.Print.Black-0.1)
		}},
		{"lamps farther by 1.41 print light", func(g *TwoGenerations) { g.Print.ExposureStops = -2 * math.Log2(1.41) }, lighter},
		{"index set too high prints dark", func(g *TwoGenerations) { g.Neg.ExposureStops = must2(Stops(3.0 / 6)) }, darker},
		{"filter factor forgotten prints dark", func(g *TwoGenerations) { g.Neg.ExposureStops = -1.32 }, darker},
		{"extension forgotten prints dark", func(g *TwoGenerations) { g.Neg.ExposureStops = -2 * math.Log2(1.5) }, darker},
		{"copy over-exposed prints dark", func(g *TwoGenerations) { g.Print.ExposureStops = 0.5 }, darker},
		{"print over-developed is dark, its lights veiled", func(g *TwoGenerations) { g.Print.DevRatio = 2.8 },
			func(t *testing.T, out Tones) {
				darker(t, out)
				assert.Greater(t, out.Print.Veil, ref.Print.Veil+0.03)
				assert.Greater(t, out.Print.BorderFog, 0.03)
			}},
		{"whole print fogged by light is dark, border too", func(g *TwoGenerations) { g.Print.FogShare = 2 },
			func(t *testing.T, out Tones) {
				darker(t, out)
				assert.Greater(t, out.Print.BorderFog, 0.1)
				assert.Greater(t, out.Print.Min, ref.Print.Min+0.1)
			}},
		{"a leak in the camera leaves the border clean", func(g *TwoGenerations) { g.Neg.LeakShare = 2 },
			func(t *testing.T, out Tones) {
				assert.InDelta(t, 0, out.Neg.BorderFog, 1e-9)
				assert.Greater(t, out.Neg.Veil, ref.Neg.Veil+0.1)
			}},
		{"negative under-developed prints flat", func(g *TwoGenerations) { g.Neg.DevRatio = 0.5; g.CopyMeteredMid = true },
			func(t *testing.T, out Tones) {
				assert.Less(t, out.Neg.Range, ref.Neg.Range-0.2)
				assert.Less(t, math.Abs(out.Gradient), math.Abs(ref.Gradient))
			}},
		{"flare in the camera flattens", func(g *TwoGenerations) { g.Neg.Flare = 0.1; g.CopyMeteredMid = true },
			func(t *testing.T, out Tones) {
				assert.Less(t, out.Neg.Range, ref.Neg.Range)
				assert.Less(t, math.Abs(out.Gradient), math.Abs(ref.Gradient))
			}},
		{"copy over-exposed and pulled early is mealy and flat", func(g *TwoGenerations) {
			g.Print.ExposureStops, g.Print.DevRatio = 1, 0.5
		}, func(t *testing.T, out Tones) { assert.Less(t, out.Print.Range, ref.Print.Range-0.3) }},
		{"soft paper in both prints flat", func(g *TwoGenerations) { *g = twoSheets(t, 180) },
			func(t *testing.T, out Tones) { assert.Less(t, math.Abs(out.Gradient), 0.5*math.Abs(ref.Gradient)) }},
		{"hard paper in both prints contrasty", func(g *TwoGenerations) { *g = twoSheets(t, 60) },
			func(t *testing.T, out Tones) { assert.Greater(t, math.Abs(out.Gradient), 2*math.Abs(ref.Gradient)) }},
		{"copy under-exposed loses its lights", func(g *TwoGenerations) { g.Print.ExposureStops = -1 },
			func(t *testing.T, out Tones) { lighter(t, out); assert.Less(t, out.Print.Black, ref.Print.Black) }},
		{"old paper fogs border and lights", func(g *TwoGenerations) { g.Print.FogDensity = 0.15 },
			func(t *testing.T, out Tones) {
				assert.InDelta(t, 0.15, out.Print.BorderFog, 1e-9)
				assert.Greater(t, out.Print.Veil, ref.Print.Veil+0.1)
			}},
		{"fog in the negative weakens blacks, lights stay", func(g *TwoGenerations) { g.Neg.FogShare = 3 },
			func(t *testing.T, out Tones) {
				assert.Less(t, out.Print.Black, ref.Print.Black-0.5)
				assert.LessOrEqual(t, out.Print.Min, ref.Print.Min+0.001)
			}},
		{"thin negative veils the lights", func(g *TwoGenerations) { g.Neg.ExposureStops = -1 },
			func(t *testing.T, out Tones) {
				assert.Greater(t, out.Zones[1-FirstZone].Print, ref.Zones[1-FirstZone].Print+0.3)
			}},
		{"pre-flash softens the negative", func(g *TwoGenerations) { g.Neg.PreFlashShare = 0.8; g.CopyMeteredMid = true },
			func(t *testing.T, out Tones) { assert.Less(t, math.Abs(out.Gradient), math.Abs(ref.Gradient)) }},
		{"too much pre-flash veils the print", func(g *TwoGenerations) { g.Print.PreFlashShare = 2 },
			func(t *testing.T, out Tones) {
				assert.Greater(t, out.Print.Veil, ref.Print.Veil+0.1)
				assert.Greater(t, out.Print.BorderFog, ThresholdAboveBase)
			}},
		{"far too little light leaves the negative bare and the print black", func(g *TwoGenerations) { g.Neg.ExposureStops = -6 },
			func(t *testing.T, out Tones) {
				assert.InDelta(t, DefaultDmin, out.Neg.Mid, 0.01)
				assert.Greater(t, out.Print.Mid, 1.7)
			}},
		{"white light blackens all", func(g *TwoGenerations) { g.Print.FogShare = 1e5 },
			func(t *testing.T, out Tones) { assert.InDelta(t, DefaultDmaxGlossy, out.Print.Min, 0.01) }},
		{"undeveloped stays white", func(g *TwoGenerations) { g.Print.DevRatio = 0 },
			func(t *testing.T, out Tones) { assert.InDelta(t, DefaultDmin, out.Print.Max, 1e-6) }},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { c.look(t, of(c.change)) })
	}
}

func TestDarkSpeckPrintsLight(t *testing.T) {
	g := twoSheets(t, 110)
	out := g.Tones()
	assert.Less(t, out.Zones[2-FirstZone].Print, out.Print.Mid, "a denser place of the negative prints lighter")
}

func TestAsCalledForUndoesEverySlip(t *testing.T) {
	s := NewSheet(curveFor(t, 110), CameraFlare)
	s.PreFlashShare = 0.6
	s.ExposureStops = s.Curve.PreFlashStops(0.6)
	slip := s
	slip.ExposureStops, slip.Flare, slip.FogShare, slip.LeakShare, slip.FogDensity, slip.DevRatio = 1, 0.2, 3, 4, 0.2, 0.5
	assert.Equal(t, s, slip.AsCalledFor())
	slip.PreFlashShare = 1.5
	assert.Zero(t, slip.AsCalledFor().PreFlashShare)
	require.NoError(t, s.Check())
	for name, spoil := range map[string]func(*SheetModel){
		"curve": func(s *SheetModel) { s.Curve = Curve{} }, "exposure": func(s *SheetModel) { s.ExposureStops = math.NaN() },
		"flare": func(s *SheetModel) { s.Flare = -1 }, "index flare": func(s *SheetModel) { s.IndexFlare = 2 },
		"pre_flash": func(s *SheetModel) { s.PreFlashShare = -0.1 }, "fog": func(s *SheetModel) { s.FogShare = math.Inf(1) },
		"leak": func(s *SheetModel) { s.LeakShare = -1 }, "density": func(s *SheetModel) { s.FogDensity = 9 },
		"development": func(s *SheetModel) { s.DevRatio = -1 },
	} {
		bad := s
		spoil(&bad)
		var re *RangeError
		assert.ErrorAs(t, bad.Check(), &re, name)
	}
}

func TestDirectPositiveFollowsTheScene(t *testing.T) {
	c, err := NewDirectPositiveCurve(2, 110, DefaultDmin, DefaultDmaxGlossy)
	require.NoError(t, err)
	s := NewSheet(c, CameraFlare)
	assert.InDelta(t, DefaultDmin+MidAboveBase, s.Negative(0), 1e-9)
	assert.Less(t, s.Negative(2), s.Negative(0), "a light subject comes out light at once")
	assert.Greater(t, s.Border(), 1.9, "its margin stays black")
}

func TestNegativeAgreesWithTones(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawTwo(t)
		g.Neg.DevRatio = rapid.Float64Range(0, 3).Draw(t, "development")
		for _, z := range g.Tones().Zones {
			assert.InDelta(t, g.Neg.Negative(z.Zone), z.Negative, 1e-12)
		}
	})
}

func TestRangeAfterFlare(t *testing.T) {
	assert.InDelta(t, math.Log10(63), must2(RangeAfterFlare(math.Log10(160), CameraFlare)), 0.001)
	rapid.Check(t, func(t *rapid.T) {
		scene := rapid.Float64Range(0.5, 3).Draw(t, "scene")
		flare := rapid.Float64Range(0, 0.2).Draw(t, "flare")
		after := must2(RangeAfterFlare(scene, flare))
		assert.LessOrEqual(t, after, scene+1e-12)
		// by the ends of the range: the stray light falls on the lightest tone and on the darkest alike
		assert.InDelta(t, math.Log10((1+flare)/(math.Pow(10, -scene)+flare)), after, 1e-9)
	})
}

func TestPaperSuits(t *testing.T) {
	scene := must2(RangeAfterFlare(OrdinarySceneRange, CameraFlare))
	for name, c := range map[string]struct {
		offered, r, phi float64
		want            PaperFit
	}{
		"ordinary scene on grade 2":                {scene, 110, 0, PaperFits},
		"ordinary scene on grade 5":                {scene, 60, 0, PaperTooHard},
		"ordinary scene on the softest":            {scene, 180, 0, PaperTooSoft},
		"just at the slack":                        {1.40, 110, 0, PaperFits},
		"just over":                                {1.41, 110, 0, PaperTooHard},
		"pre-flash brings it back":                 {1.41, 110, 0.5, PaperFits},
		"flat negative":                            {0.79, 110, 0, PaperTooSoft},
		"full negative of R110 paper on R110":      {1.80, 110, 0, PaperTooHard},
		"full negative of R110 paper on R180":      {1.80, 180, 0, PaperFits},
		"full negative, R110 under much pre-flash": {1.80, 110, 0.8, PaperFits},
	} {
		fit, excess, err := PaperSuits(c.offered, c.r, c.phi)
		require.NoError(t, err)
		assert.Equal(t, c.want, fit, "%s: excess %g", name, excess)
	}
}

func TestTonesAllocatesNothing(t *testing.T) {
	g := twoSheets(t, 110)
	g.Neg.DevRatio, g.Print.DevRatio, g.Neg.FogShare = 0.6, 2.5, 1
	var out Tones
	assert.Zero(t, testing.AllocsPerRun(100, func() { out = g.Tones() }))
	assert.Greater(t, out.Print.Mid, 0.0)
}

func BenchmarkTones(b *testing.B) {
	g := twoSheets(b, 110)
	g.Neg.DevRatio, g.Print.DevRatio = 0.6, 2.5
	b.ReportAllocs()
	var out Tones
	for b.Loop() {
		out = g.Tones()
	}
	if out.Print.Mid == 0 {
		b.Fatal("no print")
	}
}

// One tone is that of the whole replay; what a print holds ends where its density reaches black or white, or parts no more.
func TestOneToneAndWhatAPrintHolds(t *testing.T) {
	paper := func(r float64) SheetModel {
		c, err := NewCurve(2, r, DefaultDmin, DefaultDmaxGlossy)
		require.NoError(t, err)
		return NewSheet(c, CopyFlare)
	}
	last := 0.0
	for _, r := range []float64{60, 110, 160, 180} {
		g := TwoGenerations{Neg: paper(r), Print: paper(r), CopyMeteredMid: true}
		all := g.Tones()
		for _, z := range all.Zones {
			assert.Equal(t, z, g.Tone(z.Zone))
		}
		dark, light := g.Holds()
		assert.Greater(t, light-dark, last, "R%v holds more than what is harder", r)
		last = light - dark
		assert.LessOrEqual(t, g.Tone(dark).Print, MaximumBlackShare*DefaultDmaxGlossy+1e-9)
		assert.GreaterOrEqual(t, g.Tone(light).Print, DefaultDmin+ThresholdAboveBase-1e-9)
		for _, end := range []struct{ z, out float64 }{{dark, -1}, {light, 1}} { // a step further something of it is broken
			at, beyond := g.Tone(end.z).Print, g.Tone(end.z+0.1*end.out).Print
			assert.True(t, math.Abs(at-beyond) < HoldsApart*0.1+1e-9 || beyond > MaximumBlackShare*DefaultDmaxGlossy || beyond < DefaultDmin+ThresholdAboveBase, "R%v %+v", r, end)
		}
	}
	// A pre-flash that is nearly a veil lifts every highlight over the threshold, and parts none of them by that.
	g := TwoGenerations{Neg: paper(110), Print: paper(110), CopyMeteredMid: true}
	g.Print.PreFlashShare = 0.99
	_, light := g.Holds()
	assert.Less(t, light, 2.5)
	blank := TwoGenerations{Neg: paper(110), Print: paper(110)}
	blank.Print.ExposureStops = -12
	dark, light := blank.Holds()
	assert.Equal(t, []float64{0, 0}, []float64{dark, light}, "nothing is on it")
}

// An exposure that is shortened for a pre-flash leaves the mid-tone where it is.
func TestAnExposureIsShortenedForItsPreFlash(t *testing.T) {
	c, err := NewCurve(2, 110, DefaultDmin, DefaultDmaxGlossy)
	require.NoError(t, err)
	for _, phi := range []float64{0, 0.4, 0.8} {
		s := NewSheet(c, 0)
		s.PreFlashShare, s.ExposureStops = phi, c.PreFlashStops(phi)
		assert.InDelta(t, DefaultDmin+MidAboveBase, s.Negative(0), 1e-9, "%v", phi)
	}
	for _, phi := range []float64{-1, 1, 3, math.NaN()} {
		assert.Zero(t, c.PreFlashStops(phi), "a veil cannot be made up for")
	}
	c.Falling = true
	assert.Zero(t, c.PreFlashStops(0.5))
}

func TestARangeIsReadFromTheStepsOfAStrip(t *testing.T) {
	c, err := NewCurve(3, 125, DefaultDmin, DefaultDmaxGlossy)
	require.NoError(t, err)
	var logs, densities []float64
	for i := -8; i <= 8; i++ {
		at := math.Log10(c.Hm) + float64(i)*0.15
		logs, densities = append(logs, at), append(densities, c.Density(at))
	}
	r, known, err := RangeOfSteps(logs, densities, DefaultDmin, DefaultDmaxGlossy)
	require.NoError(t, err)
	assert.InDelta(t, 125, r, 1e-6)
	assert.InDelta(t, 0.06, known, 0.02)
	_, coarse, err := RangeOfSteps(logs[6:11], densities[6:11], DefaultDmin, DefaultDmaxGlossy)
	require.NoError(t, err)
	assert.Greater(t, coarse, known, "fewer steps tell less")
	var few *TooFewError
	_, _, err = RangeOfSteps(logs[:9], []float64{0.08, 0.08, 0.08, 0.09, 0.08, 2, 1, 0.9, 2.1}, DefaultDmin, DefaultDmaxGlossy)
	require.ErrorAs(t, err, &few, "bare paper and black tell nothing")
	var off *RangeError
	_, _, err = RangeOfSteps([]float64{0, 0.3, 0.6}, []float64{1, 0.7, 0.4}, DefaultDmin, DefaultDmaxGlossy)
	require.ErrorAs(t, err, &off, "densities that fall")
	_, _, err = RangeOfSteps([]float64{0, 0, 0}, []float64{1, 0.7, 0.4}, DefaultDmin, DefaultDmaxGlossy)
	require.ErrorAs(t, err, &off, "steps of one time")
	_, _, err = RangeOfSteps([]float64{0, 0.3, 0.6}, []float64{0.4, 0.7, 1}, 0.08, 0.3)
	require.Error(t, err, "no such paper")
}
