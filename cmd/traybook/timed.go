package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/bench"
	"traybook/cmd/traybook/bench/keys"
	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
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
	act      events.Data  // as far as the book filled it in
	clock    *bench.Clock // that runs for this act already
	beside   []string     // what else runs
}

func (p timedPlan) timer(now timer.Moment) bench.HandTimer {
	switch {
	case p.clock != nil:
		return p.clock.Resume(now)
	case p.exposure:
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
		if err := ac.clocksFor(a.kind, &p); err != nil {
			return err
		}
		return errOnlyLooked
	})
	if !errors.Is(err, errOnlyLooked) {
		return err
	}
	r := &timedRun{env: env, c: c, plan: p, clock: p.clock, timer: p.timer(w.now())}
	err = takeTime(env, c, w, bell, r)
	if r.timer.Taken() == nil {
		return r.left(w, err)
	}
	taken := *r.timer.Taken()
	var answer wording.Answer
	err = inContext(env, c, func(ac *actContext) error {
		data, err := ac.read(a.kind, c.Args().Slice())
		if err != nil {
			return err
		}
		ac.at = moment(taken.Began.In(ac.zone))
		if err := r.put(ac, data, taken); err != nil {
			return err
		}
		if a.ready != nil {
			if err := a.ready(ac, data); err != nil {
				return err
			}
		}
		ac.noteJump(taken)
		answer, err = ac.write(data)
		return err
	})
	if err != nil {
		return err
	}
	return printAnswer(env, c, answer)
}

// timedRun is one act whose time is being taken.
type timedRun struct {
	env   *Env
	c     *cli.Context
	plan  timedPlan
	timer bench.HandTimer
	clock *bench.Clock // in the book, or running for this process alone; nil before the first press
	asks  bool         // when it ended is being typed
	typed string
	alarm string
	sure  string // a question: space is yes
	yes   func(timer.Moment) error
}

// panel is what to show.
func (r *timedRun) panel(now timer.Moment) bench.Panel {
	body := append([]string{}, r.plan.body...)
	if r.clock != nil && !r.timer.CountsIn() {
		body = append(body, r.clock.Text(now.Wall))
		if !r.clock.Kept {
			body = append(body, "! this time is not in the book, and is lost if this is closed")
		}
	}
	body = append(body, r.plan.beside...)
	p := bench.TimerPanel(r.plan.title, r.timer, now, body...)
	p.Alarm = r.alarm
	switch {
	case r.sure != "":
		p.Asks, p.Keys = r.sure, "space yes · any other key no"
	case r.asks:
		p.Asks, p.Keys = "when? "+r.typed+"_", "type 14:49 or how long, such as 90s; enter goes on"
	default:
		p.Keys = strings.TrimPrefix(p.Keys+" · q leave", " · ")
	}
	return p
}

// key takes a key.
func (r *timedRun) key(k rune, at timer.Moment) (left bool, err error) {
	r.alarm = ""
	if r.sure != "" {
		r.sure = ""
		if k == ' ' || k == keys.Enter || k == 'y' || k == 'Y' {
			return false, r.yes(at)
		}
		return false, nil
	}
	if r.asks {
		return false, r.typing(k, at)
	}
	running := r.timer.Running() && !r.timer.Asked()
	switch {
	case k == 'q' || k == 'Q':
		return true, nil
	case running && (k == 'x' || k == 'X'):
		r.sure, r.yes = "did it never happen? Its clock is taken back; nothing else is written.", r.never
		return false, nil
	case running && (k == 'o' || k == 'O') && !r.timer.CountsIn():
		r.asks = true
		return false, nil
	}
	press, ok := bench.PressOf(k)
	if !ok {
		return false, nil
	}
	ran, counted := r.timer.Running(), r.timer.CountsIn()
	r.timer.Press(press, at)
	if r.timer.Running() && (!ran || counted && press == timer.Measure) {
		return false, r.start(at)
	}
	return false, nil
}

func (r *timedRun) typing(k rune, at timer.Moment) error {
	switch {
	case k == keys.Enter:
		end, err := endedAt(r.typed, r.clock.Began(), at.Wall)
		if err != nil {
			problem, hint := problemOf(err)
			r.alarm = problem + "; " + hint
			return nil
		}
		r.asks, r.typed = false, ""
		done := func(timer.Moment) error { r.timer.End(end); return nil }
		took, planned := end.Sub(r.clock.Began()), timer.Duration(r.clock.PlannedS())
		if timer.Odd(took, planned) {
			r.sure, r.yes = fmt.Sprintf("%s, where %s is called for: is that what was done?", wording.Seconds(took.Seconds()), wording.Seconds(planned.Seconds())), done
			return nil
		}
		return done(at)
	case k == keys.Backspace && r.typed == "":
		r.asks = false
	case k == keys.Backspace:
		t := []rune(r.typed)
		r.typed = string(t[:len(t)-1])
	case k >= ' ' && k < 0x110000 && len(r.typed) < 40:
		r.typed += string(k)
	}
	return nil
}

// start writes the clock before the screen changes. Where the book does not take it the time is taken all the same.
func (r *timedRun) start(at timer.Moment) error {
	x, err := bench.StartOf(r.plan.act, r.timer, r.plan.planned, r.plan.f)
	if err != nil {
		return err
	}
	old := r.clock
	r.clock = &bench.Clock{Entries: []events.Entry{{Kind: events.ClockStarted, At: at.Wall, Data: x}}}
	err = inContext(r.env, r.c, func(ac *actContext) error {
		if old != nil && old.Kept {
			if err := ac.forgetClocks(old.Entries...); err != nil {
				return err
			}
		}
		entries, err := ac.startClocks(at.Wall, x)
		if err == nil {
			r.clock = &bench.Clock{Entries: entries, Kept: true}
		}
		return err
	})
	if err != nil {
		problem, _ := problemOf(err)
		r.clock.Kept, r.alarm = false, problem
	}
	return nil
}

// never takes the clock back and begins anew.
func (r *timedRun) never(at timer.Moment) error {
	if r.clock.Kept {
		if err := inContext(r.env, r.c, func(ac *actContext) error { return ac.forgetClocks(r.clock.Entries...) }); err != nil {
			return err
		}
	}
	r.clock, r.plan.clock = nil, nil
	r.timer = r.plan.timer(at)
	return nil
}

// put puts the time that was taken into an act, and what its clock keeps of it that the line does not say.
func (r *timedRun) put(ac *actContext, data events.Data, t timer.Taken) error {
	x := r.clock.Entries[0].Data.(*events.ClockStartedData)
	kept, err := x.ActData()
	if err != nil {
		return err
	}
	if r.clock.Kept {
		if err := events.FillFrom(kept, data); err != nil {
			return err
		}
		if ac.at.Before(r.clock.Entries[0].At) {
			ac.at = moment(r.clock.Began().In(ac.zone))
		}
		clock, _ := events.FieldOf(data.Kind(), "clock")
		if err := clock.Put(data, r.clock.ID()); err != nil {
			return err
		}
	}
	return r.plan.put(data, t)
}

// left ends a timing that came to no end. A clock that runs is in the book: it is told that it runs on.
func (r *timedRun) left(w watch, why error) error {
	if r.clock == nil || !r.clock.Kept || why == nil {
		if errors.Is(why, errLeft) {
			return line.Refuse("do it, then write it down with its time: --elapsed 4.2s", "left before a time was taken; nothing was written")
		}
		return why
	}
	text := r.clock.Text(w.now().Wall) + ": its clock runs on"
	if errors.Is(why, context.Canceled) {
		tellRunning(r.env, r.c, []string{text + "; the same line, or traybook bench, comes back to it"})
		return why
	}
	return line.Refuse("the same line, or traybook bench, comes back to it", "%s", text)
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
	sitter := ""
	if x, ok := data.(*events.SheetExposedData); ok {
		sitter = x.Sitter
	}
	var only *calledForOnly
	if err := a.ready(ac, data); !errors.As(err, &only) {
		return p, err
	}
	if call, _ := only.step.Call(); p.planned == 0 && !call.TooDark() {
		p.planned = only.setS
	}
	p.f, p.act = only.step.SetF, only.entry.Data
	if x, ok := p.act.(*events.SheetExposedData); ok { // a name that is written in by this look is taken back with it
		x.Sitter = sitter
	}
	p.title = timedTitle(only.entry)
	if call, ok := only.step.Call(); ok {
		line := call.Told()
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

// clocksFor finds the clock that runs for an act already, and tells of the others.
func (ac *actContext) clocksFor(kind events.Kind, p *timedPlan) error {
	running, err := snapshot.New(ac.tx, noMoment).RunningClocks(ac.now)
	if err != nil {
		return err
	}
	places, sheet := events.PlacesOf(p.act), events.SheetOf(p.act)
	for i := range running {
		running[i].At = running[i].At.In(ac.zone)
		x := running[i].Data.(*events.ClockStartedData)
		same := x.ClockedAct() == kind && p.clock == nil
		switch kind {
		case events.SheetExposed:
		case events.SheetReprinted:
			same = same && x.Picture == places.Stream.Name
		default:
			same = same && x.Sheet == sheet
		}
		if !same {
			p.beside = append(p.beside, "also "+snapshot.ClockRuns(running[i], ac.now))
			continue
		}
		p.clock = &bench.Clock{Entries: running[i : i+1 : i+1], Kept: true}
		if s := p.clock.PlannedS(); s > 0 {
			p.planned = s
		}
	}
	if x, exposed := p.act.(*events.SheetExposedData); exposed { // it has no number before it is done
		x.Picture, x.Sheet = "", ""
	}
	return nil
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
	act := e.Data.(*events.SheetWashedData)
	act.SoakS, act.Changes, p.act = nil, nil, act
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
	act.Changes = &p.changes
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
	return bench.SayHow(data, t, timerRemark(t, p.exposure))
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
