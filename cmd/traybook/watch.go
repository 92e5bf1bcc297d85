package main

import (
	"context"
	"errors"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/bench"
	"traybook/cmd/traybook/bench/keys"
	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
)

// watch is the clock of the hand timers: a run that never jumps, and the time of day.
type watch struct {
	tick func() time.Time
	base time.Time
	from time.Time // the time of day at base, where TRAYBOOK_NOW sets it; else zero
}

// newWatch starts the clock. Where TRAYBOOK_NOW sets the time of day, it runs on from there.
func newWatch(env *Env) watch {
	w := watch{tick: env.Tick, base: env.Tick()}
	if env.getenv("TRAYBOOK_NOW") != "" {
		w.from = env.Now()
		env.Now = func() time.Time { return w.from.Add(w.tick().Sub(w.base)) }
	}
	return w
}

// at is the moment of a time that carries a monotonic reading.
func (w watch) at(t time.Time) timer.Moment {
	m := timer.At(w.base, t)
	if !w.from.IsZero() {
		m.Wall = w.from.Add(m.Run)
	}
	return m
}

func (w watch) now() timer.Moment { return w.at(w.tick()) }

// errLeft says that a person left by a key.
var errLeft = errors.New("left")

// painter turns the lines of a panel into what a terminal is sent: red on black where there is colour, dimmed on request.
type painter struct {
	colour, dim bool
}

func (p painter) paint(lines []bench.Line) []string {
	out := make([]string, len(lines))
	for i, l := range lines {
		text := screen.Clean(l.Text)
		if !p.colour {
			out[i] = text
			continue
		}
		tone := "31"
		switch {
		case p.dim:
			tone = "2;31"
		case l.Tone == bench.Strong || l.Tone == bench.Figure:
			tone = "1;31"
		}
		out[i] = "\x1b[" + tone + ";40m" + text
	}
	return out
}

// panelTerminal is the terminal that panels are drawn on.
type panelTerminal struct {
	*keys.Terminal
	env   *Env
	paint painter
	size  bench.Size
	bell  bench.Bell
}

// onTerminal runs f on the terminal that a person sits at. The panels go to the stream for errors, so that the answer
// stays alone on the other.
func onTerminal(env *Env, c *cli.Context, bell bench.Bell, f func(*panelTerminal) error) error {
	fd, out := env.ErrFD, env.Err
	if !env.terminal(fd) {
		fd, out = env.OutFD, env.data()
	}
	if !env.terminal(env.InFD) || !env.terminal(fd) {
		return keys.ErrNoTerminal
	}
	name := env.getenv("TERM")
	s := screen.Detect(out, fd, c.Bool("no-color"), env.Around)
	tty := keys.Tty{In: env.In, InFD: env.InFD, Out: out, Now: env.Tick, Plain: name == "" || name == "dumb"}
	return keys.Use(env.Until(), tty, func(t *keys.Terminal) error {
		p := &panelTerminal{Terminal: t, env: env, bell: bell, paint: painter{colour: s.Color, dim: c.Bool("dim")}}
		return f(p)
	})
}

// show draws a panel in the size that the terminal has now.
func (p *panelTerminal) show(panel bench.Panel) error {
	size := bench.Size{Cols: 60, Rows: 24}
	fd := p.env.ErrFD
	if !p.env.terminal(fd) {
		fd = p.env.OutFD
	}
	if cols, rows, err := p.env.Around.Size(fd); err == nil && cols > 0 && rows > 0 {
		size = bench.Size{Cols: cols, Rows: rows}
	}
	if p.size != size {
		p.size = size
		if err := p.Redraw(); err != nil {
			return keys.ErrCutOff
		}
	}
	if err := p.Draw(p.paint.paint(panel.Lines(size))); err != nil {
		return keys.ErrCutOff
	}
	return nil
}

// tick is how often a running timer is drawn: often enough for its tenths, seldom enough for a phone on a thin line.
const tick = 100 * time.Millisecond

// takeTime lets a hand take a time. What was taken stands in the timer of the run.
func takeTime(env *Env, c *cli.Context, w watch, bell bench.Bell, r *timedRun) error {
	err := onTerminal(env, c, bell, func(p *panelTerminal) error { return p.take(w, r) })
	if errors.Is(err, keys.ErrNoTerminal) {
		return line.Refuse("time it by a watch and give --elapsed 4.2s", "the hand timer needs a terminal, and there is none here")
	}
	if err != nil && errors.Is(err, context.Canceled) {
		return context.Canceled
	}
	return err
}

// take shows a timer until its time is taken.
func (p *panelTerminal) take(w watch, r *timedRun) error {
	for r.timer.Taken() == nil {
		now := w.now()
		p.Bell(p.bell.Rings(r.timer.Beats(now)))
		if err := p.show(r.panel(now)); err != nil {
			return err
		}
		wait, ok := r.timer.Next(w.now())
		if wait = min(wait, tick); !ok {
			wait = -1
		}
		k, ok, err := p.Next(p.env.Until(), wait)
		switch {
		case err != nil:
			return err
		case !ok:
			continue
		case k.Leaves():
			return errLeft
		}
		left, err := r.key(k.Rune, w.at(k.At))
		if err != nil {
			return err
		}
		if left {
			return errLeft
		}
	}
	return nil
}
