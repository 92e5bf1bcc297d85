package main

import (
	"fmt"

	"traybook/cmd/traybook/screen"
)

// progress is one line on the stream for errors that tells how far a long work has come, where a person watches it.
type progress struct {
	env   *Env
	all   int
	done  int
	what  string
	shown bool
	on    bool
}

// newProgress begins the line of a work of so many steps. A work of one step has none.
func newProgress(env *Env, all int, what string) *progress {
	return &progress{env: env, all: all, what: what, on: all > 1 && env.terminal(env.ErrFD) && env.getenv("TERM") != "dumb"}
}

// step counts one step and says what was done in it.
func (p *progress) step(name string) {
	p.done++
	if !p.on {
		return
	}
	fmt.Fprint(p.env.Err, "\r"+screen.Truncate(fmt.Sprintf("%d of %d %s · %s", p.done, p.all, p.what, screen.Clean(name)), 78)+"\x1b[K")
	p.shown = true
}

// clear takes the line away, so that an answer can stand in its place.
func (p *progress) clear() {
	if p.shown {
		fmt.Fprint(p.env.Err, "\r\x1b[K")
		p.shown = false
	}
}
