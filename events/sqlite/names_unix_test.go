//go:build unix

package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestABookUnderTwoNames(t *testing.T) {
	b := seasonBook(t)
	path := b.Path()
	require.NoError(t, b.Close())
	before := fileBytes(t, path)

	// Through a link to it, it is the file itself.
	dir := t.TempDir()
	link := filepath.Join(dir, "link.db")
	require.NoError(t, os.Symlink(path, link))
	b, err := Open(link, options)
	require.NoError(t, err)
	real, err := filepath.EvalSymlinks(path)
	require.NoError(t, err)
	assert.Equal(t, real, b.Path())
	require.NoError(t, b.Close())

	// A second name of the file is refused, to who writes and who looks, and nothing of it is changed.
	other := filepath.Join(dir, "other.db")
	require.NoError(t, os.Link(path, other))
	for _, name := range []string{path, other, link} {
		for _, o := range []Options{options, {Folder: tally{}, ReadOnly: true}} {
			_, err := Open(name, o)
			require.ErrorContains(t, err, "is one file under 2 names (hard links)")
		}
	}
	assert.Equal(t, before, fileBytes(t, path))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 2, "no log was laid beside it")
	require.NoError(t, os.Remove(other))

	// The name that it was built under is no such name.
	part := filepath.Join(filepath.Dir(path), ".traybook-part-1234")
	require.NoError(t, os.Mkdir(part, 0o700))
	require.NoError(t, os.Link(path, filepath.Join(part, "book.db")))
	b, err = Open(path, options)
	require.NoError(t, err)
	require.NoError(t, b.Close())
}
