package wording

import "traybook/events"

// Answer is what the book says back to an act.
type Answer struct {
	Entry          events.Entry // as kept, filled in
	Picture        string       // the picture it belongs to, "" for none
	Sheet          string
	Session        string
	CalledForS     *float64  // seconds the act called for; nil where nothing serves
	LowS, HighS    *float64  // bounds within which it is known; nil where nothing is known of them
	DoneS          *float64  // seconds done
	DeviationStops *float64  // log2(done ÷ called-for at the aperture used); of a fixing or a wash, all up to this one together
	Before         float64   // what earlier fixings, or washes since the last one, gave as a share of what they called for
	Understood     string    // one line: what the book took from it
	Unserved       bool      // an exposure through the lens that no reading and no earlier print serves
	Warnings       []Warning // what surprises, each with what to do
	Next           string    // what usually comes next
}
