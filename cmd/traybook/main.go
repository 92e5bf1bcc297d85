// Command traybook is the lab notebook of a photographer whose camera has its darkroom inside.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
)

func main() { os.Exit(serve()) }

// serve runs the command line of the process. A signal asks the command to wind up; one that does not within the grace
// is left where it stands, for a book survives that.
func serve() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	done := make(chan int, 1)
	go func() { done <- run(machine(ctx)) }()
	select {
	case code := <-done:
		return code
	case <-ctx.Done():
	}
	select {
	case code := <-done:
		return code
	case <-time.After(500 * time.Millisecond):
		return codeStopped
	}
}
