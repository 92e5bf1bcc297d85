package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
)

// The headings under which help lists the commands, in this order.
const (
	forSetUp  = "set up"
	forActs   = "act"
	forFigure = "figure (writes nothing)"
	forLook   = "look back"
	forMend   = "mend"
	forKeep   = "keep"
	forTry    = "try"
)

var headings = []string{forSetUp, forActs, forFigure, forLook, forMend, forKeep, forTry}

// offer is a command's name and what builds it: Usage is one line, UsageText the examples (one a line), ArgsUsage the
// words it takes, Description what else there is to know, Category a heading. An option's Usage begins with a value to
// type, in back-ticks.
type offer struct {
	name  string
	build func(*Env) *cli.Command
}

// commands lists what the program can do.
func commands() []offer {
	return slices.Concat(writers(), queries(), []offer{
		{"why", whyCommand}, {"calibrate", calibrateCommand}, {"year", yearCommand}, {"serve", serveCommand},
		{"figure", figureCommand}, {"plan", planCommand},
		{"export", exportCommand},
		{"schema", schemaCommand}, {"completion", completionCommand}, {"licences", licencesCommand}, {"demo", demoCommand},
	})
}

// commandsFor builds the command that a line begins with: a look at the book takes little longer than building them all.
// All are built where the line begins with anything but a whole name.
func commandsFor(env *Env, words []string) []*cli.Command {
	all := commands()
	if len(words) > 0 {
		if i := slices.IndexFunc(all, func(o offer) bool { return o.name == words[0] }); i >= 0 {
			all = all[i : i+1]
		}
	}
	built := make([]*cli.Command, len(all))
	for i, o := range all {
		built[i] = o.build(env)
	}
	return built
}

// inFull are commands that take away; no beginning of their name reaches them.
var inFull = []string{"erase", "void", "salvage"}

// newApp builds the program anew, with every command.
func newApp(env *Env) *cli.App { return newAppFor(env, nil) }

// newAppFor builds what of the program a line needs.
func newAppFor(env *Env, words []string) *cli.App {
	app := &cli.App{
		Name:    "traybook",
		Usage:   "a lab notebook for a camera with its darkroom inside",
		Version: version,
		Reader:  env.In, Writer: env.Out, ErrWriter: env.Err,
		HideHelp: true, HideHelpCommand: true, HideVersion: true,
		DisableSliceFlagSeparator: true,
		Commands:                  commandsFor(env, words),
		ExitErrHandler:            func(*cli.Context, error) {},
		OnUsageError:              func(_ *cli.Context, err error, _ bool) error { return line.WrongLine(err) },
		Action:                    func(*cli.Context) error { return printShort(env) },
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "book", Usage: "`FILE` the book; else that of TRAYBOOK_BOOK, else the one at home"},
			&cli.BoolFlag{Name: "json", Usage: "answer with JSON"},
			&cli.BoolFlag{Name: "no-color", Usage: "no colour"},
			&cli.BoolFlag{Name: "debug", Usage: "show where the program failed", Hidden: true},
		},
	}
	finish(app.Commands)
	return app
}

// finish gives every command what cli does not hand down.
func finish(commands []*cli.Command) {
	for _, c := range commands {
		c.HideHelp, c.HideHelpCommand = true, true
		c.OnUsageError = func(_ *cli.Context, err error, _ bool) error { return line.WrongLine(err) }
		finish(c.Subcommands)
	}
}

// specOf reads the tree of commands for the pass that sorts the words.
func specOf(app *cli.App) line.Spec {
	return line.Spec{Program: app.Name, Global: specFlags(app.Flags), Commands: specCommands(app.Commands)}
}

func specCommands(commands []*cli.Command) []line.Command {
	var out []line.Command
	for _, c := range commands {
		out = append(out, line.Command{
			Name: c.Name, Aliases: c.Aliases, Flags: specFlags(c.Flags), Commands: specCommands(c.Subcommands),
			Alone: len(c.Subcommands) > 0 && c.Action != nil, InFull: c.Hidden || slices.Contains(inFull, c.Name),
		})
	}
	return out
}

func specFlags(flags []cli.Flag) []line.Flag {
	var out []line.Flag
	for _, f := range flags {
		name, aliases := flagNames(f)
		s := line.Flag{Name: name, Aliases: aliases}
		_, isBool := f.(*cli.BoolFlag)
		_, s.Many = f.(*cli.StringSliceFlag)
		s.TakesValue = !isBool
		s.Example, _ = flagUsage(f)
		out = append(out, s)
	}
	return out
}

// flagNames gives an option's name and its others. The library takes the list apart anew at each asking, for hundreds of
// options at every start.
func flagNames(f cli.Flag) (name string, others []string) {
	switch f := f.(type) {
	case *cli.StringFlag:
		return f.Name, f.Aliases
	case *cli.BoolFlag:
		return f.Name, f.Aliases
	case *cli.StringSliceFlag:
		return f.Name, f.Aliases
	}
	names := f.Names()
	return names[0], names[1:]
}

// flagUsage parts an option's usage into the value to type and the words about it.
func flagUsage(f cli.Flag) (example, usage string) {
	if d, ok := f.(cli.DocGenerationFlag); ok {
		usage = d.GetUsage()
	}
	if rest, ok := strings.CutPrefix(usage, "`"); ok {
		if value, words, ok := strings.Cut(rest, "`"); ok {
			return value, strings.TrimSpace(words)
		}
	}
	return "", usage
}

// screenOf is the stream of answers as a person reads it.
func screenOf(env *Env, c *cli.Context) *screen.Screen {
	return screen.Detect(env.Out, env.OutFD, c.Bool("no-color"), env.Around)
}

// noWords refuses words where a command takes none.
func noWords(c *cli.Context) error {
	if !c.Args().Present() {
		return nil
	}
	advice := "give values by their options"
	if example, _, _ := strings.Cut(c.Command.UsageText, "\n"); strings.Contains(example, "--") {
		advice += ", as in " + example
	}
	return line.WrongLinef(advice+"; "+commandLine(c)+" --help lists them",
		"%s takes no words, and %q was given", commandPath(c), c.Args().First())
}

// commandPath is the command as typed: "figure exposure".
func commandPath(c *cli.Context) string {
	return strings.TrimPrefix(c.Command.HelpName, c.App.Name+" ")
}

func commandLine(c *cli.Context) string { return c.App.Name + " " + commandPath(c) }

// exportCommand gathers what leaves the book.
func exportCommand(env *Env) *cli.Command {
	return group("export", "the book as tables, pages, entries, or all of it in an archive", forKeep,
		lines("traybook export csv --out tables", "traybook export pdf --out log.pdf", "traybook export archive --out skerrow-2026 --year 2026", "traybook export archive --out skerrow.zip"),
		exportCSVCommand(env), exportPDFCommand(env), exportBookCommand(env), exportLabelsCommand(env), exportCardsCommand(env), exportWallCommand(env), exportEventsCommand(env), exportArchiveCommand(env),
	)
}

// writers are the commands that write into the book.
func writers() []offer {
	return []offer{
		{"init", initCommand}, {"camera", cameraCommand}, {"paper", paperCommand}, {"bath", bathCommand},
		{"session", sessionCommand}, {"sitter", sitterCommand}, {"meter", meterCommand}, {"expose", exposeCommand},
		{"develop", developCommand}, {"rinse", rinseCommand}, {"fix", fixCommand}, {"tray", trayCommand},
		{"wash", washCommand}, {"judge", judgeCommand}, {"reprint", reprintCommand}, {"mark", markCommand},
		{"load", loadCommand}, {"strip", stripCommand}, {"dry", dryCommand}, {"tone", toneCommand},
		{"work", workCommand}, {"test", testCommand}, {"deliver", deliverCommand}, {"order", orderCommand}, {"store", storeCommand}, {"silver", silverCommand}, {"reverse", reverseCommand}, {"note", noteCommand}, {"captions", captionsCommand},
		{"bench", benchCommand}, {"amend", amendCommand}, {"void", voidCommand}, {"erase", eraseCommand},
		{"import", importCommand}, {"merge", mergeCommand}, {"verify", verifyCommand}, {"rebuild", rebuildCommand},
		{"backup", backupCommand}, {"salvage", salvageCommand}, {"attach", attachCommand},
	}
}
