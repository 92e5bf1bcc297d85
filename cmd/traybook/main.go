// Command traybook is the lab notebook of a photographer whose camera has its darkroom inside.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
	"time"
)

func main() {
	frugal()
	os.Exit(serve())
}

// roomForValues bounds what the program's values take before it looks harder for those that are no longer needed. With
// SQLite's share a working life is taken in within half a gigabyte.
const roomForValues = 320 << 20

// frugal has memory collected late: a look at the book ends before it would pay.
func frugal() {
	debug.SetGCPercent(400)
	debug.SetMemoryLimit(roomForValues)
}

// serve obeys the command line. A signal asks it to wind up; else it is left where it stands, which a book survives.
func serve() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	done := context.AfterFunc(ctx, func() {
		time.Sleep(500 * time.Millisecond)
		os.Exit(codeStopped)
	})
	defer done()
	return run(machine(ctx))
}
