package main

import (
	"fmt"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/projections/report"
)

func stockCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "stock", Usage: "the paper that is left, and when it runs out", Category: forLook,
		UsageText:   "traybook stock\ntraybook stock --all --as-of 2026-05-03",
		Description: "It runs out on that day at the rate of the last 90 days. Parts of sheets count as parts.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "list empty boxes too"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			return runQuery(env, c, func(q *query) error {
				r, err := report.Stock(q.snap, c.Bool("all"))
				if err != nil {
					return err
				}
				if done, err := q.json(r); done {
					return err
				}
				return q.show(func(s *screen.Screen) { showStock(s, r, q.at) })
			})
		},
	}
}

func showStock(s *screen.Screen, r report.StockReport, now time.Time) {
	if len(r.Boxes) == 0 {
		s.Say(screen.Plain, "No box holds paper. traybook paper receive brings one in; --all lists the empty ones.")
		return
	}
	t := screen.Table{Columns: []screen.Column{{Title: "box", Elastic: true}, {Title: "paper", Elastic: true}, {Title: "size"}, {Title: "index", Right: true},
		{Title: "left", Right: true}, {Title: "came in", Right: true}, {Title: "exposed", Right: true}, {Title: "spoiled, cut", Right: true},
		{Title: "runs out"}, {Title: "from", Elastic: true}}}
	unmeasured, expired := false, []string{}
	for _, b := range r.Boxes {
		tone := screen.Plain
		index := ""
		if b.Index != nil {
			index = line.Format(line.Plain, *b.Index)
			if !b.Measured {
				index, unmeasured = index+"?", true
			}
		}
		switch {
		case b.SheetsLeft <= 0:
			tone = screen.Faint
		case b.Expired:
			expired = append(expired, fmt.Sprintf("%s was best before %s", b.Box, *b.Expires))
		}
		if s.Width < stockWide {
			stack(s, tone, joined(" ", b.Box, said.Text(b.Name)), said.Size(b)+" mm", orNothing("index ", index), said.Sheets(b.SheetsLeft)+" left of "+said.Sheets(b.Received),
				said.Sheets(b.Exposed)+" exposed", said.Sheets(b.Spoiled+b.Cut)+" spoiled or cut", orNothing("runs out ", said.RunsOut(b, now)), orNothing("cut from ", said.Text(b.CutFrom)))
		}
		t.AddIn(tone, b.Box, said.Text(b.Name), said.Size(b), index, said.Sheets(b.SheetsLeft), said.Sheets(b.Received), said.Sheets(b.Exposed), said.Sheets(b.Spoiled+b.Cut),
			said.RunsOut(b, now), said.Text(b.CutFrom))
	}
	if s.Width >= stockWide {
		s.Table(t)
	}
	if unmeasured {
		s.Say(screen.Faint, "? calculated from the maker's ISO P, not measured: a test strip and traybook paper rate tell it.")
	}
	for _, e := range expired {
		s.Hang(screen.Warn, "! ", e)
	}
	for _, b := range r.Boxes {
		if b.SheetsLeft < 0 {
			s.Hang(screen.Warn, "! ", b.Box+" holds less than nothing by the book: traybook paper count "+b.Box+" sets it right")
		}
	}
}

// orNothing puts words before a text that may be empty.
func orNothing(words, text string) string {
	if text == "" {
		return ""
	}
	return words + text
}
