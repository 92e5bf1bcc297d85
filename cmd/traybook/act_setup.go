package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/acts"
)

func cameraCommand(env *Env) *cli.Command {
	describe := actCommand{
		kind: events.CameraDescribed, name: "describe", usage: "describe the camera and its lens", words: "[NAME]",
		examples: lines(
			"traybook camera describe harbour --focal 135mm --f-widest 5.6 --f-smallest 32",
			"traybook camera describe harbour --focal 150mm --f-widest 6.3 --f-smallest 45 --copy-f 11 --cap-sd 0.1s"),
		about: "A change of lens is a new description of the same camera; what was exposed before keeps the old one.\n" +
			"Without a name it is the only camera there is; the first is called camera.",
		ready: func(ac *actContext, data events.Data) error {
			x := data.(*events.CameraDescribedData)
			if x.Camera != "" {
				return nil
			}
			cameras, err := ac.tx.Entities(events.Camera)
			if err != nil {
				return err
			}
			switch len(cameras) {
			case 0:
				x.Camera = "camera"
			case 1:
				x.Camera = cameras[0].Name
			default:
				return line.Refuse("traybook camera describe NAME …", "there are several cameras, and none is named")
			}
			return nil
		},
	}
	check := actCommand{
		kind: events.CameraChecked, name: "check", usage: "write down a check of the camera", words: "WHAT good|bad",
		examples: lines("traybook camera check light good --minutes 5", "traybook camera check holder bad --holder holder-2 --text \"light at the hinge\""),
	}
	return group("camera", "describe the camera, check it", forSetUp,
		lines("traybook camera describe harbour --focal 135mm --f-widest 5.6 --f-smallest 32", "traybook camera check light good"),
		describe.command(env, ""), check.command(env, ""))
}

func paperCommand(env *Env) *cli.Command {
	receive := actCommand{
		kind: events.PaperReceived, name: "receive", usage: "bring a box of paper in", words: "[NAME] SIZE SHEETS rc|fb",
		examples: lines(
			"traybook paper receive 9x12cm 25 sheets rc --name \"Harbour matt\" --index 3",
			"traybook paper receive ilex 5x7in 50 sheets fb --name Ilex --iso-p 500 --iso-r 110 --expires 2028-06",
			"traybook paper receive 9x12cm 25 sheets rc --name \"Harbour vario\" --index 6 --contrast variable"),
		about: "The book gives the next number, box-3, unless you name the box. The index is the speed at which you meter this paper\n" +
			"in the camera; where you have none yet, the maker's ISO P gives a first one.\n\n" +
			"Variable-contrast paper has its range by its filter (--filter 00, 0, 1 … 5), and without one by the light: --iso-r is then\n" +
			"that under an enlarger's lamp, and under a blue sky it is one to two grades harder. Filters are counted by published figures\n" +
			"until you rate your own: traybook paper rate box-3 --filter 00 --iso-r 170 --filter-factor 3.",
	}
	rate := actCommand{
		kind: events.PaperRated, name: "rate", usage: "rate a box: index, filter, range, times as you measured them", words: "[BOX]",
		examples: lines("traybook paper rate box-3 --index 4 --generation negative", "traybook paper rate box-3 --filter yellow --filter-factor 4"),
		about:    "The latest rating that fits holds from then on; what was exposed before keeps what it was made with.",
	}
	count := actCommand{
		kind: events.PaperCounted, name: "count", usage: "count what is left in a box", words: "[BOX] SHEETS",
		examples: "traybook paper count box-3 21",
	}
	spoil := actCommand{
		kind: events.PaperSpoiled, name: "spoil", usage: "write spoiled sheets off", words: "[BOX] SHEETS",
		examples: "traybook paper spoil box-3 1 --text \"fogged at the hatch\"",
	}
	cut := actCommand{
		kind: events.PaperCut, name: "cut", usage: "cut sheets of one box into a new one", words: "[BOX] SHEETS",
		examples: "traybook paper cut box-3 5 sheets --parts 2 --size 6x9cm",
		ready: func(ac *actContext, data events.Data) error {
			return ac.number(&data.(*events.PaperCutData).Into, "box-")
		},
	}
	return group("paper", "boxes of paper: receive, rate, count, spoil, cut", forSetUp,
		"traybook paper receive 9x12cm 25 sheets rc --name \"Harbour matt\" --index 3",
		receive.command(env, ""), rate.command(env, ""), count.command(env, ""), spoil.command(env, ""), cut.command(env, ""))
}

// number gives the next name of a numbered row where none was typed.
func (ac *actContext) number(name *string, prefix string) error {
	if *name != "" {
		return nil
	}
	next, err := acts.NextNumber(ac.tx, prefix)
	*name = next
	return err
}

func bathCommand(env *Env) *cli.Command {
	move := actCommand{
		kind: events.BathMoved, name: "move", usage: "into the tray, into its bottle, packed", words: "BATH tray|bottle|carried",
		examples: lines("traybook bath move dev-2 bottle", "traybook bath move fix-1 tray"),
		about:    "Only hours in the tray count against a bath's life there. Mixed means in the tray; closing a session bottles it.",
	}
	replenish := actCommand{
		kind: events.BathReplenished, name: "replenish", usage: "add water, fresh bath or replenisher", words: "BATH VOLUME water|fresh|replenisher",
		examples: "traybook bath replenish dev-2 200ml fresh --capacity 0.2m2", about: "Water brings no capacity.",
	}
	test := actCommand{
		kind: events.BathTested, name: "test", usage: "write a measurement down: temperature, clearing time, strip", words: "BATH TEST VALUE",
		examples: lines("traybook bath test dev-2 temperature 18C", "traybook bath test fix-1 clearing-time 40s"),
		about:    "A temperature holds for every sheet until the next.",
		ready: func(_ *actContext, data events.Data) error {
			if x := data.(*events.BathTestedData); x.Test == "" && x.Unit == "C" { // 18C is no other test
				x.Test = "temperature"
			}
			return nil
		},
	}
	discard := actCommand{
		kind: events.BathDiscarded, name: "discard", usage: "discard a bath", words: "BATH",
		examples: "traybook bath discard fix-1 --to \"silver can, to the works\"",
	}
	return group("bath", "baths: mix, move, replenish, test, discard", forSetUp,
		lines("traybook bath mix developer 1l 1+9 60s --capacity 1m2 --life 8h", "traybook bath test dev-1 temperature 18C"),
		mixCommand(env), move.command(env, ""), replenish.command(env, ""), test.command(env, ""), discard.command(env, ""))
}

func mixCommand(env *Env) *cli.Command {
	warned := false
	mix := actCommand{
		kind: events.BathMixed, name: "mix", usage: "mix a bath", words: "ROLE VOLUME [DILUTION] [TIME] [TEMPERATURE]",
		examples: lines(
			"traybook bath mix developer 1l 1+9 60s 20C --name Amber --capacity 1m2 --life 8h",
			"traybook bath mix fixer 1l 1+4 2min", "traybook bath mix stop 1l", "traybook bath mix water 2l"),
		about: "ROLE is developer, stop, fixer, water, washing-aid or toner. The time is that of a fresh bath at its temperature (20 °C).\n" +
			"Cautions: " + strings.Join(cautions, " "),
		ready: func(ac *actContext, data events.Data) error {
			x := data.(*events.BathMixedData)
			if x.Role == "" { // without it the bath gets no number, which would be said first
				return &events.FieldError{Kind: data.Kind(), Field: "role", Fault: events.Missing}
			}
			if x.Name == "" {
				x.Name = x.Role
				if x.Bath != "" && !ac.c.IsSet("bath") {
					ac.note("%s is what the book calls it; what stands on its label goes with --name", x.Bath)
				}
			}
			seen, err := ac.tx.Meta(cautionsTold)
			if err != nil || seen != "" || ac.c.Bool("json") {
				return err
			}
			warned = true
			return ac.tx.SetMeta(cautionsTold, "1")
		},
	}
	c := mix.command(env, "")
	act := c.Action
	c.Action = func(ctx *cli.Context) error {
		if err := act(ctx); err != nil || !warned {
			return err
		}
		return printCautions(env, ctx)
	}
	return c
}

func sessionCommand(env *Env) *cli.Command {
	open := actCommand{
		kind: events.SessionOpened, name: "open", usage: "begin an outing or an afternoon at one place", words: "[NAME] [\"PLACE\"] [SKY]",
		examples: lines("traybook session open", "traybook session open quay \"North quay\" clear --lat 59.9N --lon 10.7E"),
		about:    "Without a name it is called after the day. Acts belong to the session that is open when they are done.",
		ready: func(ac *actContext, data events.Data) error {
			x := data.(*events.SessionOpenedData)
			open, err := ac.tx.Views(events.ViewQuery{Kind: events.Session, OpenOnly: true})
			if err != nil {
				return err
			}
			for _, v := range open {
				ac.note("session %s is still open; traybook session close %s ends it", v.Entity.Name, v.Entity.Name)
			}
			if x.Session != "" {
				return nil
			}
			day := ac.at.Format("2006-01-02")
			x.Session = day
			for n := 2; ; n++ {
				_, taken, err := ac.tx.Entity(x.Session)
				if err != nil || !taken {
					return err
				}
				x.Session = fmt.Sprintf("%s-%d", day, n)
			}
		},
	}
	shut := actCommand{
		kind: events.SessionClosed, name: "close", usage: "end it; baths go into their bottles", words: "[NAME]",
		examples: "traybook session close",
		ready: func(ac *actContext, data events.Data) error {
			waiting, err := acts.Waiting(ac.as())
			if n := len(waiting); n > 0 {
				ac.note("still to be developed: %s", acts.WaitingNames(waiting))
			}
			if err != nil {
				return err
			}
			unfixed, err := acts.Unfixed(ac.as())
			if len(unfixed) > 0 {
				ac.note("developed and not fixed: %s", acts.WaitingNames(unfixed))
			}
			return err
		},
	}
	return group("session", "open and close a session", forSetUp, lines("traybook session open quay clear", "traybook session close"),
		open.command(env, ""), shut.command(env, ""))
}
