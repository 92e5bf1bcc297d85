package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Seen notes what stands at path, so that a caller who looks into it, and takes
// his time, can let go of what he saw and of nothing else: the rule it gives
// refuses what was changed, added or put there since.
//
// Errors: what is there cannot be looked at.
func Seen(path string) (May, error) {
	before, err := look(path)
	if err != nil {
		return nil, err
	}
	return func(old, _ string) error {
		now, err := look(old)
		if err == nil && now != before {
			err = fmt.Errorf("%s was changed meanwhile and is left as it is; do it again", path)
		}
		return err
	}, nil
}

// look is the names, sorts, sizes and times of a file, or of everything below a
// folder.
func look(path string) (string, error) {
	var b strings.Builder
	err := filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		fi, err := os.Lstat(name)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(path, name)
		if fi.IsDir() {
			fmt.Fprintf(&b, "%q\n", rel)
		} else {
			fmt.Fprintf(&b, "%q %v %d %d\n", rel, fi.Mode(), fi.Size(), fi.ModTime().UnixNano())
		}
		return err
	})
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("%s cannot be looked at: %w", path, reason(err))
	}
	return b.String(), nil
}
