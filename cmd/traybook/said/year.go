package said

import (
	"fmt"
	"strconv"
	"strings"

	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Pair is something and what there is to say of it.
type Pair struct{ Label, Value string }

// YearFigures are the figures of a year.
func YearFigures(r report.YearReport) []Pair {
	paper := wording.Number(r.PaperSheets) + " for pictures"
	paper += amountOf(", ", r.StripSheets, "for strips") + amountOf(", ", r.SpoiledSheets, "spoiled") + amountOf(", ", max(0, r.MissingSheets), "missing when counted") +
		amountOf(", ", float64(r.UnexposedSheets), "developed and never exposed")
	if r.SheetsPerDelivered != nil {
		paper += "; " + wording.Number(*r.SheetsPerDelivered) + " for each print delivered"
	}
	firsts := "none judged"
	if r.FirstKeptShare != nil {
		firsts = fmt.Sprintf("%d of %d, %s", r.FirstPrintsKept, r.FirstPrintsJudged, wording.Percent(*r.FirstKeptShare))
	}
	minutes := ""
	if m := r.Minutes; m != nil {
		minutes = wording.About(m.Median*60) + " from reading to print in hand"
		if m.Prints > 1 {
			minutes += fmt.Sprintf(" (%s, %s)", wording.Between(m.Quickest*60, m.Slowest*60), wording.CountOf(m.Prints, "print"))
		}
		if m.Later > 0 {
			minutes += fmt.Sprintf("; %d printed on a later day", m.Later)
		}
	}
	return []Pair{
		{"pictures", fmt.Sprintf("%d, in %s", r.Pictures, wording.CountOf(r.Sheets, "sheet"))},
		{"first prints kept", firsts},
		{"prints", fmt.Sprintf("%d kept, %d delivered", r.KeptPrints, r.DeliveredPrints)},
		{"failed sheets", strconv.Itoa(r.FailedSheets)},
		{"sheets of paper", paper},
		{"in the boxes", boxesWords(r)},
		{"cost", costWords(r.YearFigures)},
		{"takings", takingsWords(r)},
		{"silver recovered", amountOf("", r.SilverG, "g")},
		{"time", minutes},
	}
}

// boxesWords tells how the sheets of a year add up with its boxes, "" where no box was used.
func boxesWords(r report.YearReport) string {
	m := r.Boxes
	if m == (snapshot.Movements{}) {
		return ""
	}
	text := wording.Number(m.Start) + " at its start" + amountOf(", ", m.Came, "came") + amountOf(", ", m.Pictures+m.Strips, "exposed") + amountOf(", ", m.Spoiled, "spoiled") +
		amountOf(", ", m.Cut, "cut") + amountOf(", ", max(0, m.Missing), "missing when counted") + amountOf(", ", max(0, -m.Missing), "more when counted") +
		", " + wording.Number(m.Left) + " left"
	return text + amountOf(", of them ", float64(r.LoadedSheets), "in holders")
}

func amountOf(by string, v float64, what string) string {
	if v == 0 {
		return ""
	}
	return by + wording.Number(v) + " " + what
}

func costWords(f report.YearFigures) string {
	var parts []string
	for _, c := range f.Costs {
		text := fmt.Sprintf("%s (paper %s, baths %s)", wording.Money(c.Total, c.Currency), wording.Money(c.Paper, ""), wording.Money(c.Baths, ""))
		if c.PerKept != nil {
			text += fmt.Sprintf(", %s for each print kept", wording.Money(*c.PerKept, c.Currency))
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return ""
	}
	if f.UnpricedSheets > 0 {
		parts = append(parts, "without "+wording.CountOf(f.UnpricedSheets, "sheet")+" of which no cost is written")
	}
	if f.UnpricedBaths > 0 {
		parts = append(parts, "without "+wording.CountOf(f.UnpricedBaths, "bath")+" of which no cost is written")
	}
	return strings.Join(parts, "; ")
}

// takingsWords tells what came in, and on which days; of many days the first.
func takingsWords(r report.YearReport) string {
	text := Takings(r.Takings)
	switch len(r.TakingsByDay) {
	case 0:
		return text
	case 1:
		return text + " on " + r.TakingsByDay[0].Day
	}
	const shown = 4
	var days []string
	for _, d := range r.TakingsByDay[:min(shown, len(r.TakingsByDay))] {
		days = append(days, d.Day+" "+Takings(d.Amount))
	}
	if n := len(r.TakingsByDay) - shown; n > 0 {
		days = append(days, fmt.Sprintf("%s more: --json", wording.CountOf(n, "day")))
	}
	return text + " (" + strings.Join(days, ", ") + ")"
}

// EmptyYear says that nothing of a year is in the book, "" where something is.
func EmptyYear(r report.YearReport) string {
	if r.Pictures == 0 && r.StripSheets+r.SpoiledSheets == 0 && len(r.Baths) == 0 {
		return fmt.Sprintf("No picture of %d is in the book.", r.Year)
	}
	return ""
}

// Share is a part of a whole: Share from 0 to 1.
type Share struct {
	Label string
	Share float64
	Text  string
}

// YearFailures parts the failed sheets of a year by their causes, else by what was seen.
func YearFailures(r report.YearReport) (title string, shares []Share) {
	if r.FailedSheets == 0 {
		return "", nil
	}
	for _, c := range r.Causes {
		if c.Sheets == 0 {
			continue
		}
		var money []string
		for _, m := range c.Money {
			money = append(money, wording.Money(m.Amount, m.Currency))
		}
		text := wording.CountOf(c.Sheets, "sheet")
		if len(money) > 0 {
			text += ", " + strings.Join(money, " + ")
		}
		shares = append(shares, Share{Label: c.Cause, Share: float64(c.Sheets) / float64(r.FailedSheets),
			Text: text})
	}
	title = "failed sheets by cause"
	if len(shares) == 0 {
		title = "failed sheets by what was seen"
		for _, y := range r.Symptoms {
			shares = append(shares, Share{Label: y.Symptom, Share: float64(y.Sheets) / float64(r.FailedSheets), Text: wording.CountOf(y.Sheets, "sheet")})
		}
	}
	return title, shares
}

// MayNotLast tells why a sheet may not last.
func MayNotLast(x report.MayNotLast) string {
	text := strings.Join(x.Why, "; ")
	if x.Delivered {
		text += "; delivered"
	}
	return text
}

// Undelivered names the kept prints of a picture that nobody has.
func Undelivered(x report.Undelivered) string {
	text := strings.Join(x.Sheets, ", ")
	if x.Sitter != nil {
		text += ", for " + *x.Sitter
	}
	return text
}

// ConsentMissing tells what a sitter has not allowed.
func ConsentMissing(x report.ConsentMissing) string {
	if x.Erased {
		return x.Sitter + " was erased"
	}
	return x.Sitter + ": to " + strings.Join(x.Missing, ", ")
}
