package calc

import "math"

// How paper and developer age. Published sources only name the directions
// (speed loss, change of contrast, stain, fog: US Navy 14262 p. 7-43); the
// numbers are our own model.
const (
	// PaperGraceMonths is how far past its date a paper shows nothing.
	PaperGraceMonths = 12.0
	agedStopsPerYear = 0.2
	agedStopsMost    = 1.0
	agedFogPerYear   = 0.03
	agedFogMost      = 0.3
	// oldBathGrowth is what a whole tray life past its end adds to a developer's
	// time, as a share of it.
	oldBathGrowth = 0.5
	oldBathMost   = 4.0
)

// AgedPaper is what a paper has lost so many months past its date: speed in
// stops, 0 or less, and fog as density. Nothing within a year of the date; then
// a fifth of a stop and 0.03 a year, to 1 stop and 0.3. Months run from −1200 to
// 1200; not yet past is nothing. Our own model.
func AgedPaper(monthsPast float64) (speedStops, fog float64, err error) {
	if err := within("months past the date of the paper", monthsPast, -1200, 1200, "months"); err != nil {
		return 0, 0, err
	}
	if monthsPast <= PaperGraceMonths {
		return 0, 0, nil
	}
	years := (monthsPast - PaperGraceMonths) / 12
	return -math.Min(agedStopsMost, agedStopsPerYear*years), math.Min(agedFogMost, agedFogPerYear*years), nil
}

// OldDeveloperGrowth is the factor on a developer's time after trayH hours in
// the open tray of a life of lifeH: 1 within the life, half as much again for
// every life past its end, to 4. Hours from 0 to 1e5; a life of 0 is no limit.
// Our own model.
func OldDeveloperGrowth(trayH, lifeH float64) (float64, error) {
	if err := firstError(
		within("hours in the tray", trayH, 0, 1e5, "h"),
		within("life of the bath in the tray", lifeH, 0, 1e5, "h"),
	); err != nil {
		return 0, err
	}
	if lifeH == 0 || trayH <= lifeH {
		return 1, nil
	}
	return math.Min(oldBathMost, 1+oldBathGrowth*(trayH/lifeH-1)), nil
}
