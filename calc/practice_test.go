package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What workers with such cameras do: common practice, no source.
func TestCommonPractice(t *testing.T) {
	must := ok(t)
	t.Run("f/8 and 1 s at index 3 is EV 11 at ISO 100", func(t *testing.T) {
		assert.InDelta(t, 11, must(EV100FromExposure(8, 1, 3)), 0.1)
	})
	t.Run("a sitter at 2 to 3 m costs a 135 mm lens 0.20 to 0.13 stop", func(t *testing.T) {
		for u, want := range map[float64]float64{2000: 0.20, 3000: 0.13} {
			f, err := Focus{FocalMM: 135, SubjectMM: u}.Figure()
			require.NoError(t, err)
			assert.InDelta(t, want, f.Stops, 0.005)
		}
	})
	t.Run("a copy at 1:1 costs two stops", func(t *testing.T) {
		s, err := CopyGeometry(135, 300, 1, 90, 120, 1)
		require.NoError(t, err)
		assert.InDelta(t, 2, s.Stops, 1e-12)
		assert.InDelta(t, 270, s.SubjectMM, 1e-9)
		assert.InDelta(t, 270, s.ImageMM, 1e-9)
	})
	t.Run("negatives at f/5.6 to f/8: a head is in depth and diffraction is nothing", func(t *testing.T) {
		for mark, want := range map[float64]struct{ near, far, airy float64 }{
			5.6: {1794, 2259, 8.14}, 8: {1719, 2392, 11.51},
		} {
			f, err := Focus{FocalMM: 135, SubjectMM: 2000, F: mark}.Figure()
			require.NoError(t, err)
			assert.InDelta(t, want.near, f.NearMM, 1, "f/%v", mark)
			assert.InDelta(t, want.far, f.FarMM, 1, "f/%v", mark)
			assert.InDelta(t, want.airy, f.AiryUM, 0.01, "f/%v", mark)
			assert.Less(t, f.AiryUM/1000, COC/10, "diffraction is a tenth of the circle of confusion")
		}
	})
	t.Run("copies at f/8 to f/11: millimetres of depth, diffraction still small", func(t *testing.T) {
		for mark, want := range map[float64]struct{ depth, airy float64 }{8: {6.4, 21.47}, 11: {8.8, 30.37}} {
			near, far := depthLimits(must(Hyperfocal(135, mark, COC)), 135, 270)
			assert.InDelta(t, want.depth, far-near, 0.03)
			assert.InDelta(t, want.airy, must(AiryUM(ExactF(mark), 1)), 0.01)
			sum := math.Hypot(COC, must(AiryUM(ExactF(mark), 1))/1000)
			assert.Less(t, sum, COC*1.02, "the circle of confusion rules")
		}
	})
}

// Values that follow from the formulas, worked by hand.
func TestDerivedExposure(t *testing.T) {
	t.Run("index 3 and f/16: a cap needs EV100 13.06 or less", func(t *testing.T) {
		assert.InDelta(t, 13.06, ok(t)(EV100ForCap(16, 3)), 0.005)
	})
	t.Run("95 of 100 caps lie within 0.2 stop from 1.6 s on", func(t *testing.T) {
		assert.InDelta(t, -0.2, math.Log2((CapSteadyS-2*CapSDS)/CapSteadyS), 0.01)
		assert.InDelta(t, 0.17, ok(t)(CapScatterStops(CapSteadyS, 2*CapSDS)), 0.001)
		assert.InDelta(t, 0.1375, ok(t)(CapScatterStops(1, CapSDS)), 1e-4)
	})
	t.Run("1900 at 10 s", func(t *testing.T) {
		assert.InDelta(t, 14.55, ok(t)(Reciprocity(10, Reciprocity1900)), 0.005)
	})
	t.Run("stopping down for a cap", func(t *testing.T) {
		assert.Equal(t, 22.0, fullStopAtLeast(16.1))
		assert.Equal(t, 16.0, fullStopAtLeast(16))
		assert.Equal(t, 256.0, fullStopAtLeast(200))
		assert.Zero(t, fullStopAtLeast(300))
	})
	t.Run("the wavelength of diffraction", func(t *testing.T) {
		assert.InDelta(t, 10.736, ok(t)(AiryUM(8, 0)), 1e-9)
	})
}

// A time under that of appearance is no development, and one of two hundred times it none either.
func TestAFactorIsMoreThanOneAndNoMoreThanTwoHundred(t *testing.T) {
	for _, timeS := range []float64{10, 9, 2001} {
		_, err := FactorFromTimes(timeS, 10)
		var beyond *RangeError
		assert.ErrorAs(t, err, &beyond, "%v s", timeS)
	}
	for timeS, want := range map[float64]float64{11: 1.1, 60: 6, 2000: 200} {
		assert.InDelta(t, want, ok(t)(FactorFromTimes(timeS, 10)), 1e-12, "%v s", timeS)
	}
}
