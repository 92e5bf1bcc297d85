// Package atomicfile puts a finished file or folder in its place, whole or not
// at all. The new content grows beside its target in a folder of its own whose
// name begins with a dot, is made safe on the medium, and only then takes the
// target's name. A run that is asked to stop takes such folders away (Stop); one
// that was killed leaves them, and the next run that writes in the same place,
// whatever it makes, clears them, once it is sure that nobody is still writing
// there.
package atomicfile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// Private is the permission of files that leave the notebook unless a caller
// asks for another: they may name people, so only their owner reads them.
const Private fs.FileMode = 0o600

// bufferSize bounds the number of system calls for writers of small pieces.
const bufferSize = 64 << 10

// syncFile is (*os.File).Sync, replaced in tests by a medium that fails.
var syncFile = (*os.File).Sync

// May says whether what stands at a place may go for what takes its place; its
// error says why not. old is the path of what is there, new that of what is
// complete and waits for the name, "" before anything is written. A rule is
// asked both times: the first answer spares the work, the second one counts. A
// nil rule lets nothing go.
type May func(old, new string) error

// Write makes the file path from what fill writes. perm 0 means Private.
//
// The bytes are on the medium and the folder's entry is too when Write returns
// nil. On any failure, a panic of fill included, path is as it was before and
// no temporary file remains.
//
// Errors: path exists and may is nil (errors.Is fs.ErrExist, checked again at
// the very end so that two runs cannot overwrite each other); what may returns;
// path is something other than a plain file; its folder is missing or not
// writable; the medium is full or failing; whatever fill returns.
func Write(path string, may May, perm fs.FileMode, fill func(io.Writer) error) error {
	t, err := target(path)
	if err != nil {
		return err
	}
	if err := t.mayWriteFile("", may); err != nil {
		return err
	}
	return t.write(perm, fill, func() (place, May, error) { return t, may, nil })
}

// WriteAs is Write for a file whose name is known only when its content is: the
// name of a digest, say. The content grows in the folder dir; then name gives
// the path, on the same file system, and an existing file there is replaced.
// name may return "" when there is nothing to place.
//
// Errors: as for Write; whatever name returns.
func WriteAs(dir string, perm fs.FileMode, fill func(io.Writer) error, name func() (string, error)) error {
	t, err := targetShown(filepath.Join(dir, grown), dir)
	if err != nil {
		return err
	}
	anything := func(string, string) error { return nil }
	return t.write(perm, fill, func() (place, May, error) {
		path, err := name()
		if err != nil || path == "" {
			return place{}, anything, err
		}
		final, err := target(path)
		return final, anything, err
	})
}

// write fills a file that grows beside t and gives it the name that final
// returns, or none.
func (t place) write(perm fs.FileMode, fill func(io.Writer) error, final func() (place, May, error)) error {
	g, err := Grow(t.dir)
	if err != nil {
		return t.fail(err)
	}
	defer g.Drop()
	if err := t.fill(filepath.Join(g.Dir, grown), perm, fill); err != nil {
		return err
	}
	to, may, err := final()
	if err != nil || to.path == "" {
		return err
	}
	temp := filepath.Join(g.Dir, grown)
	if may != nil {
		if err := to.mayWriteFile(temp, may); err != nil {
			return err
		}
	}
	err = g.Place(temp, to.path, may != nil)
	switch {
	case errors.Is(err, fs.ErrExist):
		return to.exists()
	case errors.Is(err, ErrNotSafe):
		return fmt.Errorf("%s is written, but %w", to.shown, err)
	case err != nil:
		return to.fail(err)
	}
	return nil
}

// fill writes the whole content to a new file and makes it safe.
func (t place) fill(name string, perm fs.FileMode, fill func(io.Writer) error) error {
	if perm == 0 {
		perm = Private
	}
	f, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, Private)
	if err != nil {
		return t.fail(err)
	}
	defer f.Close()
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
	return nil
}

// SyncDir makes the names in a folder safe on the medium. On systems and media
// that have no such call it does nothing.
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
	err = syncFile(d)
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		return nil
	}
	return err
}

// Clear removes what dead runs left in the folder of path, and puts back a
// folder that one of them had set aside but not yet replaced. What a living run
// is writing is left alone. Whatever grows there has it called; a caller needs
// it only before it looks whether path exists.
//
// Errors: path names no file or folder, or its folder is missing.
func Clear(path string) error {
	t, err := target(path)
	if err != nil {
		return err
	}
	clearDead(t.dir)
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
