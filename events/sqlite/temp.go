package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"traybook/events/atomicfile"
	"traybook/events/sqlite/rawfile"
)

// A new book is built in a folder beside its place and takes its name when it is whole and safe, so that a power cut
// leaves a book or nothing. What SQLite keeps beside a file that is open stands in that folder too.

type temp struct {
	path string
	part *atomicfile.Growing
}

// newTemp makes an empty private file beside target, after clearing away what dead runs left there.
func newTemp(target string) (*temp, error) {
	dir := filepath.Dir(target)
	part, err := atomicfile.Grow(dir)
	if err != nil {
		return nil, fmt.Errorf("nothing can be written in %s: %w; make the folder, or choose another place", dir, rawfile.Reason(err))
	}
	t := &temp{filepath.Join(part.Dir, "book.db"), part}
	f, err := os.OpenFile(t.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err == nil {
		err = f.Close()
	}
	if err != nil {
		part.Drop()
		return nil, fmt.Errorf("nothing can be written in %s: %w; choose another place", dir, rawfile.Reason(err))
	}
	return t, nil
}

// otherNames is how many names a book has beside its own (hard links). The one that it was built under, where the run died
// between giving it its own and taking that away, does not count.
func otherNames(path string, info os.FileInfo) int {
	n := int(names(info)) - 1
	if n <= 0 {
		return 0
	}
	for _, name := range atomicfile.Inside(filepath.Dir(path)) {
		if x, err := os.Lstat(name); err == nil && os.SameFile(x, info) {
			n--
		}
	}
	return n
}

// discard removes the file, and what SQLite keeps beside a file that is open. After take it does nothing.
func (t *temp) discard() { t.part.Drop() }

// whole makes the file safe, and says where it is not whole.
func (t *temp) whole(target string) error {
	// Where the disk fails while SQLite closes a file, or another has it open, SQLite says nothing and leaves beside it
	// what did not get in.
	for _, log := range []string{"-wal", "-journal"} {
		if info, err := os.Lstat(t.path + log); err == nil && info.Size() > 0 {
			return fmt.Errorf("%s: %w", target, errLogLeft)
		}
	}
	if err := syncFile(t.path); err != nil {
		return fmt.Errorf("%s: %w", target, notMade(err))
	}
	return nil
}

// take gives the file its name, unless that has been taken; with replace an older book that has it goes.
func (t *temp) take(target string, replace bool) error {
	if err := t.whole(target); err != nil {
		return err
	}
	err := t.part.Place(t.path, target, replace)
	switch {
	case errors.Is(err, fs.ErrExist):
		return taken(target)
	case errors.Is(err, atomicfile.ErrNotSafe):
		return fmt.Errorf("%s is written, but %w", target, err)
	case err != nil:
		return fmt.Errorf("%s: %w", target, notMade(err))
	}
	return nil
}

// errNotMade says that a new file could not be made safe.
var errNotMade = trouble("the disk failed while it was made, and it was not made: check the disk, or choose another place")

// errLogLeft says that part of a new file lies beside it.
var errLogLeft = trouble("what was written is not all in the file yet, for the disk failed or another program has it open, and it was not made: check the disk and do it again")

// errGone says that a new file has no place any more.
var errGone = trouble("its folder was moved or removed meanwhile, and it was not made: do it again where it is to stand")

// because is translate for what went wrong while the file was made.
func (t *temp) because(err error) error {
	if _, gone := os.Lstat(t.path); errors.Is(gone, fs.ErrNotExist) {
		return errGone
	}
	return translate(err)
}

func notMade(err error) error {
	switch {
	case errors.Is(err, syscall.EIO):
		return errNotMade
	case errors.Is(err, fs.ErrNotExist):
		return errGone
	}
	return trouble(fmt.Sprintf("it cannot be made safe on the disk (%v), and it was not made: choose another place", rawfile.Reason(err)))
}

// taken says that something stands where a new book is to be; errors.Is finds fs.ErrExist in it.
func taken(path string) error { return takenError(path) }

type takenError string

func (path takenError) Error() string { return string(path) + " is there already; name another place" }

func (takenError) Is(target error) bool { return target == fs.ErrExist }
