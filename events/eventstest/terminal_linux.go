package eventstest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// Terminal is a pseudo-terminal, on which the program is tried as on a real one: the end of the person who types and
// sees, and the end that a program reads and writes.
type Terminal struct {
	Person, Program *os.File

	mu    sync.Mutex
	shown bytes.Buffer
	since int           // of what was shown, how much was waited for
	more  chan struct{} // closed when more is shown
}

// OpenTerminal opens a pseudo-terminal of so many columns and rows.
func OpenTerminal(cols, rows uint16) (*Terminal, error) {
	person, program, err := pty.Open()
	if err != nil {
		return nil, err
	}
	return &Terminal{Person: person, Program: program, more: make(chan struct{})}, pty.Setsize(person, &pty.Winsize{Cols: cols, Rows: rows})
}

// Cooked says whether the terminal echoes what is typed and turns keys into signals, as it does when no program reads
// single keys.
func (t *Terminal) Cooked() (bool, error) {
	now, err := unix.IoctlGetTermios(int(t.Person.Fd()), unix.TCGETS)
	if err != nil {
		return false, err
	}
	want := uint32(unix.ECHO | unix.ICANON | unix.ISIG)
	return now.Lflag&want == want, nil
}

// Start starts a program on the terminal, as its own session, and gathers what it shows.
func (t *Terminal) Start(cmd *exec.Cmd) error {
	cmd.Stdin, cmd.Stdout, cmd.Stderr = t.Program, t.Program, t.Program
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true, Ctty: 0}
	heard := make(chan os.Signal, 1) // what the tests were started with may ignore them, and the program would, too
	signal.Notify(heard, syscall.SIGINT, syscall.SIGHUP)
	defer signal.Stop(heard)
	if err := cmd.Start(); err != nil {
		return err
	}
	t.Watch()
	return nil
}

// Watch gathers what is shown until the terminal is closed.
func (t *Terminal) Watch() {
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := t.Person.Read(buf)
			t.mu.Lock()
			t.shown.Write(buf[:n])
			close(t.more)
			t.more = make(chan struct{})
			t.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
}

// Shown is everything shown so far.
func (t *Terminal) Shown() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.shown.String()
}

// Wait waits until a text is shown that was not waited for yet.
func (t *Terminal) Wait(text string, most time.Duration) error {
	late := time.After(most)
	for {
		t.mu.Lock()
		rest, more := t.shown.String()[t.since:], t.more
		if i := strings.Index(rest, text); i >= 0 {
			t.since += i + len(text)
			t.mu.Unlock()
			return nil
		}
		t.mu.Unlock()
		select {
		case <-more:
		case <-late:
			return fmt.Errorf("%q was not shown, but %q", text, rest)
		}
	}
}
