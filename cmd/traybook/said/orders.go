package said

import (
	"fmt"
	"strings"

	"traybook/projections/report"
	"traybook/projections/wording"
)

// Order tells who waits for what by when, and what is owed. name gives the name behind a sitter's reference.
func Order(o report.OrderLine, name func(string) string) string {
	var wants []string
	if o.Prints > 0 {
		text := wording.CountOf(o.Prints, "print")
		if o.WidthMM != nil && o.HeightMM != nil {
			text += fmt.Sprintf(" of %s × %s mm", wording.Number(*o.WidthMM), wording.Number(*o.HeightMM))
		}
		if o.Handed > 0 && o.Ended == nil {
			text += fmt.Sprintf(" (%d delivered)", o.Handed)
		}
		wants = append(wants, text)
	}
	if o.Scan && o.ScanSent && o.Ended == nil {
		wants = append(wants, "a scan (delivered)")
	} else if o.Scan {
		wants = append(wants, "a scan")
	}
	text := o.Order + ": " + strings.Join(wants, " and ")
	if o.Picture != nil {
		text += " from " + *o.Picture
	}
	text += " for " + name(o.Sitter)
	switch {
	case o.Ended != nil:
		text += ", " + *o.Ended
	case o.Overdue:
		text += ", was due " + *o.Due
	case o.Due != nil:
		text += ", due " + *o.Due
	}
	switch {
	case o.Owed > 0 && o.Paid > 0:
		text += fmt.Sprintf("; %s of %s not paid", wording.Money(o.Owed, ""), wording.Money(*o.Price, o.Currency))
	case o.Owed > 0:
		text += "; " + wording.Money(o.Owed, o.Currency) + " not paid"
	case o.Price != nil && o.Paid > 0:
		text += "; paid"
	}
	return text
}

// Takings tells sums of money, "" for none.
func Takings(sums []report.Money) string {
	var parts []string
	for _, m := range sums {
		parts = append(parts, wording.Money(m.Amount, m.Currency))
	}
	return strings.Join(parts, " + ")
}
