//go:build unix

package sqlite

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
)

// A pipe in the place of a book, or beside it, is told: nobody waits for someone to write into it.
func TestPipesAreNotWaitedFor(t *testing.T) {
	for _, suffix := range []string{"", "-wal", "-shm", "-journal"} {
		path := filepath.Join(t.TempDir(), "book.db")
		if suffix != "" {
			require.NoError(t, os.WriteFile(path, season(), 0o600))
		}
		require.NoError(t, syscall.Mkfifo(path+suffix, 0o600))
		for name, do := range map[string]func() error{
			"open":    func() error { _, err := Open(path, options); return err },
			"look":    func() error { _, err := Open(path, Options{Folder: tally{}, ReadOnly: true}); return err },
			"verify":  func() error { _, err := VerifyFile(path, options, VerifyOptions{}); return err },
			"salvage": func() error { _, err := Salvage(path, path+".saved", options, events.Entry{}); return err },
		} {
			require.ErrorContains(t, ends(t, name+suffix, do), "is no file but a pipe", "%s of book.db%s", name, suffix)
		}
	}
	dir := t.TempDir()
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, ".traybook-part-17"), 0o600))
	require.NoError(t, ends(t, "where a book grows", func() error { return CreateFilled(filepath.Join(dir, "book.db"), options, nil) }))
}
