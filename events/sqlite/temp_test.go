package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Where the disk fails while SQLite closes a new book, what was written last stays in the log beside it, and nobody is
// told: such a book does not get its name without its log.
func TestANewBookWithALogDoesNotGetItsName(t *testing.T) {
	for _, log := range []string{"-wal", "-journal"} {
		dir := t.TempDir()
		target := filepath.Join(dir, "book.db")
		tmp, err := newTemp(target)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(tmp.path+log, []byte("what did not get in"), 0o600))
		assert.ErrorContains(t, tmp.take(target, false), target+": what was written is not all in the file yet", log)
		tmp.discard()
		left, err := os.ReadDir(dir)
		require.NoError(t, err)
		assert.Empty(t, left, "%s: nothing is left", log)
	}
}

// A book that was opened and is no longer at its place is not written to: what SQLite acknowledges into a file without a
// name is lost with it.
func TestABookThatVanishesIsNotWrittenTo(t *testing.T) {
	for name, c := range map[string]struct {
		vanish func(path string) error
		says   string
	}{
		"moved":   {func(path string) error { return os.Rename(filepath.Dir(path), filepath.Dir(path)+"-moved") }, "the book is no longer at"},
		"removed": {func(path string) error { return os.RemoveAll(filepath.Dir(path)) }, "the book is no longer at"},
		"another stands there": {func(path string) error {
			if err := os.Rename(path, path+".old"); err != nil {
				return err
			}
			return os.WriteFile(path, []byte("another"), 0o600)
		}, "the book is no longer at"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, during := range []bool{false, true} {
				path := filepath.Join(t.TempDir(), "shelf", "book.db")
				book, err := Create(path, Options{})
				require.NoError(t, err)
				says := c.says
				if !during {
					require.NoError(t, c.vanish(path))
				}
				err = book.Write(func(tx *Tx) error {
					if during {
						says = "while this was written"
						require.NoError(t, c.vanish(path))
					}
					return tx.SetMeta("x", "y")
				})
				assert.ErrorContains(t, err, says)
				assert.ErrorContains(t, err, path)
				book.Close()
				if name != "another stands there" {
					assert.NoFileExists(t, path)
				}
			}
		})
	}
}
