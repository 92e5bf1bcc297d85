package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"traybook/events"
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

var _ events.Thumbnails = (*Tx)(nil)

// Thumbnail gives the small picture that is kept of a scan.
func (tx *Tx) Thumbnail(sha256 events.Hash) (events.Thumbnail, bool, error) {
	t := events.Thumbnail{SHA256: sha256}
	err := tx.file.QueryRow("SELECT jpeg, width, height, path FROM thumbnail WHERE sha256=?", sha256[:]).
		Scan(&t.JPEG, &t.Width, &t.Height, &t.Path)
	if errors.Is(err, sql.ErrNoRows) {
		return events.Thumbnail{}, false, nil
	}
	return t, err == nil, translate(err)
}

// PutThumbnail keeps a small picture. One that is there already stays as it is, since it is made once and never made
// again; only the path of its original is brought up to date.
func (tx *Tx) PutThumbnail(t events.Thumbnail) error {
	_, err := tx.file.Exec(`INSERT INTO thumbnail (sha256, jpeg, width, height, path) VALUES (?,?,?,?,?)
		ON CONFLICT (sha256) DO UPDATE SET path=excluded.path`, t.SHA256[:], t.JPEG, t.Width, t.Height, t.Path)
	return translate(err)
}

// EachThumbnail calls f with every small picture, by the digest of its original. f must not use the transaction.
func (tx *Tx) EachThumbnail(f func(events.Thumbnail) error) error {
	rows, err := tx.file.Query("SELECT sha256, jpeg, width, height, path FROM thumbnail ORDER BY sha256")
	return each(rows, err, func(row scanner) error {
		var t events.Thumbnail
		var digest []byte
		if err := row.Scan(&digest, &t.JPEG, &t.Width, &t.Height, &t.Path); err != nil {
			return err
		}
		copy(t.SHA256[:], digest)
		return f(t)
	})
}
