package eventstest

import (
	"os"
	"runtime"
	"syscall"
)

// WithoutRights runs f as one whom the permissions of files bind, which they do not where root runs a test.
func WithoutRights(f func() error) error {
	if os.Geteuid() != 0 {
		return f()
	}
	failed := make(chan error, 1)
	go func() {
		defer close(failed)
		runtime.LockOSThread() // never unlocked: the thread ends with the goroutine, and its changed user with it
		if err := syscall.Setfsuid(65534); err != nil {
			failed <- err
			return
		}
		failed <- f()
	}()
	return <-failed
}
