package wording

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Tenths end where a whole minute begins, not where the next whole second would round to it.
func TestTenthsUpToAMinute(t *testing.T) {
	for s, want := range map[float64]string{59.46875: "59.5 s", 59.5: "59.5 s", 59.94: "59.9 s", 59.96: "60 s", 60: "60 s", 119.6: "2 min", 9.5: "9.5 s", 9.96: "10 s"} {
		assert.Equal(t, want, Seconds(s), "%v", s)
	}
}
