//go:build unix

package rawfile

import (
	"io"
	"os"
	"syscall"
)

// deadMansSwitch is the byte of the index beside a log that every program which has the book open holds a lock on
// (sqlite.org/walformat.html).
const deadMansSwitch = 128

// inUse says whether another program has the book of this index open.
func inUse(index *os.File) bool {
	lock := syscall.Flock_t{Type: syscall.F_WRLCK, Whence: io.SeekStart, Start: deadMansSwitch, Len: 1}
	err := syscall.FcntlFlock(index.Fd(), syscall.F_GETLK, &lock)
	return err == nil && lock.Type != syscall.F_UNLCK
}
