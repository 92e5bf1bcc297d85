package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/bench/keys"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func developCommand(env *Env) *cli.Command {
	return withTimer(env, actCommand{
		kind: events.SheetDeveloped, name: "develop", usage: "a sheet in the developer", words: "TIME [TEMPERATURE] [SHEET] [BATH]",
		examples: lines("traybook develop 60s", "traybook develop 50s 18C 2026-014n", "traybook develop 70s inspection",
			"traybook develop                         what the bath calls for now; writes no entry"),
		about: "Without a sheet it is the only one that waits, else the one exposed first; without a bath the developer in use.",
		ready: func(ac *actContext, data events.Data) error {
			x := data.(*events.SheetDevelopedData)
			if x.Sheet == "" {
				if err := ac.sayWaiting(); err != nil {
					return err
				}
			}
			if x.TimeS == 0 {
				return ac.callFor(data)
			}
			return nil
		},
	})
}

// sayWaiting tells how many sheets wait where the one exposed first is taken.
func (ac *actContext) sayWaiting() error {
	waiting, err := acts.Waiting(ac.as())
	if n := len(waiting); n > 1 {
		ac.note("%d sheets wait; this was the one exposed first, then comes %s", n, waiting[1].Name)
	}
	return err
}

func rinseCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetRinsed, name: "rinse", usage: "a sheet in the stop or the water", words: "[TIME] [SHEET] [BATH]",
		examples: lines("traybook rinse", "traybook rinse 15s stop-1"),
		about:    "Without a sheet it is the one developed last.",
	}.command(env, forActs)
}

func fixCommand(env *Env) *cli.Command {
	return withTimer(env, actCommand{
		kind: events.SheetFixed, name: "fix", usage: "a sheet in the fixer; a second time adds to the first", words: "TIME [SHEET] [BATH]",
		examples: lines("traybook fix 2min", "traybook fix 90s fix-2 2026-014p1", "traybook fix                             what the bath calls for now; writes no entry"),
		about: "Without a sheet it is the one rinsed or developed last; without a bath the fixer in use. The deviation of a second\n" +
			"fixing is that of all together; done_s in JSON is its own time.",
		ready: func(ac *actContext, data events.Data) error {
			if data.(*events.SheetFixedData).TimeS == 0 {
				return ac.callFor(data)
			}
			return nil
		},
	})
}

func washCommand(env *Env) *cli.Command {
	return withTimer(env, actCommand{
		kind: events.SheetWashed, name: "wash", usage: "wash a sheet in changes of water or in running water", words: "CHANGES [VOLUME] [SOAK] | TIME running [SHEET…]", many: true,
		examples: lines("traybook wash 4 changes 1l 5min", "traybook wash 30min running all unwashed", "traybook wash 6 changes 3l 5min 2026-012..015n", "traybook wash 30min running", "traybook wash 6 changes 1l 5min --together 3 --aid soda",
			"traybook wash                            what the sheet calls for; writes no entry"),
		about: "Without a sheet it is the one fixed last. VOLUME is that of each change, --together the sheets that shared it;\n" +
			"sheets that are named together shared it.",
		ready: readyWash,
	})
}

// readyWash answers a wash of which nothing is said with what the paper calls for.
func readyWash(ac *actContext, data events.Data) error {
	x := data.(*events.SheetWashedData)
	if x.Changes != nil || x.RunningS != nil || x.VolumeML != nil || x.SoakS != nil || x.Bath != "" {
		return nil
	}
	one := 1
	x.Changes = &one
	if err := ac.resolve(data); err != nil {
		return err
	}
	e, step, err := acts.Plan(ac.as(), ac.entry(data))
	if err != nil {
		return err
	}
	advice := "say how: traybook wash 4 changes 1l 5min, or traybook wash 30min running"
	called, ok := step.Call()
	if !ok {
		return line.Refuse(advice, "nothing is said of the wash, so no entry was written")
	}
	base := "resin-coated"
	if step.Paper != nil && step.Paper.Base == "fb" {
		base = "fibre-based"
	}
	return line.Refuse(advice, "nothing is said of the wash, so no entry was written; %s is on %s paper, which calls for %s of soaking in fresh water, in changes",
		events.SheetOf(e.Data), base, called.Text())
}

// trayLongestS is the longest time in one bath that a tray takes as done because it was called for: a bath worn out asks
// for hours, and to write those down unasked would be a lie.
const trayLongestS = 1800

// traySteps are the three acts of the trays.
type traySteps struct {
	develop events.SheetDevelopedData
	rinse   events.SheetRinsedData
	fix     events.SheetFixedData
}

func trayCommand(env *Env) *cli.Command {
	flags := append(actFlags(events.SheetDeveloped),
		&cli.StringFlag{Name: "elapsed", Usage: "`55s` the developing time as a watch or a script measured it"},
		&cli.StringFlag{Name: "rinse", Usage: "`15s` time in the stop or the water, where it was not the usual one; also water for plain water, none for no rinse"},
		&cli.StringFlag{Name: "rinse-bath", Usage: "`BATH` the stop or the water"},
		&cli.StringFlag{Name: "fix", Usage: "`2min` time in the fixer, where it was not as called for"},
		&cli.StringFlag{Name: "fix-temp", Usage: "`20C` temperature of the fixer, where it was another"},
		&cli.StringFlag{Name: "fixer", Usage: "`BATH` the fixer"},
		&cli.BoolFlag{Name: "even-so", Usage: "keep a text that holds a sitter's name, or a number far ahead"},
	)
	return &cli.Command{
		Name: "tray", Usage: "develop, rinse and fix in one, as called for; type only what was otherwise", Category: forActs,
		ArgsUsage: "[TIME] [TEMPERATURE] [SHEET]", Flags: flags,
		UsageText: lines("traybook tray", "traybook tray 50s 18C", "traybook tray 2026-014p1 --fix 3min"),
		Description: "The times are those that this developer and this fixer call for, for this paper and temperature. A time or a bath in the\n" +
			"words is the developer's; the temperature is that of all trays unless --fix-temp says otherwise. The rinse is in the stop in\n" +
			"use, else in the water. Where neither is mixed a person at the terminal is asked, and else none is written. All are one\n" +
			"batch: they are written together and can be voided together.",
		Action: func(c *cli.Context) error {
			var answers []wording.Answer
			in := func(rinse string) error {
				return inContext(env, c, func(ac *actContext) (err error) {
					answers, err = ac.tray(rinse)
					return err
				})
			}
			err := in(strings.ToLower(c.String("rinse")))
			if errors.Is(err, errNoRinse) {
				var key rune
				key, err = askKey(env, c, "No stop and no water bath is mixed. How was it rinsed?",
					choice{'w', "in plain water"}, choice{'n', "not at all: from the developer into the fixer"})
				switch {
				case errors.Is(err, keys.ErrNoTerminal):
					err = in(noRinse)
				case err == nil && key == 'w':
					err = in(waterRinse)
				case err == nil:
					err = in(noRinse)
				}
			}
			if err != nil {
				return told(env, c, err)
			}
			return printBatch(env, c, answers)
		},
	}
}

// What --rinse takes beside a time.
const (
	noRinse    = "none"
	waterRinse = "water"
)

// errNoRinse says that nothing tells how a sheet was rinsed: no bath for it is mixed.
var errNoRinse = errors.New("no stop and no water bath is mixed")

func (ac *actContext) tray(rinse string) ([]wording.Answer, error) {
	data, err := ac.read(events.SheetDeveloped, ac.c.Args().Slice())
	if err != nil {
		return nil, err
	}
	steps := traySteps{develop: *data.(*events.SheetDevelopedData)}
	if steps.develop.Sheet == "" {
		if err := ac.sayWaiting(); err != nil {
			return nil, err
		}
	}
	if err := ac.readySteps(&steps, rinse); err != nil {
		return nil, err
	}
	ac.batch = newID()
	first, err := ac.startOfTray(&steps)
	if err != nil {
		return nil, err
	}
	rinseS := 0.0
	if steps.rinse.TimeS != nil {
		rinseS = *steps.rinse.TimeS
	}
	total := steps.develop.TimeS + rinseS + steps.fix.TimeS
	room := ac.at.Sub(first).Seconds()
	if ac.c.IsSet("at") {
		if room = total; ac.now.After(first) {
			room = min(total, ac.now.Sub(first).Seconds())
		}
	}
	var out []wording.Answer
	after := 0.0
	for _, step := range []struct {
		data  events.Data
		timeS float64
	}{{&steps.develop, steps.develop.TimeS}, {&steps.rinse, rinseS}, {&steps.fix, steps.fix.TimeS}} {
		if rinse == noRinse && step.data == &steps.rinse {
			continue
		}
		ac.at = moment(first.Add(seconds(after / total * room)))
		a, err := ac.write(step.data)
		if err != nil {
			return nil, err
		}
		out, after = append(out, a), after+step.timeS
	}
	return out, nil
}

// readySteps settles sheet, baths, times and temperature of the three acts.
func (ac *actContext) readySteps(t *traySteps, rinse string) error {
	for _, o := range []struct {
		data          events.Data
		option, field string
	}{{&t.rinse, "rinse", "time_s"}, {&t.rinse, "rinse-bath", "bath"}, {&t.fix, "fix", "time_s"}, {&t.fix, "fix-temp", "temp_c"}, {&t.fix, "fixer", "bath"}} {
		if o.option == "rinse" && (rinse == noRinse || rinse == waterRinse) {
			continue
		}
		err := ac.option(o.data, o.option, o.field)
		if err != nil && o.option == "rinse" {
			return line.WrongLinef("write a time such as 15s, water for plain water, or none", "--rinse: %s is none of what it takes", line.Quote(rinse))
		}
		if err != nil {
			return err
		}
	}
	if rinse == noRinse && t.rinse.Bath != "" {
		return line.WrongLinef("leave one of them out", "--rinse none and --rinse-bath %s contradict each other", t.rinse.Bath)
	}
	if err := ac.resolve(&t.develop); err != nil {
		return err
	}
	e, step, err := acts.Plan(ac.as(), ac.entry(&t.develop))
	if err != nil {
		return err
	}
	t.develop = *e.Data.(*events.SheetDevelopedData)
	if err := asCalledFor(&t.develop.TimeS, t.develop.Bath, step, "developer", "traybook tray 60s", "traybook tray 90s"); err != nil {
		return err
	}
	if err := ac.readyRinse(t, rinse); err != nil {
		return err
	}
	t.fix.Sheet, t.fix.Carried = t.develop.Sheet, t.develop.Carried
	if t.fix.TempC == nil {
		t.fix.TempC = t.develop.TempC
	}
	if e, step, err = acts.Plan(ac.as(), ac.entry(&t.fix)); err != nil {
		return err
	}
	t.fix = *e.Data.(*events.SheetFixedData)
	return asCalledFor(&t.fix.TimeS, t.fix.Bath, step, "fixer", "--fix 2min", "--fix 3min")
}

// asCalledFor takes, where no time was typed, the one that a bath calls for. give and done are how a time is typed.
func asCalledFor(timeS *float64, bath string, step calledfor.Step, role, give, done string) error {
	if *timeS != 0 {
		return nil
	}
	if b := step.Bath; b != nil && step.CalledForS == nil && b.TooCold() {
		return line.Refuse("warm the bath and measure it: traybook bath test "+bath+" 20C; or say what was done: "+give,
			"%s stands at %s, and below 10 °C a developer is too cold to work", bath, line.Format(line.Celsius, b.TempC))
	}
	if step.CalledForS == nil {
		return line.Refuse("give it: "+give+"; or mix the next "+role+" with its time",
			"%s does not say what it calls for: %s", bath, reasonOf(step, "its nominal time is not written"))
	}
	if *timeS = wording.HandSeconds(*step.CalledForS); *timeS > trayLongestS {
		return line.Refuse("say what was done: "+done+"; or mix fresh: traybook bath mix "+role,
			"%s calls for %s, which nobody keeps: %s", bath, wording.Seconds(*timeS), reasonOf(step, "it is worked out"))
	}
	return nil
}

func reasonOf(s calledfor.Step, otherwise string) string {
	if len(s.Warnings) > 0 {
		return s.Warnings[0].Text()
	}
	return otherwise
}

// readyRinse takes the stop in use, else the water, and its time. A rinse that nothing tells of is not made up.
func (ac *actContext) readyRinse(t *traySteps, rinse string) error {
	t.rinse.Sheet, t.rinse.Carried = t.develop.Sheet, t.develop.Carried
	switch rinse {
	case waterRinse:
		return nil
	case noRinse:
		if !ac.c.IsSet("rinse") {
			ac.note("no stop and no water bath is mixed, so no rinse is written; --rinse water writes one in plain water")
		}
		return nil
	}
	look := ac.as()
	if t.rinse.Bath == "" {
		b, err := acts.RinseInUse(look)
		switch {
		case err != nil:
			return err
		case b != nil:
			t.rinse.Bath = b.Entity.Name
		case t.rinse.TimeS == nil:
			return errNoRinse
		}
	}
	if t.rinse.Bath == "" || t.rinse.TimeS != nil {
		return nil
	}
	b, err := look.Bath(t.rinse.Bath)
	if err == nil && b.Mixed != nil {
		t.rinse.TimeS = b.Mixed.TimeS
	}
	return err
}

// option puts one of the tray's own options into a field.
func (ac *actContext) option(data events.Data, option, field string) error {
	if !ac.c.IsSet(option) {
		return nil
	}
	f, _ := events.FieldOf(data.Kind(), field)
	v, err := line.ParseField(data.Kind(), f, []string{ac.c.String(option)})
	if err != nil {
		problem, hint := problemOf(err)
		return line.WrongLine(line.Refuse(hint, "--%s: %s", option, problem))
	}
	return f.Put(data, v)
}

// printBatch answers acts that were written together.
func printBatch(env *Env, c *cli.Context, answers []wording.Answer) error {
	if c.Bool("json") {
		return printAnswer(env, c, answers...)
	}
	s := screenOf(env, c)
	for i, a := range answers {
		parts := []string{a.Understood, calledFor(a)}
		if i == len(answers)-1 {
			parts = append(parts, fmt.Sprintf("to take all back: traybook void --batch %s", a.Entry.Batch.String()[:8]))
			if a.Next != "" {
				parts = append(parts, "next: "+a.Next)
			}
		}
		flow(s, parts)
		warn(s, "  ", a.Warnings)
	}
	return s.Err()
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// startOfTray is when the sheet went into the developer. A tray is written down when it is done, so it began its own
// length ago, but not before the sheet was exposed; with --at it began then.
func (ac *actContext) startOfTray(t *traySteps) (time.Time, error) {
	if ac.c.IsSet("at") {
		return ac.at, nil
	}
	total := t.develop.TimeS + t.fix.TimeS
	if t.rinse.TimeS != nil {
		total += *t.rinse.TimeS
	}
	start := ac.at.Add(-seconds(total))
	_, s, err := snapshot.New(ac.tx, time.Time{}).SheetByName(t.develop.Sheet)
	if err != nil {
		return start, err
	}
	// Neither before the exposure or what was done with the sheet since, nor before the developer was mixed.
	for _, e := range s.Entries {
		if e.At.After(start) && !e.At.After(ac.at) {
			start = e.At
		}
	}
	b, err := ac.everything().Bath(t.develop.Bath)
	if err == nil && b.At.After(start) && !b.At.After(ac.at) {
		start = b.At
	}
	return start, err
}

// warn tells warnings, a line each, set in by indent.
func warn(s *screen.Screen, indent string, warnings []wording.Warning) {
	for _, w := range warnings {
		s.Hang(screen.Warn, indent+"! ", w.Text())
	}
}

func silverCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SilverRecovered, name: "silver", usage: "silver that came back out of fixer and waste paper, in grams", words: "GRAMS [PRICE CURRENCY]",
		examples: lines("traybook silver 12.5g", "traybook silver 12.5g 150 NOK --to \"the refiner at the quay\""),
		about:    "The year adds it up, and counts what was paid for it among its takings.",
	}.command(env, forActs)
}

func reverseCommand(env *Env) *cli.Command {
	return actCommand{
		kind: events.SheetReversed, name: "reverse", usage: "make a positive in the camera: bleach, clear, expose a second time, develop again", words: "bleach|clear|expose [TIME] [SHEET] [BATH]",
		examples: lines("traybook reverse bleach 60s", "traybook reverse clear 30s", "traybook reverse expose 30s"),
		about: "Between the first development and the second, which is traybook develop once more. The times are those of the maker's data\n" +
			"sheet, typed when the baths are mixed: --time of bleach and clearing bath, --second-exposure of the bleach. Sheet and bath are\n" +
			"those in hand. What comes of it is a positive, and is counted as one.",
	}.command(env, forActs)
}
