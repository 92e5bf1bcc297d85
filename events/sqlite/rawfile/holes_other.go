//go:build !linux

package rawfile

import "os"

// nextData is where a file holds anything at or behind a place. This system does not tell.
func nextData(_ *os.File, from int64) int64 { return from }
