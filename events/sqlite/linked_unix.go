//go:build unix

package sqlite

import (
	"os"
	"syscall"
)

// names is how many names a file has.
func names(info os.FileInfo) uint64 {
	if st, ok := info.Sys().(*syscall.Stat_t); ok {
		return uint64(st.Nlink)
	}
	return 1
}
