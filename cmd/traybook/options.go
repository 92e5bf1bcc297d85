package main

import (
	"errors"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events"
)

// actFlags are the options of an act: one for each field of its kinds, and --at. Options of several kinds that bear one
// name are one option.
func actFlags(kinds ...events.Kind) []cli.Flag {
	var out []cli.Flag
	var seen []string
	add := func(f cli.Flag) {
		if name, _ := flagNames(f); !slices.Contains(seen, name) {
			seen = append(seen, name)
			out = append(out, f)
		}
	}
	for _, k := range kinds {
		if line.Sized(k) {
			add(&cli.StringFlag{Name: "size", Usage: "`9x12cm` size of a sheet, width by height"})
		}
		for _, f := range events.Fields(k) {
			if f.Type != "set" && !f.Clocked {
				add(fieldFlag(f))
			}
		}
	}
	add(&cli.StringFlag{Name: "at", Usage: "`14:05` when it began; also yesterday 14:05, 2026-05-03T14:05, 10m ago, mark"})
	return out
}

func fieldFlag(f events.Field) cli.Flag {
	usage := "`" + line.ExampleOf(f) + "` " + line.FieldWords[f.Name]
	switch f.Type {
	case "flag":
		return &cli.BoolFlag{Name: f.Option(), Usage: line.FieldWords[f.Name]}
	case "many", "symptoms", "nums":
		return &cli.StringSliceFlag{Name: f.Option(), Usage: usage}
	}
	return &cli.StringFlag{Name: f.Option(), Usage: usage}
}

// parseAct reads the data of an act from its words and its options. known tells what thing of the book bears a name; it
// may be nil. What the book fills in stays empty; sheets (2026-014n, n, p1), entries (the beginning of an id) and
// sitters (a name) stay as typed for the book to look up.
func parseAct(kind events.Kind, c *cli.Context, words []string, known func(string) (events.EntityKind, bool)) (events.Data, error) {
	data, ok := events.New(kind)
	if !ok {
		return nil, errors.New("no such act")
	}
	a := &line.Act{Kind: kind, Data: data, From: map[string]string{}, Known: known,
		UnitGiven: c != nil && c.IsSet("unit"), NameGiven: c != nil && c.IsSet("name")}
	if c != nil && c.Command != nil {
		first, _, _ := strings.Cut(c.Command.UsageText, "\n")
		a.Example = strings.TrimSpace(first)
	}
	if err := a.Say(words); err != nil {
		return nil, err
	}
	if c == nil {
		return data, nil
	}
	if c.IsSet("size") && line.Sized(kind) {
		if err := a.PutSize(c.String("size"), "--size "+c.String("size")); err != nil {
			return nil, err
		}
	}
	for _, f := range events.Fields(kind) {
		name := f.Option()
		if f.Type == "set" || f.Clocked || !c.IsSet(name) || twin(a, f, c) {
			continue
		}
		var texts []string
		switch f.Type {
		case "flag":
			if err := a.Put(f, c.Bool(name), "--"+name); err != nil {
				return nil, err
			}
			continue
		case "many", "symptoms", "nums":
			texts = c.StringSlice(name)
		default:
			texts = []string{c.String(name)}
		}
		read := a.Read
		if kind == events.BathTested && f.Name == "value" {
			read = func(_ events.Field, texts []string, from string) error { return a.Fill(a.Measured(texts[0]), from) }
		}
		if err := read(f, texts, "--"+name); err != nil {
			return nil, err
		}
	}
	return data, nil
}

// twin passes over one of two fields that share an option: --pre-flash is a share or a time, --motion a word or a speed.
func twin(a *line.Act, f events.Field, c *cli.Context) bool {
	text := strings.TrimSpace(c.String(f.Option()))
	switch f.Name {
	case "pre_flash", "pre_flash_s":
		_, err := line.Parse(line.Share, text)
		return (err == nil) == (f.Name == "pre_flash_s")
	case "motion", "motion_mm_s":
		return line.StartsWithDigit(text) == (f.Name == "motion")
	}
	return false
}

// atMark is what --at says for the moment stamped by mark.
const atMark = "mark"

// atOf is when the act was done: now, or what --at says in the zone. fromMark asks for the moment stamped by mark. now is
// the moment at which the act is written down, too: by another one, read from the clock a little later, the act would lie
// ahead of every export up to the newest entry.
func atOf(c *cli.Context, now time.Time, zone *time.Location) (at time.Time, fromMark bool, err error) {
	if !c.IsSet("at") {
		return now, false, nil
	}
	text := strings.TrimSpace(c.String("at"))
	if strings.EqualFold(text, atMark) {
		return time.Time{}, true, nil
	}
	at, err = line.ParseAt(text, now, zone)
	return at, false, line.WrongLine(err)
}

// readingsGiven tell what of a reading was given, where it is not one reading whole.
var readingsGiven = map[events.Fault]string{events.NoReading: "no reading", events.ManyReadings: "more than one reading", events.HalfReading: "half a reading"}

// explainField tells an error of a field in the words of the command line: what is wrong, what may stand there, and what to
// do. Before the name of an option stands dashes: "--", or "" where fields are named without.
func explainField(e *events.FieldError, dashes string) (problem, may, hint string) {
	if given, ok := readingsGiven[e.Fault]; ok {
		return given + " was given", "", "write f/8 4s, or 11ev, or 5000lx, or 40cd/m2"
	}
	f, ok := events.FieldOf(e.Kind, e.Field)
	if !ok {
		return e.Says(), e.May(), ""
	}
	option := func(name string) string {
		of, _ := events.FieldOf(e.Kind, name)
		return dashes + of.Option()
	}
	switch e.Fault {
	case events.Missing:
		words, _, _ := strings.Cut(line.FieldWords[f.Name], ",")
		words, _, _ = strings.Cut(words, ":")
		if e.Kind == events.StripExposed && f.Name == "on" {
			words = "what the strip is of"
		}
		if f.Type == "ref" && f.Of == string(events.Bath) { // the only thing that the book fills in nowhere
			return "no bath is named", "", "name it, such as dev-2; `traybook baths` lists them"
		}
		if n := len(f.Choices) - 1; f.Type == "one" && n > 0 {
			return words + " is missing", "", "write " + strings.Join(f.Choices[:n], ", ") + " or " + f.Choices[n]
		}
		return words + " is missing", "", "give --" + f.Option() + " " + line.ExampleOf(f)
	case events.OtherMode:
		return option(f.Name) + " is " + e.Value + " reading, and " + option("mode") + " is " + e.Takes, "", "leave --mode out"
	case events.Required:
		hint = "write a value, or take the whole entry back: traybook void"
	case events.WidestSmaller:
		return option(f.Name) + " is f/" + e.Value + ", smaller than " + option("f_smallest") + " f/" + e.Takes, "",
			"give the largest opening, such as 5.6, with --f-widest and the smallest, such as 32, with --f-smallest"
	}
	return option(f.Name) + " " + e.Says(), e.May(), hint
}
