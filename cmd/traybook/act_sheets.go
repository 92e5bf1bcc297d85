package main

import (
	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events"
)

func judgeCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetJudged, name: "judge", usage: "keep, redo or reject, and what the eye sees", words: "keep|redo|reject [SYMPTOM…] [STOPS] [SHEET]",
		examples: lines("traybook judge keep", "traybook judge redo too-dark -0.5", "traybook judge reject subject-moved 2026-014n wet",
			"traybook judge keep --density 0.1,0.7,1.9"),
		about: "STOPS is the change in this sheet's exposure that the eye asks for, + is more; the next print starts from it.\n" +
			"Without a sheet it is the one last worked on. A negative is dense or thin, a print too-dark or too-light.",
	}.command(env, forActs)
}

func dryCommand(env *Env) *cli.Command {
	return actCommand{kind: events.SheetDried, name: "dry", usage: "a sheet is dry", words: "[SHEET]", examples: "traybook dry 2026-014p1"}.command(env, forActs)
}

func toneCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetToned, name: "tone", usage: "a sheet in the toner", words: "[TIME] [SHEET] [BATH]",
		examples: "traybook tone 4min 2026-014p1",
	}.command(env, forActs)
}

func workCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetWorked, name: "work", usage: "handwork: spotted, pencilled, waxed, trimmed …", words: "HOW [SHEET]",
		examples: lines("traybook work waxed 2026-014n", "traybook work spotted p1"),
	}.command(env, forActs)
}

func testCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetTested, name: "test", usage: "test a sheet for what was left in it", words: "hypo|silver clear|trace|bad [SHEET]",
		examples: "traybook test hypo clear 2026-014p1",
		about:    "A bath is tested with traybook bath test.",
	}.command(env, forActs)
}

func deliverCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetDelivered, name: "deliver", usage: "hand a sheet over", words: "[SHEET] [SITTER]",
		examples: lines("traybook deliver 2026-014p1 --to \"Asta Holm\" --price 400 --currency NOK", "traybook deliver p1 sitter-3"),
	}.command(env, forActs)
}

func noteCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.NoteWritten, name: "note", usage: "a remark about anything that has a name or an id", words: "ABOUT TEXT",
		examples: lines("traybook note 2026-014 the boat swung round", "traybook note dev-2 smells stale", "traybook note last cap slipped"),
	}.command(env, forActs)
}

func markCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.MomentMarked, name: "mark", usage: "stamp this moment, to be filled in later", words: "[TEXT]",
		examples: lines("traybook mark", "traybook mark cap off", "traybook expose f/8 4s --at mark     takes the time of the latest mark not used yet"),
	}.command(env, forActs)
}

func loadCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.HolderLoaded, name: "load", usage: "load a holder with paper", words: "HOLDER [BOX]",
		examples: "traybook load holder-2 box-3",
	}.command(env, forActs)
}

// stripPrefix begins the names that strips get.
const stripPrefix = "strip-"

func stripCommand(env *Env) *cli.Command {
	expose := actCommand{
		kind: events.StripExposed, name: "expose", usage: "a test strip on the scene, a negative or a pre-flash", words: "scene|negative|pre-flash TIME… [F] [NAME]",
		examples: lines("traybook strip expose negative f/11 2s 2.8s 4s 5.6s 8s", "traybook strip expose pre-flash 0.5s 1s 2s 4s --part 1/4"),
		about:    "The times are each step's total: traybook figure strip calculates them and what to add for each step.",
		ready: func(ac *actContext, data events.Data) error {
			return ac.number(&data.(*events.StripExposedData).Strip, stripPrefix)
		},
	}
	read := actCommand{
		kind: events.StripRead, name: "read", usage: "what the strip showed, steps counted from 1", words: "[STRIP]",
		examples: lines("traybook strip read --best 4", "traybook strip read strip-2 --threshold 2 --best 4 --maximum-black 7"),
		ready: func(ac *actContext, data events.Data) error {
			x := data.(*events.StripReadData)
			if x.Strip != "" {
				return nil
			}
			newest, err := ac.tx.Views(events.ViewQuery{Kind: events.Strip, Limit: 1})
			if err != nil {
				return err
			}
			if len(newest) == 0 {
				return line.Refuse("traybook strip expose writes one down", "there is no strip yet")
			}
			x.Strip = newest[0].Entity.Name
			return nil
		},
	}
	return group("strip", "test strips: expose, read", forActs,
		lines("traybook strip expose negative f/11 2s 2.8s 4s 5.6s 8s", "traybook strip read --best 4"),
		expose.command(env, ""), read.command(env, ""))
}
