package main

import (
	"fmt"
	"strconv"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events/sqlite"
	"traybook/projections/report"
	"traybook/projections/snapshot"
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
			return runQueryTwice(env, c, func(q *query, other *sqlite.Tx) error {
				year, err := yearWanted(c, q.at.Year())
				if err != nil {
					return err
				}
				r, err := report.YearByTwo(q.snap, snapshot.New(other, q.at), year)
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
	if nothing := said.EmptyYear(r); nothing != "" {
		s.Say(screen.Plain, nothing)
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
	var pairs []screen.Pair
	for _, p := range said.YearFigures(r) {
		pairs = append(pairs, screen.Pair{Label: p.Label, Value: p.Value})
	}
	s.Pairs(pairs...)
}

func showCauses(s *screen.Screen, r report.YearReport) {
	title, shares := said.YearFailures(r)
	if len(shares) == 0 {
		return
	}
	var bars []screen.Bar
	for _, b := range shares {
		bars = append(bars, screen.Bar{Label: b.Label, Share: b.Share, Text: b.Text})
	}
	s.Blank()
	s.Headline(title)
	s.Bars(bars)
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
		return r.MayNotLast[i].Sheet, said.MayNotLast(r.MayNotLast[i])
	})
	list("kept and not delivered", len(r.Undelivered), func(i int) (string, string) {
		return r.Undelivered[i].Picture, said.Undelivered(r.Undelivered[i])
	})
	list("consent missing", len(r.ConsentMissing), func(i int) (string, string) {
		return r.ConsentMissing[i].Picture, said.ConsentMissing(r.ConsentMissing[i])
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
