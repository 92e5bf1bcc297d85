package wording_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/wording"
)

func TestStops(t *testing.T) {
	for _, c := range []struct {
		v          float64
		want, size string
	}{
		{0, "0 stops", "0 stops"}, {0.001, "0 stops", "0 stops"}, {-0.004, "0 stops", "0 stops"}, {0.5, "+0.5 stop", "0.5 stop"},
		{-1. / 3, "−0.33 stop", "0.33 stop"}, {-1, "−1 stop", "1 stop"}, {1.004, "+1 stop", "1 stop"}, {1.01, "+1.01 stops", "1.01 stops"},
		{-2.5, "−2.5 stops", "2.5 stops"},
	} {
		assert.Equal(t, c.want, wording.StopsText(c.v), "%v", c.v)
		assert.Equal(t, c.size, wording.SizeOfStops(c.v), "%v", c.v)
	}
	assert.Equal(t, "–", wording.StopsText(math.Inf(-1)))
	assert.Equal(t, "–", wording.StopsText(math.NaN()))
}
