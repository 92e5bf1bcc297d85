package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// posterior sums priors × likelihood of offset and exponent over a fine grid: slow, and without any of the algebra of
// FitIndex. It gives means and 95 % bounds of the offset, of the exponent, and of offset + (exponent − inForce)·long,
// the offset in use at a time of so many doublings of a second.
func posterior(sheets []JudgedSheet, scatter, inForce, long float64) (offset, p, inUse Interval) {
	const nd, np = 1600, 250
	var ds, ps, us []float64
	var weights []float64
	for i := range nd + 1 {
		d := -2.5 + 5*float64(i)/nd
		for j := range np {
			e := 0.75 + 0.25*(float64(j)+0.5)/np
			ln := -d*d/2 - (e-0.95)*(e-0.95)/(2*0.05*0.05)
			for _, s := range sheets {
				sd := s.SD
				if sd == 0 {
					sd = scatter
				}
				effect := math.Log2(s.DoneS) // what the sheet made of its time
				if s.DoneS > 1 {
					effect *= e
				}
				off := s.Stops - (math.Log2(s.CalledForS) - d - effect)
				ln -= off * off / (2 * sd * sd)
			}
			ds, ps, us = append(ds, d), append(ps, e), append(us, d+(e-inForce)*long)
			weights = append(weights, math.Exp(ln))
		}
	}
	return summed(ds, weights), summed(ps, weights), summed(us, weights)
}

// summed gives the mean of weighed values, and the bounds that leave a fortieth on each side, to a step of 0.0005.
func summed(values, weights []float64) Interval {
	const step = 0.0005
	total, mean := 0.0, 0.0
	at := map[int]float64{}
	least, most := math.MaxInt, math.MinInt
	for i, w := range weights {
		total += w
		mean += w * values[i]
		k := int(math.Round(values[i] / step))
		at[k] += w
		least, most = min(least, k), max(most, k)
	}
	out := Interval{Mean: mean / total, Low: math.NaN()}
	sum := 0.0
	for k := least; k <= most; k++ {
		sum += at[k] / total
		if math.IsNaN(out.Low) && sum >= 0.025 {
			out.Low = float64(k) * step
		}
		if sum >= 0.975 {
			out.High = float64(k) * step
			break
		}
	}
	return out
}

// The closed form is the posterior that its priors and its sheets make.
func TestFitIsThePosterior(t *testing.T) {
	for name, c := range map[string]struct {
		sheets  []JudgedSheet
		inForce float64
		long    float64 // the weighed middle of the long times, in doublings of a second
	}{
		"short times": {[]JudgedSheet{{1, 0.5, 0.2, 0}, {0.5, 0.5, -0.6, 0}, {1, 1, 0.1, 0}}, 1, 0},
		"long times":  {[]JudgedSheet{{8, 12, 0.3, 0}, {16, 16, 0.9, 0}, {2, 2, 0.1, 0}, {32, 40, 0.7, 0}}, 0.9, (math.Log2(12) + 4 + 1 + math.Log2(40)) / 4},
		"of unequal worth": {[]JudgedSheet{{4, 4, 0.5, 0.1}, {64, 64, 1.2, 0.2}, {1, 2, -0.8, 0.6}}, 1,
			(2*100 + 6*25 + 1/0.36) / (100 + 25 + 1/0.36)},
	} {
		t.Run(name, func(t *testing.T) {
			fit, err := FitIndex(c.sheets, c.inForce)
			require.NoError(t, err)
			offset, p, inUse := posterior(c.sheets, 0.3, c.inForce, c.long)
			for what, pair := range map[string][2]Interval{"offset": {offset, fit.Offset}, "exponent": {p, fit.P}, "offset in use": {inUse, fit.OffsetInUse}} {
				assert.InDelta(t, pair[0].Mean, pair[1].Mean, 0.002, "mean of the %s", what)
				assert.InDelta(t, pair[0].Low, pair[1].Low, 0.006, "low bound of the %s", what)
				assert.InDelta(t, pair[0].High, pair[1].High, 0.006, "high bound of the %s", what)
			}
			assert.Equal(t, 0.3, fit.SDStops)
		})
	}
}

// From six sheets on their own scatter counts, where it is larger than they say; five tell too little of it.
func TestFiveSheetsTellNothingOfTheirScatter(t *testing.T) {
	wild := []JudgedSheet{{1, 1, 2, 0}, {1, 1, -2, 0}, {1, 1, 2, 0}, {1, 1, -2, 0}, {1, 1, 0, 0}, {1, 1, 0, 0}}
	five, err := FitIndex(wild[:5], 1)
	require.NoError(t, err)
	assert.Equal(t, 0.3, five.SDStops)
	six, err := FitIndex(wild, 1)
	require.NoError(t, err)
	// residuals of ±2, ±2, 0, 0 about a mean of 0, two numbers fitted: √(16/4) = 2 stops
	assert.InDelta(t, 2, six.SDStops, 1e-9)
	_, p, inUse := posterior(wild, 2, 1, 0)
	assert.InDelta(t, inUse.High, six.OffsetInUse.High, 0.006)
	assert.InDelta(t, p.Mean, six.P.Mean, 0.002)
}
