package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"

	"traybook/events"
)

// Backup writes a checked copy of the book, one file of its own, to path: copied as it stands in one instant while
// others may write, made safe on the disk, and checked (SQLite's own check, chains, columns, views) before it takes its
// name. An existing file is refused. When the copy is written to, it opens a chain of its own, so that it never
// lengthens the one it was given.
func (b *Book) Backup(path string) error { return b.backup(path, false) }

// BackupOver is Backup that lets an older copy go for the new one, where nothing stands in it that is not in this book:
// see Supersedes.
func (b *Book) BackupOver(path string) error { return b.backup(path, true) }

func (b *Book) backup(path string, replace bool) error {
	abs, err := absolute(path)
	if err != nil {
		return err
	}
	if _, err := os.Lstat(abs); err == nil && replace {
		err = b.Supersedes(abs)
		if err != nil {
			return err
		}
	} else if err := vacant(abs, path); err != nil {
		return err
	} else {
		replace = false
	}
	if err := b.checkPages(); err != nil {
		return err
	}
	tmp, err := newTemp(abs)
	if err != nil {
		return err
	}
	defer tmp.discard()
	if err := b.copyInto(tmp.path); err != nil {
		return fmt.Errorf("%s: %w", path, tmp.because(err))
	}
	if err := syncFile(tmp.path); err != nil {
		return fmt.Errorf("%s: %w", path, notMade(err))
	}
	report, err := VerifyFile(tmp.path, Options{Folder: b.folder}, VerifyOptions{})
	if err != nil {
		return fmt.Errorf("%s: %w", path, tmp.because(err))
	}
	if !report.OK {
		return noCopyOf(report)
	}
	if !replace {
		return tmp.take(abs)
	}
	if err := b.Supersedes(abs); err != nil { // it may have been gone on with meanwhile
		return err
	}
	return tmp.replace(abs)
}

// checkPages asks SQLite whether its pages hang together. A copy is made of the rows that are found; where a damaged page
// hides the last ones, the copy is whole in itself and lacks them.
func (b *Book) checkPages() error {
	var r Report
	if err := b.Read(func(tx *Tx) error { return tx.verifyFile(&r) }); err != nil {
		return err
	}
	if len(r.Problems) > 0 {
		return noCopyOf(r)
	}
	return nil
}

func noCopyOf(r Report) error {
	return fmt.Errorf("%w, and a damaged copy helps nobody: %s; `traybook verify` tells all, `traybook salvage` saves what can be read",
		events.ErrDamaged, r.Problems[0].Text)
}

// copyInto copies the book into an empty file and takes from the copy what makes a chain its own.
func (b *Book) copyInto(path string) error {
	from := sql.OpenDB(connector{dsn(b.path, Options{}, b.mode)})
	from.SetMaxOpenConns(1)
	_, err := from.Exec("VACUUM INTO ?", path)
	if err = errors.Join(err, from.Close()); err != nil {
		return err
	}
	to := sql.OpenDB(connector{dsn(path, Options{}, "rw")})
	to.SetMaxOpenConns(1)
	_, err = to.Exec("DELETE FROM meta WHERE key IN ('own_chain','" + scrubPending + "')")
	return errors.Join(err, to.Close())
}

// VerifyFile opens the book at path to look at it only, and verifies it. A file so damaged that it cannot be opened is a
// report of that; an error means that nothing could be said.
func VerifyFile(path string, o Options, vo VerifyOptions) (Report, error) {
	o.ReadOnly = true
	if r, lost := verifyLog(path); lost {
		return r, nil
	}
	b, err := Open(path, o)
	if errors.Is(err, events.ErrDamaged) {
		return Report{Problems: []Problem{{Kind: ProblemFile, Text: strings.TrimPrefix(unread(err), path+": ")}}}, nil
	}
	if err != nil {
		return Report{}, err
	}
	defer b.Close()
	return b.Verify(vo)
}
