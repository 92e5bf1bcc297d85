package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/suspects"
	"traybook/projections/wording"
)

func judgeCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetJudged, name: "judge", usage: "keep, redo or reject, and what the eye sees", words: "keep|redo|reject [SYMPTOM…] [STOPS] [SHEET…]",
		many: true,
		examples: lines("traybook judge keep", "traybook judge redo too-dark -0.5", "traybook judge reject subject-moved 2026-014n wet",
			"traybook judge keep --density 0.1,0.7,1.9", "traybook judge keep all unjudged"),
		about: "STOPS is the change in this sheet's exposure that the eye asks for, + is more; the next print starts from it.\n" +
			"Without a sheet it is the one last worked on. A negative is dense or thin, a print too-dark or too-light.",
	}.command(env, forActs)
}

func dryCommand(env *Env) *cli.Command {
	return actCommand{kind: events.SheetDried, name: "dry", usage: "a sheet is dry", words: "[SHEET…]", many: true,
		examples: lines("traybook dry 2026-014p1", "traybook dry all undried")}.command(env, forActs)
}

func toneCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetToned, name: "tone", usage: "a sheet in the toner", words: "[TIME] [SHEET…] [BATH]", many: true,
		examples: lines("traybook tone 4min 2026-014p1", "traybook tone 4min 2026-014n,014p1"),
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
		kind: events.SheetTested, name: "test", usage: "test a sheet for what was left in it, or look at it for a suspect", words: "hypo|silver|look clear|trace|bad [SHEET]",
		examples: lines("traybook test hypo clear 2026-014p1", "traybook test look bad 2026-014n --suspect lens-wide"),
		about: "A look says of one suspect, as traybook why names it, whether it was that: clear is not it, bad is it. A bath is tested\n" +
			"with traybook bath test, a part of the camera with traybook camera check, a box with traybook paper rate --unexposed.",
		ready: func(_ *actContext, data events.Data) error {
			x := data.(*events.SheetTestedData)
			switch _, known := suspects.ByCode(x.Suspect); {
			case x.Test == "look" && x.Suspect == "":
				return line.Refuse("traybook test look clear 2026-014n --suspect fingers", "a look says nothing without the suspect that it was for")
			case x.Test != "look" && x.Suspect != "":
				return line.Refuse("traybook test look clear 2026-014n --suspect "+x.Suspect, "a test for %s has no suspect; a look has", x.Test)
			case x.Suspect != "" && !known:
				hint := "traybook why PICTURE --all names them"
				if near := line.Nearest(x.Suspect, suspects.Codes()); near != "" {
					hint = "did you mean " + near + "?"
				}
				return line.Refuse(hint, "%q is no suspect that why knows", x.Suspect)
			}
			return nil
		},
	}.command(env, forActs)
}

func deliverCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetDelivered, name: "deliver", usage: "hand a sheet over", words: "[SHEET…] [scan|scan-print] [SITTER]", many: true,
		examples: lines("traybook deliver 2026-014p1 --to \"Asta Holm\" --price 400 --currency NOK", "traybook deliver p1 sitter-3",
			"traybook deliver 2026-014n 2026-014p1 sitter-3", "traybook deliver p1 --order order-3", "traybook deliver 2026-014n scan sitter-3", "traybook deliver 2026-014n scan-print sitter-3"),
		about: "A print that goes to somebody who ordered one goes for that order, and the last one closes it: traybook orders.\n" +
			"What is sent as a scan, or printed from one, goes as scan or scan-print, and the sheet stays.",
		ready: readyDelivery, after: closesOrder,
	}.command(env, forActs)
}

func storeCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetStored, name: "store", usage: "where a sheet is kept: album, box, sleeve", words: "[SHEET…] WHERE", many: true,
		examples: lines("traybook store 2026-014p1 \"album 3, page 12\"", "traybook store 2026-014n,014p1 \"box 2\"", "traybook store n \"sleeve 41\""),
		about:    "traybook pictures --stored \"album 3\" finds what lies there; the place given last holds.",
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

// forMany gives an act the lines that name many sheets: one entry a sheet, all of them one batch and one write.
func forMany(env *Env, a actCommand, cmd *cli.Command) *cli.Command {
	one := cmd.Action
	cmd.Action = func(c *cli.Context) error {
		sheets, rest, err := line.SheetsOf(c.Args().Slice(), report.Lacks)
		switch {
		case err != nil:
			return err
		case sheets == nil:
			return one(c)
		case c.IsSet("sheet"):
			return line.WrongLinef("name them in one place", "sheets stand in the words and behind --sheet")
		}
		var answers []wording.Answer
		if err := inContext(env, c, func(ac *actContext) (err error) {
			answers, err = ac.many(a, sheets, rest)
			return err
		}); err != nil {
			return told(env, c, err)
		}
		return printMany(env, c, answers)
	}
	return cmd
}

// many writes one act for each of the sheets that a line names.
func (ac *actContext) many(a actCommand, sheets *line.Sheets, words []string) ([]wording.Answer, error) {
	names, err := ac.sheetsNamed(sheets)
	if err != nil {
		return nil, err
	}
	if ac.batch.IsZero() {
		ac.batch = newID()
	}
	notes, at := ac.notes, ac.at
	together := func(data events.Data) {
		if x, ok := data.(*events.SheetWashedData); ok && x.Together == nil && x.RunningS == nil && len(names) > 1 {
			x.Together = new(len(names)) // they lay in the same water
		}
	}
	var out []wording.Answer
	for _, name := range names {
		ac.notes, ac.at = nil, at // a clock that one of them ends moves that one alone
		answer, err := ac.do(a, append([]string{name}, words...), together)
		if err != nil {
			return nil, &about{name + ": ", err}
		}
		out = append(out, answer)
	}
	out[0].Warnings = append(notes, out[0].Warnings...)
	return append(out, ac.also...), nil
}

// sheetsNamed finds the sheets that a line names, each once.
//
// Errors: a refusal of a row that holds no sheet, of a list in which nothing is left, and of a sheet that stands twice.
func (ac *actContext) sheetsNamed(sheets *line.Sheets) ([]string, error) {
	if sheets.Lacking != "" {
		names, err := report.Lacking(ac.as(), sheets.Lacking)
		if err == nil && len(names) == 0 {
			err = line.Refuse("name the sheets: 2026-001..030n", "no sheet of the last thirty days is %s", sheets.Lacking)
		}
		return names, err
	}
	var out []string
	for _, row := range sheets.Rows {
		names, err := ac.row(row)
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			if slices.Contains(out, name) {
				return nil, line.Refuse("name each sheet once", "%s stands twice", name)
			}
			out = append(out, name)
		}
	}
	return out, nil
}

// row finds the sheets of one row. Numbers that hold no such sheet are passed over, and told.
func (ac *actContext) row(row line.Row) ([]string, error) {
	if row.Sheet != "" {
		name, err := ac.sheet(row.Sheet)
		return []string{name}, err
	}
	year := row.Year
	if year == 0 {
		year = ac.at.Year()
	}
	var out, without []string
	for n := row.First; n <= row.Last; n++ {
		p, err := wording.IgnoreMissing(ac.as().Picture(fmt.Sprintf("%04d-%03d", year, n)))
		if err != nil {
			return nil, err
		}
		if s := sheetIn(p, row.Part); s != nil {
			out = append(out, s.Name)
		} else {
			without = append(without, fmt.Sprintf("%03d", n))
		}
	}
	switch {
	case len(out) == 0:
		return nil, line.Refuse("traybook pictures lists what there is", "%s holds no sheet", row.Word)
	case len(without) > 0:
		ac.note("of %s there is no such sheet of %s", row.Word, someOf(without))
	}
	return out, nil
}

// sheetIn is the sheet of a picture that a part names, or the one exposed last; nil for none.
func sheetIn(p *snapshot.Picture, part string) *snapshot.Sheet {
	switch {
	case p == nil:
		return nil
	case part == "":
		return acts.NewestSheet(p)
	}
	return p.Sheet(part)
}

// mostNamed is how many names a line lists before it counts the rest.
const mostNamed = 6

func someOf(names []string) string { return wording.FirstOf(names, mostNamed, ", ") }

// printMany answers one act on many sheets: what was understood and each warning once, with the sheets that it is about.
func printMany(env *Env, c *cli.Context, answers []wording.Answer) error {
	if c.Bool("json") {
		return printAnswer(env, c, answers...)
	}
	s := screenOf(env, c)
	var done, warned grouped
	var besides []string
	for _, a := range answers {
		if a.Sheet == "" {
			besides = append(besides, a.Understood)
			continue
		}
		text := strings.TrimPrefix(a.Understood, a.Sheet)
		if called := calledFor(a); called != "" {
			text += " · " + called
		}
		done.add(text, a.Sheet)
		for _, w := range a.Warnings {
			warned.add(w.Text(), a.Sheet)
		}
	}
	for _, text := range done.texts {
		names := done.about[text]
		s.Say(screen.Plain, wording.CountOf(len(names), "sheet")+text)
		s.Hang(screen.Plain, "  ", someOf(names))
	}
	for _, text := range besides {
		s.Say(screen.Plain, text)
	}
	for _, text := range warned.texts {
		if names := warned.about[text]; len(names) < len(answers) {
			text = someOf(names) + ": " + text
		}
		s.Hang(screen.Warn, "  ! ", text)
	}
	flow(s, []string{env.takeBack("to take all back", "void --batch ", answers[0].Entry.Batch.String()[:8])})
	return s.Err()
}

// grouped are texts in the order in which they came, each with the sheets that it is about.
type grouped struct {
	texts []string
	about map[string][]string
}

func (g *grouped) add(text, sheet string) {
	if g.about == nil {
		g.about = map[string][]string{}
	}
	if g.about[text] == nil {
		g.texts = append(g.texts, text)
	}
	g.about[text] = append(g.about[text], sheet)
}
