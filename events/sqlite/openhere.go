package sqlite

import (
	"os"
	"slices"
	"sync"
)

// openFiles are the files of the books that this program has open.
type openFiles struct {
	sync.Mutex
	files []os.FileInfo
}

var openHere openFiles

func (o *openFiles) add(file os.FileInfo) {
	o.Lock()
	defer o.Unlock()
	o.files = append(o.files, file)
}

// remove takes one out: of a book that is open twice, the other stays.
func (o *openFiles) remove(file os.FileInfo) {
	o.Lock()
	defer o.Unlock()
	o.files = slices.DeleteFunc(o.files, func(x os.FileInfo) bool { return x == file })
}

// has says whether this program has the book at path open.
func (o *openFiles) has(path string) bool {
	info, err := os.Stat(path)
	if err != nil {
		return false
	}
	o.Lock()
	defer o.Unlock()
	return slices.ContainsFunc(o.files, func(x os.FileInfo) bool { return x != nil && os.SameFile(x, info) })
}
