package atomicfile

import (
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func grow(t *testing.T, dir string) *Growing {
	t.Helper()
	g, err := Grow(dir)
	require.NoError(t, err)
	t.Cleanup(g.Drop)
	return g
}

// lets says whether nobody holds a folder in which something grew.
func lets(name string) bool {
	release, dead := claim(name)
	release()
	return dead
}

func TestGrowMakesAPrivateFolderOfItsOwn(t *testing.T) {
	dir := t.TempDir()
	dead := filepath.Join(dir, mark+"12")
	require.NoError(t, os.Mkdir(dead, 0o700))
	begun := 0
	Begin = func() {
		begun++
		assert.DirExists(t, dead, "before anything is cleared")
	}
	t.Cleanup(func() { Begin = nil })
	g := grow(t, dir)
	assert.Equal(t, 1, begun)
	assert.NoDirExists(t, dead)
	assert.Equal(t, dir, filepath.Dir(g.Dir))
	assert.True(t, Grows(filepath.Base(g.Dir)))
	fi, err := os.Stat(g.Dir)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o700), fi.Mode().Perm())
	assert.False(t, lets(g.Dir), "it is held")
	Begin = nil
	other := grow(t, dir)
	assert.NotEqual(t, g.Dir, other.Dir)
	assert.Len(t, names(t, dir), 2)
	g.Drop()
	assert.Equal(t, []string{filepath.Base(other.Dir)}, names(t, dir))
	require.NoError(t, os.Mkdir(g.Dir, 0o700))
	g.Drop()
	assert.DirExists(t, g.Dir, "a second time it does nothing")

	_, err = Grow(filepath.Join(dir, "no"))
	assert.ErrorIs(t, err, fs.ErrNotExist)
}

func TestGrowBesideAPath(t *testing.T) {
	dir := t.TempDir()
	g, err := Beside(filepath.Join(dir, "book.db"))
	require.NoError(t, err)
	defer g.Drop()
	assert.Equal(t, dir, filepath.Dir(g.Dir))
	no := filepath.Join(dir, "no", "a")
	_, err = Beside(no)
	oneLine(t, err, "cannot write "+no+": the folder "+filepath.Dir(no)+" does not exist; make it first")
	assert.ErrorIs(t, err, fs.ErrNotExist)
	Begin = func() { require.NoError(t, os.RemoveAll(dir)) }
	t.Cleanup(func() { Begin = nil })
	_, err = Beside(filepath.Join(dir, "book.db"))
	oneLine(t, err, "book.db: its folder was moved or removed meanwhile; do it again where it is to stand")
	assert.ErrorIs(t, err, fs.ErrNotExist)
}

func TestPlaceGivesAName(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	place := func(text string, replace bool) error {
		g := grow(t, dir)
		name := filepath.Join(g.Dir, "growing")
		require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
		err := g.Place(name, path, replace)
		if err != nil {
			assert.FileExists(t, name, "nothing is taken away")
			g.Drop()
		}
		return err
	}
	require.NoError(t, place("old", false))
	assert.ErrorIs(t, place("new", false), fs.ErrExist)
	assert.Equal(t, "old", content(t, path))
	require.NoError(t, place("new", true))
	assert.Equal(t, "new", content(t, path))
	assert.Equal(t, []string{"a"}, names(t, dir))
	assert.True(t, growing.named, "Stop will say so")
}

// Where the system gives no hard link, as of a folder, the name is given all the same.
func TestPlaceWithoutHardLinks(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	g := grow(t, dir)
	require.NoError(t, files("growing/x")(g.Dir))
	require.NoError(t, g.Place(filepath.Join(g.Dir, "growing"), path, false))
	assert.Equal(t, []string{"x"}, names(t, path))
	g = grow(t, dir)
	require.NoError(t, files("growing/y")(g.Dir))
	assert.ErrorIs(t, g.Place(filepath.Join(g.Dir, "growing"), path, false), fs.ErrExist)
	assert.Equal(t, []string{"x"}, names(t, path))
	g.Drop()
	assert.Equal(t, []string{"a"}, names(t, dir))
}

// What was taken away by another hand, or whose other name is taken, goes all the same and is let go.
func TestDropOfWhatIsOddlyGone(t *testing.T) {
	dir := t.TempDir()
	g := grow(t, dir)
	require.NoError(t, os.Remove(g.Dir))
	g.Drop()
	assert.NotContains(t, growing.folders, g)

	g = grow(t, dir)
	require.NoError(t, files("a/b")(g.Dir))
	taken := g.Dir + "0000000000"
	require.NoError(t, files("a")(taken))
	g.Drop()
	assert.NotContains(t, growing.folders, g)
	assert.NoDirExists(t, g.Dir)
	assert.Equal(t, []string{"a"}, names(t, taken))
	require.NoError(t, Clear(filepath.Join(dir, "x")))
	assert.Empty(t, names(t, dir))
}

// A folder that holds what was set aside and has no place to go back to stays, and is let go.
func TestDropOfWhatCannotGoBack(t *testing.T) {
	dir := t.TempDir()
	g := grow(t, dir)
	require.NoError(t, files("new/b", "old/csv/a")(g.Dir))
	require.NoError(t, files("theirs")(filepath.Join(dir, "csv")))
	g.Drop()
	assert.NotContains(t, growing.folders, g)
	assert.Equal(t, []string{"a"}, names(t, filepath.Join(g.Dir, "old", "csv")))
	assert.Equal(t, []string{"theirs"}, names(t, filepath.Join(dir, "csv")))
	assert.True(t, lets(g.Dir))
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "csv")))
	require.NoError(t, Clear(filepath.Join(dir, "x")))
	assert.Equal(t, []string{"csv"}, names(t, dir))
	assert.Equal(t, []string{"a"}, names(t, filepath.Join(dir, "csv")))
}

func TestMkdirAllMakesNotTheFolderItself(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, MkdirAll(dir, "a/b"))
	assert.DirExists(t, filepath.Join(dir, "a", "b"))
	fi, err := os.Stat(filepath.Join(dir, "a"))
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o700), fi.Mode().Perm())
	require.NoError(t, MkdirAll(dir, "a/b"))
	gone := filepath.Join(dir, "gone")
	assert.NoError(t, MkdirAll(gone, "."))
	assert.ErrorIs(t, MkdirAll(gone, "a"), fs.ErrNotExist)
	assert.NoDirExists(t, gone)
	assert.Error(t, MkdirAll(dir, "../out"))
}

func TestInsideListsWhatGrows(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, files(mark+"7/book.db", mark+"7/book.db-wal", mark+"8/new/x", "other/x", mark+"x/a", mark+"9")(dir))
	require.NoError(t, os.Symlink("other", filepath.Join(dir, mark+"10")))
	want := []string{filepath.Join(dir, mark+"7", "book.db"), filepath.Join(dir, mark+"7", "book.db-wal"), filepath.Join(dir, mark+"8", "new")}
	assert.ElementsMatch(t, want, Inside(dir))
	assert.Empty(t, Inside(filepath.Join(dir, "no")))
	require.NoError(t, Clear(filepath.Join(dir, "a")))
	assert.ElementsMatch(t, []string{mark + "9", mark + "10", mark + "x", "other"}, names(t, dir), "a link is nobody's growing folder")
	_, dead := claim(filepath.Join(dir, mark+"10"))
	assert.False(t, dead)
	for name, grows := range map[string]bool{mark + "0": true, mark + "0123456789": true, mark: false, mark + "1a": false, mark + "a1": false, "x" + mark + "1": false, "1": false} {
		assert.Equal(t, grows, Grows(name), name)
	}
}

func TestSyncDirOfWhatIsNotThere(t *testing.T) {
	assert.ErrorIs(t, SyncDir(filepath.Join(t.TempDir(), "no")), fs.ErrNotExist)
}

// What the system says only when the file is closed is told too.
func TestWriteThatFailsAtItsClose(t *testing.T) {
	dir := t.TempDir()
	failing(t, (*os.File).Close)
	oneLine(t, Write(filepath.Join(dir, "a"), nil, 0, text("x")), "cannot write "+filepath.Join(dir, "a")+": file already closed")
	assert.Empty(t, names(t, dir))
}

func TestWriteWhoseFolderGoesMeanwhile(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "quay")
	require.NoError(t, os.Mkdir(dir, 0o700))
	path := filepath.Join(dir, "a")
	err := Write(path, nil, 0, func(w io.Writer) error {
		require.NoError(t, os.RemoveAll(dir))
		return text("x")(w)
	})
	assert.EqualError(t, err, "cannot write "+path+": its folder was moved or removed meanwhile; do it again where it is to stand")
	assert.ErrorIs(t, err, fs.ErrNotExist)
	assert.NoDirExists(t, dir)
}

func TestWriteWhereTheWorkingFolderIsGone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "quay")
	require.NoError(t, os.Mkdir(dir, 0o700))
	t.Chdir(dir)
	t.Setenv("PWD", "")
	require.NoError(t, os.Remove(dir))
	oneLine(t, Write("a", nil, 0, text("x")), "cannot write a: the folder that this was called in is gone (no such file or directory); go to another one, or write the whole path")
}

func TestReasonIsTheSystemsOwn(t *testing.T) {
	for _, err := range []error{syscall.EIO, &fs.PathError{Err: syscall.EIO}, &os.LinkError{Err: syscall.EIO}, os.NewSyscallError("fsync", syscall.EIO)} {
		assert.Equal(t, syscall.EIO, reason(err))
	}
}

// The folder that is replaced is back where the new one vanished before it got the name.
func TestReplacedFolderIsBackWhereTheNewOneVanished(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	require.NoError(t, files("a")(path))
	vanishes := func(_, new string) error {
		if new == "" {
			return nil
		}
		return os.RemoveAll(new)
	}
	oneLine(t, Dir(path, vanishes, 0, files("a", "b")), "cannot write "+path+": no such file or directory")
	assert.Equal(t, []string{"a"}, names(t, path))
	assert.Equal(t, []string{"csv"}, names(t, parent))

	err := Dir(path, func(old, new string) error {
		if new == "" {
			return nil
		}
		return os.RemoveAll(old)
	}, 0, files("a", "b"))
	oneLine(t, err, "cannot write "+path+": no such file or directory")
	assert.Empty(t, names(t, parent), "the old one was taken away by another hand")
}

// Where neither can have its place again, both stay where they are.
func TestReplacedFolderThatCannotGoBack(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	require.NoError(t, files("old")(path))
	failing(t, func(f *os.File) error {
		if f.Name() != parent {
			return nil
		}
		require.NoError(t, files("theirs")(filepath.Join(folders(parent)[0], grown)))
		return syscall.EIO
	})
	err := Dir(path, anything, 0, files("new"))
	oneLine(t, err, path+" exists")
	assert.Equal(t, []string{"new"}, names(t, path))
	left := folders(parent)
	require.Len(t, left, 1)
	assert.Equal(t, []string{"old"}, names(t, filepath.Join(left[0], setAside, "csv")))
	assert.True(t, lets(left[0]), "the next run may look at it")
	require.NoError(t, Clear(path))
	assert.DirExists(t, left[0], "and leaves it, for it holds the only one")
}

func TestDirWithAFolderThatCannotBeMadeSafe(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	for _, inner := range []string{grown, "by"} {
		failing(t, func(f *os.File) error {
			if filepath.Base(f.Name()) == inner {
				return syscall.EIO
			}
			return nil
		})
		oneLine(t, Dir(path, nil, 0, files("by/box")), "cannot write "+path+": input/output error")
		assert.Empty(t, names(t, parent))
	}
}

// Of what is no plain file inside a folder nothing has to be made safe.
func TestDirWithALinkInIt(t *testing.T) {
	path := filepath.Join(t.TempDir(), "csv")
	require.NoError(t, Dir(path, nil, 0, func(dir string) error { return os.Symlink("nowhere", filepath.Join(dir, "link")) }))
	assert.Equal(t, []string{"link"}, names(t, path))
}

func TestOpenPlain(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, files("a")(dir))
	f, err := OpenPlain(filepath.Join(dir, "a"))
	require.NoError(t, err)
	defer f.Close()
	b := make([]byte, 2)
	n, _ := f.Read(b)
	assert.Equal(t, "a", string(b[:n]))
	require.NoError(t, os.Symlink("a", filepath.Join(dir, "link")))
	linked, err := OpenPlain(filepath.Join(dir, "link"))
	require.NoError(t, err)
	linked.Close()
	_, err = OpenPlain(filepath.Join(dir, "no"))
	assert.ErrorIs(t, err, fs.ErrNotExist)
	for _, path := range []string{dir, os.DevNull} {
		_, err = OpenPlain(path)
		assert.ErrorIs(t, err, ErrNotPlain)
		assert.EqualError(t, err, "open "+path+": it is no file but a pipe, a device or a folder")
	}
}

// What was seen may go; what was changed, added, taken away or put there since may not.
func TestSeen(t *testing.T) {
	for name, c := range map[string]struct {
		change func(dir string) error
		may    bool
	}{
		"nothing": {func(string) error { return nil }, true},
		"longer": {func(dir string) error {
			return os.WriteFile(filepath.Join(dir, "b", "c"), []byte("b/c and more"), 0o600)
		}, false},
		"later":       {func(dir string) error { return os.Chtimes(filepath.Join(dir, "a"), seenTime, seenTime) }, false},
		"other modes": {func(dir string) error { return os.Chmod(filepath.Join(dir, "a"), 0o644) }, false},
		"a file":      {files("b/d"), false},
		"a folder":    {func(dir string) error { return os.Mkdir(filepath.Join(dir, "e"), 0o700) }, false},
		"one less":    {func(dir string) error { return os.Remove(filepath.Join(dir, "a")) }, false},
		"all gone":    {os.RemoveAll, false},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "csv")
			require.NoError(t, files("a", "b/c")(path))
			may, err := Seen(path)
			require.NoError(t, err)
			require.NoError(t, c.change(path))
			if c.may {
				assert.NoError(t, may(path, ""))
			} else {
				assert.EqualError(t, may(path, ""), path+" was changed meanwhile and is left as it is; do it again")
			}
		})
	}
	path := filepath.Join(t.TempDir(), "csv")
	may, err := Seen(path)
	require.NoError(t, err)
	assert.NoError(t, may(path, ""), "nothing stood there and nothing does")
	require.NoError(t, os.Mkdir(path, 0o700))
	assert.Error(t, may(path, ""))
	require.NoError(t, os.WriteFile(path+"-file", nil, 0o600))
	_, err = Seen(filepath.Join(path+"-file", "a"))
	assert.EqualError(t, err, filepath.Join(path+"-file", "a")+" cannot be looked at: not a directory")
	may, err = Seen(path)
	require.NoError(t, err)
	assert.EqualError(t, may(filepath.Join(path+"-file", "a"), ""), filepath.Join(path+"-file", "a")+" cannot be looked at: not a directory")
}

var seenTime = time.Date(2026, 5, 3, 9, 0, 0, 0, time.UTC)
