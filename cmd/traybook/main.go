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

// serve obeys the command line. A signal asks it to wind up; else it is left where it stands, which a book survives.
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
