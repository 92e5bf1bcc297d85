package line

import (
	"errors"
	"fmt"
	"strconv"
)

// Refusal says what is wrong and why, and what to do about it. Both parts are one
// line each, start in lower case and carry no full stop.
type Refusal struct {
	Problem string // what and why
	Advice  string // what to type instead; may be empty
}

// Refuse makes a Refusal from its advice and a format for the problem.
func Refuse(advice, format string, args ...any) *Refusal {
	return &Refusal{Problem: fmt.Sprintf(format, args...), Advice: advice}
}

// Error joins the problem and the advice into one line.
func (e *Refusal) Error() string {
	if e.Advice == "" {
		return e.Problem
	}
	return e.Problem + "; " + e.Advice
}

// Parts splits any error into its problem and its hint. The hint is empty when
// no Refusal is in the chain, or when another error has been wrapped around it:
// then the whole text is the problem.
func Parts(err error) (problem, hint string) {
	if err == nil {
		return "", ""
	}
	var e *Refusal
	if errors.As(err, &e) && err.Error() == e.Error() {
		return e.Problem, e.Advice
	}
	return err.Error(), ""
}

const longest = 40

// Quote puts what was typed into quotes for an error line: control characters
// made visible, cut after 40 characters.
func Quote(s string) string {
	runes := []rune(s)
	if len(runes) > longest {
		s = string(runes[:longest-1]) + "…"
	}
	return strconv.Quote(s)
}
