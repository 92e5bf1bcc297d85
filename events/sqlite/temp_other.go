//go:build !unix

package sqlite

// hold: where the system knows no such locks, nothing is taken for dead.
func hold(string) (release func(), ok bool) { return func() {}, false }
