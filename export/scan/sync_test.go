package scan

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	_ "unsafe" // for go:linkname

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// syncFile is what the files of a book are made safe on the medium with.
//
//go:linkname syncFile traybook/events/atomicfile.syncFile
var syncFile func(*os.File) error

// syncing counts the folders that f makes safe, by their paths below dir, and has that with the name fails fail.
func syncing(t *testing.T, dir, fails string, f func() error) (synced []string, err error) {
	t.Helper()
	kept := syncFile
	defer func() { syncFile = kept }()
	syncFile = func(file *os.File) error {
		fi, err := file.Stat()
		if err != nil {
			return err
		}
		if !fi.IsDir() {
			return kept(file)
		}
		rel, err := filepath.Rel(dir, file.Name())
		if err != nil {
			return err
		}
		if synced = append(synced, filepath.ToSlash(rel)); filepath.ToSlash(rel) == fails {
			return syscall.EIO
		}
		return kept(file)
	}
	err = f()
	return synced, err
}

// What a scan makes is safe on the medium when it is told of: each folder that it made, in its own, and the folder of a scan
// that an earlier run laid there and may not have lived to make safe. Where the medium fails, it is told, and tried again.
func TestAStoredScanIsSafeOnTheMedium(t *testing.T) {
	src := put(t, "quay.jpg", asJPEG(t, quay(60, 40)))
	dir := t.TempDir()
	var s Stored
	store := func() (err error) { s, err = Store(dir, src, false); return err }
	_, err := syncing(t, dir, "", store)
	require.NoError(t, err)
	two := "scans/" + s.Digest[:2]
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "scans")))
	for _, c := range [][2]string{{".", "scans"}, {"scans", two}} { // the medium fails as the folder in it is made
		_, err := syncing(t, dir, c[0], store)
		assert.ErrorIs(t, err, syscall.EIO, c[0])
		assert.NoDirExists(t, filepath.Join(dir, c[1]), "the next run makes it anew")
	}
	synced, err := syncing(t, dir, "", store)
	require.NoError(t, err)
	assert.Contains(t, synced, "scans")
	assert.Contains(t, synced, two)
	assert.True(t, s.Laid)
	synced, err = syncing(t, dir, "", store)
	require.NoError(t, err)
	assert.Equal(t, []string{two}, synced, "the copy is there, and made safe once more")
	assert.False(t, s.Laid)
	_, err = syncing(t, dir, two, store)
	assert.ErrorIs(t, err, syscall.EIO)
}
