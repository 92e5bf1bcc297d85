package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/export"
)

func lookedAtScans(t testing.TB, book string) (problems, notes []export.Finding) {
	t.Helper()
	b, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
		problems, notes, err = scanFindings(tx, filepath.Dir(book))
		return err
	}))
	return problems, notes
}

func TestVerifyFindsScansMissingAlteredAndStray(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	dir := t.TempDir()
	files := map[string]string{}
	for i, name := range []string{"2026-001n", "2026-001p1", "2026-001n-b"} {
		files[name] = filepath.Join(dir, name+".jpg")
		require.NoError(t, os.WriteFile(files[name], printScan(t, 200+10*i, 150, 240, 20), 0o600))
	}
	kept := func() []string { return filesBelow(t, filepath.Join(filepath.Dir(book), "scans")) }
	full := func(rel string) string { return filepath.Join(filepath.Dir(book), "scans", rel) }
	code, _, errs := obeyed(t, book, "attach", files["2026-001n"])
	require.Zero(t, code, errs)
	first := kept()[0]
	code, _, errs = obeyed(t, book, "attach", files["2026-001p1"])
	require.Zero(t, code, errs)
	code, _, errs = obeyed(t, book, "attach", files["2026-001n-b"], "--by-reference")
	require.Zero(t, code, errs)
	problems, notes := lookedAtScans(t, book)
	require.Empty(t, problems)
	require.Empty(t, notes)

	require.NoError(t, os.Remove(full(first)))
	for _, other := range kept() {
		require.NoError(t, os.WriteFile(full(other), []byte("another"), 0o600))
	}
	require.NoError(t, os.Remove(files["2026-001n-b"]))
	stray := strings.Repeat("ab", 32) + ".jpg"
	require.NoError(t, os.MkdirAll(full("ab"), 0o700))
	require.NoError(t, os.WriteFile(full("ab/"+stray), nil, 0o600))
	problems, notes = lookedAtScans(t, book)
	require.Len(t, problems, 2)
	require.Contains(t, problems[0].Text, "the scan of 2026-001n, "+shortPath("scans/"+first)+", is missing")
	require.Contains(t, problems[1].Text, "the scan of 2026-001p1")
	require.Regexp(t, "^the scan of 2026-001p1, scans/../[0-9a-f]{12}….jpg, was altered", problems[1].Text)
	require.Len(t, notes, 2)
	require.Contains(t, notes[0].Text, files["2026-001n-b"])
	require.Contains(t, notes[1].Text, "scans/ab/"+stray)

	code, out, errs := obeyed(t, book, "attach", files["2026-001n"], files["2026-001p1"])
	require.Zero(t, code, errs)
	require.Contains(t, strings.Join(strings.Fields(out), " "), "2026-001n.jpg is attached already, its copy was lost or altered and is laid beside the book again")
	problems, _ = lookedAtScans(t, book)
	require.Empty(t, problems, "attaching again mends both")

	// a copy of the book alone stands away from its scans, and is no less whole
	alone := filepath.Join(t.TempDir(), "copy.db")
	spoilt.Store(alone, true) // at the end its scans are lost
	code, _, errs = obeyed(t, book, "backup", alone)
	require.Zero(t, code, errs)
	code, out, errs = obeyed(t, alone, "verify")
	require.Zero(t, code, errs)
	require.Contains(t, out, "2 scans are not beside this book")
	require.Contains(t, out, "is whole")
	require.NoError(t, os.Mkdir(filepath.Join(filepath.Dir(alone), "scans"), 0o700))
	code, _, _ = obeyed(t, alone, "verify")
	require.Equal(t, codeDamaged, code, "a folder that is there and lacks them has lost them")
}

// A remark on a scan is a note on its sheet, and goes with it.
func TestAttachKeepsARemarkAsANote(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	file := filepath.Join(t.TempDir(), "2026-001n.jpg")
	require.NoError(t, os.WriteFile(file, printScan(t, 200, 150, 240, 20), 0o600))
	code, out, errs := obeyed(t, book, "attach", file, "--text", "from the wet plate")
	require.Zero(t, code, errs)
	require.Contains(t, out, "noted: from the wet plate")
	_, told, _ := obeyed(t, book, "history", "2026-001")
	require.Contains(t, told, "from the wet plate")
	code, out, errs = obeyed(t, book, "attach", file, "--text", "again")
	require.Zero(t, code, errs)
	require.Contains(t, out, "the remark was not written")
	_, back, _ := strings.Cut(told, "from the wet plate")
	require.NotContains(t, back, "again")
}
