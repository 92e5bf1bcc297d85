package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/quantity"
	"traybook/cmd/traybook/refusal"
	"traybook/cmd/traybook/screen"
	"traybook/projections"
)

const yearListed = 20 // of each list without --all

func yearCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "year", Usage: "a year: what was kept, what failed and why, what it cost, what may not last", ArgsUsage: "[YYYY]", Category: forLook,
		UsageText: lines("traybook year", "traybook year 2026", "traybook year 2026 --all"),
		Description: "Counts the pictures numbered in the year with all their sheets, and the strips, spoiled paper and baths of its days. Without a\n" +
			"year it is the one that runs.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "the lists in full"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			return lookBack(env, c, func(l *looking) error {
				year, err := yearWanted(c, l.at.Year())
				if err != nil {
					return err
				}
				r, err := l.desk.Year(year, l.desk.Causes)
				if err != nil {
					return err
				}
				if done, err := l.json(r); done {
					return err
				}
				most := yearListed
				if c.Bool("all") {
					most = 1 << 30
				}
				return l.show(func(s *screen.Screen) { showYear(s, r, most) })
			})
		},
	}
}

func yearWanted(c *cli.Context, now int) (int, error) {
	switch c.NArg() {
	case 0:
		return now, nil
	case 1:
		if y, err := strconv.Atoi(c.Args().First()); err == nil {
			return y, nil
		}
		return 0, wrongLine(refusal.New("traybook year 2026", "%s is no year", refusal.Quote(c.Args().First())))
	}
	return 0, wrongLinef("traybook year 2026", "year takes one year")
}

func showYear(s *screen.Screen, r projections.YearReport, most int) {
	s.Headline(strconv.Itoa(r.Year))
	if r.Pictures == 0 && r.StripSheets+r.SpoiledSheets == 0 && len(r.Baths) == 0 {
		s.Say(screen.Plain, fmt.Sprintf("No picture of %d is in the book.", r.Year))
		return
	}
	showFigures(s, r)
	showCauses(s, r)
	for _, part := range []struct {
		title  string
		splits []projections.Split
	}{{"paper", r.ByPaper}, {"light", r.ByLight}, {"hour", r.ByHour}} {
		showSplits(s, part.title, part.splits)
	}
	showBathsGone(s, r)
	showYearLists(s, r, most)
	showChanges(s, r)
}

func showFigures(s *screen.Screen, r projections.YearReport) {
	paper := projections.Number(r.PaperSheets) + " for pictures"
	paper += orNothing(", ", amountOf(r.StripSheets, "for strips")) + orNothing(", ", amountOf(r.SpoiledSheets, "spoiled"))
	if r.SheetsPerDelivered != nil {
		paper += "; " + projections.Number(*r.SheetsPerDelivered) + " for each print delivered"
	}
	firsts := "none judged"
	if r.FirstKeptShare != nil {
		firsts = fmt.Sprintf("%d of %d, %s", r.FirstPrintsKept, r.FirstPrintsJudged, projections.Percent(*r.FirstKeptShare))
	}
	minutes := ""
	if m := r.Minutes; m != nil {
		minutes = projections.Number(m.Median) + " min from reading to print in hand"
		if m.Prints > 1 {
			minutes += fmt.Sprintf(" (%s to %s, %s)", projections.Number(m.Quickest), projections.Number(m.Slowest), projections.CountOf(m.Prints, "print"))
		}
		if m.Later > 0 {
			minutes += fmt.Sprintf("; %d printed on a later day", m.Later)
		}
	}
	s.Pairs(
		screen.Pair{Label: "pictures", Value: fmt.Sprintf("%d, in %s", r.Pictures, projections.CountOf(r.Sheets, "sheet"))},
		screen.Pair{Label: "first prints kept", Value: firsts},
		screen.Pair{Label: "prints", Value: fmt.Sprintf("%d kept, %d delivered", r.KeptPrints, r.DeliveredPrints)},
		screen.Pair{Label: "failed sheets", Value: strconv.Itoa(r.FailedSheets)},
		screen.Pair{Label: "sheets of paper", Value: paper},
		screen.Pair{Label: "cost", Value: costWords(r.YearFigures)},
		screen.Pair{Label: "time", Value: minutes},
	)
}

func amountOf(v float64, what string) string {
	if v == 0 {
		return ""
	}
	return projections.Number(v) + " " + what
}

func costWords(f projections.YearFigures) string {
	var parts []string
	for _, c := range f.Costs {
		text := fmt.Sprintf("%s (paper %s, baths %s)", moneyWords(c.Total, c.Currency), amountWords(c.Paper), amountWords(c.Baths))
		if c.PerKept != nil {
			text += fmt.Sprintf(", %s for each print kept", moneyWords(*c.PerKept, c.Currency))
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return ""
	}
	if f.UnpricedSheets > 0 {
		parts = append(parts, "without "+projections.CountOf(f.UnpricedSheets, "sheet")+" of which no cost is written")
	}
	if f.UnpricedBaths > 0 {
		parts = append(parts, "without "+projections.CountOf(f.UnpricedBaths, "bath")+" of which no cost is written")
	}
	return strings.Join(parts, "; ")
}

func amountWords(v float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 2, 64), ".00")
}

func moneyWords(v float64, currency string) string {
	return strings.TrimSpace(amountWords(v) + " " + currency)
}

func showCauses(s *screen.Screen, r projections.YearReport) {
	if r.FailedSheets == 0 {
		return
	}
	var bars []screen.Bar
	for _, c := range r.Causes {
		if c.Sheets == 0 {
			continue
		}
		var money []string
		for _, m := range c.Money {
			money = append(money, moneyWords(m.Amount, m.Currency))
		}
		bars = append(bars, screen.Bar{Label: c.Cause, Share: float64(c.Sheets) / float64(r.FailedSheets),
			Text: joined(", ", projections.CountOf(c.Sheets, "sheet"), strings.Join(money, " + "))})
	}
	title := "failed sheets by cause"
	if len(bars) == 0 {
		title = "failed sheets by what was seen"
		for _, y := range r.Symptoms {
			bars = append(bars, screen.Bar{Label: y.Symptom, Share: float64(y.Sheets) / float64(r.FailedSheets), Text: projections.CountOf(y.Sheets, "sheet")})
		}
	}
	if len(bars) > 0 {
		s.Blank()
		s.Headline(title)
		s.Bars(bars)
	}
}

func showSplits(s *screen.Screen, title string, splits []projections.Split) {
	if len(splits) == 0 {
		return
	}
	t := screen.Table{Columns: []screen.Column{{Title: "by " + title, Elastic: true}, {Title: "pictures", Right: true}, {Title: "sheets", Right: true},
		{Title: "kept", Right: true}, {Title: "failed", Right: true}, {Title: "of judged", Right: true}, {Title: "min", Right: true}}}
	s.Blank()
	if s.Width < narrow {
		s.Headline("by " + title)
	}
	for _, p := range splits {
		share, minutes := "", ""
		if p.KeptShare != nil {
			share = projections.Percent(*p.KeptShare) + " kept"
		}
		if p.Minutes != nil {
			minutes = projections.Number(*p.Minutes)
		}
		key := p.Key
		if title == "hour" {
			key += ":00"
		}
		if s.Width < narrow {
			stack(s, screen.Plain, key, projections.CountOf(p.Pictures, "picture"), projections.CountOf(p.Sheets, "sheet"), fmt.Sprintf("%d kept, %d failed", p.Kept, p.Failed),
				orAfter(minutes, " min"))
		}
		t.Add(key, strconv.Itoa(p.Pictures), strconv.Itoa(p.Sheets), strconv.Itoa(p.Kept), strconv.Itoa(p.Failed), share, minutes)
	}
	if s.Width >= narrow {
		s.Table(t)
	}
}

func orAfter(value, unit string) string {
	if value == "" {
		return ""
	}
	return value + unit
}

func showBathsGone(s *screen.Screen, r projections.YearReport) {
	if len(r.BathRoles) == 0 {
		return
	}
	s.Blank()
	s.Headline("baths discarded")
	for _, b := range r.BathRoles {
		text := strconv.Itoa(b.Baths)
		if b.Used != nil {
			text += ", on the average at " + projections.Percent(*b.Used) + " of their capacity"
		}
		s.Pairs(screen.Pair{Label: b.Role, Value: text})
	}
	for _, f := range r.SpentFixer {
		to, tone := "where it went is not written", screen.Warn
		if f.To != nil {
			to, tone = "to "+*f.To, screen.Plain
		}
		s.Pairs(screen.Pair{Label: "spent fixer", Value: quantity.Format(quantity.Millilitres, f.VolumeML) + " " + to, Tone: tone})
	}
}

func showYearLists(s *screen.Screen, r projections.YearReport, most int) {
	list := func(title string, n int, line func(i int) (name, text string)) {
		if n == 0 {
			return
		}
		s.Blank()
		s.Headline(title)
		for i := range min(n, most) {
			name, text := line(i)
			s.Pairs(screen.Pair{Label: name, Value: text})
		}
		if n > most {
			s.Say(screen.Faint, fmt.Sprintf("and %d more; --all lists them.", n-most))
		}
	}
	list("may not last", len(r.MayNotLast), func(i int) (string, string) {
		x := r.MayNotLast[i]
		text := strings.Join(x.Why, "; ")
		if x.Delivered {
			text += "; delivered"
		}
		return x.Sheet, text
	})
	list("kept and not delivered", len(r.Undelivered), func(i int) (string, string) {
		x := r.Undelivered[i]
		text := strings.Join(x.Sheets, ", ")
		if x.Sitter != nil {
			text += ", for " + *x.Sitter
		}
		return x.Picture, text
	})
	list("consent missing", len(r.ConsentMissing), func(i int) (string, string) {
		x := r.ConsentMissing[i]
		text := x.Sitter + ": to " + strings.Join(x.Missing, ", ")
		if x.Erased {
			text = x.Sitter + " was erased"
		}
		return x.Picture, text
	})
}

func showChanges(s *screen.Screen, r projections.YearReport) {
	if r.Before == nil {
		return
	}
	was, is := strconv.Itoa(r.Before.Year), strconv.Itoa(r.Year)
	t := screen.Table{Columns: []screen.Column{{Title: "beside the year before", Elastic: true}, {Title: was, Right: true}, {Title: is, Right: true}}}
	s.Blank()
	if s.Width < narrow {
		s.Headline("beside " + was)
	}
	for _, c := range r.Changes {
		before, now := changeWords(c.What, c.Was), changeWords(c.What, c.Is)
		if s.Width < narrow {
			s.Hang(screen.Plain, "  ", c.What+": "+before+", now "+now)
		}
		t.Add(c.What, before, now)
	}
	if s.Width >= narrow {
		s.Table(t)
	}
}

func changeWords(what string, v *float64) string {
	switch {
	case v == nil:
		return "–"
	case strings.HasPrefix(what, "share"):
		return projections.Percent(*v)
	case strings.HasPrefix(what, "cost"):
		return amountWords(*v)
	}
	return projections.Number(*v)
}
