package calc

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a bath calls for is its nominal time times the factors that are told beside it.
func TestBathCall(t *testing.T) {
	for name, c := range map[string]struct {
		bath BathCall
		want float64
	}{
		"a fresh developer":         {BathCall{NominalS: 60, NominalC: 20, TempC: 20, Q10: 2}, 60},
		"ten degrees colder, half":  {BathCall{NominalS: 60, NominalC: 25, TempC: 15, Q10: 2, Used: 0.5}, 60 * 2 * 1.25},
		"a fixer, half used":        {BathCall{Fixer: true, NominalS: 60, NominalC: 20, TempC: 20, Q10: 2, Used: 1}, 120},
		"a cold fixer calls longer": {BathCall{Fixer: true, NominalS: 60, NominalC: 20, TempC: 10, Q10: 2}, 120},
	} {
		s, _, err := c.bath.Time()
		require.NoError(t, err, name)
		assert.InDelta(t, c.want, s, 1e-9, name)
		warmth, err := c.bath.Warmth()
		require.NoError(t, err, name)
		assert.InDelta(t, s, c.bath.NominalS*warmth*c.bath.Growth(), 1e-9, name)
	}
	_, _, err := BathCall{NominalS: 60, NominalC: 20, TempC: 20, Q10: 2}.At(9).Time()
	assert.ErrorIs(t, err, ErrDeveloperCold)
}
