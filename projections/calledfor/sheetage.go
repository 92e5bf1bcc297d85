package calledfor

import (
	"time"

	"traybook/calc"
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
	return agedPaper{months, stops, fog}
}

// monthsBetween counts months from one instant to another, 30.44 days each; below 0 where it lies ahead.
func monthsBetween(from, to time.Time) float64 {
	if from.IsZero() {
		return 0
	}
	return to.Sub(from).Hours() / 24 / 30.44
}
