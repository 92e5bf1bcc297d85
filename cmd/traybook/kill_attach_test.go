package main

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// killed runs the real program and kills it after a while, unless it is done before.
func killed(t *testing.T, book string, after time.Duration, args ...string) {
	t.Helper()
	c := command(t, asProgram(t, "traybook"), book, args...)
	require.NoError(t, c.Start())
	stop := time.AfterFunc(after, func() { c.Process.Kill() })
	defer stop.Stop()
	c.Wait()
}

// Killed at any moment, attach leaves each scan whole with its entry, or none, or a file that verify names and the same
// command takes up.
func TestAttachKilledLeavesNothingHalf(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	var files []string
	for i := range 6 {
		files = append(files, filepath.Join(dir, "2026-001n-"+strconv.Itoa(i)+".jpg"))
		require.NoError(t, os.WriteFile(files[i], printScan(t, 900+i, 700, 240, 20), 0o600))
	}
	for range rounds(t, 8, 60) {
		book := caseBook(t, "good-picture")
		killed(t, book, time.Duration(rand.IntN(140))*time.Millisecond, append([]string{"attach"}, files...)...)
		problems, notes := lookedAtScans(t, book)
		require.Empty(t, problems, "what has an entry is whole")
		require.LessOrEqual(t, attachedEntries(t, book)+len(notes), len(files)+2, "with half copies of two cores at most")
		code, _, errs := obeyed(t, book, append([]string{"attach"}, files...)...)
		require.Zero(t, code, errs)
		problems, notes = lookedAtScans(t, book)
		require.Empty(t, problems)
		require.Empty(t, notes, "what was left over is taken up or cleared")
		require.Equal(t, len(files), attachedEntries(t, book))
		require.Len(t, filesBelow(t, filepath.Join(filepath.Dir(book), "scans")), len(files))
	}
}

// Killed at any moment, an archive is whole or absent, and the next run clears what was left.
func TestArchiveKilledIsWholeOrAbsent(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	for i := range rounds(t, 3, 60) {
		for _, name := range []string{"bag", "bag.zip"} {
			out := filepath.Join(t.TempDir(), name)
			killed(t, book, time.Duration(rand.IntN(150))*time.Millisecond, "export", "archive", "--out", out)
			if _, err := os.Lstat(out); err == nil {
				require.Empty(t, checkedArchive(t, out).Problems, "round %d", i)
			}
			code, _, errs := obeyed(t, book, "export", "archive", "--out", out, "--force")
			require.Zero(t, code, errs)
			require.Empty(t, checkedArchive(t, out).Problems)
			for _, f := range filesBelow(t, filepath.Dir(out)) {
				require.True(t, f == name || strings.HasPrefix(f, name+"/"), "left over: %s", f)
			}
		}
	}
}
