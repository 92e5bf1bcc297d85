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

// A number in a refusal has six figures, and an exponent only where a person would write one.
func TestPlainNumbers(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 1: "1", -2.5: "-2.5", 1234567: "1234570", 0.00012345678: "0.000123457", 1e-7: "0.0000001", 0.99e-7: "9.9e-08", 9.99e9: "9990000000", 1e10: "1e+10", -9.99e9: "-9990000000", -1e10: "-1e+10", 9999999999: "1e+10"} {
		assert.Equal(t, want, plain(v), "%v", v)
	}
}

// A light that was read in two ways or in none was not read, however little of a way is there.
func TestALightIsReadInOneWay(t *testing.T) {
	ev := 0.0
	for name, r := range map[string]Reading{
		"none": {Index: 100}, "f and ev": {F: 8, EV: &ev}, "time and ev": {TimeS: 4, EV: &ev}, "ev and lux": {EV: &ev, Lux: 100}, "lux and cd": {Lux: 100, CdM2: 10}, "f and cd": {F: 8, CdM2: 10},
	} {
		_, err := r.EV100()
		var wrong *RangeError
		require.ErrorAs(t, err, &wrong, name)
		assert.Equal(t, "number of ways in which the light was read", wrong.Quantity, name)
	}
	for name, r := range map[string]Reading{"f alone": {F: 8, Index: 100}, "a time alone": {TimeS: 4, Index: 100}, "no index": {F: 8, TimeS: 4}} {
		_, err := r.EV100()
		assert.Error(t, err, name)
	}
	got, err := Reading{EV: &ev, Index: 0}.EV100()
	require.NoError(t, err)
	assert.Equal(t, 0.0, got)
}
