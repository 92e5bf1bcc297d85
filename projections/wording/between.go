package wording

import (
	"math"
	"strings"

	"traybook/events"
)

// Call is a called-for time as it is told: the kind of the act that it is for, its seconds, and the bounds within which it is
// known, nil where nothing is known of them.
type Call struct {
	Kind        events.Kind
	S           float64
	LowS, HighS *float64
}

// TooDark says whether it is an exposure that nobody waits for.
func (c Call) TooDark() bool { return inStops(c.Kind) && c.S > LongestExposureS }

// Time tells the time alone, to the digits that it deserves: tenths of a second under ten, whole seconds from there on.
func (c Call) Time() string {
	switch {
	case c.S >= 10:
		return Seconds(math.Round(c.S))
	case c.S >= 1:
		return Seconds(roundTo(c.S, 0.1))
	}
	return Seconds(c.S)
}

// Text tells the time and between which it is known: 4.6 s, between 3.6 and 5.8 s.
func (c Call) Text() string {
	switch {
	case c.TooDark():
		return TooDark
	case c.LowS == nil || c.HighS == nil:
		return c.Time()
	}
	return c.Time() + ", " + Between(*c.LowS, *c.HighS)
}

// Told is the same as a sentence begins with it: called for 4.6 s, between 3.6 and 5.8 s.
func (c Call) Told() string {
	if c.TooDark() {
		return TooDark
	}
	return "called for " + c.Text()
}

// Brief is the same for the cell of a table: 4.6 s (3.6–5.8 s).
func (c Call) Brief() string {
	switch {
	case c.TooDark():
		return "too dark"
	case c.LowS == nil || c.HighS == nil:
		return c.Time()
	}
	from, to := bounds(*c.LowS, *c.HighS)
	return c.Time() + " (" + from + Dash + to + ")"
}

// AndDone tells what was called for and what was done, and by how much they are apart: called for 71 s, between 65 and 80 s;
// done 80 s: 13 % longer. Times that agree are told once: as called for, 60 s. before is as in OffBy.
func (c Call) AndDone(doneS, stops, before float64) string {
	off := OffBy(c.Kind, c.S, doneS, stops, before)
	switch {
	case before > 0 && c.Kind == events.SheetFixed:
		off = "with what was fixed before, " + offBy(c.Kind, stops)
	case before > 0:
		off = "with what was washed before, " + offBy(c.Kind, stops)
	case Agrees(c.Kind, c.S, doneS, stops, before):
		return off + ", " + Seconds(doneS)
	}
	return c.Told() + "; done " + Seconds(doneS) + ": " + off
}

// Between writes the interval in which a time is known, given in seconds: between 3.6 and 5.8 s. Two figures that count
// are as many as it deserves.
func Between(low, high float64) string {
	from, to := bounds(low, high)
	return "between " + from + " and " + to
}

// bounds are the two times of an interval, the first without its unit where both have the same.
func bounds(low, high float64) (from, to string) {
	from, to = Seconds(about(low)), Seconds(about(high))
	for _, unit := range []string{" s", " min", " h", " days"} {
		if strings.Count(from, " ") == 1 && strings.HasSuffix(from, unit) && strings.Count(to, " ") == 1 && strings.HasSuffix(to, unit) {
			return strings.TrimSuffix(from, unit), to
		}
	}
	return from, to
}

// About writes a time that is no closer known than so: about 12 min.
func About(s float64) string { return "about " + Seconds(about(s)) }

// about rounds a time to what is counted: two figures, whole five seconds from a minute on, half minutes from ten on, five
// minutes from two hours on.
func about(s float64) float64 {
	switch {
	case s >= 86400:
		return s
	case s >= 7200:
		return roundTo(s, 300)
	case s >= 600:
		return roundTo(s, 30)
	case s >= 60:
		return roundTo(s, 5)
	case s >= 10:
		return roundTo(s, 1)
	case s >= 1:
		return roundTo(s, 0.1)
	}
	return s
}

func roundTo(s, grain float64) float64 { return math.Round(s/grain) * grain }
