package main

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// vanishBench is a folder with the book in one folder and all else in another, where commands are given.
func vanishBench(t *testing.T) (root string) {
	t.Helper()
	root = t.TempDir()
	here := filepath.Join(root, "here")
	require.NoError(t, os.Rename(failBench(t), here))
	require.NoError(t, os.Mkdir(filepath.Join(root, "shelf"), 0o700))
	require.NoError(t, os.Rename(filepath.Join(here, "book.db"), filepath.Join(root, "shelf", "book.db")))
	return root
}

// A folder is moved away, or removed with all in it, while a command is at work, at any moment at which it opens, writes
// or syncs a file: that of the book, or the one it was called in and writes to. It is told in a line with exit 1, or the
// work was done; the book is whole wherever it went, and nothing appears at the old place.
func TestAFolderThatVanishes(t *testing.T) {
	t.Parallel()
	program := asProgram(t, "traybook-watched")
	if !canWatch(t, program) {
		return
	}
	bench := vanishBench(t)
	before := entriesIn(t, filepath.Join(bench, "shelf", "book.db"))
	lines, moments := []string{"expose f/8 4s", "export csv --out tables"}, 2
	if rounds(t, 0, 1) > 0 {
		lines, moments = slices.Sorted(maps.Keys(syncing())), 12
	}
	told, done := 0, 0
	for _, line := range lines {
		try := func(stops func(root string, n int)) (root string, m *medium, code int, errs string) {
			root = copyFolder(t, bench)
			m = newMedium(t, t.TempDir(), nil)
			m.stops = func(n int) { stops(root, n) }
			c := command(t, program, filepath.Join(root, "shelf", "book.db"), strings.Fields(line)...)
			c.Dir = filepath.Join(root, "here")
			code, _, errs = m.run(t, c)
			return root, m, code, errs
		}
		whole, m, code, errs := try(func(string, int) {})
		require.Zero(t, code, "%s: %s", line, errs)
		after, committed := entriesIn(t, filepath.Join(whole, "shelf", "book.db")), m.firstSync
		for _, folder := range []string{"shelf", "here"} {
			for _, way := range []string{"moved", "removed"} {
				for i := range moments {
					at := 1 + i*m.stood/moments
					root, _, code, errs := try(func(root string, n int) {
						if n != at {
							return
						}
						place := filepath.Join(root, folder)
						if way == "removed" {
							assert.NoError(t, os.RemoveAll(place))
							return
						}
						assert.NoError(t, os.Rename(place, place+"-moved"))
					})
					what := fmt.Sprintf("%s, the folder %s %s at stop %d of %d", line, folder, way, at, m.stood)
					for _, unknown := range []string{"-part-", "getwd", "the disk failed"} {
						assert.NotContains(t, errs, unknown, what)
					}
					if code != 0 {
						told++
						assert.Equal(t, codeRefused, code, "%s: %s", what, errs)
						toldPlainly(t, what, errs)
					} else {
						done++
					}
					if code == 0 && folder == "shelf" && way == "removed" && onlyActs(line) {
						assert.Greater(t, at, committed, "%s: acknowledged, and in no book", what)
					}
					book := filepath.Join(root, "shelf", "book.db")
					if folder == "shelf" {
						book = filepath.Join(root, "shelf-moved", "book.db")
					}
					if !(folder == "shelf" && way == "removed") {
						wholeBook(t, book)
						switch n := entriesIn(t, book); {
						case code == 0:
							assert.Equal(t, after, n, what)
						case n != before:
							assert.Equal(t, after, n, what)
							assert.Contains(t, errs, "moved", what)
						}
					}
					if _, err := os.Lstat(filepath.Join(root, folder)); err == nil {
						t.Errorf("%s: the old place is there again: %v", what, allBelow(t, filepath.Join(root, folder)))
					}
				}
			}
		}
	}
	t.Logf("%d told, %d done", told, done)
}

// onlyActs says that the first sync of a command is that of its entries.
func onlyActs(line string) bool {
	return slices.Contains([]string{"note", "amend", "void", "tray", "expose", "meter", "sitter"}, strings.Fields(line)[0])
}

// The folder in which a command is given is gone before it begins: paths from the root are still good, others are refused
// in a line.
func TestTheWorkingFolderIsGone(t *testing.T) {
	t.Parallel()
	program := asProgram(t, "traybook")
	book := caseBook(t, "good-picture")
	before := entriesIn(t, book)
	scripts := 0
	for _, line := range append(slices.Sorted(maps.Keys(syncing())), "today", "verify", "pictures", "bench", "--help", "figure dilute 1+9 1l", "today --book book.db", "verify bag") {
		line = strings.ReplaceAll(strings.ReplaceAll(line, "2026-017", "2026-001"), "expose f/8 4s", "expose f/8 4s --box box-1")
		for _, way := range []string{"removed", "moved"}[:1+min(1, rounds(t, 0, 1))] {
			what := line + ", its folder " + way
			here := filepath.Join(t.TempDir(), "here")
			require.NoError(t, os.Mkdir(here, 0o700))
			// The shell takes the folder away under its own feet, and then becomes the program.
			gone := map[string]string{"moved": `mv "$PWD" "$PWD-moved"`, "removed": `rmdir "$PWD"`}[way]
			c := command(t, "/bin/sh", book, append([]string{"-c", gone + ` && exec "$0" "$@"`, program}, strings.Fields(line)...)...)
			c.Dir = here
			code, out, errs := ran(t, c)
			scripts++
			if code != 0 {
				assert.Contains(t, []int{codeRefused, codeUsage}, code, "%s: %s", what, errs)
				toldPlainly(t, what, errs)
				assert.NotContains(t, errs, "getwd", what)
				assert.NotContains(t, errs, "-part-", what)
			} else {
				assert.NotEmpty(t, out, what)
			}
			assert.NoDirExists(t, here, what)
		}
		wholeBook(t, book)
	}
	assert.Greater(t, entriesIn(t, book), before, "acts go on")
	assert.Greater(t, scripts, 20)
}

// The folder of the book goes while the guided run waits for a key: the next step is refused on the panel, and whoever
// leaves finds the terminal put back. No book appears at the old place, and nothing is in the one that was moved.
func TestTheBookVanishesUnderTheGuidedRun(t *testing.T) {
	t.Parallel()
	for way, vanish := range map[string]func(shelf string) error{
		"moved": func(shelf string) error { return os.Rename(shelf, shelf+"-moved") }, "removed": os.RemoveAll,
	} {
		t.Run(way, func(t *testing.T) {
			root := t.TempDir()
			shelf := filepath.Join(root, "shelf")
			require.NoError(t, os.Rename(filepath.Dir(harbour(t)), shelf))
			before := entriesIn(t, filepath.Join(shelf, "book.db"))
			h := sitDown(t, filepath.Join(shelf, "book.db"), "bench")
			h.sees("reading: ")
			require.NoError(t, vanish(shelf))
			h.types("8 1\r")
			h.sees("the book is no longer at")
			h.types("\x03") // ^C leaves from wherever it stands
			stuck := time.AfterFunc(time.Minute, func() { h.cmd.Process.Kill() })
			assert.GreaterOrEqual(t, h.leaves(), 0, "it did not leave")
			stuck.Stop()
			assert.NoDirExists(t, shelf)
			if way == "moved" {
				book := filepath.Join(shelf+"-moved", "book.db")
				wholeBook(t, book)
				assert.Equal(t, before, entriesIn(t, book))
			}
		})
	}
}
