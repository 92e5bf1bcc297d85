package screen

import "golang.org/x/sys/windows"

// isTerminal says whether a descriptor is a console, and has one that is written to follow the escape sequences by which
// colours and places are told. One that cannot, of an older system, is no terminal: it is written to as a file is.
func isTerminal(fd int) bool {
	var mode uint32
	var buffer windows.ConsoleScreenBufferInfo
	h := windows.Handle(fd)
	if windows.GetConsoleMode(h, &mode) != nil {
		return false
	}
	if windows.GetConsoleScreenBufferInfo(h, &buffer) != nil {
		return true // it is read from
	}
	return windows.SetConsoleMode(h, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) == nil
}

// waiting cannot be asked of a console: it tells of presses, and not of what they would give.
func waiting(int) bool { return false }
