package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// most is how much any answer of the program on a small book may say.
const most = 4 << 20

// fuzzBooks are read once: every run begins with the same bytes.
func fuzzBook(f *testing.F) []byte {
	f.Helper()
	raw, err := os.ReadFile(caseBook(f, "good-picture"))
	require.NoError(f, err)
	return raw
}

// onCopy obeys one command line in a folder of its own with a copy of the book, and wants it to end with one of the
// documented codes and a line that says why.
func onCopy(t *testing.T, raw []byte, in string, args ...string) (code int, book string) {
	t.Helper()
	dir := t.TempDir()
	t.Chdir(dir)
	book = filepath.Join(dir, "book.db")
	require.NoError(t, os.WriteFile(book, raw, 0o600))
	env, out, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": "2026-07-01T09:00:00+02:00", "HOME": dir, "COLUMNS": "80"}, args...)
	env.In = io.LimitReader(strings.NewReader(in), 1<<20)
	eventstest.Within(t)
	code = run(env)
	require.Contains(t, documented, code, "%q: %s", args, errs)
	require.Less(t, out.Len()+errs.Len(), most, "%q", args)
	if code != 0 && out.Len() == 0 {
		require.NotEmpty(t, errs.String(), "%q", args)
	}
	for _, b := range [][]byte{out.Bytes(), errs.Bytes()} {
		if len(args) > 0 && !strings.HasPrefix("export", args[0]) && !slices.Contains(args, "completion") {
			require.NotContains(t, string(b), "\x1b", "%q", args)
		}
	}
	return code, book
}

// FuzzCommandLine types anything. Its words are parted by line feeds; paths that lead out of the folder are left out.
func FuzzCommandLine(f *testing.F) {
	raw := fuzzBook(f)
	for _, line := range []string{
		"", "expose f/8 4s --box box-1", "meter f/5.6 1/30 iso 100 14 ev", "tray 50s 18C", "wash 2026-001p1 running 5min 2l/min 20C", "judge keep 2026-001n",
		"amend last time=5s at=14:03", "void last", "note 2026-001 words words", "figure exposure --ev 11 --index 3 --f 8", "figure focus --focal 135mm --f 8 --distance 2m",
		"figure wash --volume 1l --changes 5", "figure tones --reading 1,2,3", "today --as-of 2026-06-07", "pictures --session quay --words", "history 2026-001 --json",
		"why 2026-001", "stock --all", "baths", "export csv --table sheets --out -", "export events --out - --picture 2026-001", "verify --head 00", "backup copy.db",
		"import -", "bath mix developer 1l 1+9 60s 20C", "paper receive 9x12cm 25 sheets rc --name x --index 3", "sitter add Liv Moe", "erase sitter-1 --yes", "mark",
		"bench", "develop --timer 10s", "expose --at", "help expose", "--version", "comp bash", "year 2026", "calibrate", "session open quay", "demo --out x", "rebuild",
		"strip expose 2026-001n 2s 2s", "load holder-1 box-1", "-- -- --", "--book= today", "exp --json --json=false f8", "\xff\xfe", "expose f/1e999 9e99s --ev -inf",
	} {
		f.Add(strings.Join(strings.Fields(line), "\n"))
	}
	f.Fuzz(func(t *testing.T, line string) {
		args := strings.Split(line, "\n")
		for _, a := range args {
			if len(line) > 2000 || strings.Contains(a, "..") || strings.HasPrefix(a, "/") || strings.Contains(a, "=/") {
				return
			}
		}
		if code, book := onCopy(t, raw, "", args...); code != 0 {
			wholeBook(t, book)
		}
	})
}

// FuzzImportCommand imports anything: all of it is taken and the book verifies, or nothing is and not a byte has changed.
func FuzzImportCommand(f *testing.F) {
	raw := fuzzBook(f)
	cases, err := filepath.Glob("../../testdata/cases/*.ndjson")
	require.NoError(f, err)
	for _, path := range append(cases, "../../testdata/vectors/entries.ndjson") {
		if text, err := os.ReadFile(path); err == nil {
			f.Add(text)
		}
	}
	for _, line := range []string{
		"", "{}", "[]", "null\n", `{"kind":"note.written","at":"2026-06-20T08:00:00+02:00","data":{"about":"2026-001","text":"x"}}`,
		`{"kind":"note.written","kind":"x"}`, `{"kind":"sheet.exposed","at":"2026-06-20T08:00:00+02:00","data":{"picture":"2026-009","box":"box-1","f":8,"time_s":1e999}}`,
		`{"kind":"entry.voided","at":"2026-06-20T08:00:00+02:00","data":{"entry":"last"}}`, strings.Repeat(`{"a":`, 5000), "\xef\xbb\xbf{}", "{\"kind\":\"\x00\"}",
	} {
		f.Add([]byte(line))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		code, book := onCopy(t, raw, string(text), "import", "-")
		wholeBook(t, book)
		if code != 0 {
			now, err := os.ReadFile(book)
			require.NoError(t, err)
			require.True(t, bytes.Equal(raw, now), "refused, and yet the book was written to")
		}
	})
}
