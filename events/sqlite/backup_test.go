package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A book of an older layout is taken up whole or not at all, and a copy of it that its own version can open lies beside it.
func TestAnOlderLayoutIsTakenUp(t *testing.T) {
	book := seasonBook(t)
	entries, path := told(t, book), book.path
	require.NoError(t, book.Close())
	_, err := takeUp(path, 1, []string{"ALTER TABLE sitter ADD COLUMN since INTEGER", "ALTER TABLE nothing ADD COLUMN since INTEGER"})
	require.ErrorContains(t, err, "its layout 1 could not be taken up")
	require.ErrorContains(t, err, "it is as it was, and a copy lies at "+path+".layout-1")
	as := open(t, path)
	assert.Equal(t, entries, told(t, as), "a step that failed left nothing")
	verified(t, as)
	require.NoError(t, as.Close())

	kept, err := takeUp(path, 1, []string{"ALTER TABLE sitter ADD COLUMN since INTEGER"})
	require.NoError(t, err)
	assert.Equal(t, path+".layout-1-2", kept, "a copy that is there stays")
	_, err = Open(path, Options{})
	assert.ErrorContains(t, err, "layout 2, this one knows 1")
	for _, copied := range []string{path + ".layout-1", kept} {
		former := open(t, copied)
		assert.Equal(t, entries, told(t, former))
		verified(t, former)
		require.NoError(t, former.Close())
	}
	require.NoError(t, os.Rename(kept, path)) // what a test leaves is verified, and this version knows no layout 2

	damaged := seasonBook(t)
	_, err = damaged.db.Exec("DROP TRIGGER entry_no_update")
	require.NoError(t, err)
	_, err = damaged.db.Exec("UPDATE entry SET body=replace(body, 'box-1', 'box-2') WHERE seq=(SELECT max(seq) FROM entry WHERE body LIKE '%box-1%')")
	require.NoError(t, err)
	require.NoError(t, damaged.Close())
	_, err = takeUp(damaged.path, 1, nil)
	assert.ErrorContains(t, err, "does not hang in its chain")
	_, err = os.Lstat(damaged.path + ".layout-1")
	assert.ErrorIs(t, err, os.ErrNotExist, "a damaged copy helps nobody")
	require.NoError(t, os.Remove(damaged.path))
}

// What is no book that nobody uses is not replaced, and is told by its name.
func TestWhatABackupDoesNotReplace(t *testing.T) {
	b := seasonBook(t)
	dir := t.TempDir()
	old := filepath.Join(dir, "old.db")
	assert.EqualError(t, b.Supersedes(old), old+" cannot be looked at: no such file or directory")
	assert.EqualError(t, b.Supersedes(dir), dir+" is not a book, so it is not replaced: move it away, or name another place")
	assert.EqualError(t, b.Supersedes(b.Path()), b.Path()+" is this book itself")
	copyBook(t, seasonFile(t), old)
	assert.NoError(t, b.Supersedes(old))
	for _, end := range []string{"-wal", "-shm", "-journal"} {
		require.NoError(t, os.WriteFile(old+end, nil, 0o600))
		assert.EqualError(t, b.Supersedes(old), old+" is open in another program, or has a log beside it ("+old+end+"): close it there, or name another place")
		require.NoError(t, os.Remove(old+end))
	}
	require.NoError(t, os.WriteFile(old, []byte("a letter"), 0o600))
	assert.ErrorContains(t, b.Supersedes(old), "is not a book")
}
