package main

import (
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/line"
)

// What is told of a time or of stops can be typed as it stands, and means the same but for the rounding of the display.
func TestToldTimesAndStopsAreReadBack(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		dim           line.Dimension
		least, most   float64
		share, offset float64 // of the value, and in its unit
	}{
		{line.Seconds, 0, 100, 0.05, 0}, {line.Seconds, 0, 1e6, 0.05, 0}, {line.SignedSeconds, -200, 200, 0.05, 0},
		{line.Minutes, 0, 1e4, 0.05, 0}, {line.Hours, 0, 1e3, 0.05, 0}, {line.Stops, -40, 40, 0, 0.0051},
	} {
		rapid.Check(t, func(t *rapid.T) {
			v := rapid.Float64Range(tt.least, tt.most).Draw(t, "v")
			if math.Abs(v) < 1e-6 {
				v = 0
			}
			text := line.Amount(tt.dim, v)
			got, err := line.Parse(tt.dim, text)
			require.NoError(t, err, "%v is written %q", v, text)
			require.InDelta(t, v, got, math.Abs(v)*tt.share+tt.offset+1e-9, "%v is written %q", v, text)
			require.Equal(t, text, line.Amount(tt.dim, got), "%v is not written the same again", v)
		})
	}
}

// Format writes no unit to a time or to stops: who asks it for one shows a bare number.
func TestTimesAndStopsAreToldByTheirWriters(t *testing.T) {
	t.Parallel()
	past := regexp.MustCompile(`\bFormat\((line\.)?(Seconds|SignedSeconds|Minutes|Hours|Stops)\b`)
	require.Regexp(t, past, "s.Say(line.Format(line.Stops, 1))")
	seen := map[string]bool{}
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		seen[filepath.Dir(path)] = true
		text, err := os.ReadFile(path)
		require.NotRegexp(t, past, string(text), path)
		return err
	}))
	require.Subset(t, slices.Collect(maps.Keys(seen)), []string{".", "line", filepath.Join("bench", "timer")}, "the walk found the program")
}
