package snapshot

import (
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/wording"
)

// recentClocks is how far back a clock is looked for that nobody ended: a sheet that lay in its bath for longer is lost.
const recentClocks = 14 * 24 * time.Hour

// clockVerbs say what is done while a clock runs.
var clockVerbs = map[string]string{"expose": "exposure", "reprint": "copy", "develop": "development", "rinse": "rinse", "fix": "fixing", "wash": "wash"}

// ClockText says what a clock was started for.
func ClockText(x *events.ClockStartedData) string {
	text := "clock started: " + clockVerbs[x.Act]
	switch {
	case x.Sheet != "":
		text += " of " + x.Sheet
	case x.Picture != "":
		text += " of " + x.Picture
	}
	if x.F != nil {
		text += ", f/" + wording.Number(*x.F)
	}
	if x.PlannedS != nil {
		text += ", planned " + wording.Seconds(*x.PlannedS)
	}
	if where := events.PlacesOf(x); where.Bath != "" {
		text += " in " + where.Bath
	} else if where.Box != "" {
		text += " on " + where.Box
	}
	return text
}

// RunningClocks are the clocks that run at a moment, the oldest first: no act that counts ended them.
func (snap *Snapshot) RunningClocks(now time.Time) ([]events.Entry, error) {
	q := events.Query{Kinds: []events.Kind{events.ClockStarted}, From: now.Add(-recentClocks)}
	found, err := snap.Entries(q)
	if err != nil || len(found) == 0 { // without a clock the acts of two weeks need not be read
		return nil, err
	}
	q.Kinds = append(events.Clocked(), events.ClockStarted)
	if found, err = snap.Entries(q); err != nil {
		return nil, err
	}
	return slices.DeleteFunc(WithoutEnded(found), func(e events.Entry) bool { return e.Kind != events.ClockStarted }), nil
}

// WithoutEnded leaves out the clocks that an act among the entries ended: the act tells what came of them.
func WithoutEnded(entries []events.Entry) []events.Entry {
	ended := map[string]bool{}
	for _, e := range entries {
		if id := events.ClockOf(e.Data); id != "" && e.Voided.IsZero() {
			ended[id] = true
		}
	}
	if len(ended) == 0 {
		return entries
	}
	return slices.DeleteFunc(slices.Clone(entries), func(e events.Entry) bool { return e.Kind == events.ClockStarted && ended[e.ID.String()] })
}

// atMost is how long after the press of its clock an act can begin: the longest count-in, and a hand that changes its mind
// during it.
const atMost = 2 * time.Minute

// ClockEndedBy gives the acts that ended a clock, as far as they count.
func (snap *Snapshot) ClockEndedBy(clock events.Entry) ([]events.Entry, error) {
	began := clock.At
	if written, err := events.Decode(clock.Stored); err == nil { // an amendment moves neither the act nor where it is found
		began = written.At
	}
	found, err := snap.Entries(events.Query{Kinds: events.Clocked(), From: began, To: began.Add(atMost)})
	id := clock.ID.String()
	return slices.DeleteFunc(found, func(e events.Entry) bool { return events.ClockOf(e.Data) != id }), err
}

// ClockFits says whether an act that was written with its time belongs to a running clock: it is of the clock's kind, of its
// sheet or picture as far as it names one, at the clock's aperture, and begins with it. A time of day without its seconds is
// that of the clock in the same minute. began is when the act began then.
func ClockFits(clock events.Entry, act events.Data, at time.Time) (began time.Time, fits bool) {
	x := clock.Data.(*events.ClockStartedData)
	if x.ClockedAct() != act.Kind() {
		return at, false
	}
	same := func(a, b string) bool { return a == "" || b == "" || a == b }
	switch y := act.(type) {
	case *events.SheetExposedData:
		if x.F != nil && y.F != 0 && *x.F != y.F {
			return at, false
		}
	case *events.SheetReprintedData:
		if !same(x.Picture, y.Picture) || x.F != nil && y.F != nil && *x.F != *y.F {
			return at, false
		}
	default:
		if !same(x.Sheet, events.SheetOf(act)) {
			return at, false
		}
	}
	began = ClockBegan(clock)
	if at.Equal(at.Truncate(time.Minute)) && at.Equal(began.Truncate(time.Minute)) {
		return began, true
	}
	return at, !at.Before(clock.At) && !at.After(clock.At.Add(atMost))
}

// ClockBegan is when what a clock times began: the press, at the cap after the count-in.
func ClockBegan(clock events.Entry) time.Time {
	x := clock.Data.(*events.ClockStartedData)
	return clock.At.Add(time.Duration(ValueOr(x.CountInS, 0) * float64(time.Second)))
}

// ClockRuns says of a running clock what is done since when: "2026-009n in the developer dev-1 since 14:47:02 (58 s of 1 min
// 51 s)", "the cap was lifted at 14:46:03 (58 s ago, 4 s planned)".
func ClockRuns(clock events.Entry, now time.Time) string {
	x, began := clock.Data.(*events.ClockStartedData), ClockBegan(clock)
	at, passed := began.Format("15:04:05"), now.Sub(began)
	if y, d := began.Year(), began.YearDay(); y != now.In(began.Location()).Year() || d != now.In(began.Location()).YearDay() {
		at = wording.ClockOf(began)
	}
	ran, planned := wording.Seconds(passed.Round(time.Second).Seconds()), ""
	if x.PlannedS != nil {
		planned = wording.Seconds(*x.PlannedS)
	}
	if x.Act == "expose" || x.Act == "reprint" {
		of := ""
		if x.Act == "reprint" {
			of = " for a print of " + x.Picture
		}
		if passed < 0 {
			return "the cap comes off" + of + " at " + at
		}
		text := "the cap was lifted" + of + " at " + at + " (" + ran + " ago"
		if planned != "" {
			text += ", " + planned + " planned"
		}
		return text + ")"
	}
	text := x.Sheet + " in " + map[string]string{"develop": "the developer", "rinse": "the rinse", "fix": "the fixer", "wash": "the wash"}[x.Act]
	if x.Bath != "" {
		text += " " + x.Bath
	}
	text += " since " + at
	switch {
	case passed < 0:
		return text + ", which this clock has not reached: it is behind"
	case planned != "":
		return text + " (" + ran + " of " + planned + ")"
	}
	return text + " (" + ran + ")"
}
