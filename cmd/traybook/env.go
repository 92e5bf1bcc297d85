package main

import (
	"context"
	"io"
	"os"
	"time"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
)

// Env is everything that the program takes from the world around it. Nothing else reads the clock, the environment or
// the streams of the process.
type Env struct {
	Args     []string // the words after the program's name
	In       io.Reader
	Out, Err io.Writer
	InFD     int // descriptors of the streams, negative for none
	OutFD    int
	ErrFD    int
	Around   screen.Surroundings
	Now      func() time.Time
	Tick     func() time.Time // the clock by which hand timers measure: it carries a monotonic reading and never stands
	Local    *time.Location   // the machine's own zone
	// Until gives what is done when the program is asked to stop. Who can wind up asks for it.
	Until func() context.Context
	// Listen has the program end with a line when it is asked to stop, nil for nobody who asks. Until it is called, and
	// nothing grows, a signal ends the program where it stands, which a book survives.
	Listen func()
	// LastWord is called before an error is told: from then on the program is not stopped by hand any more. nil for none.
	LastWord func()
	// committing is called before the opened book keeps a change, nil for nobody who asks.
	committing func()

	// page, where a page asked for the act and not a hand, keeps what the page shows in its own way; nil for a hand.
	page *pageAct

	// written: the book was changed, or a file has its name. Nothing that fails afterwards may be told as a refusal.
	written bool
	// clockBack is what the opened book tells of a clock that stood before its last entry; nil before one is opened.
	clockBack func() *sqlite.ClockBack
	// undrawn is the line that was told of characters which no typeface could draw; "" for none.
	undrawn string
}

// machine is the world of the running process.
func machine(until func() context.Context) Env {
	return Env{
		Args: os.Args[1:], In: os.Stdin, Out: os.Stdout, Err: os.Stderr,
		InFD: int(os.Stdin.Fd()), OutFD: int(os.Stdout.Fd()), ErrFD: int(os.Stderr.Fd()),
		Around: screen.Machine(), Now: time.Now, Tick: time.Now, Local: time.Local, Until: until,
	}
}

// getenv reads a variable; one that is not set reads as empty.
func (e *Env) getenv(key string) string {
	v, _ := e.Around.Lookup(key)
	return v
}

// pageAct is what a page takes from an act beside its sentences.
type pageAct struct {
	back  []string     // the words that take it back: a page has a button for them
	wrong error        // why it was refused
	book  *sqlite.Book // already open, where several acts are written together; nil for one that is opened for the act
	batch events.ID    // shared by such acts
}

// together says that acts of a page are written together, in a book that is open.
func (e *Env) together() bool { return e.page != nil && e.page.book != nil }

// takeBack tells how an act is taken back: by a line, or by the page that asked for the act.
func (e *Env) takeBack(how, words, id string) string {
	if e.page != nil {
		e.page.back = []string{id, words}
		return ""
	}
	return how + ": traybook " + words + id
}

// terminal tells whether a person sits at a stream.
func (e *Env) terminal(fd int) bool { return fd >= 0 && e.Around.IsTerminal(fd) }

// canAsk tells whether a person sits there who can be asked: at both ends of a terminal, with nothing typed ahead. Lines
// that wait there are the commands that follow, not the answer.
func (e *Env) canAsk() bool {
	return e.terminal(e.InFD) && (e.Around.Waiting == nil || !e.Around.Waiting(e.InFD))
}

// long says that the work may take long, so that whoever stops it is told that it was stopped.
func (e *Env) long() {
	if e.Listen != nil {
		e.Listen()
	}
}

// setClock puts the moment that TRAYBOOK_NOW names in the place of the clock.
func (e *Env) setClock() error {
	text := e.getenv("TRAYBOOK_NOW")
	if text == "" {
		return nil
	}
	at, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		return line.WrongLine(line.Refuse("set it to a time such as 2026-05-03T14:05:10+02:00, or unset it",
			"TRAYBOOK_NOW is %s, which is no time", line.Quote(text)))
	}
	e.Now = func() time.Time { return at }
	return nil
}

// zone is the zone in which bare times are meant before a book is there to say: that of TZ, else that of the clock set
// by TRAYBOOK_NOW, else the machine's.
func (e *Env) zone() *time.Location {
	if z, err := line.Zone(e.getenv("TZ")); err == nil {
		return z
	}
	if e.getenv("TRAYBOOK_NOW") != "" || e.Local == nil {
		return e.Now().Location()
	}
	return e.Local
}
