package wording

import (
	"math"

	"traybook/events"
)

// AsCalledFor is said of what agrees with what was called for.
const AsCalledFor = "as called for"

// OffBy says by how much an act is off from what it called for, as the trade does: an exposure in stops, a bath or a wash
// as a share of its time. What is told alike, called for and done, agrees. before is what a sheet's earlier fixings, or
// washes since the last one, gave as a share: stops are of all of them together then, and so is what is said.
func OffBy(kind events.Kind, calledForS, doneS, stops, before float64) string {
	switch {
	case before > 0:
		return offBy(kind, stops) + " in all"
	case Agrees(kind, calledForS, doneS, stops, before):
		return AsCalledFor
	}
	return offBy(kind, stops)
}

// Agrees says whether OffBy finds nothing to tell apart.
func Agrees(kind events.Kind, calledForS, doneS, stops, before float64) bool {
	return before == 0 && (Seconds(calledForS) == Seconds(doneS) || noDeviation(kind, stops))
}

func noDeviation(kind events.Kind, stops float64) bool {
	if inStops(kind) {
		return tenths(stops) == 0
	}
	return noShare(stops)
}

// inStops says whether a deviation is told in stops.
func inStops(kind events.Kind) bool {
	return kind == events.SheetExposed || kind == events.SheetReprinted
}

// tenths rounds to what a called-for exposure is known to at best.
func tenths(stops float64) float64 { return math.Round(stops*10) / 10 }

func offBy(kind events.Kind, stops float64) string {
	switch {
	case noDeviation(kind, stops):
		return AsCalledFor
	case inStops(kind):
		return StopsText(tenths(stops))
	}
	return ShareText(stops)
}
