// Package said puts what a look at the book found into the sentences in which a person is told of it, on a terminal and on a
// page alike.
package said

import (
	"traybook/events"
	"traybook/projections/wording"
)

// StampOf writes a moment as an entry holds it for a person.
func StampOf(text string) string {
	t, err := events.ParseTime(text)
	if err != nil {
		return text
	}
	return wording.ClockOf(t)
}

// Text is a text that may be absent.
func Text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
