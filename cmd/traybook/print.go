package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/wording"
)

// answerJSON is the answer to an act as scripts read it.
type answerJSON struct {
	ID             string            `json:"id"`
	Kind           string            `json:"kind"`
	At             string            `json:"at"`
	Picture        *string           `json:"picture"`
	Sheet          *string           `json:"sheet"`
	Session        *string           `json:"session"`
	CalledForS     *float64          `json:"called_for_s"`    // null where nothing calls for a time
	LowS           *float64          `json:"low_s"`           // bounds within which it is known
	HighS          *float64          `json:"high_s"`          // upper bound; null where nothing is known of them
	DoneS          *float64          `json:"done_s"`          // null where it is no act with a time
	DeviationStops *float64          `json:"deviation_stops"` // log2(done ÷ called-for); null where either is not known
	Warnings       []wording.Warning `json:"warnings"`
	Next           *string           `json:"next"`
	Batch          string            `json:"batch,omitempty"` // of acts that were written as one
	// Acts are all of a batch, where several acts were written as one; what stands beside them is the first's, but for
	// what comes next.
	Acts []answerJSON `json:"acts,omitempty"`
}

// orNull is a text as JSON has it: null where there is none.
func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// orEmpty is a list that is never null.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

func answerOf(a wording.Answer) answerJSON {
	out := answerJSON{
		ID: a.Entry.ID.String(), Kind: string(a.Entry.Kind), At: events.FormatTime(a.Entry.At),
		Picture: orNull(a.Picture), Sheet: orNull(a.Sheet), Session: orNull(a.Session),
		CalledForS: a.CalledForS, LowS: a.LowS, HighS: a.HighS, DoneS: a.DoneS, DeviationStops: a.DeviationStops,
		Warnings: orEmpty(a.Warnings), Next: orNull(a.Next),
	}
	if !a.Entry.Batch.IsZero() {
		out.Batch = a.Entry.Batch.String()
	}
	return out
}

// printAnswer answers an act: what was understood, what was called for, how to void it, what comes next. Several answers
// belong to one batch of acts; scripts get one object, with all of them under acts.
func printAnswer(env *Env, c *cli.Context, answers ...wording.Answer) error {
	if c.Bool("json") {
		if len(answers) == 0 {
			return nil
		}
		whole := answerOf(answers[0])
		if len(answers) > 1 {
			for _, a := range answers {
				whole.Acts = append(whole.Acts, answerOf(a))
			}
			whole.Next = whole.Acts[len(answers)-1].Next
		}
		return writeJSON(env.Out, whole)
	}
	s := screenOf(env, c)
	for i, a := range answers {
		parts := []string{a.Understood, calledFor(a), env.takeBack("to take it back", "void ", short(a.Entry.ID))}
		if i == len(answers)-1 && a.Next != "" {
			parts = append(parts, "next: "+a.Next)
		}
		flow(s, parts)
		warn(s, "  ", a.Warnings)
	}
	return s.Err()
}

// calledFor tells the called-for time beside the one that was given.
func calledFor(a wording.Answer) string {
	switch {
	case a.CalledForS == nil && a.Unserved:
		return "no reading stands behind it; traybook amend " + short(a.Entry.ID) + " reading=ID names one"
	case a.CalledForS == nil:
		return ""
	}
	call := wording.Call{Kind: a.Entry.Kind, S: *a.CalledForS, LowS: a.LowS, HighS: a.HighS}
	if a.DoneS != nil && a.DeviationStops != nil {
		return call.AndDone(*a.DoneS, *a.DeviationStops, a.Before)
	}
	return call.Told()
}

// flow writes the parts behind each other, breaking the line between them where the screen ends.
func flow(s *screen.Screen, parts []string) {
	line := ""
	for _, p := range parts {
		switch {
		case p == "":
		case line == "":
			line = p
		case screen.Width(line)+3+screen.Width(p) <= s.Width:
			line += " · " + p
		default:
			s.Say(screen.Plain, line)
			line = "  " + p
		}
	}
	if strings.TrimSpace(line) != "" {
		s.Say(screen.Plain, line)
	}
}
