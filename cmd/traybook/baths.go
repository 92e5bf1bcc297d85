package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func bathsCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "baths", Usage: "the baths at hand: how far they are used, how old, what they call for", Category: forLook,
		UsageText:   "traybook baths\ntraybook baths --all",
		Description: "Lists baths that are not discarded and were used or mixed within 30 days. Only hours in the open tray count as age.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "list every bath, discarded ones too"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			return runQuery(env, c, func(q *query) error {
				r, err := report.Baths(q.snap, c.Bool("all"))
				if err != nil {
					return err
				}
				if done, err := q.json(r); done {
					return err
				}
				return q.show(func(s *screen.Screen) { showBaths(s, r) })
			})
		},
	}
}

var bathTone = map[string]screen.Tone{calc.BathTired: screen.Warn, calc.BathExhausted: screen.Bad, calc.BathPastLife: screen.Bad, snapshot.Discarded: screen.Faint}

func showBaths(s *screen.Screen, r report.BathsReport) {
	if len(r.Baths) == 0 {
		s.Say(screen.Plain, "No bath was mixed or used in the last 30 days. traybook bath mix makes one; --all lists the others.")
		return
	}
	t := screen.Table{Columns: []screen.Column{{Title: "bath", Elastic: true}, {Title: "role"}, {Title: "what", Elastic: true}, {Title: "state"},
		{Title: "used", Right: true}, {Title: "treated"}, {Title: "room for", Right: true}, {Title: "in the tray"}, {Title: "stands in"},
		{Title: "calls for", Right: true}, {Title: "at", Right: true}}}
	for _, b := range r.Baths {
		label := b.Name
		if label == b.Role { // no other name was given
			label = ""
		}
		used, treated, room := "", line.Format(line.SquareMetres, b.AreaM2), ""
		if b.Used != nil {
			used = wording.Percent(*b.Used)
			treated = strings.TrimSuffix(treated, " m²") + " of " + line.Format(line.SquareMetres, *b.CapacityM2)
		}
		if b.SheetsLeft != nil {
			room = said.Sheets(float64(int(*b.SheetsLeft)))
		}
		stood := said.Hours(b.AgeH)
		if b.LifeH != nil {
			life := said.Hours(*b.LifeH)
			if strings.HasSuffix(life, " h") {
				stood = strings.TrimSuffix(stood, " h")
			}
			stood += " of " + life
		}
		calls, at := "", ""
		if call, ok := b.Call(); ok {
			calls, at = call.Brief(), line.Format(line.Celsius, b.TempC)
		} else if b.TooCold {
			calls, at = "too cold", line.Format(line.Celsius, b.TempC)
		}
		if s.Width < bathsWide {
			stack(s, bathTone[b.State], strings.TrimSpace(b.Bath+" ("+b.Role+") "+label), b.State, orNothing("used ", used), treated, orNothing("room for ", room),
				"in the tray "+stood, orNothing("stands in the ", trayOf(b)), orNothing("calls for ", joined(" at ", calls, at)))
		}
		t.AddIn(bathTone[b.State], b.Bath, b.Role, label, b.State, used, treated, room, stood, trayOf(b), calls, at)
	}
	if s.Width >= bathsWide {
		s.Table(t)
	}
	for _, b := range r.Baths {
		warn(s, "", b.Warnings)
	}
}

func trayOf(b report.BathLine) string {
	switch {
	case b.State == snapshot.Discarded:
		return ""
	case b.InTray:
		return "tray"
	}
	return "bottle"
}
