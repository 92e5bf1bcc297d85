package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// A sitter who was erased is in no byte of the book, of its log, of a backup or an archive made afterwards.
func TestAnErasedSitterIsNowhere(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	out := t.TempDir()
	const name, contact = "Sigrun Aaberg", "the red house on the mole"
	nowhere := func(place string) bool {
		for _, f := range filesBelow(t, place) {
			raw, err := os.ReadFile(filepath.Join(place, f))
			require.NoError(t, err)
			if bytes.Contains(raw, []byte(name)) || bytes.Contains(raw, []byte(contact)) {
				return false
			}
		}
		return true
	}
	for _, args := range [][]string{
		{"sitter", "add", name, "--contact", contact}, {"sitter", "add", "Tora Dahl"},
		{"expose", "f/8", "4s", "--box", "box-1", "--sitter", name}, {"sitter", "consent", name, "show"}, {"deliver", "2026-001p1", name},
		{"export", "archive", "--out", filepath.Join(out, "before")},
	} {
		code, _, errs := obeyed(t, book, args...)
		require.Zero(t, code, "%v: %s", args, errs)
	}
	require.False(t, nowhere(filepath.Dir(book)), "the name must be found before, or the search proves nothing")
	require.False(t, nowhere(filepath.Join(out, "before")))
	code, _, errs := obeyed(t, book, "erase", name, "--yes")
	require.Zero(t, code, errs)
	for _, args := range [][]string{
		{"backup", filepath.Join(out, "after", "copy.db")}, {"export", "archive", "--out", filepath.Join(out, "after", "bag")},
		{"export", "csv", "--out", filepath.Join(out, "after", "tables")}, {"export", "events", "--out", filepath.Join(out, "after", "all.ndjson")},
		{"salvage", book, filepath.Join(out, "after", "saved.db")},
	} {
		require.NoError(t, os.MkdirAll(filepath.Join(out, "after"), 0o700))
		code, _, errs := obeyed(t, book, args...)
		require.Zero(t, code, "%v: %s", args, errs)
	}
	require.True(t, nowhere(filepath.Dir(book)), "the book and what stands beside it")
	require.True(t, nowhere(filepath.Join(out, "after")), "what was made afterwards")
	for _, look := range looks {
		_, said, errs := obeyed(t, book, look...)
		require.NotContains(t, said+errs, name, "%v", look)
	}
}

// A book in a folder that is not there yet, and a demo, are for their owner's eyes whatever the umask lets through.
func TestNewFoldersAreForTheOwnerAlone(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	book := filepath.Join(root, "deep", "er", "book.db")
	code, _, errs := obeyed(t, book, "init", "--zone", "Europe/Oslo")
	require.Zero(t, code, errs)
	demo := filepath.Join(root, "season")
	code, _, errs = obeyed(t, book, "demo", "--out", demo)
	require.Zero(t, code, errs)
	for _, dir := range []string{filepath.Dir(book), filepath.Dir(filepath.Dir(book)), demo, filepath.Join(demo, "csv"), filepath.Join(demo, "scans")} {
		info, err := os.Stat(dir)
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o700), info.Mode().Perm(), dir)
	}
	for _, f := range filesBelow(t, root) {
		info, err := os.Stat(filepath.Join(root, f))
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), f)
	}
}

// A text that a table program would run has an apostrophe before it.
func TestNoTableRunsAFormula(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	for _, start := range []string{"=", "+", "-", "@", "\t=", "\r="} {
		evil := start + "cmd|' /C calc'!A0"
		code, _, errs := obeyed(t, book, "expose", "f/8", "4s", "--box", "box-1", "--subject="+evil)
		require.Zero(t, code, errs)
	}
	code, out, errs := obeyed(t, book, "export", "csv", "--table", "pictures", "--out", "-")
	require.Zero(t, code, errs)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	at, guarded := slices.Index(rows[0], "subject"), 0
	for _, row := range rows[1:] {
		if strings.Contains(row[at], "calc") {
			assert.Regexp(t, "^'[^']", row[at])
			guarded++
		}
	}
	assert.Equal(t, 6, guarded)
}

// The program starts no other and calls nobody: of all its packages only the pages in a browser know a network, and there it
// only answers.
func TestNothingReachesOut(t *testing.T) {
	t.Parallel()
	out, err := eventstest.Command(t, "go", "list", "-deps", ".").Output()
	require.NoError(t, err)
	deps := strings.Fields(string(out))
	require.Greater(t, len(deps), 50)
	for _, shut := range []string{"net/rpc", "os/exec", "plugin"} {
		assert.NotContains(t, deps, shut)
	}
	var ours []string
	for _, d := range deps {
		if strings.HasPrefix(d, "traybook") && d != "traybook/cmd/traybook" && d != "traybook/cmd/traybook/web" {
			ours = append(ours, d)
		}
	}
	require.Greater(t, len(ours), 15)
	out, err = eventstest.Command(t, "go", append([]string{"list", "-deps"}, ours...)...).Output()
	require.NoError(t, err)
	for _, shut := range []string{"net", "net/http"} {
		assert.NotContains(t, strings.Fields(string(out)), shut)
	}
	files, err := filepath.Glob("web/*.go")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range append(files, "serve.go") {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		if !strings.HasSuffix(file, "_test.go") {
			assert.NotRegexp(t, `\b(net\.(Dial|Lookup|Resolver|DefaultResolver)|http\.(Get|Head|Post|PostForm|Client|DefaultClient|Transport|DefaultTransport|NewRequest))`, string(text), file)
		}
	}
}
