package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/wording"
)

func planCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "plan", Usage: "a print before a sheet is spent: exposure, filter, pre-flash, development, tones; or a day", ArgsUsage: "[F]", Category: forFigure,
		UsageText: lines("traybook plan f/8 --darkest 30s --mid 4s --lightest 1/2s", "traybook plan", "traybook plan f/8 --filter 00 --print-box box-2",
			"traybook plan f/8 --darkest 20s --lightest 1s --light shade", "traybook plan day --sitters 12"),
		Subcommands: []*cli.Command{planDay(env)},
		Description: "How far the scene goes is read (traybook meter darkest f/8 30s, meter f/8 4s, meter lightest f/8 1/2s; the mid-tone may be\n" +
			"left out, and is taken halfway), or typed as the times that the meter gives at this aperture and the box's index. From that,\n" +
			"the strips and ratings of the box and the baths as they are now come the exposure of the negative, then of its print where\n" +
			"the negative lies in the same light, and the tones of that print; a negative that was kept in this light goes before its\n" +
			"reading. Where paper does not hold the scene, filters of variable-contrast paper (or that the box was rated for, with --iso-r)\n" +
			"and pre-flashes are chosen, each only where it earns its work, and the changes are named that help, most first.\n\n" +
			"Every figure stands with the bounds within which it is known: a third of a stop at best, of an exposure; a tone lies within\n" +
			"its bounds in at least 19 of 20 prints. The print holds what lies between 90 % of its greatest density and 0.04 over bare\n" +
			"paper. A pre-flash counts by the box's threshold (paper rate --threshold, or a strip of pre-flashes), else it is the time\n" +
			"before an even grey card in this light, filling the view. Nothing is written.",
		Flags: []cli.Flag{
			number("f", "`f/8` aperture of the negative; else that of the readings"),
			number("darkest", "`30s` what the meter gives for the darkest tone that shall show"),
			number("mid", "`4s` what it gives for the mid-tone: a card, a face"),
			number("lightest", "`1/2s` what it gives for the lightest that shall not be bare paper"),
			&cli.StringFlag{Name: "light", Usage: "`sun` sun, shade, overcast, dusk or lamp; else that of readings or session"},
			number("distance", "`2m` from lens to subject"),
			&cli.StringFlag{Name: "box", Usage: "`box-3` the negative's box; else the one last used"},
			&cli.StringFlag{Name: "print-box", Usage: "`box-2` the print's box; else the negative's"},
			&cli.StringFlag{Name: "filter", Usage: "`00` this filter for the negative, or none; else the plan chooses"},
			&cli.StringFlag{Name: "print-filter", Usage: "`00` this filter for the print, or none; else the plan chooses"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			o := &options{c: c}
			ask := report.PlanAsk{
				F: o.or("f", line.FNumber, 0), Box: strings.ToLower(c.String("box")), PrintBox: strings.ToLower(c.String("print-box")), Light: c.String("light"),
				DistanceMM: o.number("distance", line.Millimetres), DarkestS: o.number("darkest", line.Seconds), MidS: o.number("mid", line.Seconds), LightestS: o.number("lightest", line.Seconds),
				Filter: filterAsked(c, "filter"), PrintFilter: filterAsked(c, "print-filter"),
			}
			if word := c.Args().First(); word != "" {
				f, err := line.Parse(line.FNumber, word)
				if err != nil || c.NArg() > 1 || o.has("f") {
					return line.WrongLinef("give an aperture: traybook plan f/8", "plan takes one aperture, and %q was given", strings.Join(c.Args().Slice(), " "))
				}
				ask.F = f
			}
			if o.err != nil {
				return o.err
			}
			return runQuery(env, c, func(q *query) error {
				p, err := report.PlanOf(q.snap, ask)
				if err != nil {
					return err
				}
				if done, err := q.json(p); done {
					return err
				}
				return q.show(func(s *screen.Screen) { showPlan(s, p) })
			})
		},
	}
}

// filterAsked is the filter that was asked for, "" for none; nil where the plan may choose.
func filterAsked(c *cli.Context, name string) *string {
	if !c.IsSet(name) {
		return nil
	}
	f := strings.ToLower(c.String(name))
	if f == "none" {
		f = ""
	}
	return &f
}

func showPlan(s *screen.Screen, p report.Plan) {
	scene := fmt.Sprintf("%s stops, the darkest %s and the lightest %s from the mid-tone", tenths(p.Scene.RangeStops), signedTenths(p.Scene.DarkestStops), signedTenths(p.Scene.LightestStops))
	if !p.Scene.MidRead {
		scene += ", which nobody read: taken halfway"
	}
	if p.Scene.Light != "" {
		scene += "; " + p.Scene.Light
	}
	s.Hang(screen.Plain, "scene: ", scene)
	showPlanned(s, "negative: ", p.Negative, "")
	if p.Kept != nil {
		s.Hang(screen.Plain, "  ", "from "+*p.Kept+", kept with "+wording.StopsText(p.KeptStops)+" against its reading")
	}
	showPlanned(s, "print: ", p.Print, "; read the negative's mid-tone before it")
	if len(p.Strips) > 0 {
		s.Hang(screen.Faint, "  ", "by "+strings.Join(p.Strips, ", "))
	}
	s.Blank()
	var tiles []screen.Tile
	table := screen.Table{Columns: []screen.Column{{Title: "stops", Right: true}, {Title: "negative", Right: true}, {Title: "print", Right: true}, {Title: "between", Right: true}}}
	for _, t := range p.Tones {
		tiles = append(tiles, screen.Tile{Label: t.Name(), Density: t.Print})
		table.Add(t.Name(), decimals(t.Negative, 2), decimals(t.Print, 2), decimals(t.Low, 2)+" and "+decimals(t.High, 2))
	}
	s.Ramp(tiles, p.Dmin)
	s.Table(table)
	if p.Fits {
		s.Say(screen.Strong, "the print holds the scene")
	} else {
		held := math.Max(0, math.Min(p.HoldsTo, p.Scene.LightestStops)-math.Max(p.HoldsFrom, p.Scene.DarkestStops))
		s.Say(screen.Strong, "the print holds "+tenths(held)+" of the scene's "+tenths(p.Scene.RangeStops)+" stops")
	}
	for _, list := range []struct {
		says string
		of   []report.PlanChange
	}{{"helps most: ", p.Changes}, {"beyond this plan: ", p.Further}} {
		for i, change := range list.of {
			tone, mark := screen.Plain, "  then: "
			if i == 0 {
				tone, mark = screen.Strong, list.says
			}
			s.Hang(tone, mark, change.Text+": holds "+tenths(change.GainStops)+" stops more")
		}
	}
	warn(s, "", p.Warnings)
}

// showPlanned lays one sheet of a plan out.
func showPlanned(s *screen.Screen, mark string, x report.PlanSheet, more string) {
	text := "nothing tells its time"
	if x.Exposure != nil {
		text = "f/" + wording.Number(x.F) + ", " + planTime(events.SheetExposed, x.Exposure)
	}
	text += "; " + x.Box + ", R" + decimals(x.ISOR, 0)
	if x.Filter != "" {
		text += ", filter " + x.Filter
	}
	s.Hang(screen.Strong, mark, text+more)
	if x.PreFlash > 0 {
		text := "pre-flash of " + wording.Percent(x.PreFlash) + " of the threshold, for which the exposure is " + wording.SizeOfStops(x.FlashGive) + " shorter"
		if x.Flash != nil {
			text += ": " + planTime(events.SheetExposed, x.Flash)
			if x.FlashF > 0 {
				text += ", at f/" + wording.Number(x.FlashF) + " before an even grey card in this light"
			} else {
				text += ", as its threshold was found"
			}
		}
		s.Hang(screen.Plain, "  ", text)
	}
	if x.Develop != nil {
		s.Hang(screen.Plain, "  ", "develop in "+x.Developer+" "+planTime(events.SheetDeveloped, x.Develop))
	}
}

func planTime(kind events.Kind, t *report.PlanTime) string {
	return wording.Call{Kind: kind, S: t.TimeS, LowS: &t.LowS, HighS: &t.HighS}.Text()
}

func tenths(v float64) string { return decimals(v, 1) }

func signedTenths(v float64) string { return wording.Minus(fmt.Sprintf("%+.1f", v)) }
