package main

import (
	"context"
	"errors"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/bench/keys"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
)

// choice is one answer to a question: a key, and what it means.
type choice struct {
	key  rune
	says string
}

// askKey puts a question that one press answers, on the stream for everything but data. The book is closed meanwhile.
// Errors: a refusal where the person leaves, keys.ErrNoTerminal where nobody can be asked.
func askKey(env *Env, c *cli.Context, question string, choices ...choice) (rune, error) {
	if !env.canAsk() || !env.terminal(env.ErrFD) {
		return 0, keys.ErrNoTerminal
	}
	s := screen.Detect(env.Err, env.ErrFD, c.Bool("no-color"), env.Around)
	s.Say(screen.Plain, question)
	for _, x := range append(choices, choice{'q', "leave; nothing is written"}) {
		s.Hang(screen.Plain, "  "+string(x.key)+"  ", x.says)
	}
	var pressed rune
	tty := keys.Tty{In: env.In, InFD: env.InFD, Out: env.Err, Now: env.Tick, Plain: true}
	err := keys.Use(env.Until(), tty, func(t *keys.Terminal) error {
		for {
			k, ok, err := t.Next(env.Until(), -1)
			switch {
			case err != nil:
				return err
			case !ok:
				continue
			case k.Leaves() || k.Rune == 'q' || k.Rune == 'Q' || k.Rune == keys.Escape:
				return errLeft
			}
			for _, x := range choices {
				if strings.EqualFold(string(x.key), string(k.Rune)) {
					pressed = x.key
					return nil
				}
			}
		}
	})
	switch {
	case errors.Is(err, errLeft):
		return 0, line.Refuse("", "left without an answer; nothing was written")
	case errors.Is(err, context.Canceled):
		return 0, context.Canceled
	}
	return pressed, err
}

// asking is inContext for an act whose words may be unclear: what one means is asked, and the act done again with the
// answer. Where nobody can be asked it is refused, and so is a second one: a terminal's keys are read once in a run.
func asking(env *Env, c *cli.Context, f func(*actContext) error) error {
	err := inContext(env, c, f)
	var unclear *line.Unclear
	if !errors.As(err, &unclear) {
		return err
	}
	var choices []choice
	for _, m := range unclear.Means {
		choices = append(choices, choice{m.Key, m.Says})
	}
	key, no := askKey(env, c, "What does "+line.Quote(unclear.Word)+" mean?", choices...)
	switch {
	case errors.Is(no, keys.ErrNoTerminal):
		return err
	case no != nil:
		return no
	}
	i := slices.IndexFunc(unclear.Means, func(m line.Meaning) bool { return m.Key == key })
	return inContext(env, c, func(ac *actContext) error {
		ac.meant = &unclear.Means[i]
		return f(ac)
	})
}
