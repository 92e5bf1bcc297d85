// Package atomicfile puts a finished file or folder in its place, whole or not
// at all. The new content grows beside its target under a temporary name that
// begins with a dot, is made safe on the medium, and only then takes the
// target's name. A run that was killed leaves such a temporary name behind; the
// next run for the same target clears it, once it is sure that nobody is still
// writing there.
package atomicfile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Private is the permission of files that leave the notebook unless a caller
// asks for another: they may name people, so only their owner reads them.
const Private fs.FileMode = 0o600

// bufferSize bounds the number of system calls for writers of small pieces.
const bufferSize = 64 << 10

// syncFile is (*os.File).Sync, replaced in tests by a medium that fails.
var syncFile = (*os.File).Sync

// Write makes the file path from what fill writes. perm 0 means Private.
//
// The bytes are on the medium and the folder's entry is too when Write returns
// nil. On any failure, a panic of fill included, path is as it was before and
// no temporary file remains.
//
// Errors: path exists and force is not given (errors.Is fs.ErrExist, checked
// again at the very end so that two runs cannot overwrite each other); path is
// something other than a plain file, even with force; its folder is missing or
// not writable; the medium is full or failing; whatever fill returns.
func Write(path string, force bool, perm fs.FileMode, fill func(io.Writer) error) (err error) {
	t, err := target(path)
	if err != nil {
		return err
	}
	if err := t.mayWriteFile(force); err != nil {
		return err
	}
	t.clear(temporary)
	f, release, err := t.create()
	if err != nil {
		return t.fail(err)
	}
	temp := f.Name()
	placed := false
	defer func() {
		release()
		if !placed {
			f.Close()
			os.Remove(temp)
		}
	}()
	if perm == 0 {
		perm = Private
	}
	if err := f.Chmod(perm); err != nil {
		return t.fail(err)
	}
	s := &sink{w: f}
	b := bufio.NewWriterSize(s, bufferSize)
	err = fill(b)
	if err == nil {
		err = b.Flush()
	}
	if s.err != nil {
		return t.fail(s.err)
	}
	if err != nil {
		return err
	}
	if err := syncFile(f); err != nil {
		return t.fail(err)
	}
	if err := f.Close(); err != nil {
		return t.fail(err)
	}
	if err := t.place(temp, force); err != nil {
		return err
	}
	placed = true
	if err := SyncDir(t.dir); err != nil {
		return t.fail(err)
	}
	return nil
}

// place gives temp the target's name. Without force the name is taken by a
// hard link, which the system refuses when the name exists; where the file
// system has no links the name is looked at once more and then renamed.
func (t place) place(temp string, force bool) error {
	if !force {
		err := os.Link(temp, t.path)
		if err == nil {
			os.Remove(temp) // if this fails the next run clears it
			return nil
		}
		if errors.Is(err, fs.ErrExist) {
			return t.exists()
		}
	}
	if err := t.mayWriteFile(force); err != nil {
		return err
	}
	if err := os.Rename(temp, t.path); err != nil {
		return t.fail(err)
	}
	return nil
}

// SyncDir makes the names in a folder safe on the medium. On systems that have
// no such call it does nothing.
//
// Errors: the folder cannot be opened, or the medium fails.
func SyncDir(dir string) error {
	if !dirsSync {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return syncFile(d)
}

// Clear removes what dead runs left beside path, and puts back a folder that a
// dead run had moved aside but not yet replaced. What a living run is writing
// is left alone. Write and Dir call it; a caller needs it only before it looks
// whether path exists.
//
// Errors: path names no file or folder, or its folder is missing.
func Clear(path string) error {
	t, err := target(path)
	if err != nil {
		return err
	}
	t.recover()
	t.clear(temporary)
	return nil
}

// sink remembers the first failure of the medium, so that it can be told apart
// from what fill has to say.
type sink struct {
	w   io.Writer
	err error
}

func (s *sink) Write(p []byte) (int, error) {
	n, err := s.w.Write(p)
	if err != nil && s.err == nil {
		s.err = err
	}
	return n, err
}

// place is a target: its absolute path and the two parts of it.
type place struct {
	path, dir, base string
	shown           string // as the caller wrote it, for messages
}

func target(path string) (place, error) {
	if path == "" {
		return place{}, errors.New("no file name given")
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return place{}, fmt.Errorf("cannot write %s: %w", path, reason(err))
	}
	t := place{path: abs, dir: filepath.Dir(abs), base: filepath.Base(abs), shown: path}
	if t.dir == t.path {
		return place{}, fmt.Errorf("%s is the root of the file system: name a file or folder below it", path)
	}
	switch fi, err := os.Stat(t.dir); {
	case errors.Is(err, fs.ErrNotExist):
		return place{}, fmt.Errorf("cannot write %s: the folder %s does not exist; make it first: %w", path, filepath.Dir(path), fs.ErrNotExist)
	case err != nil:
		return place{}, t.fail(err)
	case !fi.IsDir():
		return place{}, fmt.Errorf("cannot write %s: %s is not a folder", path, filepath.Dir(path))
	}
	return t, nil
}

func (t place) mayWriteFile(force bool) error {
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
	case !force:
		return t.exists()
	}
	return nil
}

func (t place) exists() error {
	return &existsError{t.shown}
}

// fail says in one line what could not be written and why, without the
// temporary name, which means nothing to the reader.
func (t place) fail(err error) error {
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
