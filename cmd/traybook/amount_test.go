package main

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/line"
)

// What is told of a time or of stops can be typed as it stands, and means the same but for the rounding of the display.
func TestToldTimesAndStopsAreReadBack(t *testing.T) {
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

// Package quantity writes no unit to a time or to stops: who asks it for one shows a bare number.
func TestTimesAndStopsAreToldByTheirWriters(t *testing.T) {
	past := regexp.MustCompile(`quantity\.Format\(quantity\.(Seconds|SignedSeconds|Minutes|Hours|Stops)\b`)
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	below, err := filepath.Glob("*/*.go")
	require.NoError(t, err)
	for _, path := range append(files, below...) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		require.NotRegexp(t, past, string(text), path)
	}
	require.NotEmpty(t, below)
}
