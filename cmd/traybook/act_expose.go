package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func meterCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.LightMetered, name: "meter", usage: "write a reading of the light down", words: "[negative] READING [OF] [PLACE]",
		examples: lines(
			"traybook meter f/8 4s", "traybook meter ev 11 --index 100", "traybook meter 5000lx",
			"traybook meter shadow -2 f/8 8s --index 3", "traybook meter negative f/11 2s card"),
		about: "A reading is an aperture and a time at an index, an EV at an index (100), lux, or cd/m2. Without --index, aperture and\n" +
			"time are at the index of the box last used, or, where none was used yet, at the one that all boxes have. A reading of\n" +
			"the negative is about the negative developed last unless --picture names another; say what was read on it: a card or\n" +
			"mid for the mid-tone, lightest for its clear base, which is to come out just maximum black, darkest for its densest\n" +
			"patch, which is to come out the first tone over white.",
		ready: readyReading,
	}.command(env, forActs)
}

func readyReading(ac *actContext, data events.Data) error {
	x := data.(*events.LightMeteredData)
	if x.On == "" {
		x.On = "scene"
	}
	if x.Mode == "" {
		x.Mode = "reflected"
		if x.Lux != nil {
			x.Mode = "incident"
		}
	}
	if x.On == "negative" && x.Picture == "" {
		name, err := acts.NewestNegative(ac.as())
		if err == nil {
			x.Picture = name
			ac.note("taken for a reading of %s, the negative developed last", events.Sheet(name, "n"))
		} else if !wording.Refused(err) {
			return err
		}
	}
	switch {
	case x.Index != nil:
		return nil
	case x.EV != nil:
		hundred := 100.0
		x.Index = &hundred
		ac.note("EV taken at index 100")
	case x.F != nil && x.TimeS != nil:
		return ac.indexInForce(x)
	}
	return nil
}

// indexInForce takes the index at which the meter was read from the box last used.
func (ac *actContext) indexInForce(x *events.LightMeteredData) error {
	missing := "the reading needs the index that the meter was set to"
	kind, generation := events.SheetExposed, snapshot.Negative
	if x.On == "negative" {
		kind, generation = events.SheetReprinted, snapshot.Positive
	}
	box, err := acts.BoxInHand(ac.as(), kind)
	switch {
	case wording.Refused(err):
		return ac.indexOfAll(x, generation, missing)
	case err != nil:
		return err
	}
	paper := box.PaperFor(ac.at, generation, "", x.Light)
	if whole, err := ac.everything().Box(box.Entity.Name); err != nil {
		return err
	} else if paper.Index == 0 && whole.At.After(ac.at) {
		return line.Refuse("give it: --index 3; or give a later --at", "%s, and %s came in later, at %s", missing, box.Entity.Name, wording.ClockOf(whole.At.In(ac.zone)))
	}
	if paper.Index == 0 {
		return line.Refuse("give it: --index 3; or rate the box: traybook paper rate "+box.Entity.Name, "%s, and %s has none", missing, box.Entity.Name)
	}
	index := line.Tidy(paper.Index)
	x.Index = &index
	ac.note("read at index %s, that of %s", wording.Number(index), box.Entity.Name)
	return nil
}

// indexOfAll takes the index of the boxes that hold paper where none was used yet and all have the same.
func (ac *actContext) indexOfAll(x *events.LightMeteredData, generation, missing string) error {
	views, err := ac.tx.Views(events.ViewQuery{Kind: events.Box, OpenOnly: true})
	if err != nil {
		return err
	}
	var names []string
	of, same := 0.0, true
	for _, v := range views {
		box, err := ac.as().Box(v.Entity.Name)
		if err != nil {
			return err
		}
		if box.Received == nil { // not in yet
			continue
		}
		index := line.Tidy(box.PaperFor(ac.at, generation, "", x.Light).Index)
		if len(names) == 0 {
			of = index
		}
		names, same = append(names, v.Entity.Name), same && index > 0 && index == of
	}
	switch {
	case same && len(names) > 0:
		x.Index = &of
		ac.note("read at index %s, that of %s", wording.Number(of), strings.Join(names, " and "))
		return nil
	case len(names) > 0:
		return line.Refuse("give it: --index 3", "%s, and none of the boxes was used yet: %s", missing, strings.Join(names, ", "))
	}
	if len(views) > 0 {
		return line.Refuse("give it: --index 3; or give a later --at", "%s, and no box had come in yet", missing)
	}
	return line.Refuse("give it: --index 3", "%s, and no box of paper tells it", missing)
}

func exposeCommand(env *Env) *cli.Command {
	return withTimer(env, actCommand{
		kind: events.SheetExposed, name: "expose", usage: "a negative: what it calls for, and what was done", words: "F TIME [BOX] [\"SUBJECT\"]",
		examples: lines(
			"traybook expose f/8 4s", "traybook expose f/8 4s --distance 2m \"Ferry at the slip\" --sitter \"Asta Holm\"",
			"traybook expose f/8                      what it calls for; writes no entry", "traybook expose f/8 4s --sheet n          the same sheet once more"),
		about: "Without a time it shows what the exposure calls for, and keeps that as the plan: the exposure of that sheet, distance,\n" +
			"filter, box and aperture by the same reading that is written within the next half hour carries it as planned. What was\n" +
			"planned otherwise: --planned 4s.\n" +
			"Left out, the book fills in the open session and its camera, the box last used, the next number and the reading that serves:\n" +
			"that of a tone; one of the darkest or lightest of the scene tells how far it goes. A negative of this light that was kept\n" +
			"and got more or less than its reading called for is named, with the time that as much gives here.",
		ready: func(ac *actContext, data events.Data) error {
			x := data.(*events.SheetExposedData)
			if x.F == 0 {
				return &events.FieldError{Kind: data.Kind(), Field: "f", Fault: events.Missing}
			}
			return ac.planned(data, &plan{time: x.TimeS, plannedF: &x.PlannedF, plannedS: &x.PlannedS})
		},
	})
}

func reprintCommand(env *Env) *cli.Command {
	return withTimer(env, actCommand{
		kind: events.SheetReprinted, name: "reprint", usage: "a print from a negative: what it calls for, and what was done", words: "[F] TIME [PICTURE] [BOX]",
		examples: lines(
			"traybook reprint f/11 8s", "traybook reprint 2026-014 f/11 8s --magnification 1",
			"traybook reprint f/11                    what it calls for; writes no entry", "traybook reprint contact 3s"),
		about: "Without a picture it is the negative developed last, without a sheet the next print, without an aperture that of the\n" +
			"camera's usual copy. Without a time it shows what the print calls for, and keeps that as the plan for half an hour.\n" +
			"A print of the negative that was kept serves it until the negative is read again.",
		ready: func(ac *actContext, data events.Data) error {
			x := data.(*events.SheetReprintedData)
			if x.Sheet != "" { // the negative named: that is the picture; the print gets the next number
				sheet, err := ac.sheet(x.Sheet)
				if err != nil {
					return err
				}
				if pic, part, ok := events.SplitSheet(sheet); ok && part == "n" {
					x.Sheet = ""
					if x.Picture == "" {
						x.Picture = pic
					}
				}
			}
			return ac.planned(data, &plan{time: x.TimeS, plannedF: &x.PlannedF, plannedS: &x.PlannedS})
		},
	})
}
