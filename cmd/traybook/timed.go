package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/bench"
	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/calledfor"
	"traybook/projections/wording"
)

// withTimer gives an act the hand timers.
func withTimer(env *Env, a actCommand) *cli.Command {
	cmd := a.command(env, forActs)
	cmd.Flags = append(cmd.Flags, under("the hand timer",
		&cli.BoolFlag{Name: "timer", Usage: "take the time by the hand timer; without a terminal give --elapsed instead"},
		bellFlag(), dimFlag())...)
	if a.kind == events.SheetWashed {
		cmd.Flags = append(cmd.Flags, &cli.StringFlag{Name: "elapsed", Usage: "`20min` the whole time in the water, as a watch or a script measured it"})
	}
	act := cmd.Action
	cmd.Action = func(c *cli.Context) error {
		switch {
		case c.Bool("timer") && !c.IsSet("elapsed"):
			return timedAct(env, c, a)
		case c.IsSet("elapsed") && a.kind == events.SheetWashed:
			return elapsedWash(env, c, a)
		}
		return act(c)
	}
	return cmd
}

func bellFlag() cli.Flag {
	return &cli.StringFlag{Name: "bell", Usage: "`off|end|each` ring for nothing, for what a hand acts upon, for every beat (end)"}
}

func dimFlag() cli.Flag {
	return &cli.BoolFlag{Name: "dim", Usage: "show it dimmed; a screen is daylight to paper"}
}

func bellOf(c *cli.Context) (bench.Bell, error) {
	o := &options{c: c}
	b := o.word("bell", string(bench.BellEnd), bench.Bells()...)
	return bench.Bell(b), o.err
}

// timedPlan is an act that waits for its time to be taken.
type timedPlan struct {
	title    string
	body     []string
	planned  float64 // seconds, 0 for none
	f        float64 // aperture that the plan was made for
	rock     float64
	changes  int // of water
	running  bool
	exposure bool
}

func (p timedPlan) timer() bench.HandTimer {
	if p.exposure {
		return timer.NewCap(p.planned)
	}
	return timer.NewBath(p.planned, p.rock)
}

// timedAct plans an act, lets a hand take its time, and writes it. The book is closed meanwhile.
func timedAct(env *Env, c *cli.Context, a actCommand) error {
	if c.IsSet("at") {
		return line.WrongLinef("leave out --at", "--timer takes the time now, and --at says another")
	}
	bell, err := bellOf(c)
	if err != nil {
		return err
	}
	w := newWatch(env)
	var p timedPlan
	err = inContext(env, c, func(ac *actContext) error {
		var err error
		if p, err = ac.planTimed(a); err != nil {
			return err
		}
		return errOnlyLooked
	})
	if !errors.Is(err, errOnlyLooked) {
		return err
	}
	t := p.timer()
	err = takeTime(env, c, w, t, bell, p)
	if t.Taken() == nil {
		return p.interrupted(env, c, t, err)
	}
	var answer wording.Answer
	err = inContext(env, c, func(ac *actContext) error {
		data, err := ac.read(a.kind, c.Args().Slice())
		if err != nil {
			return err
		}
		ac.at = moment(t.Taken().Began.In(ac.zone))
		if err := p.put(data, *t.Taken()); err != nil {
			return err
		}
		if a.ready != nil {
			if err := a.ready(ac, data); err != nil {
				return err
			}
		}
		ac.noteJump(*t.Taken())
		answer, err = ac.write(data)
		return err
	})
	if err != nil {
		return err
	}
	return printAnswer(env, c, answer)
}

// errOnlyLooked ends a look into the book that wrote nothing and whose try at an act is to be taken back.
var errOnlyLooked = errors.New("only looked")

// planTimed asks the book what an act calls for.
func (ac *actContext) planTimed(a actCommand) (timedPlan, error) {
	p := timedPlan{rock: timer.RockS, exposure: a.kind == events.SheetExposed || a.kind == events.SheetReprinted}
	data, err := ac.read(a.kind, ac.c.Args().Slice())
	if err != nil {
		return p, err
	}
	if a.kind == events.SheetWashed {
		return ac.planWash(p, data.(*events.SheetWashedData))
	}
	f, _ := events.FieldOf(a.kind, "time_s")
	if v, ok := f.Value(data); ok {
		p.planned, _ = v.(float64)
	}
	if err := f.Put(data, nil); err != nil {
		return p, err
	}
	if rock, ok := events.FieldOf(a.kind, "rock_s"); ok {
		if v, there := rock.Value(data); there {
			p.rock, _ = v.(float64)
		}
	}
	var only *calledForOnly
	if err := a.ready(ac, data); !errors.As(err, &only) {
		return p, err
	}
	if p.planned == 0 {
		p.planned = only.setS
	}
	p.f = only.step.SetF
	p.title = timedTitle(only.entry)
	if s := only.step.CalledForS; s != nil {
		line := "called for " + wording.Seconds(*s)
		if p.f > 0 {
			line += " at f/" + wording.Number(p.f)
		}
		p.body = append(p.body, line)
	} else if p.planned == 0 {
		p.body = append(p.body, "nothing tells what it calls for")
	}
	p.body = append(p.body, wording.Texts(only.step.Warnings)...)
	return p, nil
}

func timedTitle(e events.Entry) string {
	where := events.PlacesOf(e.Data).Bath
	if where == "" {
		where = events.PlacesOf(e.Data).Box
	}
	verb := map[events.Kind]string{events.SheetExposed: "expose", events.SheetReprinted: "reprint", events.SheetDeveloped: "develop",
		events.SheetFixed: "fix", events.SheetWashed: "wash"}[e.Kind]
	title := verb + " " + events.SheetOf(e.Data)
	if where != "" {
		title += " · " + where
	}
	return title
}

// planWash counts the changes of a wash down, or its time in running water.
func (ac *actContext) planWash(p timedPlan, x *events.SheetWashedData) (timedPlan, error) {
	trial := *x
	one := 1
	if trial.Changes == nil && trial.RunningS == nil {
		trial.Changes = &one
	}
	if err := ac.resolve(&trial); err != nil {
		return p, err
	}
	e, step, err := acts.Plan(ac.as(), ac.entry(&trial))
	if err != nil {
		return p, err
	}
	plan := calc.WashCalledFor(step.Paper.WashBase(), x.Aid != "")
	p.title = timedTitle(e)
	if x.RunningS != nil && x.Changes == nil {
		p.planned, p.running = *x.RunningS, true
		p.body = []string{"in running water; the paper calls for " + wording.Seconds(plan.RunningS)}
		return p, nil
	}
	p.changes = plan.Changes
	if x.Changes != nil {
		p.changes = *x.Changes
	}
	p.rock = plan.SoakS
	if x.SoakS != nil {
		p.rock = *x.SoakS
	}
	p.planned = p.rock * float64(p.changes)
	p.body = []string{fmt.Sprintf("%d changes of %s: fresh water at every beat", p.changes, wording.Seconds(p.rock))}
	return p, nil
}

// put puts the time that was taken into an act, with what was planned and how it was taken.
func (p timedPlan) put(data events.Data, t timer.Taken) error {
	switch x := data.(type) {
	case *events.SheetExposedData:
		x.TimeS = t.S
		p.plannedInto(&x.PlannedF, &x.PlannedS)
	case *events.SheetReprintedData:
		x.TimeS = t.S
		p.plannedInto(&x.PlannedF, &x.PlannedS)
	case *events.SheetDevelopedData:
		x.TimeS = t.S
	case *events.SheetFixedData:
		x.TimeS = t.S
	case *events.SheetWashedData:
		p.washInto(x, t.S)
	}
	f, ok := events.FieldOf(data.Kind(), "text")
	if !ok {
		return nil
	}
	over := t.OverS()
	if p.exposure {
		over = 0 // called for stands beside it
	}
	text := calledfor.TimedText(t.How, over, t.Slept.Seconds(), t.SetBack.Seconds())
	if v, there := f.Value(data); there {
		text = fmt.Sprint(v) + "; " + text
	}
	return f.Put(data, text)
}

func (p timedPlan) plannedInto(f, s **float64) {
	if p.planned == 0 || *s != nil {
		return
	}
	planned := p.planned
	*s = &planned
	if p.f > 0 && *f == nil {
		at := p.f
		*f = &at
	}
}

func (p timedPlan) washInto(x *events.SheetWashedData, s float64) {
	if p.running {
		x.RunningS = &s
		return
	}
	n, soak := p.changes, line.Tidy(s/float64(p.changes))
	x.Changes, x.SoakS = &n, &soak
}

// noteJump tells of a clock that jumped while the time was taken.
func (ac *actContext) noteJump(t timer.Taken) {
	switch {
	case t.Slept > 0:
		ac.note("the machine slept %s, or its clock was set, while the time was taken; look whether %s is right: traybook amend last time=…",
			timer.Show(t.Slept), wording.Seconds(t.S))
	case t.SetBack > 0:
		ac.note("the clock was set back %s while the time was taken; the time itself does not hang on it", timer.Show(t.SetBack))
	}
}

// interrupted ends a timing that came to no end. Where it ran already and the terminal or the program was taken away, the
// moment is marked, so that it is not lost.
func (p timedPlan) interrupted(env *Env, c *cli.Context, t bench.HandTimer, why error) error {
	if errors.Is(why, errLeft) {
		return line.Refuse("do it, then write it down with its time: --elapsed 4.2s", "left before a time was taken; nothing was written")
	}
	began, ok := t.Began()
	if !ok || why == nil {
		return why
	}
	text := fmt.Sprintf("%s: the timer was cut off after %s", p.title, timer.Show(env.Now().Sub(began)))
	err := inContext(env, c, func(ac *actContext) error {
		ac.at = moment(began.In(ac.zone))
		_, err := ac.write(&events.MomentMarkedData{Text: text})
		return err
	})
	if err != nil {
		return errors.Join(why, err)
	}
	if errors.Is(why, context.Canceled) {
		return why
	}
	return line.Refuse("write it down with the time that it had: --at mark --elapsed 4.2s", "%s; its beginning is marked", text)
}

// elapsedWash writes a wash whose whole time was measured elsewhere.
func elapsedWash(env *Env, c *cli.Context, a actCommand) error {
	s, err := line.Parse(line.Seconds, c.String("elapsed"))
	if err != nil {
		return line.WrongLine(err)
	}
	var answer wording.Answer
	err = inContext(env, c, func(ac *actContext) error {
		data, err := ac.read(a.kind, c.Args().Slice())
		if err != nil {
			return err
		}
		x := data.(*events.SheetWashedData)
		if x.SoakS != nil || x.RunningS != nil && *x.RunningS != s && x.Changes == nil {
			return line.WrongLinef("give it once", "the time stands twice: --elapsed and the other")
		}
		p, err := ac.planWash(timedPlan{}, x)
		if err != nil {
			return err
		}
		p.washInto(x, line.Tidy(s))
		answer, err = ac.write(x)
		return err
	})
	if err != nil {
		return err
	}
	return printAnswer(env, c, answer)
}
