package why_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whatever two afternoons' faults come together on one picture, the answer holds together.
func TestWhyHoldsTogetherOnFaultsMixed(t *testing.T) {
	cases := readCases(t)
	draw := rand.New(rand.NewPCG(20260606, 1))
	for n := range 60 {
		var parts []string
		added := map[string]bool{}
		for range 2 + draw.IntN(2) {
			for _, c := range strings.Split(cases[draw.IntN(len(cases))].changes, ";") {
				c = strings.TrimSpace(c)
				name := strings.Fields(c + " -")[0]
				// Steps are only changed, for what one case adds another may lack; judged once alike is enough.
				if strings.HasPrefix(name, "-") || strings.HasPrefix(name, "+") || name == "judge" && added[c] ||
					strings.Contains(c, "box-2") || strings.Contains(c, "h-1") {
					continue
				}
				added[c] = true
				parts = append(parts, c)
			}
		}
		changes := strings.Join(parts, "; ")
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			t.Parallel()
			book := bookOf(t, caseLines(t, changes+"; judge p1 too-dark,flat"))
			d := whyOf(t, book, "2026-001")
			_, err := json.Marshal(d)
			require.NoError(t, err, changes)
			last, sum := 1.0, 0.0
			for _, f := range d.Findings {
				if f.With == "" { // of what the log cannot part the group counts
					assert.LessOrEqual(t, f.Probability, last+0.051, "the likeliest first: %s", changes)
					last = f.Probability
				}
				if f.With == "" {
					sum += f.Explains
				}
				assert.NotEmpty(t, f.Text)
				assert.NotEmpty(t, f.Next)
				assert.NotEmpty(t, f.Entries)
			}
			assert.LessOrEqual(t, sum, 1.05, changes)
			if d.Unexplained != nil {
				assert.GreaterOrEqual(t, *d.Unexplained, 0.0)
				assert.LessOrEqual(t, *d.Unexplained, 1.0)
			}
			assert.Equal(t, d, whyOf(t, book, "2026-001"), "the same log, the same answer")
		})
	}
}
