// Command traybook is the lab notebook of a photographer whose camera has its darkroom inside.
package main

import (
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
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
