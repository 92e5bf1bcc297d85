package atomicfile

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// reachable is a folder in which anyone may write.
func reachable(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755)) // so that the folder is in reach
	require.NoError(t, os.Chmod(dir, 0o777))
	t.Cleanup(func() { os.Chmod(dir, 0o777) })
	return dir
}

func TestWhereNothingMayBeWritten(t *testing.T) {
	dir := reachable(t)
	require.NoError(t, os.Chmod(dir, 0o555))
	path := filepath.Join(dir, "a")
	for name, f := range map[string]func() error{
		"file":   func() error { return Write(path, nil, 0, text("x")) },
		"folder": func() error { return Dir(path, nil, 0, files("x")) },
		"beside": func() error { _, err := Beside(path); return err },
	} {
		assert.EqualError(t, eventstest.WithoutRights(f), "cannot write "+path+": permission denied", name)
	}
	assert.Empty(t, names(t, dir))
}

// A folder that cannot be marked as held is tried anew, and in the end left unmarked; each but the last is gone.
func TestFoldersThatCannotBeMarked(t *testing.T) {
	dir := reachable(t)
	path := filepath.Join(dir, "a")
	unreadable := func(f func() error) error {
		return eventstest.WithoutRights(func() error {
			defer syscall.Umask(syscall.Umask(0o777)) // what is made may not even be opened
			return f()
		})
	}
	require.NoError(t, unreadable(func() error {
		g, err := Grow(dir)
		if err == nil {
			assert.Equal(t, []string{filepath.Base(g.Dir)}, names(t, dir))
			g.Drop()
		}
		return err
	}))
	assert.EqualError(t, unreadable(func() error { return Write(path, nil, 0, text("x")) }), "cannot write "+path+": permission denied")
	assert.EqualError(t, unreadable(func() error { return Dir(path, nil, 0, files("x")) }), "cannot write "+path+": permission denied")
	left := names(t, dir)
	assert.Len(t, left, 3, "whether anything is set aside in what cannot be looked into is not known")
	for _, name := range left {
		require.NoError(t, os.Chmod(filepath.Join(dir, name), 0o700))
	}
	require.NoError(t, Clear(path))
	assert.Empty(t, names(t, dir))
}

func TestDirWithAFileThatCannotBeMadeSafe(t *testing.T) {
	dir := reachable(t)
	path := filepath.Join(dir, "a")
	err := eventstest.WithoutRights(func() error {
		return Dir(path, nil, 0, func(d string) error { return os.WriteFile(filepath.Join(d, "x"), nil, 0) })
	})
	assert.EqualError(t, err, "cannot write "+path+": permission denied")
	assert.Empty(t, names(t, dir))
}

// A file that may only be read is made safe too, and a folder that may not be looked into is no folder that was seen.
func TestWhatMayOnlyBeRead(t *testing.T) {
	dir := reachable(t)
	path := filepath.Join(dir, "a")
	require.NoError(t, eventstest.WithoutRights(func() error {
		return Dir(path, nil, 0o755, func(d string) error { return os.WriteFile(filepath.Join(d, "x"), []byte("x"), 0o400) })
	}))
	assert.Equal(t, []string{"x"}, names(t, path))
	require.NoError(t, files("b/c")(path))
	require.NoError(t, os.Chmod(filepath.Join(path, "b"), 0))
	err := eventstest.WithoutRights(func() error { _, err := Seen(path); return err })
	assert.EqualError(t, err, path+" cannot be looked at: permission denied")
}

// What cannot be taken away stays held, so that no other run tries; dropped again it is let go.
func TestDropOfWhatCannotBeTakenAway(t *testing.T) {
	dir := reachable(t)
	var g *Growing
	require.NoError(t, eventstest.WithoutRights(func() (err error) {
		if g, err = Grow(dir); err != nil {
			return err
		}
		err = files("x/y")(g.Dir)
		err = errors.Join(err, os.Chmod(filepath.Join(g.Dir, "x"), 0o500))
		g.Drop()
		return err
	}))
	assert.NoDirExists(t, g.Dir, "its name is gone before it is emptied")
	left := g.Dir + "0000000000"
	assert.FileExists(t, filepath.Join(left, "x", "y"))
	assert.False(t, lets(left))
	require.NoError(t, os.Chmod(filepath.Join(left, "x"), 0o700))
	g.Drop()
	assert.True(t, lets(left))
	require.NoError(t, Clear(filepath.Join(dir, "a")))
	assert.Empty(t, names(t, dir))
}

// What is set aside stays where the folder that it belongs to lets nothing in.
func TestSetAsideFolderThatCannotGoBack(t *testing.T) {
	dir := reachable(t)
	part := filepath.Join(dir, mark+"12")
	require.NoError(t, files("new/b", "old/csv/a")(part))
	for _, name := range []string{"", "new", "old", "old/csv"} {
		require.NoError(t, os.Chmod(filepath.Join(part, name), 0o777))
	}
	require.NoError(t, os.Chmod(dir, 0o555))
	require.NoError(t, eventstest.WithoutRights(func() error { return Clear(filepath.Join(dir, "a")) }))
	assert.Equal(t, []string{"a"}, names(t, filepath.Join(part, "old", "csv")))
	assert.Equal(t, []string{"b"}, names(t, filepath.Join(part, "new")))
}
