// Package eventstest is what the tests of every package share and the program does not link: a program that is started
// with a clock that stands and a limit to every wait, on a terminal where it is asked for; a record of what this machine
// does not let them try; working lives as lines; a book that gives one answer less; a document as text.
package eventstest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime/debug"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Now is the moment at which a program that a test starts believes to be.
const Now = "2026-07-01T09:00:00+02:00"

// limit is how long a program or a wait may take: far beyond what a busy machine needs, so that only what hangs meets it.
func limit() time.Duration {
	if os.Getenv("TRAYBOOK_LONG") != "" {
		return 2 * time.Hour
	}
	return 8 * time.Minute
}

// Command is a program to be started by a test, with the clock at Now. One that has not ended at the limit is sent QUIT,
// at which a Go program writes to its standard error where each of its parts waits, and fails the test.
func Command(t testing.TB, program string, args ...string) *exec.Cmd {
	t.Helper()
	ctx, stop := context.WithTimeout(context.Background(), limit())
	t.Cleanup(stop)
	c := exec.CommandContext(ctx, program, args...)
	c.Env = append(os.Environ(), "TRAYBOOK_NOW="+Now)
	c.WaitDelay = 10 * time.Second
	c.Cancel = func() error {
		if errors.Is(ctx.Err(), context.DeadlineExceeded) {
			t.Errorf("%s %.200q has not ended after %v: its standard error says where it waits", program, args, limit())
			return c.Process.Signal(syscall.SIGQUIT)
		}
		return c.Process.Kill()
	}
	return c
}

// Within ends the test process, and tells where each of its parts waits, when the rest of a test takes longer than the
// limit. go test does so itself, but not while it fuzzes.
func Within(t testing.TB) {
	t.Helper()
	name := t.Name()
	late := time.AfterFunc(limit(), func() {
		debug.SetTraceback("all")
		panic(fmt.Sprintf("%s has not ended after %v", name, limit()))
	})
	t.Cleanup(func() { late.Stop() })
}

// PassedOver tells what a test could not try here, and why, in the file too that TRAYBOOK_PASSED_OVER names: what is not
// tried must not pass for tried.
func PassedOver(what, why string) error {
	path := os.Getenv("TRAYBOOK_PASSED_OVER")
	if path == "" {
		return nil
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, "%s: %s\n", what, strings.Join(strings.Fields(why), " "))
	return errors.Join(err, f.Close())
}
