package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// files puts the given names, each holding its own name, into a folder.
func files(list ...string) func(string) error {
	return func(dir string) error {
		for _, name := range list {
			if err := os.MkdirAll(filepath.Join(dir, filepath.Dir(name)), 0o700); err != nil {
				return err
			}
			if err := os.WriteFile(filepath.Join(dir, name), []byte(name), 0o600); err != nil {
				return err
			}
		}
		return nil
	}
}

func TestDirPlacesThePrivateFolder(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	require.NoError(t, Dir(path, nil, 0, files("sheets.csv", "by/box.csv")))
	assert.Equal(t, []string{"by", "sheets.csv"}, names(t, path))
	assert.Equal(t, "by/box.csv", content(t, filepath.Join(path, "by", "box.csv")))
	fi, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o700), fi.Mode().Perm())
	assert.Equal(t, []string{"csv"}, names(t, parent))

	require.NoError(t, Dir(filepath.Join(parent, "open"), nil, 0o755, files("a")))
	fi, err = os.Stat(filepath.Join(parent, "open"))
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o755), fi.Mode().Perm())
}

func TestDirRefusesAnExistingFolder(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	require.NoError(t, os.Mkdir(path, 0o700))
	err := Dir(path, nil, 0, files("a"))
	require.ErrorIs(t, err, fs.ErrExist)
	oneLine(t, err, "csv exists")
	assert.Empty(t, names(t, path))
}

func TestDirRefusesAFolderThatCameMeanwhile(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	err := Dir(path, nil, 0, func(dir string) error {
		require.NoError(t, os.Mkdir(path, 0o700))
		return files("a")(dir)
	})
	require.ErrorIs(t, err, fs.ErrExist)
	assert.Equal(t, []string{"csv"}, names(t, parent))
	assert.Empty(t, names(t, path))
}

func TestDirForceReplacesOnlyWhatItWritesAgain(t *testing.T) {
	for name, c := range map[string]struct {
		old, new []string
		lost     string
	}{
		"same names":        {old: []string{"a", "b/c"}, new: []string{"a", "b/c"}},
		"more names":        {old: []string{"a"}, new: []string{"a", "b"}},
		"empty before":      {old: nil, new: []string{"a"}},
		"foreign file":      {old: []string{"a", "letter.txt"}, new: []string{"a"}, lost: "letter.txt"},
		"foreign below":     {old: []string{"a", "b/c", "b/d"}, new: []string{"a", "b/c"}, lost: "b/d"},
		"file against fold": {old: []string{"a"}, new: []string{"a/b"}, lost: "a"},
	} {
		t.Run(name, func(t *testing.T) {
			parent := t.TempDir()
			path := filepath.Join(parent, "csv")
			require.NoError(t, os.Mkdir(path, 0o700))
			require.NoError(t, files(c.old...)(path))
			err := Dir(path, sameNames, 0, files(c.new...))
			assert.Equal(t, []string{"csv"}, names(t, parent))
			kept := c.new
			if c.lost != "" {
				oneLine(t, err, "holds "+c.lost+",", "move it away")
				kept = c.old
			} else {
				require.NoError(t, err)
			}
			for _, f := range kept {
				assert.Equal(t, f, content(t, filepath.Join(path, f)))
			}
		})
	}
}

func TestDirReplacingAsksItsCaller(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "year.bag")
	require.NoError(t, os.Mkdir(path, 0o700))
	require.NoError(t, files("old")(path))
	no := errors.New("not a bag")
	require.ErrorIs(t, Dir(path, func(_, _ string) error { return no }, 0, files("new")), no)
	assert.Equal(t, []string{"old"}, names(t, path))
	asked := 0
	err := Dir(path, func(old, new string) error {
		assert.Equal(t, path, old)
		if asked++; asked == 1 {
			assert.Empty(t, new, "before the work")
		} else {
			assert.Equal(t, []string{"new"}, names(t, new))
		}
		return nil
	}, 0, files("new"))
	assert.Equal(t, 2, asked)
	require.NoError(t, err)
	assert.Equal(t, []string{"new"}, names(t, path))
	assert.Equal(t, []string{"year.bag"}, names(t, parent))
}

func TestDirLeavesNothingOnFailure(t *testing.T) {
	spilled := errors.New("fixer spilled")
	eio := func(*os.File) error { return &fs.PathError{Op: "sync", Path: "t", Err: syscall.EIO} }
	for name, c := range map[string]struct {
		fill func(string) error
		sync func(*os.File) error
		says string
	}{
		"fill fails":   {fill: func(d string) error { _ = files("half")(d); return spilled }, says: "fixer spilled"},
		"medium fails": {fill: files("a/b"), sync: eio, says: "cannot write"},
		"file fails":   {fill: func(d string) error { return os.WriteFile(filepath.Join(d, "no", "a"), nil, 0o600) }, says: filepath.Join("csv", "no", "a") + ": no such"},
		"vanished":     {fill: os.RemoveAll, says: "no such file"},
	} {
		t.Run(name, func(t *testing.T) {
			parent := t.TempDir()
			path := filepath.Join(parent, "csv")
			require.NoError(t, os.Mkdir(path, 0o700))
			failing(t, c.sync)
			oneLine(t, Dir(path, sameNames, 0, c.fill), c.says)
			assert.Equal(t, []string{"csv"}, names(t, parent))
			assert.Empty(t, names(t, path))
		})
	}
}

func TestDirRefusedTargets(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "file"), nil, 0o600))
	for name, c := range map[string]struct{ path, says string }{
		"no name":       {"", "no file name given"},
		"a file":        {filepath.Join(dir, "file"), "is not a folder"},
		"name too long": {filepath.Join(dir, strings.Repeat("x", 300)), "file name too long"},
	} {
		t.Run(name, func(t *testing.T) {
			oneLine(t, Dir(c.path, sameNames, 0, files("a")), c.says)
			assert.Equal(t, []string{"file"}, names(t, dir))
		})
	}
}

// A run killed after the old folder was set aside and before the new one was
// placed: the old one is back before the next run asks for force, whatever that
// run makes there.
func TestSetAsideFolderGoesBack(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	part := filepath.Join(parent, mark+"12")
	lay := func() {
		require.NoError(t, files("new/b", "old/csv/a")(part))
	}
	lay()
	require.ErrorIs(t, Dir(path, nil, 0, files("b")), fs.ErrExist)
	assert.Equal(t, []string{"csv"}, names(t, parent))
	assert.Equal(t, []string{"a"}, names(t, path))
	require.NoError(t, os.RemoveAll(path))
	lay()
	require.NoError(t, Write(filepath.Join(parent, "log.pdf"), nil, 0, text("x")))
	assert.Equal(t, []string{"csv", "log.pdf"}, names(t, parent))
	assert.Equal(t, []string{"a"}, names(t, path))
}

// Another folder came to its place meanwhile: neither goes.
func TestSetAsideFolderWhosePlaceIsTakenStays(t *testing.T) {
	parent := t.TempDir()
	part := filepath.Join(parent, mark+"12")
	require.NoError(t, files("new/b", "old/csv/a")(part))
	require.NoError(t, files("theirs")(filepath.Join(parent, "csv")))
	for range 2 {
		require.NoError(t, Clear(filepath.Join(parent, "csv")))
	}
	assert.Equal(t, []string{"theirs"}, names(t, filepath.Join(parent, "csv")))
	assert.Equal(t, []string{"a"}, names(t, filepath.Join(part, setAside, "csv")))
}

// Killed one step later: the new one has its place and the old one goes.
func TestReplacedFolderIsCleared(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	require.NoError(t, os.Mkdir(path, 0o700))
	require.NoError(t, files("old/csv/deep/a")(filepath.Join(parent, mark+"12")))
	require.NoError(t, Clear(path))
	assert.Equal(t, []string{"csv"}, names(t, parent))
}

func TestLivingDirIsLeftAlone(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "csv")
	require.NoError(t, Dir(path, nil, 0, func(dir string) error {
		require.NoError(t, Clear(path))
		return files("a")(dir)
	}))
	assert.Equal(t, []string{"a"}, names(t, path))
}

// sameNames lets an old folder go only if the new one has each of its names, a
// file for a file: one that holds anything else is not ours to remove. It says
// nothing before the new folder is there.
func sameNames(old, new string) error {
	if new == "" {
		return nil
	}
	return filepath.WalkDir(old, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(old, name)
		if err != nil {
			return err
		}
		fi, err := os.Lstat(filepath.Join(new, rel))
		if err != nil || fi.Mode().Type() != d.Type() {
			return fmt.Errorf("%s holds %s, which would be lost: move it away, or name another folder", old, filepath.ToSlash(rel))
		}
		return nil
	})
}
