package wording

import "math"

// Percent writes a share as every screen and page does: 62 %, 5.5 %, under 0.1 %. From a tenth on in whole hundredths, a
// half upwards.
func Percent(share float64) string {
	switch {
	case share > 0 && share < 0.0005:
		return "under 0.1 %"
	case share < 0.0995:
		return Number(math.Round(share*1000)/10) + " %"
	}
	return Number(math.Floor(share*100+0.5)) + " %"
}
