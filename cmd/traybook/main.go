// Command traybook is the lab notebook of a photographer whose camera has its darkroom inside.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime/debug"
	"sync"
	"syscall"
	"time"
)

func main() {
	frugal()
	// A reader that leaves is an error of writing like any other, not the end of the program in the middle of an act.
	signal.Ignore(syscall.SIGPIPE)
	os.Exit(run(machine(sync.OnceValue(asked))))
}

// roomForValues bounds what the program's values take before it looks harder for those that are no longer needed. With
// SQLite's share a working life is taken in within half a gigabyte.
const roomForValues = 320 << 20

// frugal has memory collected late: a look at the book ends before it would pay.
func frugal() {
	debug.SetGCPercent(400)
	debug.SetMemoryLimit(roomForValues)
}

// asked begins to listen for signals: what it gives is done when one asks the program to stop. It then has a moment to
// wind up. Listening takes as long as a look at the book, so most runs do without.
func asked() context.Context {
	ctx, _ := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	context.AfterFunc(ctx, func() {
		time.Sleep(500 * time.Millisecond)
		os.Exit(codeStopped)
	})
	return ctx
}
