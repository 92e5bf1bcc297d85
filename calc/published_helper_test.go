package calc

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestParseNumberReadsWhatTheTablesWrite(t *testing.T) {
	for s, want := range map[string]float64{"0.5": 0.5, "1/250": 0.004, "+1/2": 0.5, "-1/3": -1.0 / 3, "1e-09": 1e-9} {
		assert.InDelta(t, want, parseNumber(s), 1e-12, s)
	}
	for _, s := range []string{"", "x", "1/x", "09:12"} {
		assert.True(t, math.IsNaN(parseNumber(s)), s)
	}
}
