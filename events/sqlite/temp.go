package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// A new book is built under a name beside its place and takes its name when it is whole and safe, so that a power cut
// leaves a book or nothing. The name of a run that died is known by its lock, which the system dropped.

type temp struct {
	path    string
	release func()
}

func tempPrefix(target string) string { return "." + filepath.Base(target) + ".part-" }

// newTemp makes an empty private file beside target, after clearing away what dead runs left there.
func newTemp(target string) (*temp, error) {
	dir := filepath.Dir(target)
	clearDead(target)
	f, err := os.CreateTemp(dir, tempPrefix(target)+"*")
	if err != nil {
		return nil, fmt.Errorf("nothing can be written in %s: %w; make the folder, or choose another place", dir, errors.Unwrap(err))
	}
	f.Close()
	release, _ := hold(f.Name())
	return &temp{f.Name(), release}, nil
}

// discard removes the file, and what SQLite keeps beside a file that is open. After take it does nothing.
func (t *temp) discard() {
	for _, suffix := range []string{"", "-journal", "-wal", "-shm"} {
		os.Remove(t.path + suffix)
	}
	t.release()
}

// take makes the file safe and gives it its name, unless that has been taken.
func (t *temp) take(target string) error {
	if err := syncFile(t.path); err != nil {
		return fmt.Errorf("%s: cannot be made safe on the disk: %w", target, err)
	}
	// A link, unlike a renaming, refuses a name that someone else took meanwhile.
	err := os.Link(t.path, target)
	switch {
	case errors.Is(err, fs.ErrExist):
		return taken(target)
	case err != nil: // a file system without links
		if _, err := os.Lstat(target); err == nil {
			return taken(target)
		}
		if err := os.Rename(t.path, target); err != nil {
			return fmt.Errorf("%s: cannot be made: %w", target, errors.Unwrap(err))
		}
	}
	os.Remove(t.path)
	return syncDir(filepath.Dir(target))
}

func taken(path string) error {
	return fmt.Errorf("%s is there already; move it away or choose another place", path)
}

func clearDead(target string) {
	names, _ := os.ReadDir(filepath.Dir(target))
	for _, e := range names {
		number, ok := strings.CutPrefix(e.Name(), tempPrefix(target))
		if !ok || number == "" || strings.Trim(number, "0123456789") != "" {
			continue
		}
		path := filepath.Join(filepath.Dir(target), e.Name())
		if release, dead := hold(path); dead {
			(&temp{path, release}).discard()
		}
	}
}
