package sqlite

import (
	"errors"
	"fmt"
	"os"

	"traybook/events"
)

// CopyInto writes a copy of the book, as it stands at one moment, to a path where nothing is yet. The copy is one
// file, packed and without free pages, so that the same book gives the same bytes; it has no chain of its own to append
// to, and its first own act opens one. Other programs may go on writing meanwhile.
//
// Errors: the path is taken; the disk is full or failing; the copy does not pass SQLite's own check.
func (b *Book) CopyInto(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("%s cannot be made: %w", path, errors.Unwrap(err))
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := b.packInto(path); err != nil {
		return translate(err)
	}
	if err := checkCopy(path); err != nil {
		return err
	}
	return syncFile(path)
}

// packInto lets a book that was opened to look only write elsewhere; its own file stays as it is.
func (b *Book) packInto(path string) error {
	if b.ro {
		if _, err := b.db.Exec("PRAGMA query_only=0"); err != nil {
			return err
		}
		defer b.db.Exec("PRAGMA query_only=1")
	}
	_, err := b.db.Exec("VACUUM INTO ?", path)
	return err
}

func checkCopy(path string) (err error) {
	c, err := connectMode(path, Options{ReadOnly: true}, "rw")
	if err != nil {
		return translate(err)
	}
	defer func() {
		if shut := c.Close(); err == nil {
			err = shut
		}
	}()
	// Without the lock of a book in use: nobody else knows the file yet.
	for _, s := range []string{"PRAGMA query_only=0", "DELETE FROM meta WHERE key='own_chain'", "PRAGMA query_only=1"} {
		if _, err := c.db.Exec(s); err != nil {
			return translate(err)
		}
	}
	var said string
	if err := c.db.QueryRow("PRAGMA integrity_check(1)").Scan(&said); err != nil {
		return translate(err)
	}
	if said != "ok" {
		return fmt.Errorf("%w: the copy is not whole (%s)", events.ErrDamaged, said)
	}
	return nil
}
