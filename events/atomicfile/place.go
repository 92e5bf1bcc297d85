package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// place is a target: its absolute path and the two parts of it.
type place struct {
	path, dir, base string
	shown           string // as the caller wrote it, for messages
}

func target(path string) (place, error) { return targetShown(path, path) }

// targetShown is the place of path, which messages call shown.
func targetShown(path, shown string) (place, error) {
	if path == "" {
		return place{}, errors.New("no file name given")
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return place{}, fmt.Errorf("cannot write %s: the folder that this was called in is gone (%w); go to another one, or write the whole path", shown, reason(err))
	}
	t := place{path: abs, dir: filepath.Dir(abs), base: filepath.Base(abs), shown: shown}
	if t.dir == t.path {
		return place{}, fmt.Errorf("%s is the root of the file system: name a file or folder below it", shown)
	}
	switch fi, err := os.Stat(t.dir); {
	case errors.Is(err, fs.ErrNotExist):
		return place{}, noFolder(fmt.Sprintf("cannot write %s: the folder %s does not exist; make it first", shown, filepath.Dir(path)))
	case err != nil:
		return place{}, t.fail(err)
	case !fi.IsDir():
		return place{}, fmt.Errorf("cannot write %s: %s is not a folder", shown, filepath.Dir(path))
	}
	return t, nil
}

func (t place) mayWriteFile(temp string, may May) error {
	fi, err := os.Lstat(t.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return t.fail(err)
	case fi.IsDir():
		return fmt.Errorf("%s is a folder: name a file", t.shown)
	case !fi.Mode().IsRegular():
		return fmt.Errorf("%s is not a plain file: name another", t.shown)
	case may == nil:
		return t.exists()
	}
	return may(t.path, temp)
}

func (t place) exists() error {
	return &existsError{t.shown}
}

// fail says in one line what could not be written and why, without the
// temporary name, which means nothing to the reader.
func (t place) fail(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		if _, gone := os.Stat(t.dir); errors.Is(gone, fs.ErrNotExist) {
			return noFolder(fmt.Sprintf("cannot write %s: its folder was moved or removed meanwhile; do it again where it is to stand", t.shown))
		}
	}
	return fmt.Errorf("cannot write %s: %w", t.shown, reason(err))
}

func reason(err error) error {
	var pe *fs.PathError
	var le *os.LinkError
	var se *os.SyscallError
	switch {
	case errors.As(err, &pe):
		return pe.Err
	case errors.As(err, &le):
		return le.Err
	case errors.As(err, &se):
		return se.Err
	}
	return err
}

type existsError struct{ path string }

func (e *existsError) Error() string {
	return e.path + " exists: name another, or replace it with --force"
}

func (e *existsError) Unwrap() error { return fs.ErrExist }

// noFolder is an error of a folder that is not there; its text says so itself.
type noFolder string

func (e noFolder) Error() string        { return string(e) }
func (e noFolder) Is(target error) bool { return target == fs.ErrNotExist }
