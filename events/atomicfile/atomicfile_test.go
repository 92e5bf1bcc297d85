package atomicfile

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

// names lists a folder, so that a test sees litter.
func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	found := []string{}
	for _, e := range entries {
		found = append(found, e.Name())
	}
	return found
}

func content(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(b)
}

func oneLine(t *testing.T, err error, parts ...string) {
	t.Helper()
	require.Error(t, err)
	assert.NotContains(t, err.Error(), "\n")
	assert.NotContains(t, err.Error(), mark)
	for _, p := range parts {
		assert.Contains(t, err.Error(), p)
	}
}

// anything lets whatever is there go.
func anything(_, _ string) error { return nil }

func TestWritePlacesThePrivateFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "log.pdf")
	require.NoError(t, Write(path, nil, 0, text("ferry")))
	assert.Equal(t, "ferry", content(t, path))
	assert.Equal(t, []string{"log.pdf"}, names(t, dir))
	fi, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o600), fi.Mode())

	require.NoError(t, Write(path, anything, 0o644, text("harbour")))
	assert.Equal(t, "harbour", content(t, path))
	fi, err = os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o644), fi.Mode())
	assert.Equal(t, []string{"log.pdf"}, names(t, dir))
}

func TestWriteRelativeName(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, Write("a", nil, 0, text("x")))
	assert.Equal(t, "x", content(t, "a"))
}

func TestWriteRefusesAnExistingFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
	err := Write(path, nil, 0, func(io.Writer) error { t.Error("asked to write"); return nil })
	require.ErrorIs(t, err, fs.ErrExist)
	oneLine(t, err, path+" exists", "--force")
	assert.Equal(t, "old", content(t, path))
}

// Another run places its file while ours is still being written.
func TestWriteRefusesAFileThatCameMeanwhile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	err := Write(path, nil, 0, func(w io.Writer) error {
		require.NoError(t, os.WriteFile(path, []byte("theirs"), 0o600))
		return text("ours")(w)
	})
	require.ErrorIs(t, err, fs.ErrExist)
	assert.Equal(t, "theirs", content(t, path))
	assert.Equal(t, []string{"a"}, names(t, dir))
}

func TestWriteOneOfManyWins(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	errs := make([]error, 16)
	var wg sync.WaitGroup
	for i := range errs {
		wg.Go(func() { errs[i] = Write(path, nil, 0, text(strings.Repeat(string(rune('a'+i)), 1000))) })
	}
	wg.Wait()
	won := 0
	for i, err := range errs {
		if err == nil {
			won++
			assert.Equal(t, strings.Repeat(string(rune('a'+i)), 1000), content(t, path))
			continue
		}
		require.ErrorIs(t, err, fs.ErrExist)
	}
	assert.Equal(t, 1, won)
	assert.Equal(t, []string{"a"}, names(t, dir))
}

func TestWriteLeavesNothingOnFailure(t *testing.T) {
	spilled := errors.New("developer spilled")
	cases := map[string]struct {
		fill func(io.Writer) error
		sync func(*os.File) error
		want error
	}{
		"fill fails":    {fill: func(w io.Writer) error { text("half")(w); return spilled }, want: spilled},
		"medium fails":  {fill: text("x"), sync: func(*os.File) error { return &fs.PathError{Op: "sync", Path: "t", Err: syscall.EIO} }, want: syscall.EIO},
		"medium failed": {fill: text("x"), sync: func(*os.File) error { return syscall.EIO }, want: syscall.EIO},
	}
	for name, c := range cases {
		for _, existing := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				dir := t.TempDir()
				path := filepath.Join(dir, "a")
				want := []string{}
				if existing {
					require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
					want = []string{"a"}
				}
				failing(t, c.sync)
				err := Write(path, anything, 0, c.fill)
				require.ErrorIs(t, err, c.want)
				oneLine(t, err)
				assert.Equal(t, want, names(t, dir))
				if existing {
					assert.Equal(t, "old", content(t, path))
				}
			})
		}
	}
}

// failing stands in for a medium that does not take what it is given.
func failing(t *testing.T, f func(*os.File) error) {
	if f == nil {
		return
	}
	kept := syncFile
	syncFile = f
	t.Cleanup(func() { syncFile = kept })
}

func TestWriteFolderThatCannotBeMadeSafe(t *testing.T) {
	dir := t.TempDir()
	failing(t, func(f *os.File) error {
		if fi, err := f.Stat(); err == nil && fi.IsDir() {
			return syscall.EIO
		}
		return nil
	})
	oneLine(t, Write(filepath.Join(dir, "a"), nil, 0, text("x")), "cannot write "+filepath.Join(dir, "a")+": input/output error")
	oneLine(t, Dir(filepath.Join(dir, "b"), nil, 0, func(string) error { return nil }), "input/output error")
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left, "a name that is not safe is taken back")
	path := filepath.Join(dir, "c")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
	oneLine(t, Write(path, anything, 0, text("new")), "c is written, but its name could not be made safe: input/output error")
}

// A folder that is replaced is there again, as it was, when the new name is not safe.
func TestReplacedFolderThatCannotBeMadeSafe(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	put := func(text string) func(string) error {
		return func(d string) error { return os.WriteFile(filepath.Join(d, "x"), []byte(text), 0o600) }
	}
	require.NoError(t, Dir(path, nil, 0, put("old")))
	failing(t, func(f *os.File) error {
		if f.Name() == dir {
			return syscall.EIO
		}
		return nil
	})
	oneLine(t, Dir(path, sameNames, 0, put("new")), "input/output error")
	got, err := os.ReadFile(filepath.Join(path, "x"))
	require.NoError(t, err)
	assert.Equal(t, "old", string(got))
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, left, 1)
}

// Of a medium that has no such call nothing is asked.
func TestFolderOnAMediumThatCannotSyncOne(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a")
	failing(t, func(f *os.File) error {
		if fi, err := f.Stat(); err == nil && fi.IsDir() {
			return syscall.EINVAL
		}
		return nil
	})
	require.NoError(t, Write(path, nil, 0, text("x")))
	require.FileExists(t, path)
}

func TestWriteFullDisk(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil {
		return // only some systems have the device
	}
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	require.NoError(t, err)
	defer full.Close()
	s := &sink{w: full}
	_, err = s.Write([]byte("x"))
	require.Error(t, err)
	p := place{shown: "log.pdf"}
	assert.EqualError(t, p.fail(s.err), "cannot write log.pdf: no space left on device")
}

func TestWritePanicLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	assert.Panics(t, func() {
		_ = Write(filepath.Join(dir, "a"), nil, 0, func(io.Writer) error { panic("font") })
	})
	assert.Empty(t, names(t, dir))
}

func TestWriteRefusedTargets(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "file"), nil, 0o600))
	require.NoError(t, os.Symlink("file", filepath.Join(dir, "link")))
	for name, c := range map[string]struct{ path, says string }{
		"no name":          {"", "no file name given"},
		"root":             {"/", "root of the file system"},
		"folder":           {dir, "is a folder: name a file"},
		"missing folder":   {filepath.Join(dir, "no", "a"), "does not exist; make it first"},
		"folder is a file": {filepath.Join(dir, "file", "a"), "is not a folder"},
		"below a file":     {filepath.Join(dir, "file", "b", "a"), "not a directory"},
		"link":             {filepath.Join(dir, "link"), "is not a plain file"},
		"device":           {os.DevNull, "is not a plain file"},
		"name too long":    {filepath.Join(dir, strings.Repeat("x", 300)), "file name too long"},
	} {
		t.Run(name, func(t *testing.T) {
			oneLine(t, Write(c.path, anything, 0, text("x")), c.says)
			assert.Equal(t, []string{"file", "link"}, names(t, dir))
		})
	}
}

func TestWriteLongestName(t *testing.T) {
	dir := t.TempDir()
	long := strings.Repeat("ж", 127)
	require.NoError(t, Write(filepath.Join(dir, long), nil, 0, text("x")))
	assert.Equal(t, []string{long}, names(t, dir))
}

// What any dead run left goes, whatever it was making; what another program
// named, or a person, stays.
func TestWhatDeadRunsLeftIsCleared(t *testing.T) {
	dir := t.TempDir()
	foreign := []string{".a.part-1", ".traybook-part-", ".traybook-part-12", ".traybook-part-x1", ".traybook-part-9.jpg", "traybook-part-1"}
	for _, name := range foreign {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("x"), 0o600))
	}
	for _, name := range []string{"77", "123/new/data", "1230000000000/new"} {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, mark+name), 0o700))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, mark+"77", "book.db-wal"), []byte("x"), 0o600))
	require.NoError(t, Write(filepath.Join(dir, "a"), nil, 0, text("x")))
	assert.ElementsMatch(t, append(foreign, "a"), names(t, dir))
}

func TestLivingRunsAreLeftAlone(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	err := Write(path, anything, 0, func(w io.Writer) error {
		require.NoError(t, Clear(path))
		require.NoError(t, Write(path, anything, 0, text("second")))
		return text("first")(w)
	})
	require.NoError(t, err)
	assert.Equal(t, "first", content(t, path))
	assert.Equal(t, []string{"a"}, names(t, dir))
}

func TestClearRefusesWhatHasNoPlace(t *testing.T) {
	require.ErrorIs(t, Clear(filepath.Join(t.TempDir(), "no", "a")), fs.ErrNotExist)
}

func TestWriteAsTakesItsNameFromItsContent(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "ab"), 0o700))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, mark+"12", grown), 0o700))
	for range 2 {
		filled := false
		require.NoError(t, WriteAs(dir, 0, func(w io.Writer) error { filled = true; return text("x")(w) }, func() (string, error) {
			assert.True(t, filled)
			return filepath.Join(dir, "ab", "abcd.jpg"), nil
		}))
		assert.Equal(t, []string{"ab"}, names(t, dir))
		assert.Equal(t, []string{"abcd.jpg"}, names(t, filepath.Join(dir, "ab")))
	}
	require.NoError(t, WriteAs(dir, 0, text("x"), func() (string, error) { return "", nil }))
	torn := errors.New("torn")
	require.ErrorIs(t, WriteAs(dir, 0, text("x"), func() (string, error) { return "", torn }), torn)
	require.ErrorContains(t, WriteAs(dir, 0, text("x"), func() (string, error) { return filepath.Join(dir, "no", "a"), nil }), "make it first")
	require.ErrorContains(t, WriteAs(dir, 0, text("x"), func() (string, error) { return filepath.Join(dir, "ab"), nil }), "is a folder")
	no := filepath.Join(dir, "no")
	require.EqualError(t, WriteAs(no, 0, text("x"), nil), "cannot write "+no+": the folder "+no+" does not exist; make it first")
	syncFile = func(*os.File) error { return &fs.PathError{Op: "sync", Path: "new", Err: syscall.EIO} }
	t.Cleanup(func() { syncFile = (*os.File).Sync })
	require.EqualError(t, WriteAs(dir, 0, text("x"), nil), "cannot write "+dir+": input/output error", "the folder that was asked for, not what grows in it")
	assert.Equal(t, []string{"ab"}, names(t, dir))
}
