package rawfile

import (
	"errors"
	"os"
	"slices"
	"sync"
)

// openFiles are the files of the books that this program has open.
type openFiles struct {
	sync.Mutex
	files []os.FileInfo
}

// OpenHere are the files of books that this process holds open.
var OpenHere openFiles

func (o *openFiles) Add(file os.FileInfo) {
	o.Lock()
	defer o.Unlock()
	o.files = append(o.files, file)
}

// Remove takes one out: of a book that is open twice, the other stays.
func (o *openFiles) Remove(file os.FileInfo) {
	o.Lock()
	defer o.Unlock()
	o.files = slices.DeleteFunc(o.files, func(x os.FileInfo) bool { return x == file })
}

// Has says whether this program has the book at path open.
func (o *openFiles) Has(path string) bool {
	info, err := os.Stat(path)
	if err != nil {
		return false
	}
	o.Lock()
	defer o.Unlock()
	return slices.ContainsFunc(o.files, func(x os.FileInfo) bool { return x != nil && os.SameFile(x, info) })
}

// Reason is what the system said, without the path.
func Reason(err error) error {
	if inner := errors.Unwrap(err); inner != nil {
		return inner
	}
	return err
}
