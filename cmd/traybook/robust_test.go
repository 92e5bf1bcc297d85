package main

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/events/sqlite/rawfile"
)

// copyOf copies a book's file into a folder of its own.
func copyOf(t testing.TB, path string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, os.WriteFile(out, raw, 0o600))
	return out
}

// sums gives the digest of every file below a folder.
func sums(t testing.TB, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, f := range filesBelow(t, dir) {
		raw, err := os.ReadFile(filepath.Join(dir, f))
		require.NoError(t, err)
		out[f] = fmt.Sprintf("%x", sha256.Sum256(raw))
	}
	return out
}

// Looks are the commands that may not change a byte of the book.
var looks = [][]string{
	{"today"}, {"pictures"}, {"history", "2026-001"}, {"history", "box-1"}, {"history", "dev-1"}, {"why", "2026-001"}, {"stock", "--all"},
	{"baths", "--all"}, {"sessions"}, {"orders"}, {"plan", "day", "--sitters", "3"}, {"year", "2026"}, {"calibrate"}, {"verify"}, {"verify", "--chain"},
	{"figure", "exposure", "--ev", "11", "--index", "3", "--f", "8"}, {"export", "events", "--out", "-"},
	{"export", "csv", "--table", "sheets", "--out", "-"}, {"export", "pdf", "--out", "-"},
}

func TestLooksLeaveTheBytesAlone(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "print-wrong-aperture")
	before := sums(t, filepath.Dir(book))
	for _, look := range looks {
		code, out, errs := obeyed(t, book, look...)
		require.Zero(t, code, "%v: %s", look, errs)
		require.NotEmpty(t, out, "%v", look)
		require.Equal(t, before, sums(t, filepath.Dir(book)), "after %v", look)
	}
}

// A book of every released layout opens for ever. layout-1.db was made by importing testdata/cases/good-picture.ndjson
// with the clock at 2026-07-01T09:00:00+02:00, and voiding and amending one entry each.
func TestBooksOfEveryLayoutOpen(t *testing.T) {
	t.Parallel()
	books, err := filepath.Glob("../../testdata/books/layout-*.db")
	require.NoError(t, err)
	require.NotEmpty(t, books)
	for _, path := range books {
		t.Run(filepath.Base(path), func(t *testing.T) {
			book := copyOf(t, path)
			code, out, errs := obeyed(t, book, "verify", "--json")
			require.Zero(t, code, errs)
			assert.Contains(t, out, `"ok":true`)
			_, out, _ = obeyed(t, book, "history", "2026-001", "--json")
			assert.Contains(t, out, `"sheet":"2026-001p1"`)
			code, _, errs = obeyed(t, book, "note", "2026-001", "still here")
			require.Zero(t, code, errs)
			code, _, errs = obeyed(t, book, "verify")
			require.Zero(t, code, errs)
		})
	}
}

// A later version's book is refused by every command, untouched: its layout stands at byte 60 of the file.
func TestABookOfALaterLayoutIsRefusedUntouched(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	raw, err := os.ReadFile(book)
	require.NoError(t, err)
	spoilt.Store(book, true)
	raw[63] = rawfile.Layout + 1
	require.NoError(t, os.WriteFile(book, raw, 0o600))
	before := sums(t, filepath.Dir(book))
	elsewhere := t.TempDir()
	lines := filepath.Join(elsewhere, "lines.ndjson")
	require.NoError(t, os.WriteFile(lines, []byte(`{"kind":"note.written","at":"2026-06-20T08:00:00+02:00","data":{"about":"2026-001","text":"x"}}`), 0o600))
	scan := filepath.Join(elsewhere, "2026-001n.jpg")
	require.NoError(t, os.WriteFile(scan, printScan(t, 300, 200, 240, 20), 0o600))
	writes := [][]string{
		{"note", "2026-001", "x"}, {"rebuild"}, {"void", "last"}, {"amend", "last", "text=x"}, {"mark"}, {"judge", "keep"}, {"backup", filepath.Join(elsewhere, "b.db")},
		{"expose", "f/8", "4s"}, {"meter", "11", "ev"}, {"tray"}, {"develop", "60s"}, {"rinse", "15s"}, {"fix", "60s"}, {"wash", "2026-001p1", "running", "5min"}, {"dry", "2026-001p1"},
		{"reprint", "2026-001n"}, {"tone", "2026-001p1", "selenium"}, {"work", "2026-001p1", "spotted"}, {"test", "2026-001p1", "silver", "none"}, {"deliver", "2026-001p1", "Asta"},
		{"load", "holder-1"}, {"strip", "expose"}, {"session", "open", "quay"}, {"camera", "check"}, {"paper", "count", "box-1", "9"}, {"bath", "mix", "developer", "1l"},
		{"sitter", "add", "Asta"}, {"sitter", "list"}, {"erase", "Asta", "--yes"}, {"import", lines}, {"merge", copyOf(t, "../../testdata/books/layout-1.db")}, {"attach", scan},
		{"export", "archive", "--out", filepath.Join(elsewhere, "bag")}, {"export", "labels", "--out", filepath.Join(elsewhere, "l.pdf")},
		{"salvage", filepath.Join(elsewhere, "saved.db")}, {"bench"}, {"captions"},
	}
	for _, args := range append(writes, looks...) {
		if args[0] == "figure" {
			continue
		}
		code, _, errs := obeyed(t, book, args...)
		assert.NotZero(t, code, "%v", args)
		assert.Contains(t, errs, "newer version", "%v", args)
		require.Equal(t, before, sums(t, filepath.Dir(book)), "after %v", args)
	}
}

// What the program makes is for its owner's eyes: files 0600, folders 0700.
func TestFilesAreForTheOwnerAlone(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	out := t.TempDir()
	for _, args := range [][]string{
		{"backup", filepath.Join(out, "copy.db")}, {"export", "csv", "--out", filepath.Join(out, "tables")},
		{"export", "pdf", "--out", filepath.Join(out, "log.pdf")}, {"export", "events", "--out", filepath.Join(out, "all.ndjson")},
		{"export", "archive", "--out", filepath.Join(out, "bag")}, {"export", "archive", "--out", filepath.Join(out, "bag.zip")},
		{"export", "labels", "--out", filepath.Join(out, "labels.pdf")},
	} {
		code, _, errs := obeyed(t, book, args...)
		require.Zero(t, code, errs)
	}
	seen := 0
	for _, root := range []string{filepath.Dir(book), out} {
		require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || path == root {
				return err
			}
			info, err := d.Info()
			if err != nil {
				return err
			}
			seen++
			want := fs.FileMode(0o600)
			if d.IsDir() {
				want = 0o700
			}
			assert.Equal(t, want, info.Mode().Perm(), path)
			return nil
		}))
	}
	require.Greater(t, seen, 30)
}

// Escape sequences in what was written are shown, never obeyed.
func TestEscapesAreShownNotObeyed(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	evil := "\x1b]0;owned\x07\x1b[2J\x1b[31mred\u202e"
	for _, args := range [][]string{
		{"paper", "receive", "rc", "9x12cm", "--name", evil, "--sheets", "5", "--index", "3"},
		{"session", "open", "night", "--place", evil, "--text", evil},
		{"expose", "f/8", "4s", "--box", "box-1", "--session", "night", "--subject", evil, "--text", evil},
		{"note", "2026-001", evil}, {"judge", "redo", "--sheet", "2026-001p1", "--text", evil},
	} {
		code, out, errs := obeyed(t, book, args...)
		require.Zero(t, code, "%v: %s", args, errs)
		require.NotContains(t, out+errs, "\x1b", "%v", args)
	}
	for _, args := range append([][]string{{"history", "2026-002"}, {"history", "night"}, {"pictures", "--session", "night"}, {"history", evil}, {evil},
		{"import", evil}, {"merge", evil}, {"verify", evil}, {"today", "--book", evil}}, looks...) {
		if len(args) > 1 && args[0] == "export" {
			continue // bytes for other programs
		}
		_, out, errs := obeyed(t, book, args...)
		for _, bad := range []string{"\x1b", "\x07", "\u202e"} {
			require.NotContains(t, out+errs, bad, "%v", args)
		}
	}
}

// Every command that looks or calculates stands in the list, or among those that write: a new one cannot be forgotten.
func TestEveryCommandIsKnownToLookOrToWrite(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(nil)
	app := newApp(&env)
	listed := map[string]bool{"export archive": true, "export labels": true, "export cards": true, "export book": true, "licences": true, "schema": true, "completion": true, "demo": true, // write beside the book
		"serve": true} // looks and writes until it is stopped, and has tests of its own
	for _, look := range looks {
		listed[look[0]] = true
		if len(look) > 1 {
			listed[look[0]+" "+look[1]] = true
		}
	}
	for _, o := range writers() {
		listed[o.name] = true
	}
	for _, path := range commandPaths(app.Commands, nil) {
		known := false
		for i := range path {
			known = known || listed[strings.Join(path[:i+1], " ")]
		}
		assert.True(t, known, "%v is in neither list", path)
	}
}

// A book whose views another version folded is read, as that version's entries say, without being written; the first act
// brings the views up to date.
func TestAnOlderFoldIsReadWithoutBeingWritten(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "print-wrong-aperture")
	said := map[string]string{}
	say := func(look []string) string {
		code, out, errs := obeyed(t, book, look...)
		require.Zero(t, code, "%v: %s", look, errs)
		return out
	}
	for _, look := range looks {
		said[strings.Join(look, " ")] = say(look)
	}
	behindItsBack(t, book, "UPDATE meta SET value='0' WHERE key='fold'", "UPDATE view SET state='{}', stock=0, open=0")
	before := sums(t, filepath.Dir(book))
	for _, look := range looks {
		if look[0] == "verify" {
			obeyed(t, book, look...)
		} else {
			require.Equal(t, said[strings.Join(look, " ")], say(look), "%v", look)
		}
		require.Equal(t, before, sums(t, filepath.Dir(book)), "after %v", look)
	}
	say([]string{"note", "2026-001", "still here"})
	wholeBook(t, book)
}

// What is too large to be meant is refused in a line.
func TestWhatIsTooLargeIsRefused(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	long := strings.Repeat("x", 1<<20)
	before := entriesIn(t, book)
	line := `{"kind":"note.written","at":"2026-06-20T08:00:00+02:00","data":{"about":"2026-001","text":"`
	for name, args := range map[string][]string{
		"a text":          {"note", "2026-001", long},
		"a name":          {"session", "open", long},
		"a subject":       {"expose", "f/8", "4s", "--subject", long},
		"a sitter":        {"sitter", "add", long},
		"a number":        {"expose", "f/8", strings.Repeat("9", 400) + "s"},
		"a line":          {"import", putFile(t, "long.ndjson", []byte(line+strings.Repeat("x", 8<<20)+`"}}`))},
		"a deep line":     {"import", putFile(t, "deep.ndjson", []byte(strings.Repeat(`{"a":`, 1<<20)))},
		"a line unending": {"import", putFile(t, "zeros.ndjson", make([]byte, 32<<20))},
	} {
		eventstest.Within(t)
		code, _, errs := obeyed(t, book, args...)
		assert.Contains(t, []int{codeRefused, codeUsage}, code, name)
		assert.Less(t, len(errs), 2500, "%s: the answer does not repeat it", name)
		assert.True(t, strings.HasPrefix(errs, "traybook: "), "%s: %s", name, errs)
	}
	require.Equal(t, before, entriesIn(t, book))
}
