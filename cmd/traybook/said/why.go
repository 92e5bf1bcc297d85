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
		called := wording.Call{S: *f.CalledFor, LowS: f.LowS, HighS: f.HighS}
		done = fmt.Sprintf("called for %s, done %s", called.Brief(), wording.Seconds(*f.Done))
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

// MostSuspects is how many suspects of a symptom are told with their tests where not all are asked for.
const MostSuspects = 3

// Answer heads the suspects of a symptom with the answer that the log gives.
func Answer(s why.Suspicion) string {
	return s.Sheet + ", " + s.Symptom + ": " + map[string]string{
		why.LogExplains: "the log explains it",
		why.LogRight:    "the log was right, the fault lies where it cannot see",
		why.LogEmpty:    "the log is too empty to tell",
	}[s.Answer]
}

// Lacks tells what would have told, "" where nothing is lacking.
func Lacks(s why.Suspicion) string {
	if len(s.Lacks) == 0 {
		return ""
	}
	return "It lacks " + strings.Join(s.Lacks, "; ") + "."
}

// SuspectsOf parts the suspects of a symptom: those that may be it, likeliest first, and those that the log rules out.
func SuspectsOf(s why.Suspicion) (open, ruledOut []why.Suspect) {
	for _, x := range s.Suspects {
		if x.State == why.RuledOut {
			ruledOut = append(ruledOut, x)
		} else {
			open = append(open, x)
		}
	}
	return open, ruledOut
}

// RuledOut tells in short what a suspect would have been, and the entry that speaks against it.
func RuledOut(x why.Suspect) string { return x.Text + by(x) }

// SuspectTitle is what a suspect would be, and what said so.
func SuspectTitle(x why.Suspect) string {
	switch x.State {
	case why.Found:
		return x.Text + ": " + x.Because + by(x)
	case why.RuledOut:
		return "not that " + x.Text + ": " + x.Because + by(x)
	}
	return x.Text
}

func by(x why.Suspect) string {
	if len(x.Entries) == 0 {
		return ""
	}
	return " (entry " + wording.ShortID(x.Entries[0]) + ")"
}

// SlipText tells a slip by its size, and what speaks against it.
func SlipText(s why.Slip) string {
	text := s.Text + " (" + wording.StopsText(s.Stops) + ")"
	if s.Against != "" {
		text += "; but " + s.Against
	}
	return text
}

// Left heads the slips with what is left over; a size is no proof.
func Left(s why.Slip) string {
	word := " too much"
	if s.Left < 0 {
		word = " too little"
	}
	return s.Sheet + ": slips of the size that is left over, " + wording.SizeOfStops(s.Left) + word
}
