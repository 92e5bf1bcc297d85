package calc

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRangeErrorNamesQuantityValueAndRange(t *testing.T) {
	inf := math.Inf(1)
	for name, c := range map[string]struct {
		err  error
		want string
	}{
		"between":     {within("temperature", 130, 0, 100, "°C"), "temperature of 130 °C is outside what can be calculated; it must be between 0 °C and 100 °C"},
		"at least":    {within("density", -0.5, 0, inf, ""), "density of -0.5 is outside what can be calculated; it must be at least 0"},
		"at most":     {within("altitude", 91, -inf, 90, "°"), "altitude of 91 ° is outside what can be calculated; it must be at most 90 °"},
		"more than":   {above("time", 0, 0, inf, "s"), "time of 0 s is outside what can be calculated; it must be more than 0 s"},
		"more, most":  {above("index", -3, 0, 1e6, ""), "index of -3 is outside what can be calculated; it must be more than 0 and at most 1000000"},
		"no number":   {within("time", math.NaN(), 0, 10, "s"), "time is not a number; it must be between 0 s and 10 s"},
		"no infinity": {within("time", inf, -inf, inf, "s"), "time of +Inf s is outside what can be calculated; it must be a finite number"},
	} {
		t.Run(name, func(t *testing.T) {
			require.EqualError(t, c.err, c.want)
			var re *RangeError
			assert.True(t, errors.As(c.err, &re))
		})
	}
}

func TestCheckersLetGoodValuesPass(t *testing.T) {
	assert.NoError(t, within("x", 0, 0, 1, ""))
	assert.NoError(t, within("x", 1, 0, 1, ""))
	assert.NoError(t, above("x", 1, 0, 1, ""))
	assert.Error(t, above("x", math.NaN(), 0, 1, ""))
	assert.Error(t, above("x", math.Inf(1), 0, math.Inf(1), ""))
	one, two := errors.New("one"), errors.New("two")
	assert.Equal(t, one, firstError(nil, one, two))
	assert.NoError(t, firstError(nil, nil))
}

// Several factors that may each be meant make one that cannot be.
func TestAProductOfFiltersIsBounded(t *testing.T) {
	_, err := FilterFactor(1e9, 1e9)
	require.ErrorContains(t, err, "product of the filter factors")
}
