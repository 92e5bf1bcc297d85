package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestWashPlainDilution(t *testing.T) {
	// 1 l on 50 ml carried over: one twenty-first each time
	assert.InDelta(t, 1.0/21, must2(WashResidual(1, 1000, 50, 0)), 1e-12)
	assert.InDelta(t, math.Pow(1.0/21, 3), must2(WashResidual(3, 1000, 50, 0)), 1e-15)
	assert.Equal(t, 1.0, must2(WashResidual(0, 1000, 50, 0)))
	n, err := WashChangesFor(1e-3, 1000, 50, 0)
	require.NoError(t, err)
	assert.Equal(t, 3, n)
	n, err = WashChangesFor(math.Pow(1.0/21, 2), 1000, 50, 0)
	require.NoError(t, err)
	assert.Equal(t, 2, n, "a target met to the last digit needs no change more")
	n, err = WashChangesFor(1, 1000, 50, 0)
	require.NoError(t, err)
	assert.Zero(t, n)
	n, err = WashChangesFor(1e-9, 1000, 0, 0)
	require.NoError(t, err)
	assert.Equal(t, 1, n, "nothing carried, nothing left")
	_, err = WashChangesFor(1e-6, 1, 1e6, 0)
	assert.Error(t, err, "no end to it")
	_, err = WashChangesFor(1e-6, 1000, 50, 1)
	assert.Error(t, err, "without a soak nothing leaves the sheet")
}

func TestWashProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(50, 5000).Draw(t, "water")
		c := rapid.Float64Range(0.1, 200).Draw(t, "carried")
		e := rapid.Float64Range(0, 0.9).Draw(t, "undiffused")
		n := rapid.IntRange(1, 12).Draw(t, "changes")
		left := must2(WashResidual(float64(n), v, c, e))
		assert.True(t, left > 0 && left < 1)
		assert.Less(t, must2(WashResidual(float64(n+1), v, c, e)), left)
		assert.LessOrEqual(t, must2(WashResidual(float64(n), 2*v, c, e)), left, "more water leaves no more")
		assert.GreaterOrEqual(t, left, must2(WashResidual(float64(n), v, c, 0)), "a sheet holds on to hypo")
		// many small changes beat one large one
		if n > 1 {
			assert.Less(t, must2(WashResidual(float64(n), v/float64(n), c, 0)), must2(WashResidual(1, v, c, 0)))
		}
		target := rapid.Float64Range(1e-3, 0.5).Draw(t, "target")
		need, err := WashChangesFor(target, v, c, e)
		require.NoError(t, err)
		assert.LessOrEqual(t, must2(WashResidual(float64(need), v, c, e)), target*(1+1e-6))
		if need > 1 {
			assert.Greater(t, must2(WashResidual(float64(need-1), v, c, e)), target)
		}
		each := must2(WashVolumeFor(target, n, c))
		assert.InEpsilon(t, target, must2(WashResidual(float64(n), each, c, 0)), 1e-6)
		total := each * float64(n)
		assert.GreaterOrEqual(t, total, must2(LeastWater(target, c))*(1-1e-9))
		assert.Less(t, float64(n+1)*must2(WashVolumeFor(target, n+1, c)), total*(1+1e-9))
	})
}

func TestSoak(t *testing.T) {
	assert.InDelta(t, math.Exp(-1), must2(SoakLeaves(FibreBase, 60, 20)), 1e-12)
	assert.InDelta(t, math.Exp(-1), must2(SoakLeaves(ResinCoated, 10, 20)), 1e-12)
	assert.Equal(t, 120.0, must2(SoakTau(FibreBase, 10)), "twice in cold water")
	assert.Equal(t, 10.0, must2(SoakTau(ResinCoated, 30)), "warm water is given no credit")
	assert.InDelta(t, 0.324, must2(CarryOver(ResinCoated, 0.0108)), 1e-9)
	assert.InDelta(t, 2.16, must2(CarryOver(FibreBase, 0.0108)), 1e-9)
}

func TestWashShort(t *testing.T) {
	const quarter = 0.102 * 0.127
	for name, c := range map[string]struct {
		done  WashDone
		short bool
		share float64
	}{
		"resin-coated as called for":      {WashDone{Base: ResinCoated, Changes: 4, TempC: 20}, false, 1},
		"resin-coated, half":              {WashDone{Base: ResinCoated, Changes: 2, TempC: 20}, false, 0.5},
		"resin-coated, one change":        {WashDone{Base: ResinCoated, Changes: 1, TempC: 20}, true, 0.25},
		"two running minutes":             {WashDone{Base: ResinCoated, RunningS: 120, TempC: 20}, false, 1},
		"half a running minute":           {WashDone{Base: ResinCoated, RunningS: 30, TempC: 20}, true, 0.25},
		"running and changes add":         {WashDone{Base: ResinCoated, RunningS: 60, Changes: 2, TempC: 20}, false, 1},
		"not washed":                      {WashDone{Base: ResinCoated, TempC: 20}, true, 0},
		"fibre base as called for":        {WashDone{Base: FibreBase, Changes: 12, TempC: 20}, false, 1},
		"fibre base, an hour running":     {WashDone{Base: FibreBase, RunningS: 3600, TempC: 20}, false, 1},
		"fibre base, half an hour":        {WashDone{Base: FibreBase, RunningS: 1800, TempC: 20}, true, 0.5},
		"fibre base, half, cold":          {WashDone{Base: FibreBase, RunningS: 3600, TempC: 10}, true, 1},
		"fibre base, two changes":         {WashDone{Base: FibreBase, Changes: 2, TempC: 20}, true, 1.0 / 6},
		"fibre base as after the aid":     {WashDone{Base: FibreBase, Aid: true, Changes: 3, TempC: 20}, false, 1},
		"fibre base dipped six times":     {WashDone{Base: FibreBase, Changes: 6, SoakS: 10, TempC: 20}, true, 1.0 / 60},
		"a thimble for forty sheets":      {WashDone{Base: ResinCoated, Changes: 2, VolumeML: 20, Together: 40, TempC: 20}, true, 0.5},
		"fibre base, four in icy water":   {WashDone{Base: FibreBase, Changes: 4, SoakS: 150, TempC: 2}, true, 1.0 / 6},
		"long soaks earn no extra change": {WashDone{Base: FibreBase, Changes: 1, SoakS: 86400, TempC: 20}, true, 1.0 / 12},
	} {
		t.Run(name, func(t *testing.T) {
			c.done.AreaM2 = quarter
			r, err := Unwashed().After(c.done)
			require.NoError(t, err)
			assert.Equal(t, c.short, r.Short, "%+v", r)
			assert.InDelta(t, c.share, r.Share, 1e-9)
			assert.InDelta(t, r.Residual*c.done.Base.carry()/10, r.GPerM2, 1e-12)
		})
	}
	tray, err := Unwashed().After(WashDone{Base: ResinCoated, Changes: 2, VolumeML: 20, Together: 40, AreaM2: quarter, TempC: 20})
	require.NoError(t, err)
	assert.Greater(t, tray.GPerM2, WashLimit, "enough changes, too little water")

	rc := func(n int, d WashDone) (all []WashDone) {
		d.Base, d.AreaM2, d.TempC = ResinCoated, quarter, 20
		for range n {
			all = append(all, d)
		}
		return all
	}
	for name, c := range map[string]struct {
		washes       []WashDone
		short, under bool
	}{
		"none, of which nothing is said":      {nil, false, true},
		"six short ones are half of it":       {rc(6, WashDone{RunningS: 10}), false, false},
		"five of them are less":               {rc(5, WashDone{RunningS: 10}), true, true},
		"enough changes, too little water":    {rc(2, WashDone{Changes: 1, VolumeML: 1}), true, false},
		"so many that nothing at all is left": {rc(2, WashDone{Changes: 1000}), false, false},
	} {
		r, one := Unwashed(), 1.0
		for _, d := range c.washes {
			left, err := Unwashed().After(d)
			require.NoError(t, err, name)
			one *= left.Residual
			r, err = r.After(d)
			require.NoError(t, err, name)
		}
		assert.Equal(t, []bool{c.short, c.under}, []bool{r.Short, r.UnderShare()}, "%s: %+v", name, r)
		assert.InDelta(t, one, r.Residual, 1e-15, name)
		if len(c.washes) > 0 {
			assert.InDelta(t, one*CarryRC/10, r.GPerM2, 1e-12, name)
		}
	}

	var re *RangeError
	for name, bad := range map[string]WashDone{
		"changes": {Changes: -1, TempC: 20}, "water": {VolumeML: -5, TempC: 20}, "soak": {SoakS: -1, TempC: 20},
		"running": {RunningS: math.NaN(), TempC: 20}, "area": {AreaM2: -1, TempC: 20}, "sheets": {Together: 0.5, TempC: 20},
		"boiling": {TempC: 99},
	} {
		_, err := Unwashed().After(bad)
		assert.ErrorAs(t, err, &re, name)
	}
}
