package line

import (
	"fmt"
	"strconv"

	"traybook/projections/wording"
)

var typed = wording.Refuses("typed", "{text}", "{advice}")

// Refuse refuses in words of its own: what to type instead, which may be empty, and a format for what is wrong and why.
// Both are one line each, start in lower case and carry no full stop.
func Refuse(advice, format string, args ...any) *wording.Refusal {
	return typed.Refuse(fmt.Sprintf(format, args...), advice)
}

// InOwnWords says whether a refusal is one of Refuse: its sentence has no code of its own.
func InOwnWords(no *wording.Refusal) bool { return no.Of == typed }

// WrongLine says of an error that the line which was typed is wrong, as opposed to a request that is refused.
func WrongLine(err error) error {
	if err == nil {
		return nil
	}
	no := wording.RefusalIn(err)
	if no == nil {
		no = Refuse("", "%s", err)
	}
	wrong := *no
	wrong.Line = true
	return &wrong
}

// WrongLinef is WrongLine for an error that says what is wrong and what to type.
func WrongLinef(advice, format string, args ...any) error {
	return WrongLine(Refuse(advice, format, args...))
}

// Parts splits an error into its problem and its hint, which is empty where the error is no refusal.
func Parts(err error) (problem, hint string) {
	if err == nil {
		return "", ""
	}
	if no, ok := err.(*wording.Refusal); ok {
		return no.Text(), no.Hint()
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
