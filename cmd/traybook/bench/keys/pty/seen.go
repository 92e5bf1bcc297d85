//go:build linux

package pty

import (
	"bytes"
	"fmt"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"time"
)

// Seen gathers what a person at the terminal was shown.
type Seen struct {
	mu    sync.Mutex
	all   bytes.Buffer
	since int
}

// Start starts a program on the terminal, as its own session, and gathers what it shows.
func (p *Pair) Start(cmd *exec.Cmd) (*Seen, error) {
	cmd.Stdin, cmd.Stdout, cmd.Stderr = p.Program, p.Program, p.Program
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true, Ctty: 0}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	return p.Watch(), nil
}

// Watch gathers what is shown until the terminal is closed.
func (p *Pair) Watch() *Seen {
	s := &Seen{}
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := p.Person.Read(buf)
			s.mu.Lock()
			s.all.Write(buf[:n])
			s.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	return s
}

// Text is everything shown so far.
func (s *Seen) Text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.all.String()
}

// Wait waits until a text is shown that was not waited for yet.
func (s *Seen) Wait(text string, most time.Duration) error {
	for end := time.Now().Add(most); ; time.Sleep(2 * time.Millisecond) {
		s.mu.Lock()
		rest := s.all.String()[s.since:]
		if i := strings.Index(rest, text); i >= 0 {
			s.since += i + len(text)
			s.mu.Unlock()
			return nil
		}
		s.mu.Unlock()
		if time.Now().After(end) {
			return fmt.Errorf("%q was not shown, but %q", text, rest)
		}
	}
}
