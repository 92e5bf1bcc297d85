package main

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/events/sqlite"
)

// erases runs an erasure at a terminal at which these lines are typed, none for no terminal.
func erases(book, typed string, args ...string) (code int, out, errs string) {
	env, stdout, stderr := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": eventstest.Now}, append([]string{"erase"}, args...)...)
	if typed != "" {
		env.In, env.InFD = strings.NewReader(typed), 0
		env.Around.IsTerminal = func(fd int) bool { return fd == 0 }
	}
	code = run(env)
	return code, stdout.String(), stderr.String()
}

// What cannot be taken back is asked before it is done, with what goes and what stays; without a terminal it is done for
// nobody who has not said that it is meant.
func TestAnErasureIsAskedFor(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	book := filepath.Join(dir, "book.db")
	does(t, book, "import", "../../testdata/cases/print-under-washed.ndjson")
	does(t, book, "sitter", "add", "Asta Vik")
	does(t, book, "sitter", "add", "sitter-1", "--name", "Asta Holm", "--contact", "the pilot house")
	does(t, book, "note", "2026-001", "Asta Holm blinked", "--even-so")
	leftInPlace(t, book, "/scans/asta_holm.jpg")
	listed := func() string { return does(t, book, "sitter", "list") }
	before := entriesIn(t, book)

	code, out, errs := erases(book, "", "Asta Holm")
	assert.Equal(t, codeRefused, code)
	assert.Empty(t, out)
	assert.Contains(t, errs, "nothing was erased")
	assert.Contains(t, errs, "traybook erase sitter-1 --yes")
	for _, typed := range []string{"\n", "no\n", "nonsense\n", "y e s\n"} {
		code, out, errs = erases(book, typed, "asta holm")
		assert.Equal(t, codeRefused, code, typed)
		assert.Empty(t, out)
		for _, goes := range []string{"sitter-1: Asta Holm", "contact the pilot house", "borne before: Asta Vik", "paths of 1 scan", "1 entry holds the name in its text", "Asta Holm blinked", "yes or no [no]", "nothing was erased"} {
			assert.Contains(t, errs, goes, typed)
		}
	}
	code, _, errs = erases(book, " ", "asta holm")
	assert.Equal(t, codeRefused, code)
	assert.Contains(t, errs, "cut off; nothing was erased")
	require.Contains(t, listed(), "Asta Holm")
	require.Equal(t, before, entriesIn(t, book))

	code, out, errs = erases(book, "Yes\n", "Asta Holm")
	assert.Equal(t, codeRefused, code, "her name stands in a text: %s", errs)
	assert.Contains(t, out, "sitter-1 is erased")
	assert.NotContains(t, listed(), "Asta Holm")

	does(t, book, "sitter", "add", "Tora Dahl")
	code, _, errs = erases(book, "y\n", "Tora Dahl")
	assert.Equal(t, codeDone, code, errs)
	does(t, book, "sitter", "add", "Liv Moe")
	code, _, errs = erases(book, "", "Liv Moe", "--yes")
	assert.Equal(t, codeDone, code, errs)
	assert.Empty(t, errs)
}

// While a person thinks, another program may write another name in: what was shown is not what would go.
func TestAnErasureThatWasAskedForIsOfWhatWasShown(t *testing.T) {
	t.Parallel()
	book := filepath.Join(t.TempDir(), "book.db")
	does(t, book, "import", "../../testdata/cases/print-under-washed.ndjson")
	does(t, book, "sitter", "add", "Asta Holm")
	env, _, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": eventstest.Now}, "erase", "Asta Holm")
	env.In, env.InFD = readerOf(func() string {
		does(t, book, "sitter", "add", "sitter-1", "--name", "Liv Moe")
		return "yes\n"
	}), 0
	env.Around.IsTerminal = func(fd int) bool { return fd == 0 }
	assert.Equal(t, codeBusy, run(env))
	assert.Contains(t, errs.String(), "nothing was written")
	assert.Contains(t, does(t, book, "sitter", "list"), "Liv Moe")
}

// readerOf types what a function says when it is first read.
type readerOf func() string

func (r readerOf) Read(p []byte) (int, error) { return copy(p, r()), nil }

// Traces that another program keeps are an error, and what was done stands before it: the entries that go on holding the
// name are told then or never.
func TestWhatAnErasureLeavesIsToldBesideItsTraces(t *testing.T) {
	t.Parallel()
	book := filepath.Join(t.TempDir(), "book.db")
	does(t, book, "import", "../../testdata/cases/print-under-washed.ndjson")
	does(t, book, "sitter", "add", "Asta Holm")
	does(t, book, "note", "2026-001", "Asta Holm blinked", "--even-so")
	other, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	require.NoError(t, other.Read(func(tx *sqlite.Tx) error {
		_, err := tx.Count()
		require.NoError(t, err)
		code, out, errs := obeyed(t, book, "erase", "Asta Holm", "--yes")
		assert.Equal(t, codeBusy, code)
		assert.Contains(t, out, "Asta Holm blinked")
		assert.NotContains(t, out, "gone from this file for good")
		assert.Contains(t, errs, "its traces lie in the file")
		return nil
	}))
	require.NoError(t, other.Close())

	// The next erasure finishes this one first; what it then comes to keeps its own reason and advice.
	code, _, errs := obeyed(t, book, "erase", "Liv Moe", "--yes")
	assert.Equal(t, codeRefused, code)
	assert.Contains(t, errs, "the traces of an earlier erasure are gone now; there is no sitter \"Liv Moe\"\n  traybook sitter list shows them")
}

// The clock is told behind an error, too, where something was written.
func TestAClockSetBackIsToldBesideAnError(t *testing.T) {
	t.Parallel()
	book := filepath.Join(t.TempDir(), "book.db")
	actedAt(t, book, "2026-07-01T09:00:00+02:00", "import", "../../testdata/cases/print-under-washed.ndjson")
	actedAt(t, book, "2026-07-01T09:00:00+02:00", "sitter", "add", "Asta Holm")
	actedAt(t, book, "2026-07-01T09:00:00+02:00", "note", "2026-001", "Asta Holm blinked", "--even-so")
	env, out, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": "2026-07-01T08:00:00+02:00"}, "erase", "Asta Holm", "--yes")
	require.Equal(t, codeRefused, run(env))
	assert.Contains(t, errs.String(), "1 entry still holds the name")
	assert.Contains(t, out.String(), "the clock of this machine stands")
	env, out, _ = testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": "2026-07-01T08:00:00+02:00"}, "note", "2026-009", "x")
	require.Equal(t, codeRefused, run(env))
	assert.Empty(t, out.String(), "nothing was written")
}
