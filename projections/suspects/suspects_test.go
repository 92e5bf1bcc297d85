package suspects

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// Every symptom that judge takes has suspects, on the sheets on which it is seen, soon and late; every suspect has words, a
// test, a line that takes its result down, and a source or the mark of common practice.
func TestEverySymptomHasSuspects(t *testing.T) {
	used := map[string]bool{}
	for _, symptom := range events.Symptoms {
		require.NotEmpty(t, table[symptom], "%s has no suspects", symptom)
		for _, print := range []bool{false, true} {
			for _, late := range []bool{false, true} {
				require.NotEmpty(t, Of(symptom, print, late), "%s has no suspects on a print: %v, late: %v", symptom, print, late)
				seen := map[string]bool{}
				for _, x := range Of(symptom, print, late) {
					require.False(t, seen[x.Suspect], "%s names %s twice", symptom, x.Suspect)
					seen[x.Suspect] = true
				}
			}
		}
		for _, x := range table[symptom] {
			used[x.Suspect] = true
			_, known := ByCode(x.Suspect)
			require.True(t, known, "%s suspects %s, which nothing describes", symptom, x.Suspect)
			require.NotEmpty(t, x.Source, "%s of %s has no source; what has none is common practice", x.Suspect, symptom)
			assert.Contains(t, []string{"", "n", "p"}, x.On)
			assert.Contains(t, []string{"", "soon", "late"}, x.When)
		}
	}
	for symptom := range table {
		assert.Contains(t, events.Symptoms, symptom, "no such symptom")
	}
	codes := map[string]bool{}
	for _, s := range list {
		require.False(t, codes[s.Code], "%s stands twice", s.Code)
		codes[s.Code] = true
		assert.True(t, used[s.Code], "%s is suspected of nothing", s.Code)
		assert.NotEmpty(t, s.What, s.Code)
		assert.NotEmpty(t, s.Test, s.Code)
		assert.True(t, strings.HasPrefix(s.Line, "traybook "), s.Code)
		assert.LessOrEqual(t, len(s.Test), 150, "%s: a test of minutes is told in a breath", s.Code)
		if rest, ok := strings.CutPrefix(s.Line, Look); ok {
			assert.Equal(t, s.Code, rest, "the look at a sheet names the suspect")
		}
	}
	assert.Equal(t, len(list), len(slices.Compact(slices.Sorted(slices.Values(Codes())))))
}
