package bag

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// What of a bag may not be read is named, and is no reason to say nothing of the rest.
func TestWhatMayNotBeReadIsNamed(t *testing.T) {
	path := write(t, "folder", sample())
	require.NoError(t, filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		return os.Chmod(name, 0o755) // so that only what is tried is out of reach
	}))
	for d := filepath.Dir(path); d != filepath.Dir(d) && d != filepath.Clean(os.TempDir()); d = filepath.Dir(d) {
		require.NoError(t, os.Chmod(d, 0o755))
	}
	drawer := filepath.Join(path, "data", "drawer")
	require.NoError(t, os.Mkdir(drawer, 0))
	require.NoError(t, os.Chmod(filepath.Join(path, "data", "events.ndjson"), 0))
	r, err := asAnother(t, func() (Report, error) { return Verify(path) })
	require.NoError(t, err)
	assert.Contains(t, kinds(r), "unreadable data/drawer")
	assert.Contains(t, kinds(r), "unreadable data/events.ndjson")
	assert.Len(t, r.Problems, 3, "with the sum of the payload")
	for _, name := range []string{"bagit.txt", "bag-info.txt", m256} { // what verifying itself reads
		file := filepath.Join(path, name)
		require.NoError(t, os.Chmod(file, 0))
		r, err := asAnother(t, func() (Report, error) { return Verify(path) })
		require.NoError(t, err)
		assert.Contains(t, kinds(r), "unreadable "+name)
		require.NoError(t, os.Chmod(file, 0o644))
	}
	_, err = asAnother(t, func() (Report, error) { r, _, err := Replaceable(path); return r, err })
	assert.EqualError(t, err, "cannot read the bag "+path+": permission denied")
	require.NoError(t, os.Chmod(drawer, 0o700))
	require.NoError(t, os.Chmod(path, 0))
	_, err = asAnother(t, func() (Report, error) { return Verify(path) })
	assert.EqualError(t, err, "cannot read the bag "+path+": permission denied")
	require.NoError(t, os.Chmod(path, 0o700))
}

// asAnother runs f as one whom the permissions of files bind, which they do not where root runs a test.
func asAnother(t *testing.T, f func() (Report, error)) (r Report, err error) {
	t.Helper()
	err = eventstest.WithoutRights(func() (err error) { r, err = f(); return err })
	return r, err
}
