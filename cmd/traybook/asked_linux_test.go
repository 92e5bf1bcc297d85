package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// A number alone is asked at a terminal, and one press says what it means.
func TestANumberAloneIsAsked(t *testing.T) {
	t.Parallel()
	eventstest.Within(t)
	book := harbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	for _, c := range []struct {
		name, line, press string
		code              int
		sees              string
	}{
		{"the picture", "judge keep 1", "p", codeDone, "2026-001n: keep"},
		{"more exposure", "judge redo thin 2", "+", codeDone, "2026-001n: redo, thin, asks for +2 stops"},
		{"less exposure, behind a key that is none", "judge redo too-dark 1/2", "x-", codeDone, "asks for −0.5 stop"},
		{"a step", "judge keep 4", "s", codeDone, "2026-001n: keep"},
		{"left", "judge reject 1", "q", codeRefused, "left without an answer; nothing was written"},
		{"interrupted", "judge reject 1", "\x03", codeStopped, "stopped by hand; nothing was written"},
		{"two of them", "judge reject 1 2", "s", codeUsage, "write 2n or 2p1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := sitDown(t, book, strings.Fields(c.line)...)
			h.sees("leave; nothing is written")
			h.types(c.press)
			h.sees(c.sees)
			assert.Equal(t, c.code, h.leaves())
		})
	}
	written := tell(t, book, "export", "events", "--out", "-")
	assert.Equal(t, 4, strings.Count(written, `"sheet.judged"`))
	assert.Equal(t, 1, strings.Count(written, `"step":4`))
	assert.NotContains(t, written, "reject")
}

// Where lines wait in the terminal nothing is asked: they are the commands that follow, and stay for whoever reads them.
func TestNothingIsAskedWhereLinesWait(t *testing.T) {
	t.Parallel()
	eventstest.Within(t)
	for _, c := range []struct {
		name, line string
		code       int
		sees       string
	}{
		{"a new book", "init --book %s", codeDone, "zone=Europe/Oslo owner=NAME"},
		{"a number alone", "judge keep 1 --book %s", codeUsage, "write 1n or 1p1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			book := harbour(t)
			if c.code == codeDone {
				book = filepath.Join(t.TempDir(), "new.db")
			}
			term, err := eventstest.OpenTerminal(80, 24)
			require.NoError(t, err)
			t.Cleanup(func() { term.Person.Close(); term.Program.Close() })
			_, err = term.Person.WriteString("traybook today\n")
			require.NoError(t, err)
			cmd := started(t, book, strings.Fields(fmt.Sprintf(c.line, book))...)
			cmd.Env = append(cmd.Env, "TERM=xterm", "TZ=Europe/Athens")
			require.NoError(t, term.Start(cmd))
			require.NoError(t, term.Wait(c.sees, time.Minute))
			cmd.Wait()
			assert.Equal(t, c.code, cmd.ProcessState.ExitCode())
			assert.NotContains(t, term.Shown(), "Time zone of the place")
			next := make([]byte, 64)
			n, err := term.Program.Read(next)
			require.NoError(t, err)
			assert.Equal(t, "traybook today\n", string(next[:n]))
		})
	}
}

// Where no stop and no water is mixed, the rinse of a tray is asked for in one press.
func TestTheRinseOfATrayIsAskedFor(t *testing.T) {
	t.Parallel()
	eventstest.Within(t)
	book := filepath.Join(t.TempDir(), "book.db")
	for _, l := range []string{
		"init --zone Europe/Oslo --owner Oda", "camera describe harbour --focal 135mm --f-widest 5.6 --f-smallest 32",
		"paper receive 9x12cm 25 sheets rc --name Harbour --index 3", "bath mix developer 1l 60s", "bath mix fixer 1l 60s",
	} {
		tell(t, book, strings.Fields(l)...)
	}
	for _, c := range []struct {
		press  string
		code   int
		sees   string
		rinsed int
	}{{"w", codeDone, "rinsed", 1}, {"n", codeDone, "fixed 60 s", 1}, {"q", codeRefused, "nothing was written", 1}} {
		tell(t, book, "expose", "f/8", "4s")
		h := sitDown(t, book, "tray")
		h.sees("How was it rinsed?")
		h.sees("leave; nothing is written")
		h.types(c.press)
		h.sees(c.sees)
		assert.Equal(t, c.code, h.leaves())
		assert.Equal(t, c.rinsed, strings.Count(tell(t, book, "export", "events", "--out", "-"), `"sheet.rinsed"`), c.press)
	}
}

// The demo says at once that it is at work.
func TestDemoShowsThatItWorks(t *testing.T) {
	t.Parallel()
	eventstest.Within(t)
	h := sitDown(t, filepath.Join(t.TempDir(), "none.db"), "demo", "--out", filepath.Join(t.TempDir(), "skerrow"))
	for _, part := range []string{"1 of 5 parts under way · the book of a season", "2 of 5 parts under way · drawn scans", "3 of 5", "4 of 5 parts under way · the log as pages", "5 of 5", "Try next:"} {
		require.NoError(t, h.term.Wait(part, 5*time.Minute)) // all of a season is drawn
	}
	assert.Zero(t, h.leaves())
}
