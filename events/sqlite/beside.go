package sqlite

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// companions are the ends of the names that SQLite gives to what stands beside a book: its log, the index of that, and
// the journal of a file that is not in WAL mode. Their bytes are the book's.
var companions = []string{"-wal", "-shm", "-journal"}

// CompanionOf gives the book beside which a path is the name of a log, its index or a journal, whether or not one is
// there now; "" for none. Upper and lower case count as one, for some systems take them so.
func CompanionOf(path string) string {
	for _, end := range companions {
		if len(path) <= len(end) || !strings.EqualFold(path[len(path)-len(end):], end) {
			continue
		}
		stem := path[:len(path)-len(end)]
		dir := filepath.Dir(stem)
		beside, _ := os.ReadDir(dir)
		for _, e := range beside {
			if book := filepath.Join(dir, e.Name()); strings.EqualFold(e.Name(), filepath.Base(stem)) && !e.IsDir() && IsBook(book) {
				return book
			}
		}
	}
	return ""
}

// vacant refuses a place for a new book where something stands already, and one beside which a log lies: SQLite would
// take what is in it for the new book's.
func vacant(abs, shown string) error {
	if _, err := os.Lstat(abs); err == nil {
		return taken(shown)
	}
	for _, end := range companions {
		if info, err := os.Lstat(abs + end); err == nil && info.Size() > 0 {
			return fmt.Errorf("%s%s lies there, the log of a book that stood at %s: a new book would be mixed up with it. Move it away, with the book it belongs to if you have that, or choose another place", shown, end, shown)
		}
	}
	return nil
}
