//go:build linux

// Package pty opens pseudo-terminals, on which the program is tried as on a real one.
package pty

import (
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// Pair are the two ends of a pseudo-terminal: what a person types and sees, and what a program reads and writes.
type Pair struct{ Person, Program *os.File }

// Open opens a pseudo-terminal of so many columns and rows.
func Open(cols, rows int) (*Pair, error) {
	person, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		return nil, err
	}
	fd := int(person.Fd())
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		return nil, err
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		return nil, err
	}
	program, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		return nil, err
	}
	p := &Pair{Person: person, Program: program}
	return p, p.Resize(cols, rows)
}

// Resize gives the terminal so many columns and rows.
func (p *Pair) Resize(cols, rows int) error {
	return unix.IoctlSetWinsize(int(p.Person.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Col: uint16(cols), Row: uint16(rows)})
}

// Cooked says whether the terminal echoes what is typed and turns keys into signals, as it does when no program reads
// single keys.
func (p *Pair) Cooked() (bool, error) {
	t, err := unix.IoctlGetTermios(int(p.Person.Fd()), unix.TCGETS)
	if err != nil {
		return false, err
	}
	want := uint32(unix.ECHO | unix.ICANON | unix.ISIG)
	return t.Lflag&want == want, nil
}
