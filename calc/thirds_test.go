package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The dials of a meter go on by thirds of a stop, whatever is engraved.
func TestDialsGoByThirds(t *testing.T) {
	times := ThirdTimes()
	assert.Equal(t, "1/125", times[0].Mark)
	for i, m := range times {
		exact := math.Exp2(float64(i-21) / 3)
		assert.InDelta(t, 0, math.Log2(m.S/exact), 0.1, m.Mark)
		if i > 0 {
			assert.InDelta(t, 1.0/3, math.Log2(m.S/times[i-1].S), 0.17, m.Mark)
		}
	}
	assert.Equal(t, []float64{5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22, 25, 29, 32}, ThirdStops(5.6, 32))
	assert.Equal(t, []float64{7.1, 8, 9, 10, 11}, ThirdStops(7.2, 11))
	assert.Empty(t, ThirdStops(1.5, 1.45))
	for i, f := range ThirdStops(1.3, 128) { // 1.2 serves a half stop, too
		assert.InDelta(t, float64(i+3)/3, 2*math.Log2(ExactF(f)), 0.06, f)
	}
}
