//go:build !unix

package screen

// waiting cannot be asked on this system.
func waiting(int) bool { return false }
