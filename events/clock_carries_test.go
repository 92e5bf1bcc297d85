package events

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a line says of an act before its time is known stands in its clock, with the same type and bounds, so that a clock
// that was cut off loses nothing of it.
func TestAClockCarriesWhatItsActSays(t *testing.T) {
	known := []string{"time_s", "soak_s", "running_s", "clock", "timed"} // when the time is known
	carried := 0
	for _, k := range Clocked() {
		for _, f := range Fields(k) {
			if slices.Contains(known, f.Name) || k == SheetExposed && f.Name == "picture" { // it has no number yet
				continue
			}
			g, there := FieldOf(ClockStarted, f.Name)
			if !assert.True(t, there, "the clock of %s does not carry %s", k, f.Name) {
				continue
			}
			carried++
			assert.Equal(t, f.Type, g.Type, "%s of %s", f.Name, k)
		}
	}
	require.Greater(t, carried, 60)
	seated, mm := "seated", 1200.0
	act := &SheetExposedData{F: 8, Sitter: "sitter-2", Motion: seated, NearMM: &mm, Light: "dusk"}
	x, err := ClockFor(act)
	require.NoError(t, err)
	back, err := x.ActData()
	require.NoError(t, err)
	assert.Equal(t, act, back)
}
