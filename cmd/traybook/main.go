// Command traybook is the lab notebook of a photographer whose camera has its darkroom inside.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"slices"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"traybook/events/atomicfile"
)

func main() {
	frugal()
	// A reader that leaves is an error of writing like any other, not the end of the program in the middle of an act.
	signal.Ignore(syscall.SIGPIPE)
	os.Exit(run(stoppable()))
}

// roomForValues bounds what the program's values take before it looks harder for those that are no longer needed. With
// SQLite's share a working life is taken in within half a gigabyte.
const roomForValues = 320 << 20

// frugal has memory collected late: a look at the book ends before it would pay.
func frugal() {
	debug.SetGCPercent(400)
	debug.SetMemoryLimit(roomForValues)
}

// collectEarly is for long work that makes much and holds little, such as pages with many scans: its memory follows what it
// holds, and its time is that of the scans.
func collectEarly() {
	debug.SetGCPercent(40)
	debug.SetMemoryLimit(roomForValues * 2 / 3)
}

// stopper ends the program when a signal asks it to: what grows goes, one line says so. Listening takes as long as a look
// at the book, so it begins only when something is made that would be left behind, or where work is long.
type stopper struct {
	once  sync.Once
	ctx   context.Context
	winds atomic.Bool // the command winds up by itself, given a moment
	kept  atomic.Bool // the book was changed, or is about to be
	end   func()
}

// moment to wind up.
const windingUp = 2 * time.Second

// stoppable is the running process, which can be asked to stop.
func stoppable() Env {
	s := &stopper{}
	env := machine(s.until)
	s.end = func() {
		named := atomicfile.Stop()
		env.written = named || s.kept.Load()
		if env.terminal(env.ErrFD) { // a line of progress may stand there
			io.WriteString(env.Err, "\r\x1b[K")
		}
		flags, _, _ := cutDashes(env.Args)
		tellFailure(env, context.Canceled, slices.Contains(flags, "--json"))
		os.Exit(codeStopped)
	}
	atomicfile.Begin = s.listen
	heard := env
	heard.Listen = s.listen
	heard.LastWord = sync.OnceFunc(func() { atomicfile.Stop() }) // telling may fail, and is told then
	heard.committing = func() { s.kept.Store(true) }
	return heard
}

func (s *stopper) listen() {
	s.once.Do(func() {
		var asked []os.Signal
		for _, sig := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
			if !signal.Ignored(sig) { // as nohup has it
				asked = append(asked, sig)
			}
		}
		s.ctx = context.Background()
		if len(asked) == 0 {
			return
		}
		ctx, stop := signal.NotifyContext(s.ctx, asked...)
		s.ctx = ctx
		context.AfterFunc(s.ctx, func() {
			stop() // who asks a second time does not want to wait for the moment
			if s.winds.Load() {
				time.Sleep(windingUp)
			}
			s.end()
		})
	})
}

// until gives what is done when the program is asked to stop, to a command that then winds up by itself.
func (s *stopper) until() context.Context {
	s.winds.Store(true)
	s.listen()
	return s.ctx
}
