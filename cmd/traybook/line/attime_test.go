package line

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestATimeOfSeveralWordsNeedsNoQuotes(t *testing.T) {
	for in, want := range map[string]string{
		"expose f/8 4s --at yesterday 14:05 gull": "expose|f/8|4s|--at|yesterday 14:05|gull",
		"expose --at=yesterday 14:05":             "expose|--at=yesterday 14:05",
		"expose --at 2026-05-03 09:05":            "expose|--at|2026-05-03 09:05",
		"wash --at 10m ago 4":                     "wash|--at|10m ago|4",
		"wash --at 10 min ago":                    "wash|--at|10 min ago",
		"mark --at mark 14:05":                    "mark|--at|mark|14:05",
		"note last --at 14:05 long ago":           "note|last|--at|14:05|long|ago",
		"note last -- --at yesterday 14:05":       "note|last|--|--at|yesterday|14:05",
		"wash --at":                               "wash|--at",
		"wash --at yesterday":                     "wash|--at|yesterday",
	} {
		t.Run(in, func(t *testing.T) {
			require.Equal(t, want, strings.Join(JoinTimes(strings.Fields(in)), "|"))
		})
	}
}
