//go:build unix

package atomicfile

import (
	"os"
	"syscall"
)

// removeAll takes a folder away with all that is in it.
func removeAll(name string) error { return os.RemoveAll(name) }

// dirsSync: a folder can be opened and made safe like a file.
const dirsSync = true

// holdsFile: a folder is held by itself, and can be removed while it is.
const holdsFile = false

// hold marks a temporary name as being written. The mark is a lock that the
// system drops when the process ends, however it ends, so that no number of a
// process has to be believed. ok is false when another run cleared the name
// before it was marked. Where the file system knows no locks the name stays
// unmarked, and claim will leave it alone too.
func hold(name string) (release func(), ok bool) {
	return lock(name)
}

// claim reports whether the run that wrote name is dead, and keeps other runs
// from claiming it until release.
func claim(name string) (release func(), dead bool) {
	return lock(name)
}

func lock(name string) (func(), bool) {
	f, err := os.OpenFile(name, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return func() {}, false
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		return func() {}, false
	}
	mine, err1 := f.Stat()
	named, err2 := os.Lstat(name)
	if err1 != nil || err2 != nil || !os.SameFile(mine, named) {
		f.Close()
		return func() {}, false
	}
	return func() { f.Close() }, true
}
