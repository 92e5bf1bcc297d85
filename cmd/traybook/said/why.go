package said

import (
	"fmt"
	"math"
	"strings"

	"traybook/projections/why"
	"traybook/projections/wording"
)

// Judged is what the eye said of a sheet.
func Judged(j why.JudgedSheet) string {
	text := j.Verdict
	if len(j.Symptoms) > 0 {
		text += ", " + strings.Join(j.Symptoms, ", ")
	}
	if j.Stops != nil {
		text += ", asks for " + wording.StopsText(*j.Stops)
	}
	return text
}

// Finding heads a finding; accused says that it is told as a cause.
func Finding(f why.Finding, accused bool) string {
	title := f.Cause + ", " + f.Sheet
	if accused {
		title += ": " + f.Odds
	}
	return title
}

// Figures are what the odds of a finding come to.
func Figures(f why.Finding) string {
	return fmt.Sprintf("probability %s, %s of what was judged", wording.Percent(f.Probability), wording.Percent(f.Explains))
}

// Done holds what was done against what it called for, "" where one of the two is not known.
func Done(f why.Finding) string {
	if f.Done == nil || f.CalledFor == nil {
		return ""
	}
	done := fmt.Sprintf("called for %s, done %s %s", wording.Number(*f.CalledFor), wording.Number(*f.Done), f.Unit)
	switch f.Unit {
	case "s":
		done = fmt.Sprintf("called for %s, done %s", wording.Seconds(*f.CalledFor), wording.Seconds(*f.Done))
	case "mm", "ml", "°C":
		done = fmt.Sprintf("called for %s %s, done %s %s", wording.Number(*f.CalledFor), f.Unit, wording.Number(*f.Done), f.Unit)
	case "f":
		done = fmt.Sprintf("called for f/%s, done f/%s", wording.Number(*f.CalledFor), wording.Number(*f.Done))
	case "wash":
		done = "done " + wording.Percent(*f.Done) + " of the wash called for"
	}
	switch {
	case f.Stops != nil && f.AsIf():
		done += ", worth " + wording.StopsText(*f.Stops) + " of exposure"
	case f.Stops != nil:
		done += ": " + wording.StopsText(*f.Stops)
	}
	return done
}

// Together tells from what else the log cannot part a cause, "" where it can.
func Together(f why.Finding) string {
	if len(f.Together) == 0 || f.With == "" {
		return ""
	}
	return "the log cannot part it from " + strings.Join(f.Together, ", ") + "; " + f.PartedBy() + " would"
}

// Unexplained tells how much of what was judged no entry accounts for, "" where nothing is left.
func Unexplained(d why.Diagnosis) string {
	if d.Unexplained == nil || *d.Unexplained < 0.05 {
		return ""
	}
	text := "not in the log: part of it"
	if *d.Unexplained > 0.95 {
		text = "not in the log: all of it"
	}
	if d.UnexplainedStops != nil && math.Abs(*d.UnexplainedStops) >= 0.05 {
		text += ", " + wording.StopsText(*d.UnexplainedStops)
	}
	return text
}
