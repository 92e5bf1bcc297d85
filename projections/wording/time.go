package wording

import (
	"fmt"
	"math"
	"strconv"
)

// Dash stands for a figure that is none.
const Dash = "–"

// ManyHours is from when on a time is told in days, as that of an exposure by starlight.
const ManyHours = 48

// TooDark is told in place of an exposure that nobody waits for.
const TooDark = "too dark to expose"

// LongestExposureS is the longest exposure that is told as one, seconds: an hour, over which the light is another.
// Common practice.
const LongestExposureS = 3600.0

// shutterMarks are the fractions of a second that a shutter has.
var shutterMarks = []float64{2, 4, 8, 15, 30, 60, 125, 250, 500, 1000}

// Seconds writes a time, given in seconds, as every screen and page does: 1/60 s, 4.2 s, 90 s, 2 min 30 s, 2 h 15 min, 3
// days. Under two minutes it is in seconds, as a hand counts them, with tenths under one minute; from two hours on nobody
// counts seconds. What was typed with two decimals keeps them under ten seconds.
func Seconds(s float64) string {
	minutes := math.Round(s / 60)
	switch whole := math.Round(s); {
	case math.IsNaN(s) || math.IsInf(s, 0):
		return Dash
	case s < 0:
		return "−" + Seconds(-s)
	case s < 1:
		return fractionText(s) + " s"
	case whole < 10:
		return AsTyped(s, 1) + " s"
	case math.Round(s*10) < 600:
		return Decimals(s, 1) + " s"
	case whole < 120:
		return fmt.Sprintf("%.0f s", whole)
	case whole < 7200:
		return inTwo(whole, "min", "s")
	case minutes < ManyHours*60:
		return inTwo(minutes, "h", "min")
	}
	return AsTyped(s/86400, 1) + " days"
}

// inTwo writes a count of the smaller unit in both; 60 of it make one of the larger.
func inTwo(count float64, larger, smaller string) string {
	text := fmt.Sprintf("%.0f %s", math.Floor(count/60), larger)
	if rest := math.Mod(count, 60); rest > 0 {
		text += fmt.Sprintf(" %.0f %s", rest, smaller)
	}
	return text
}

// fractionText writes a part of a second, as a shutter is marked where it has such a mark.
func fractionText(s float64) string {
	shown := Significant(s, 2)
	seen, _ := strconv.ParseFloat(shown, 64)
	for _, n := range shutterMarks {
		if math.Abs(s*n-1) < 1e-3 || math.Abs(seen*n-1) < 1e-3 {
			return "1/" + strconv.FormatFloat(n, 'f', -1, 64)
		}
	}
	return shown
}
