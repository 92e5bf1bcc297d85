//go:build !unix

package atomicfile

import "os"

// dirsSync: folders cannot be made safe by themselves here.
const dirsSync = false

// hold marks nothing: an open file cannot be renamed or removed by others on
// these systems, which is mark enough.
func hold(string) (release func(), ok bool) { return func() {}, true }

// claim tries to rename name to itself with a further digit, which the system
// refuses while a file of it is open.
func claim(name string) (release func(), dead bool) {
	moved := name + "0"
	if os.Rename(name, moved) != nil {
		return func() {}, false
	}
	return func() {}, os.Rename(moved, name) == nil
}
