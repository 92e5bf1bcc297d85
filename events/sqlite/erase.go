package sqlite

import (
	"errors"
	"fmt"

	"traybook/events"
)

// scrubPending is set while traces of an erased sitter may still lie in the file.
const scrubPending = "scrub_pending"

// ErrTracesLeft says that the row is gone, but that its traces could not be removed while another program has the book
// open.
var ErrTracesLeft = fmt.Errorf("%w: the name is out of the table, but its traces lie in the file until no other program has the book open; close it there and erase once more", events.ErrBusy)

// EraseSitter takes a sitter's row out of the table and runs write in the same transaction; then every trace of the row
// goes from the file and its log: deleted content is overwritten, the file written anew, the log cut to nothing. Where
// another program keeps the book open the row is gone all the same and the error is ErrTracesLeft; Scrub finishes the work.
func (b *Book) EraseSitter(ref string, write func(*Tx) error) error {
	if _, err := b.db.Exec("PRAGMA secure_delete=ON"); err != nil {
		return translate(err)
	}
	return b.Write(func(tx *Tx) error {
		if err := tx.forget(ref); err != nil {
			return err
		}
		return write(tx)
	})
}

// forget takes a sitter's row out of the table. The write that it is part of removes the traces when it is done.
func (tx *Tx) forget(ref string) error {
	if _, err := tx.tx.Exec("UPDATE sitter SET name='', contact='' WHERE ref=?", ref); err != nil {
		return translate(err)
	}
	res, err := tx.tx.Exec("DELETE FROM sitter WHERE ref=?", ref)
	if err != nil {
		return translate(err)
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		return translate(err)
	}
	tx.forgot = true
	return tx.SetMeta(scrubPending, "1")
}

// removeTraces is Scrub after rows have gone, whose errors say how far it came.
func (b *Book) removeTraces() error {
	err := b.Scrub()
	switch {
	case !isTrouble(err):
		return err
	case !b.present():
		return trouble(fmt.Sprintf("the name is out of the table, but the book was moved or removed from %s before its traces were gone: erase once more where it is now", b.path))
	case errors.Is(err, ErrTracesLeft):
		return err
	case errors.Is(err, errFull):
		return trouble("the name is out of the table, but the disk is too full to write the book anew, and its traces may lie in the file: make room and erase once more")
	}
	return trouble("the name is out of the table, but the disk failed while its traces were removed, and they may lie in the file: check the disk and erase once more")
}

// ScrubPending says that an erasure was begun whose traces are not all gone.
func (b *Book) ScrubPending() (pending bool, err error) {
	err = b.Read(func(tx *Tx) error {
		v, err := tx.Meta(scrubPending)
		pending = v != ""
		return err
	})
	return pending, err
}

// scrubWaitMS is how long Scrub waits for other programs: a reader that holds the book longer than this holds it open.
const scrubWaitMS = 1000

// Scrub writes the file anew without what was deleted, and empties the log.
func (b *Book) Scrub() error {
	if _, err := b.db.Exec(fmt.Sprintf("PRAGMA busy_timeout=%d", scrubWaitMS)); err != nil {
		return translate(err)
	}
	defer b.db.Exec(fmt.Sprintf("PRAGMA busy_timeout=%d", busyTimeoutMS))
	for _, s := range []string{"PRAGMA secure_delete=ON", "VACUUM"} {
		if _, err := b.db.Exec(s); err != nil {
			if err = translate(err); errors.Is(err, events.ErrBusy) {
				return ErrTracesLeft
			}
			return err
		}
	}
	if err := b.emptyLog(); err != nil {
		return err
	}
	if err := b.Write(func(tx *Tx) error { return tx.SetMeta(scrubPending, "") }); errors.Is(err, events.ErrBusy) {
		return ErrTracesLeft // they are gone, but the book still says that they may not be
	} else if err != nil {
		return err
	}
	return b.emptyLog()
}

// emptyLog brings the log into the file and cuts it to nothing.
func (b *Book) emptyLog() error {
	var busy, logged, moved int
	if err := b.db.QueryRow("PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &logged, &moved); err != nil {
		if err = translate(err); errors.Is(err, events.ErrBusy) {
			return ErrTracesLeft
		}
		return err
	}
	if busy != 0 {
		return ErrTracesLeft
	}
	return nil
}
