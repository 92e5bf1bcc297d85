package sqlite

import (
	"errors"
	"fmt"

	"traybook/events"
	people "traybook/events/names"
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

// forget takes a sitter's row out of the table, and the name out of the paths of scans. The write that it is part of
// removes the traces when it is done.
func (tx *Tx) forget(ref string) error {
	under, err := tx.namesUnder(ref)
	if err != nil || len(under) == 0 {
		return err
	}
	var rows []events.SitterRow
	for _, name := range under {
		rows = append(rows, events.SitterRow{Ref: ref, Name: name})
	}
	if err := tx.forgetPaths(people.Of(rows...)); err != nil {
		return err
	}
	if err := tx.SetMeta(formerNames+ref, ""); err != nil {
		return err
	}
	if _, err := tx.tx.Exec("UPDATE sitter SET name='', contact='' WHERE ref=?", ref); err != nil {
		return translate(err)
	}
	if _, err := tx.tx.Exec("DELETE FROM sitter WHERE ref=?", ref); err != nil {
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

// forgetPaths puts events.PathForgotten in the place of each path that holds one of the names.
func (tx *Tx) forgetPaths(gone people.List) error {
	if gone.None() {
		return nil
	}
	rows, err := tx.tx.Query("SELECT path FROM thumbnail WHERE path<>''")
	paths, err := collect(rows, err, func(row scanner) (path string, err error) {
		err = row.Scan(&path)
		return path, err
	})
	if err != nil {
		return err
	}
	for _, path := range paths {
		if gone.In(path) == "" {
			continue
		}
		if _, err := tx.tx.Exec("UPDATE thumbnail SET path=? WHERE path=?", events.PathForgotten, path); err != nil {
			return translate(err)
		}
		tx.forgot = true
	}
	return nil
}

// ScrubPending says that an erasure was begun whose traces are not all gone.
func (b *Book) ScrubPending() (pending bool, err error) {
	err = b.Read(func(tx *Tx) error {
		pending, err = tx.ScrubPending()
		return err
	})
	return pending, err
}

// ScrubPending is Book.ScrubPending inside a look.
func (tx *Tx) ScrubPending() (bool, error) {
	v, err := tx.Meta(scrubPending)
	return v != "", err
}

// How long a scrub waits for other programs: a reader that holds the book longer than this holds it open. An act that
// finishes an earlier erasure in passing keeps nobody waiting.
const (
	scrubWaitMS      = 1000
	scrubInPassingMS = 100
)

// TracesLeft is what verify says of an erasure that was stopped halfway.
const TracesLeft = "an erasure was stopped before it was done: the name is out of the table, but its traces may lie in the file and its log; the next act that is written removes them, and so does `traybook erase`"

// Scrub writes the file anew without what was deleted, and empties the log.
func (b *Book) Scrub() error { return b.scrub(scrubWaitMS) }

func (b *Book) scrub(waitMS int) error {
	if _, err := b.db.Exec(fmt.Sprintf("PRAGMA busy_timeout=%d", waitMS)); err != nil {
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
	if err := b.transact(func(tx *Tx) error { return tx.SetMeta(scrubPending, "") }, false); errors.Is(err, events.ErrBusy) {
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
