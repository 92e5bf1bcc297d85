package wording

import (
	"fmt"
	"math"
	"strings"
	"time"

	"traybook/events"
)

// ShortID is the beginning of an entry's id, as every screen and page shows it: a longer piece than one is likely to need.
func ShortID(id string) string { return id[:min(8, len(id))] }

// ShareText writes a deviation, in stops, of a time in a bath: 50 % shorter, 8 % longer, 27 times as long; "" where it
// is less than a bath's own time is known to.
func ShareText(stops float64) string {
	share, word := math.Exp2(stops)-1, " % longer"
	if share < 0 {
		share, word = -share, " % shorter"
	}
	switch {
	case noShare(stops):
		return ""
	case stops > math.Log2(3):
		return Number(math.Round(math.Exp2(stops))) + " times as long"
	}
	return fmt.Sprintf("%.0f", share*100) + word
}

// leastShare is the least deviation of a time in a bath that is told: the bath's own time is not known so closely.
const leastShare = 0.03

// noShare says whether a deviation is told as none of a time in a bath.
func noShare(stops float64) bool { return math.Abs(math.Exp2(stops)-1) < leastShare }

// unitMarks are the units in the names of fields as they are written.
var unitMarks = map[string]string{"s": " s", "mm": " mm", "ml": " ml", "c": " °C", "m2": " m²", "days": " days", "h": " h", "px": " px", "mm_s": " mm/s"}

// SetText tells one field of an amendment as the acts speak of it.
func SetText(s events.SetField) string {
	f := events.Field{Name: s.Name}
	if string(s.Value) == "null" {
		return f.Option() + " taken out"
	}
	return f.Option() + " = " + string(s.Value) + unitMarks[f.Unit()]
}

// ClockOf writes a moment as date, hour and minute.
func ClockOf(t time.Time) string { return t.Format("2006-01-02 15:04") }

// Roughly writes a span of time in whole minutes, hours or days.
func Roughly(d time.Duration) string {
	switch h := d.Hours(); {
	case h < 1:
		return CountOf(math.Round(d.Minutes()), "minute")
	case h < 48:
		return CountOf(math.Round(h), "hour")
	case h < 24*700:
		return CountOf(math.Round(h/24), "day")
	default:
		return CountOf(math.Round(h/24/365.25), "year")
	}
}

// Print is how a text calls a print: print 1 of 2026-014 for 2026-014p1. What is no print keeps its name.
func Print(sheet string) string {
	picture, part, ok := events.SplitSheet(sheet)
	if !ok || !strings.HasPrefix(part, "p") {
		return sheet
	}
	return "print " + part[1:] + " of " + picture
}
