package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A weight stands for the half step to either side of its place on the grid: where one place holds all of it, the bounds
// lie within that step as far from its ends as the tails are a share of it. Derived.
func TestTheIntervalOfOnePlaceIsItsStep(t *testing.T) {
	var at, weights [handSteps]float64
	for i := range at {
		at[i] = 0.01 * math.Exp2(float64(i)/2)
	}
	weights[3] = 1
	v := handInterval(at, weights)
	tail := (1 - FitConfidence) / 2
	assert.InDelta(t, at[3], v.Mean, 1e-12)
	assert.InDelta(t, at[3]*math.Exp2((tail-0.5)/2), v.Low, 1e-12)
	assert.InDelta(t, at[3]*math.Exp2((0.5-tail)/2), v.High, 1e-12)
	weights[3], weights[5] = 0.5, 0.5
	v = handInterval(at, weights)
	assert.InDelta(t, at[4], v.Mean, 1e-12)
	assert.InDelta(t, at[3]*math.Exp2((2*tail-0.5)/2), v.Low, 1e-12)
	assert.InDelta(t, at[5]*math.Exp2((0.5-2*tail)/2), v.High, 1e-12)
}
