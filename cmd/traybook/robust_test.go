package main

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
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
	{"baths", "--all"}, {"sessions"}, {"year", "2026"}, {"calibrate"}, {"verify"}, {"verify", "--chain"},
	{"figure", "exposure", "--ev", "11", "--index", "3", "--f", "8"}, {"export", "events", "--out", "-"},
	{"export", "csv", "--table", "sheets", "--out", "-"}, {"export", "pdf", "--out", "-"},
}

func TestLooksLeaveTheBytesAlone(t *testing.T) {
	book := caseBook(t, "print-aperture-misset")
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
	book := caseBook(t, "good-picture")
	raw, err := os.ReadFile(book)
	require.NoError(t, err)
	raw[63] = sqlite.Layout + 1
	require.NoError(t, os.WriteFile(book, raw, 0o600))
	before := sums(t, filepath.Dir(book))
	writes := [][]string{{"note", "2026-001", "x"}, {"rebuild"}, {"void", "last"}, {"mark"}, {"judge", "keep"}, {"backup", filepath.Join(t.TempDir(), "b.db")}}
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
	for _, args := range append([][]string{{"history", "2026-002"}, {"history", "night"}, {"pictures", "--session", "night"}, {"history", evil}, {evil}}, looks...) {
		if len(args) > 1 && args[0] == "export" {
			continue // bytes for other programs
		}
		_, out, errs := obeyed(t, book, args...)
		for _, bad := range []string{"\x1b", "\x07", "\u202e"} {
			require.NotContains(t, out+errs, bad, "%v", args)
		}
	}
}
