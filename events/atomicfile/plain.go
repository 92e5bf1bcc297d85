package atomicfile

import (
	"errors"
	"io/fs"
	"os"
)

// ErrNotPlain says that something is a pipe, a device or a folder.
var ErrNotPlain = errors.New("it is no file but a pipe, a device or a folder")

// OpenPlain opens a file for reading. Of a pipe it does not wait until somebody writes into it.
//
// Errors: as of os.Open; ErrNotPlain.
func OpenPlain(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "open", Path: path, Err: ErrNotPlain}
	}
	return os.Open(path)
}
