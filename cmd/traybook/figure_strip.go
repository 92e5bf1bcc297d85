package main

import (
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/projections/wording"
)

type stripJSON struct {
	Times    []float64         `json:"times_s"` // total of each step
	Added    []float64         `json:"added_s"` // what each step adds to the one before
	Warnings []wording.Warning `json:"warnings"`
}

func figureStrip(env *Env) *cli.Command {
	return &cli.Command{
		Name: "strip", Usage: "times of a test strip, and what to add for each step",
		UsageText: "traybook figure strip --base 2s --step 1/2 --count 6",
		Flags: []cli.Flag{
			number("base", "`2s` time of the first step"),
			number("step", "`1/2` from step to step in stops; below 0 the strip goes down (1/2)"),
			number("count", "`6` number of steps (6)"),
			number("cap-sd", "`0.1s` scatter of the hand at the cap (0.1 s)"),
		},
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			base := o.need("base", line.Seconds)
			step := o.or("step", line.Stops, 0.5)
			count := o.or("count", line.Count, 6)
			sd := o.or("cap-sd", line.Seconds, calc.CapSDS)
			if o.err != nil {
				return o.err
			}
			times, err := calc.StripTimes(base, step, int(count))
			if err != nil {
				return err
			}
			if step < 0 {
				slices.Reverse(times) // the strip is made from its shortest time up
			}
			added, err := calc.StripAdded(times)
			if err != nil {
				return err
			}
			warnings := wording.OfCalc(calc.StripWarnings(added, sd))
			if c.Bool("json") {
				return writeJSON(env.Out, stripJSON{times, added, orEmpty(warnings)})
			}
			s := screenOf(env, c)
			t := screen.Table{Columns: []screen.Column{{Title: "step", Right: true}, {Title: "add", Right: true}, {Title: "in all", Right: true}}}
			for i := range times {
				t.Add(fmt.Sprint(i+1), inTime(added[i]), inTime(times[i]))
			}
			s.Table(t)
			s.Say(screen.Faint, "Give the first time to the whole strip, then cover one step more before each time that is added.")
			warn(s, "", warnings)
			return s.Err()
		},
	}
}
