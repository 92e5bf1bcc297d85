package calc

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestExactFIsTheNumberBehindTheMark(t *testing.T) {
	for mark, want := range map[float64]float64{
		1: 1, 1.4: math.Sqrt2, 5.6: 5.656854, 8: 8, 11: 11.313708, 16: 16, 22: 22.627417, 32: 32, 45: 45.254834, 64: 64, 90: 90.509668, // whole
		1.2: 1.189207, 6.7: 6.727171, 9.5: 9.513657, 19: 19.027314, // half
		3.5: 3.563595, 7.1: 7.127190, 10: 10.079368, 13: 12.699208, 14: 14.254379, 20: 20.158737, // third
		4.5: 4.5, 6.3: 6.3, 9: 9, 12.5: 12.5, 18: 18, 25: 25, 36: 36, // continental: themselves
		7.7: 7.7, 11.3: 11.3, 12: 12, 0: 0, -8: -8, // no marks: themselves
	} {
		assert.InDelta(t, want, ExactF(mark), 1e-6, "f/%v", mark)
	}
}

func TestContinentalMarksStandWithinFiveHundredthsOfTheThirds(t *testing.T) {
	for mark, k := range map[float64]float64{4.5: 13, 6.3: 16, 9: 19, 18: 25, 25: 28, 36: 31} {
		assert.InDelta(t, 0, 2*math.Log2(ExactF(mark)/math.Exp2(k/6)), 0.05, "f/%v", mark)
	}
}

func nominalMarks() (all []float64) {
	for _, m := range marks {
		all = append(all, m.nominal)
	}
	return all
}

func TestMarks(t *testing.T) {
	seen, last := map[float64]bool{}, 0.0
	for _, m := range nominalMarks() {
		assert.Greater(t, m, last)
		last = m
		assert.False(t, seen[m], "f/%v twice", m)
		seen[m] = true
		assert.InDelta(t, 0, 2*math.Log2(ExactF(m)/m), 0.12, "an engraving lies within an eighth of a stop of what it means: f/%v", m)
		near, err := NearestMark(ExactF(m))
		require.NoError(t, err)
		assert.Equal(t, m, near)
	}
	for f, want := range map[float64]float64{11.3: 11, 7.7: 8, 500: 128, 0.5: 1} {
		assert.Equal(t, want, ok(t)(NearestMark(f)), "f/%v", f)
	}
}

func TestWholeStops(t *testing.T) {
	assert.Equal(t, []float64{5.6, 8, 11, 16, 22, 32, 45}, WholeStops(5.6, 45))
	assert.Equal(t, []float64{5.6, 8, 11}, WholeStops(5.657, 11.314), "as engraved, whatever is meant")
	assert.Equal(t, []float64{8, 11}, WholeStops(6.3, 11.3))
	assert.Empty(t, WholeStops(6.3, 7))
	for f, want := range map[float64][2]float64{8: {5.6, 11}, 11.314: {8, 16}, 6.3: {5.6, 8}, 1: {1, 1.4}, 256: {180, 256}, 300: {256, 300}} {
		assert.Equal(t, want, [2]float64{WholeStopBeside(f, false), WholeStopBeside(f, true)}, "f/%v", f)
	}
}

// The series of engravings as they stand on lenses and meters: whole, half and third stops, each once.
const engravings = "1 1.1 1.2 1.4 1.6 1.7 1.8 2 2.2 2.4 2.5 2.8 3.2 3.3 3.5 4 4.5 4.8 5 5.6 6.3 6.7 7.1 8 9 9.5 10 11 13 14 16 18 19 20 22 25 27 29 32 36 38 40 45 51 54 57 64 72 76 80 90 102 108 114 128"

// What lies between two engravings is taken for one of the two, for the nearer in stops; there is no mark besides.
func TestTheEngravings(t *testing.T) {
	var want []float64
	for _, text := range strings.Fields(engravings) {
		f, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		want = append(want, f)
	}
	var got []float64
	for f := 0.9; f < 140; f *= 1.001 {
		near, err := NearestMark(f)
		require.NoError(t, err)
		if !slices.Contains(got, near) {
			got = append(got, near)
		}
	}
	assert.Equal(t, want, got)
}
