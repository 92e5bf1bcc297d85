package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/projections/report"
	"traybook/projections/wording"
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
			return runQuery(env, c, func(q *query) error {
				year, err := yearWanted(c, q.at.Year())
				if err != nil {
					return err
				}
				r, err := report.Year(q.snap, year, func(picture string) ([]report.CauseShare, error) { return report.Causes(q.snap, picture) })
				if err != nil {
					return err
				}
				if done, err := q.json(r); done {
					return err
				}
				most := yearListed
				if c.Bool("all") {
					most = 1 << 30
				}
				return q.show(func(s *screen.Screen) { showYear(s, r, most) })
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
		return 0, line.WrongLine(line.Refuse("traybook year 2026", "%s is no year", line.Quote(c.Args().First())))
	}
	return 0, line.WrongLinef("traybook year 2026", "year takes one year")
}

func showYear(s *screen.Screen, r report.YearReport, most int) {
	s.Headline(strconv.Itoa(r.Year))
	if r.Pictures == 0 && r.StripSheets+r.SpoiledSheets == 0 && len(r.Baths) == 0 {
		s.Say(screen.Plain, fmt.Sprintf("No picture of %d is in the book.", r.Year))
		return
	}
	showFigures(s, r)
	showCauses(s, r)
	for _, part := range []struct {
		title  string
		splits []report.Split
	}{{"paper", r.ByPaper}, {"light", r.ByLight}, {"hour", r.ByHour}} {
		showSplits(s, part.title, part.splits)
	}
	showBathsGone(s, r)
	showYearLists(s, r, most)
	showChanges(s, r)
}

func showFigures(s *screen.Screen, r report.YearReport) {
	paper := wording.Number(r.PaperSheets) + " for pictures"
	paper += orNothing(", ", amountOf(r.StripSheets, "for strips")) + orNothing(", ", amountOf(r.SpoiledSheets, "spoiled"))
	if r.SheetsPerDelivered != nil {
		paper += "; " + wording.Number(*r.SheetsPerDelivered) + " for each print delivered"
	}
	firsts := "none judged"
	if r.FirstKeptShare != nil {
		firsts = fmt.Sprintf("%d of %d, %s", r.FirstPrintsKept, r.FirstPrintsJudged, wording.Percent(*r.FirstKeptShare))
	}
	minutes := ""
	if m := r.Minutes; m != nil {
		minutes = wording.Seconds(m.Median*60) + " from reading to print in hand"
		if m.Prints > 1 {
			minutes += fmt.Sprintf(" (%s to %s, %s)", wording.Seconds(m.Quickest*60), wording.Seconds(m.Slowest*60), wording.CountOf(m.Prints, "print"))
		}
		if m.Later > 0 {
			minutes += fmt.Sprintf("; %d printed on a later day", m.Later)
		}
	}
	s.Pairs(
		screen.Pair{Label: "pictures", Value: fmt.Sprintf("%d, in %s", r.Pictures, wording.CountOf(r.Sheets, "sheet"))},
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
	return wording.Number(v) + " " + what
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

func showCauses(s *screen.Screen, r report.YearReport) {
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
			money = append(money, wording.Money(m.Amount, m.Currency))
		}
		bars = append(bars, screen.Bar{Label: c.Cause, Share: float64(c.Sheets) / float64(r.FailedSheets),
			Text: joined(", ", wording.CountOf(c.Sheets, "sheet"), strings.Join(money, " + "))})
	}
	title := "failed sheets by cause"
	if len(bars) == 0 {
		title = "failed sheets by what was seen"
		for _, y := range r.Symptoms {
			bars = append(bars, screen.Bar{Label: y.Symptom, Share: float64(y.Sheets) / float64(r.FailedSheets), Text: wording.CountOf(y.Sheets, "sheet")})
		}
	}
	if len(bars) > 0 {
		s.Blank()
		s.Headline(title)
		s.Bars(bars)
	}
}

func showSplits(s *screen.Screen, title string, splits []report.Split) {
	if len(splits) == 0 {
		return
	}
	t := screen.Table{Columns: []screen.Column{{Title: "by " + title, Elastic: true}, {Title: "pictures", Right: true}, {Title: "sheets", Right: true},
		{Title: "kept", Right: true}, {Title: "failed", Right: true}, {Title: "of judged", Right: true}, {Title: "to print", Right: true}}}
	s.Blank()
	if s.Width < narrow {
		s.Headline("by " + title)
	}
	for _, p := range splits {
		share, minutes := "", ""
		if p.KeptShare != nil {
			share = wording.Percent(*p.KeptShare) + " kept"
		}
		if p.Minutes != nil {
			minutes = wording.Seconds(*p.Minutes * 60)
		}
		key := p.Key
		if title == "hour" {
			key += ":00"
		}
		if s.Width < narrow {
			stack(s, screen.Plain, key, wording.CountOf(p.Pictures, "picture"), wording.CountOf(p.Sheets, "sheet"), fmt.Sprintf("%d kept, %d failed", p.Kept, p.Failed),
				orNothing("to print ", minutes))
		}
		t.Add(key, strconv.Itoa(p.Pictures), strconv.Itoa(p.Sheets), strconv.Itoa(p.Kept), strconv.Itoa(p.Failed), share, minutes)
	}
	if s.Width >= narrow {
		s.Table(t)
	}
}

func showBathsGone(s *screen.Screen, r report.YearReport) {
	if len(r.BathRoles) == 0 {
		return
	}
	s.Blank()
	s.Headline("baths discarded")
	for _, b := range r.BathRoles {
		text := strconv.Itoa(b.Baths)
		if b.Used != nil {
			text += ", on the average at " + wording.Percent(*b.Used) + " of their capacity"
		}
		s.Pairs(screen.Pair{Label: b.Role, Value: text})
	}
	for _, f := range r.SpentFixer {
		to, tone := "where it went is not written", screen.Warn
		if f.To != nil {
			to, tone = "to "+*f.To, screen.Plain
		}
		s.Pairs(screen.Pair{Label: "exhausted fixer", Value: line.Format(line.Millilitres, f.VolumeML) + " " + to, Tone: tone})
	}
}

func showYearLists(s *screen.Screen, r report.YearReport, most int) {
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

func showChanges(s *screen.Screen, r report.YearReport) {
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
		before, now := c.Texts()
		if s.Width < narrow {
			s.Hang(screen.Plain, "  ", c.What+": "+before+", now "+now)
		}
		t.Add(c.What, before, now)
	}
	if s.Width >= narrow {
		s.Table(t)
	}
}
