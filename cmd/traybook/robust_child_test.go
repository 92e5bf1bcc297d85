package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// roles are what the test binary does under another name: it is the program, or a hand that uses it.
var roles = map[string]func(){"traybook": main, "traybook-acts": actAfterAct}

// unfixed is the exit code of a role that a test started without a moment for a clock. No program of ours ends so.
const unfixed = 97

// fixed is a role that runs at a moment that its test gives it, and at no other: what the program does may depend on the
// day, and a test that passes today must pass on every other.
func fixed(role func()) func() {
	return func() {
		if os.Getenv("TRAYBOOK_NOW") == "" {
			fmt.Fprintln(os.Stderr, "a test started the program without TRAYBOOK_NOW: start it by command, or leave the variable to the script")
			os.Exit(unfixed)
		}
		role()
	}
}

func TestTheProgramIsNeverStartedWithoutAFixedNow(t *testing.T) {
	t.Parallel()
	for role := range roles {
		c := command(t, asProgram(t, role), filepath.Join(t.TempDir(), "book.db"), "--version")
		c.Env = append(c.Env, "TRAYBOOK_NOW=")
		code, out, errs := ran(t, c)
		assert.Equal(t, unfixed, code, role)
		assert.Empty(t, out, role)
		assert.Contains(t, errs, "without TRAYBOOK_NOW", role)
	}
}

// asProgram gives the test binary under the name of a role.
func asProgram(t testing.TB, role string) string {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	program := filepath.Join(t.TempDir(), role)
	require.NoError(t, os.Symlink(self, program))
	return program
}

// rounds gives the number of rounds: few in every run, many with TRAYBOOK_LONG=1, any with TRAYBOOK_KILLS.
func rounds(_ testing.TB, short, long int) int {
	if n, err := strconv.Atoi(os.Getenv("TRAYBOOK_KILLS")); err == nil {
		return n
	}
	if os.Getenv("TRAYBOOK_LONG") == "1" {
		return long
	}
	return short
}

// actAfterAct writes one act after another, each as the program would, and answers each when it is safe.
func actAfterAct() {
	for i := 0; ; i++ {
		for _, act := range [][]string{
			{"note", "2026-001", fmt.Sprint("act ", i)}, {"expose", "f/8", "4s", "--box", "box-1"}, {"amend", "last", "distance=2.5m"}, {"void", "last"}, {"mark"},
		} {
			env := machine(context.Background)
			env.Args = append(act, "--json")
			if code := run(env); code != 0 {
				os.Exit(code)
			}
		}
	}
}

// ran is one run of the real program: its exit code, negative where it was killed, and what it said.
func ran(t testing.TB, c *exec.Cmd) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	if c.Stdout == nil {
		c.Stdout = &o
	}
	c.Stderr = &e
	err := c.Run()
	var ended *exec.ExitError
	if err != nil {
		require.True(t, errors.As(err, &ended), "%v", err)
	}
	return c.ProcessState.ExitCode(), o.String(), e.String()
}

// entriesIn counts the entries of a book.
func entriesIn(t testing.TB, book string) int {
	t.Helper()
	code, out, errs := obeyed(t, book, "export", "events", "--out", "-")
	require.Zero(t, code, errs)
	return bytes.Count([]byte(out), []byte("\n"))
}

// wholeBook wants verify to find nothing.
func wholeBook(t testing.TB, book string) {
	t.Helper()
	wholeAtEnd(t, book)
	require.FileExists(t, book)
	require.Empty(t, unsound(book), book)
}

// copyFolder copies a folder of plain files, with their permissions.
func copyFolder(t testing.TB, from string) string {
	t.Helper()
	to := t.TempDir()
	require.NoError(t, os.CopyFS(to, os.DirFS(from)))
	return to
}
