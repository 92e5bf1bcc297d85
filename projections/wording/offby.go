package wording

import (
	"cmp"

	"traybook/events"
)

// AsCalledFor is said of what agrees with what was called for.
const AsCalledFor = "as called for"

// OffBy says by how much an act is off from what it called for, as the trade does: an exposure in stops, a bath or a wash
// as a share of its time. What is told alike, called for and done, agrees. before is what a sheet's earlier fixings, or
// washes since the last one, gave as a share: stops are of all of them together then, and so is what is said.
func OffBy(kind events.Kind, calledForS, doneS, stops, before float64) string {
	if before > 0 {
		return offBy(kind, stops) + " in all"
	}
	if Seconds(calledForS) == Seconds(doneS) {
		return AsCalledFor
	}
	return offBy(kind, stops)
}

func offBy(kind events.Kind, stops float64) string {
	if kind != events.SheetExposed && kind != events.SheetReprinted {
		return cmp.Or(ShareText(stops), AsCalledFor)
	}
	if noStops(stops) {
		return AsCalledFor
	}
	return StopsText(stops)
}

// CalledForAndDone tells both times and by how much they are apart: called for 71 s, done 75 s: 5.6 % longer. Times that
// agree are told once: as called for, 60 s.
func CalledForAndDone(kind events.Kind, calledForS, doneS, stops, before float64) string {
	off := OffBy(kind, calledForS, doneS, stops, before)
	switch {
	case before > 0 && kind == events.SheetFixed:
		off = "with what was fixed before, " + offBy(kind, stops)
	case before > 0:
		off = "with what was washed before, " + offBy(kind, stops)
	case off == AsCalledFor:
		return off + ", " + Seconds(doneS)
	}
	return "called for " + Seconds(calledForS) + ", done " + Seconds(doneS) + ": " + off
}
