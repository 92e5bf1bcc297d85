//go:build unix

package sqlite

import (
	"os"
	"syscall"
)

// hold marks a file as being written, for as long as this process lives. ok is false where another process holds it.
// SQLite's own locks are of another sort and are not touched.
func hold(path string) (release func(), ok bool) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return func() {}, false
	}
	if syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) != nil {
		f.Close()
		return func() {}, false
	}
	return func() { f.Close() }, true
}

// names is how many names a file has.
func names(info os.FileInfo) uint64 {
	if st, ok := info.Sys().(*syscall.Stat_t); ok {
		return uint64(st.Nlink)
	}
	return 1
}
