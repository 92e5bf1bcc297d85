//go:build unix

package bag

import (
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestLinksAreNamedAndNotFollowed(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(secret, []byte("{}\n"), 0o600))
	path := write(t, "folder", sample())
	name := filepath.Join(path, "data", "events.ndjson")
	require.NoError(t, os.Remove(name))
	require.NoError(t, os.Symlink(secret, name))
	require.NoError(t, syscall.Mkfifo(filepath.Join(path, "data", "pipe"), 0o600))
	r, err := Verify(path)
	require.NoError(t, err)
	var kinds []string
	for _, p := range r.Problems {
		kinds = append(kinds, string(p.Kind)+" "+p.Name)
	}
	assert.Equal(t, []string{"wrong-oxum bag-info.txt", "missing data/events.ndjson", "not-a-file data/events.ndjson", "not-a-file data/pipe"}, kinds)

	b, err := Open(path)
	require.NoError(t, err)
	defer b.Close()
	_, err = b.Open("data/events.ndjson")
	require.ErrorIs(t, err, fs.ErrNotExist)
}
