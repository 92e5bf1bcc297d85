package main

import (
	"os"
	"os/exec"
)

// command is the real program on a book, with the clock of the tests.
func command(program, book string, args ...string) *exec.Cmd {
	c := exec.Command(program, args...)
	c.Env = append(os.Environ(), "TRAYBOOK_BOOK="+book, "TRAYBOOK_NOW=2026-07-01T09:00:00+02:00")
	return c
}
