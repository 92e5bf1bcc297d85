package calledfor

import (
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
)

// agedPaper is what age did to a sheet, nothing where it was less than a year past its date.
type agedPaper struct {
	Months     float64 // past its date
	Stops, Fog float64 // of speed, below 0; density without light
}

func (l *SheetLog) agedBy() agedPaper {
	if l.Exposure == nil || l.Box == nil || l.Box.Received == nil || l.Box.Received.Expires == "" {
		return agedPaper{}
	}
	months := monthsBetween(snapshot.EndOfDate(l.Box.Received.Expires, l.Exposure.At.Location()), l.Exposure.At)
	if months < calc.PaperGraceMonths {
		return agedPaper{}
	}
	stops, fog, err := calc.AgedPaper(months)
	if err != nil {
		return agedPaper{}
	}
	// An index that was measured on the old paper has its loss of speed in it up to then.
	if at := l.indexFrom(); !at.IsZero() {
		then := monthsBetween(snapshot.EndOfDate(l.Box.Received.Expires, l.Exposure.At.Location()), at)
		if lost, _, err := calc.AgedPaper(max(0, then)); err == nil {
			stops -= lost
		}
	}
	return agedPaper{months, stops, fog}
}

// indexFrom is when the index in force was measured, with the latest rating that fits; zero where it is the one that came with
// the box, which nobody measured on it.
func (l *SheetLog) indexFrom() time.Time {
	var at time.Time
	for _, e := range l.Box.Ratings {
		x := e.Data.(*events.PaperRatedData)
		if x.Index != nil && !e.At.After(l.Exposure.At) && (x.Generation == "" || x.Generation == l.Sheet.Generation) && (x.Filter == "" || x.Filter == l.X.Filter) {
			at = e.At
		}
	}
	return at
}

// monthsBetween counts months from one instant to another, 30.44 days each; below 0 where it lies ahead.
func monthsBetween(from, to time.Time) float64 {
	if from.IsZero() {
		return 0
	}
	return to.Sub(from).Hours() / 24 / 30.44
}
