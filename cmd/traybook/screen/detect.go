package screen

import (
	"io"
	"os"
	"strconv"

	"golang.org/x/term"
)

const (
	defaultWidth = 80
	leastWidth   = 20 // narrower, nothing can be laid out
	mostWidth    = 500
)

// Surroundings is what Detect asks of the machine.
type Surroundings struct {
	Lookup     func(key string) (string, bool)        // an environment variable
	IsTerminal func(fd int) bool                      // whether a descriptor is a terminal
	Size       func(fd int) (cols, rows int, e error) // of a terminal
	Waiting    func(fd int) bool                      // whether something was typed on a terminal that nobody has read; nil for no
}

// Machine returns the surroundings of the running program.
func Machine() Surroundings {
	return Surroundings{Lookup: os.LookupEnv, IsTerminal: isTerminal, Size: term.GetSize, Waiting: waiting}
}

// Detect makes the screen for a stream. fd is its descriptor, negative if it has
// none; noColor is the option of that name.
//
// There is colour on a terminal, unless noColor is set, NO_COLOR is present and
// not empty, or TERM is "dumb". The width is the terminal's, else that of COLUMNS,
// else 80; it lies between 20 and 500.
func Detect(w io.Writer, fd int, noColor bool, around Surroundings) *Screen {
	terminal := fd >= 0 && around.IsTerminal(fd)
	return &Screen{W: w, Color: terminal && !noColor && colourful(around), Width: columns(fd, terminal, around), Terminal: terminal}
}

func colourful(around Surroundings) bool {
	if v, _ := around.Lookup("NO_COLOR"); v != "" {
		return false
	}
	v, _ := around.Lookup("TERM")
	return v != "dumb"
}

func columns(fd int, terminal bool, around Surroundings) int {
	if terminal {
		if cols, _, err := around.Size(fd); err == nil && cols > 0 {
			return min(max(cols, leastWidth), mostWidth)
		}
	}
	v, _ := around.Lookup("COLUMNS")
	if cols, err := strconv.Atoi(v); err == nil && cols > 0 {
		return min(max(cols, leastWidth), mostWidth)
	}
	return defaultWidth
}
