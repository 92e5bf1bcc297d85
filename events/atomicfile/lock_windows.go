package atomicfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"
)

// dirsSync: folders cannot be made safe by themselves here.
const dirsSync = false

// holdsFile: a folder is held by an open file in it, and can be neither renamed nor removed until that is let go.
const holdsFile = true

// held is the file inside a folder that marks it: whoever let the folder grow has it open, and nobody else can open it.
const held = "held"

// hold marks a folder as being written. The system closes the file when the process ends, however it ends. ok is false
// where another run cleared the folder before it was marked.
func hold(name string) (release func(), ok bool) {
	h, err := alone(filepath.Join(name, held))
	if err != nil {
		return func() {}, false
	}
	return func() { syscall.CloseHandle(h) }, true
}

// claim reports whether the run that wrote a folder is dead. It keeps nothing open, for what is open cannot be removed here;
// two runs that clear the same folder do not hurt each other.
func claim(name string) (release func(), dead bool) {
	h, err := alone(filepath.Join(name, held))
	if err != nil {
		return func() {}, false
	}
	syscall.CloseHandle(h)
	return func() {}, true
}

// alone opens a file, or makes it, so that nobody else can open it.
func alone(path string) (syscall.Handle, error) {
	p, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return 0, err
	}
	return syscall.CreateFile(p, syscall.GENERIC_READ|syscall.GENERIC_WRITE, 0, nil, syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
}

// removeAll takes a folder away with all that is in it. os.RemoveAll asks for a way of deleting that not every file system
// has here; each file by itself can be removed on all of them.
func removeAll(name string) error {
	if os.RemoveAll(name) == nil {
		return nil
	}
	var inside []string
	err := filepath.WalkDir(name, func(path string, _ fs.DirEntry, err error) error {
		inside = append(inside, path)
		return err
	})
	for _, path := range slices.Backward(inside) {
		err = errors.Join(err, os.Remove(path))
	}
	return err
}
