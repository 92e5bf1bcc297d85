package main

import (
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
)

// figureCommand gathers the figures: arithmetic of the trade that touches no book.
func figureCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "figure", Usage: "calculate exposure, focus, strips, baths, light, paper and tones", Category: forFigure,
		UsageText: "traybook figure exposure --ev 11 --index 3 --f f/8\n" +
			"traybook figure focus --focal 135mm --distance 2m --f f/8\n" +
			"traybook figure develop --nominal 60s --temp 17C",
		Description: "A figure touches no book. Options take units (135mm, 2m, 5in, 1/4s, 68F, 1+9); a bare number is in the unit that its name in the JSON answer ends with.",
		Subcommands: []*cli.Command{
			onPaper(env, figureExposure(env), exposureSheet), onPaper(env, figureFocus(env), railSheet), figureStrip(env),
			onPaper(env, figureDevelop(env), developSheet), onPaper(env, figureFix(env), fixSheet), figureWash(env),
			figureDilute(env), figureLight(env), figurePaper(env), onPaper(env, figureTones(env), quadrantSheet), figureWall(env),
		},
	}
}

// number is an option that takes a value with its unit. usage begins with a value to type, in back-ticks.
func number(name, usage string) cli.Flag { return &cli.StringFlag{Name: name, Usage: usage} }

// factors is an option that may be given several times.
func factors(name, usage string) cli.Flag { return &cli.StringSliceFlag{Name: name, Usage: usage} }

// under puts options under a heading of the help.
func under(heading string, flags ...cli.Flag) []cli.Flag {
	for _, f := range flags {
		switch f := f.(type) {
		case *cli.StringFlag:
			f.Category = heading
		case *cli.StringSliceFlag:
			f.Category = heading
		case *cli.BoolFlag:
			f.Category = heading
		}
	}
	return flags
}

// options reads the options of a figure and keeps the first error.
type options struct {
	c   *cli.Context
	err error
}

// optionsOf begins to read the options of a command that takes no words.
func optionsOf(c *cli.Context) *options { return &options{c: c, err: noWords(c)} }

func (o *options) fail(err error) {
	if o.err == nil {
		o.err = err
	}
}

func (o *options) has(name string) bool { return o.c.IsSet(name) }

// number reads an option, nil where it was not given.
func (o *options) number(name string, dim line.Dimension) *float64 {
	if !o.has(name) {
		return nil
	}
	v, err := line.Parse(dim, o.c.String(name))
	if err != nil {
		problem, hint := line.Parts(err)
		o.fail(line.WrongLine(line.Refuse(hint, "--%s: %s", name, problem)))
		return nil
	}
	return &v
}

// or reads an option with a default.
func (o *options) or(name string, dim line.Dimension, otherwise float64) float64 {
	if v := o.number(name, dim); v != nil {
		return *v
	}
	return otherwise
}

// list reads an option that may stand several times, its values in their order.
func (o *options) list(name string, dim line.Dimension) []float64 {
	var out []float64
	for _, text := range o.c.StringSlice(name) {
		v, err := line.Parse(dim, text)
		if err != nil {
			problem, hint := line.Parts(err)
			o.fail(line.WrongLine(line.Refuse(hint, "--%s: %s", name, problem)))
			return nil
		}
		out = append(out, v)
	}
	return out
}

// need reads an option that must be given.
func (o *options) need(name string, dim line.Dimension) float64 {
	v := o.number(name, dim)
	if v == nil {
		o.missing("", name)
		return 0
	}
	return *v
}

// missing says which option is wanted; several are a choice.
func (o *options) missing(why string, names ...string) {
	if why == "" {
		why = commandPath(o.c) + " needs --" + strings.Join(names, " or --")
	}
	o.fail(line.WrongLine(line.Refuse("give "+o.ways(names), "%s", why)))
}

// ways writes options with their example values.
func (o *options) ways(names []string) string {
	var out []string
	for _, n := range names {
		text := "--" + n
		for _, f := range o.c.Command.Flags {
			if example, _ := flagUsage(f); f.Names()[0] == n && example != "" {
				text += " " + example
			}
		}
		out = append(out, text)
	}
	return strings.Join(out, ", or ")
}

// oneOf says which of several options was given; two of them contradict each other. needed asks for at least one.
func (o *options) oneOf(needed bool, names ...string) string {
	var given []string
	for _, n := range names {
		if o.has(n) {
			given = append(given, n)
		}
	}
	switch {
	case len(given) > 1:
		o.fail(line.WrongLinef("give one of them", "--%s contradict each other", strings.Join(given, " and --")))
	case len(given) == 1:
		return given[0]
	case needed:
		o.missing("", names...)
	}
	return ""
}

// word reads an option that takes one of some words.
func (o *options) word(name, otherwise string, choices ...string) string {
	if !o.has(name) {
		return otherwise
	}
	w := strings.ToLower(strings.TrimSpace(o.c.String(name)))
	if slices.Contains(choices, w) {
		return w
	}
	hint := "it takes " + strings.Join(choices, ", ")
	if near := line.Nearest(w, choices); near != "" {
		hint = "did you mean " + near + "?"
	}
	o.fail(line.WrongLine(line.Refuse(hint, "--%s: no %s", name, line.Quote(o.c.String(name)))))
	return otherwise
}

// symptom is a word for what the eye sees, "" where the option was not given.
func (o *options) symptom(name string) string {
	if !o.has(name) {
		return ""
	}
	s, err := line.Symptom(strings.TrimSpace(o.c.String(name)))
	if err != nil {
		problem, hint := problemOf(err)
		o.fail(line.WrongLine(line.Refuse(hint, "--%s: %s", name, problem)))
	}
	return s
}

// either is the first of two errors.
func either(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// finite is a number as JSON has it: null where it has no end or is none.
func finite(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	return &v
}

// where is a number that exists only under a condition.
func where(ok bool, v float64) *float64 {
	if !ok {
		return nil
	}
	return finite(v)
}
