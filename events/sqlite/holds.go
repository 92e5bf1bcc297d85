package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"os"

	"traybook/events"
)

// Holds says whether the book has an entry: by its id, and by its hash too where one is given.
func (tx *Tx) Holds(id events.ID, hash events.Hash) (bool, error) {
	if hash != (events.Hash{}) {
		seq, err := tx.has(&events.Entry{ID: id, Hash: hash})
		return seq != 0, err
	}
	var seq int64
	err := tx.tx.QueryRow("SELECT seq FROM entry WHERE id=? LIMIT 1", id[:]).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, translate(err)
}

// Supersedes says why the book at old may not go for this one; nil where nothing would be lost with it. Every entry of
// it must be here, and every sitter who was not erased here; nobody may have it open, and no log may lie beside it.
func (b *Book) Supersedes(old string) error {
	info, err := os.Lstat(old)
	switch {
	case err != nil:
		return fmt.Errorf("%s cannot be looked at: %w", old, reason(err))
	case !info.Mode().IsRegular() || !IsBook(old):
		return fmt.Errorf("%s is not a book, so it is not replaced: move it away, or name another place", old)
	case b.file != nil && os.SameFile(b.file, info):
		return fmt.Errorf("%s is this book itself", old)
	}
	for _, end := range companions {
		if _, err := os.Lstat(old + end); err == nil {
			return fmt.Errorf("%s is open in another program, or has a log beside it (%s): close it there, or name another place", old, old+end)
		}
	}
	other, err := Open(old, Options{ReadOnly: true})
	if err != nil {
		return err
	}
	defer other.Close()
	return b.Read(func(tx *Tx) error {
		return other.Read(func(from *Tx) error { return tx.holdsAll(from, old) })
	})
}

// holdsAll wants everything of another book here.
func (tx *Tx) holdsAll(from *Tx, old string) error {
	lacking := 0
	err := from.Each(func(e events.Entry) error {
		held, err := tx.Holds(e.ID, e.Hash)
		if !held {
			lacking++
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("%s: %w", old, err)
	}
	if lacking > 0 {
		return fmt.Errorf("%s holds entries that this book does not (%d), so it is not replaced: merge it first, move it away, or name another place", old, lacking)
	}
	theirs, err := from.Sitters()
	if err != nil {
		return err
	}
	mine, err := tx.Sitters()
	if err != nil {
		return err
	}
	known := map[string]events.SitterRow{}
	for _, row := range mine {
		known[row.Ref] = row
	}
	for _, row := range theirs {
		if known[row.Ref] == row {
			continue
		}
		gone, err := tx.erasedHere(row.Ref)
		if err != nil {
			return err
		}
		if !gone {
			return fmt.Errorf("%s names %s otherwise than this book does, so it is not replaced: merge it first, move it away, or name another place", old, row.Ref)
		}
	}
	return nil
}

// erasedHere says whether a reference stands for somebody who was erased.
func (tx *Tx) erasedHere(ref string) (bool, error) {
	t, ok, err := tx.Thing(ref)
	if err != nil || !ok {
		return false, err
	}
	return tx.isErased(t.ID)
}
