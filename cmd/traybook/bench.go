package main

import (
	"context"
	"errors"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/bench"
	"traybook/cmd/traybook/bench/keys"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events/sqlite"
)

func benchCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "bench", Usage: "the guided run with the hand timers: meter, expose, develop, rinse, fix, keep or redo, copy, wash",
		Category:  forActs,
		UsageText: lines("traybook bench", "traybook bench --bell off --dim"),
		Description: "One picture after another in one terminal, on a laptop or a phone. Space or enter goes on, b goes back, m marks the moment\n" +
			"for a note later, q leaves at any step; every step is written at once, and coming back goes on where it was. A reading is\n" +
			"typed as 8 4 for f/8 and 4 s. Several sheets may be exposed before the first is developed: n takes the next picture, w\n" +
			"goes round what waits. At the cap space counts in and, when it is done, says that it was as planned; + and - correct by a\n" +
			"tenth; t times it by two presses. In the trays space says in and out. A time under a third of what is called for, or over\n" +
			"three times as long, is asked about: space goes on counting, y says that it was so. b over a step that is written offers\n" +
			"to take it back. What wants words is listed in the evening by traybook today.\n\n" +
			"The first press of a cap, a tray or a wash is in the book before the screen changes. Whatever cuts the run, its clock runs\n" +
			"on, and the next run, --timer and traybook today come back to it: o tells when the sheet was out or the cap on, x that it\n" +
			"never was in or off; w leaves it running and goes elsewhere. An act that is typed with the time of its clock, such as\n" +
			"traybook develop 58s --at 14:47, ends it as well.",
		Flags: []cli.Flag{bellFlag(), dimFlag()},
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			bell, err := bellOf(c)
			if err != nil {
				return err
			}
			w := newWatch(env)
			return withBook(env, c, false, func(book *sqlite.Book) error {
				err := runBench(env, c, w, bell, book)
				if errors.Is(err, keys.ErrNoTerminal) {
					return line.Refuse("the same one by one: `traybook meter`, `traybook expose`, `traybook develop`, `traybook rinse`, `traybook fix`, `traybook judge`", "the guided run needs a terminal, and there is none here")
				}
				return err
			})
		},
	}
}

// runBench runs the machine on the terminal. Whoever leaves, or is cut off, is told what runs on.
func runBench(env *Env, c *cli.Context, w watch, bell bench.Bell, book *sqlite.Book) error {
	m, err := bench.New(&benchDoor{env: env, c: c, book: book}, w.now())
	if err != nil {
		return err
	}
	err = onTerminal(env, c, bell, func(p *panelTerminal) error { return p.loop(m, w) })
	if errors.Is(err, context.Canceled) || errors.Is(err, errLeft) {
		tellRunning(env, c, m.Left(w.now()))
	}
	if errors.Is(err, errLeft) {
		return nil
	}
	return err
}

// tellRunning says what runs on, where the screen was.
func tellRunning(env *Env, c *cli.Context, running []string) {
	s := screen.Detect(env.Err, env.ErrFD, c.Bool("no-color"), env.Around)
	for _, text := range running {
		s.Hang(screen.Plain, "", text)
	}
}

// lookEvery is how often the run looks whether another device or window wrote into the book.
const lookEvery = time.Second

// loop feeds keys to the machine and shows what it shows.
func (p *panelTerminal) loop(m *bench.Machine, w watch) error {
	looked := w.now().Run
	for {
		now := w.now()
		if now.Run-looked >= lookEvery {
			looked = now.Run
			if err := m.Refresh(now); err != nil {
				return err
			}
		}
		p.Bell(p.bell.Rings(m.Beats(now)))
		if err := p.show(m.Panel(now)); err != nil {
			return err
		}
		wait, ok := m.Pause(w.now())
		if wait = min(wait, tick); !ok {
			wait = lookEvery
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
		r := k.Rune
		switch {
		case r == keys.Left:
			r = keys.Backspace
		case r == keys.Right:
			r = keys.Enter
		case r == keys.Up:
			r = '+'
		case r == keys.Down:
			r = '-'
		case (r == 'd' || r == 'D') && !m.Typing():
			p.paint.dim = !p.paint.dim
			continue
		}
		left, err := m.Key(r, w.at(k.At))
		if err != nil {
			return err
		}
		if left {
			return errLeft
		}
	}
}
