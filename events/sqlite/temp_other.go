//go:build !unix

package sqlite

import "os"

// hold: where the system knows no such locks, nothing is taken for dead.
func hold(string) (release func(), ok bool) { return func() {}, false }

// names is one where the system does not tell how many names a file has.
func names(os.FileInfo) uint64 { return 1 }
