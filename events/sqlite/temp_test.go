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
		assert.ErrorContains(t, tmp.take(target), target+": the disk failed while it was made", log)
		tmp.discard()
		left, err := os.ReadDir(dir)
		require.NoError(t, err)
		assert.Empty(t, left, "%s: nothing is left", log)
	}
}
