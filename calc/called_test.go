package calc

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func at(v float64) *float64 { return &v }

// sumStops is what all factors together lengthen the time by.
func sumStops(c Called) (sum float64) {
	for _, f := range c.Stops {
		sum += f.Stops
	}
	return sum
}

func TestCalledForAddsUp(t *testing.T) {
	names := func(c Called) (out []string) {
		for _, f := range c.Stops {
			out = append(out, f.Factor)
		}
		return out
	}
	for name, c := range map[string]struct {
		e       Exposure
		time    float64
		stops   []float64
		factors string
	}{
		"as metered": {Exposure{Reading: Reading{F: 8, TimeS: 4, Index: 3}, PaperIndex: 3, SetF: 8}, 4,
			[]float64{0, 0, 0, 0, 0}, "aperture index extension filter reciprocity"},
		"another aperture": {Exposure{Reading: Reading{F: 8, TimeS: 4, Index: 3}, PaperIndex: 3, SetF: 11}, 8,
			[]float64{1, 0, 0, 0, 0}, "aperture index extension filter reciprocity"},
		"another index": {Exposure{Reading: Reading{F: 8, TimeS: 1, Index: 100}, PaperIndex: 6.25, SetF: 8}, 16,
			[]float64{0, 4, 0, 0, 0}, "aperture index extension filter reciprocity"},
		"everything": {Exposure{Reading: Reading{F: 8, TimeS: 1, Index: 6}, PaperIndex: 3, SetF: 5.6, ZoneStops: 1, ExtensionFactor: 4, FilterFactor: 2, P: 0.5}, 256,
			[]float64{-1, 1, 1, 2, 1, 4}, "aperture index zone extension filter reciprocity"},
		"EV at the paper's index": {Exposure{Reading: Reading{EV: at(3), Index: 3}, PaperIndex: 3, SetF: 8}, 8,
			[]float64{6, 0, 0, 0, 0}, "aperture index extension filter reciprocity"},
		"EV at ISO 100": {Exposure{Reading: Reading{EV: at(0)}, PaperIndex: 100, SetF: 1}, 1,
			[]float64{0, 0, 0, 0, 0}, "aperture index extension filter reciprocity"},
		"lux": {Exposure{Reading: Reading{Lux: 160}, PaperIndex: 100, SetF: 8}, 1,
			[]float64{6, 0, 0, 0, 0}, "aperture index extension filter reciprocity"},
		"lux under a dome": {Exposure{Reading: Reading{Lux: 330, C: CDome}, PaperIndex: 100, SetF: 8}, 0.64,
			[]float64{6, 0, 0, 0, 0}, "aperture index extension filter reciprocity"},
		"luminance": {Exposure{Reading: Reading{CdM2: 8}, PaperIndex: 25, SetF: 8}, 4,
			[]float64{6, 2, 0, 0, 0}, "aperture index extension filter reciprocity"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := c.e.CalledFor()
			require.NoError(t, err)
			assert.InEpsilon(t, c.time, got.TimeS, 1e-9)
			assert.Equal(t, c.factors, strings.Join(names(got), " "))
			for i, s := range c.stops {
				assert.InDelta(t, s, got.Stops[i].Stops, 1e-9, got.Stops[i].Factor)
				assert.False(t, math.Signbit(got.Stops[i].Stops) && got.Stops[i].Stops == 0, "no minus nought")
			}
			assert.InEpsilon(t, got.TimeS, got.FromTimeS*math.Exp2(sumStops(got)), 1e-9, "the factors lead from the reading to the time")
			assert.InDelta(t, math.Log2(got.SetTimeS/got.TimeS), got.ErrorStops, 1e-12)
			assert.InDelta(t, math.Log2((got.SetTimeS+0.1)/got.SetTimeS), got.CapSDStops, 1e-12)
		})
	}
}

func TestCalledForRefusesWhatNoFormulaTakes(t *testing.T) {
	good := Exposure{Reading: Reading{F: 8, TimeS: 1, Index: 100}, PaperIndex: 3, SetF: 8}
	for name, c := range map[string]struct {
		spoil func(*Exposure)
		names string
	}{
		"no reading":         {func(e *Exposure) { e.Reading = Reading{} }, "number of ways"},
		"two readings":       {func(e *Exposure) { e.Lux = 100 }, "number of ways"},
		"time without index": {func(e *Exposure) { e.Index = 0 }, "index of 0"},
		"time below zero":    {func(e *Exposure) { e.TimeS = -1 }, "time of -1 s"},
		"no paper index":     {func(e *Exposure) { e.PaperIndex = 0 }, "index of the paper"},
		"no aperture":        {func(e *Exposure) { e.SetF = 0 }, "aperture set"},
		"filter that adds":   {func(e *Exposure) { e.FilterFactor = 0.5 }, "filter factor"},
		"extension below":    {func(e *Exposure) { e.ExtensionFactor = -4 }, "extension factor"},
		"p over 1":           {func(e *Exposure) { e.P = 1.1 }, "reciprocity exponent"},
		"zone no number":     {func(e *Exposure) { e.ZoneStops = math.NaN() }, "zone is not a number"},
		"scatter":            {func(e *Exposure) { e.CapSDS = -1 }, "scatter of the cap"},
		"years of exposure":  {func(e *Exposure) { e.TimeS, e.P = 1e8, 0.5 }, "time"},
	} {
		t.Run(name, func(t *testing.T) {
			e := good
			c.spoil(&e)
			_, err := e.CalledFor()
			var re *RangeError
			require.ErrorAs(t, err, &re)
			assert.Contains(t, err.Error(), c.names)
		})
	}
}

func TestCalledForWarns(t *testing.T) {
	called := func(time, setF, p float64) Called {
		c, err := Exposure{Reading: Reading{F: setF, TimeS: time, Index: 3}, PaperIndex: 3, SetF: setF, P: p}.CalledFor()
		require.NoError(t, err)
		return c
	}
	t.Run("too strong for a cap, and what helps", func(t *testing.T) {
		c := called(0.25, 16, 1)
		assert.True(t, c.TooBrightForCap)
		require.Len(t, c.Warnings, 1)
		assert.Equal(t, Warning{WarnTooBright, []any{0.25, 1.0, 32.0, 4.0}}, c.Warnings[0])
	})
	t.Run("no smaller aperture helps", func(t *testing.T) {
		c := called(0.001, 90, 1)
		assert.Equal(t, Warning{WarnTooBrightStoppedDown, []any{0.001, 1.0, 1000.0}}, c.Warnings[0])
	})
	t.Run("a second is enough", func(t *testing.T) {
		c := called(1, 16, 1)
		assert.False(t, c.TooBrightForCap)
		require.Len(t, c.Warnings, 1)
		assert.Equal(t, WarnCapCoarse, c.Warnings[0].Code)
		assert.Equal(t, 1.0, c.Warnings[0].Fields[0])
		assert.InDelta(t, 0.322, c.Warnings[0].Fields[1], 1e-3) // −log2(1 − 0.2)
	})
	t.Run("nothing to say from 1.6 s on", func(t *testing.T) {
		assert.Empty(t, called(1.6, 8, 1).Warnings)
		assert.Empty(t, called(10, 8, 0).Warnings)
	})
	t.Run("reciprocity not known", func(t *testing.T) {
		c := called(20, 8, 0)
		require.Len(t, c.Warnings, 1)
		assert.Equal(t, Warning{WarnNoReciprocity, []any{32.6}}, c.Warnings[0])
		assert.Empty(t, called(20, 8, 1).Warnings, "measured and found to be 1")
	})
	t.Run("long", func(t *testing.T) {
		assert.Equal(t, WarnSitterMoves, called(60, 8, 0.9).Warnings[0].Code)
		assert.Equal(t, WarnLightDrifts, called(400, 8, 0.9).Warnings[0].Code)
		copied, err := Exposure{Reading: Reading{F: 8, TimeS: 60, Index: 3}, PaperIndex: 3, SetF: 8, P: 1, Copy: true}.CalledFor()
		require.NoError(t, err)
		assert.Empty(t, copied.Warnings, "nobody sits before the lens")
	})
	t.Run("by what was done, once it is", func(t *testing.T) {
		done := func(time, given float64) (out []WarningCode) {
			c, err := Exposure{Reading: Reading{F: 8, TimeS: time, Index: 3}, PaperIndex: 3, SetF: 8, P: 0.9, DoneS: given}.CalledFor()
			require.NoError(t, err)
			for _, w := range c.Warnings {
				out = append(out, w.Code)
			}
			return out
		}
		assert.Equal(t, []WarningCode{WarnSitterMoves}, done(4, 45))
		assert.Equal(t, []WarningCode{WarnLightDrifts}, done(4, 400))
		assert.Equal(t, []WarningCode{WarnCapCoarse}, done(4, 1))
		assert.Empty(t, done(60, 4))
		assert.Empty(t, done(1, 4))
	})
	t.Run("hardly any light", func(t *testing.T) {
		c, err := Exposure{Reading: Reading{EV: at(-8)}, PaperIndex: 3, SetF: 2.8, P: 0.9}.CalledFor()
		require.NoError(t, err)
		assert.Equal(t, WarnTooDark, c.Warnings[len(c.Warnings)-1].Code)
	})
}

func TestSetTimeIsWhatAHandKeeps(t *testing.T) {
	for in, want := range map[float64]float64{
		0.01: 0.2, 0.26: 0.3, 1.04: 1, 1.26: 1.3, 4.96: 5, 5.2: 5, 5.3: 5.5, 19.8: 20, 20.4: 20, 119.6: 120,
		121: 120, 123: 125, 598: 600, 610: 615, 3599: 3600, 3700: 3720, 1e6: 1000020,
	} {
		assert.InDelta(t, want, ok(t)(SetTime(in)), 1e-12, "%v s", in)
	}
	assert.Equal(t, 1.3, ok(t)(SetTime(1.26)), "without binary dust")
	for x := 1.0; x < 1e5; x *= 1.003 {
		assert.LessOrEqual(t, math.Abs(math.Log2(ok(t)(SetTime(x))/x)), 0.0732, "%v s", x)
	}
}
