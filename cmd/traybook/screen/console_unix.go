//go:build unix

package screen

import (
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// isTerminal says whether a descriptor is a terminal.
func isTerminal(fd int) bool { return term.IsTerminal(fd) }

// waiting asks the system whether a read would find something at once. Of a terminal that gives whole lines, it is a line.
func waiting(fd int) bool {
	look := []unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}
	n, err := unix.Poll(look, 0)
	return err == nil && n == 1 && look[0].Revents&unix.POLLIN != 0
}
