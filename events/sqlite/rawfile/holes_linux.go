package rawfile

import (
	"errors"
	"os"
	"syscall"
)

// nextData is where a file holds anything at or behind a place; math.MaxInt64 where nothing more comes. What lies between is
// a hole, which reads as zeros: a file may claim to be larger than any disk.
func nextData(f *os.File, from int64) int64 {
	const seekData = 3 // as lseek(2) names it
	at, err := f.Seek(from, seekData)
	switch {
	case errors.Is(err, syscall.ENXIO):
		return nothingMore
	case err != nil: // a file system that does not tell
		return from
	}
	return at
}
