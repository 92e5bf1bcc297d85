package sqlite

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"

	"traybook/events"
	"traybook/events/sqlite/rawfile"
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
	if replace {
		if err := b.Supersedes(abs); err != nil { // it may have been gone on with meanwhile
			return err
		}
	}
	return tmp.take(abs, replace)
}

// checkPages asks SQLite whether its pages hang together. A copy is made of the rows that are found; where a damaged page
// hides the last ones, the copy is whole in itself and lacks them.
func (b *Book) checkPages() error {
	var r Report
	if err := b.Read(func(tx *Tx) error { return verifyFile(tx.file, &r) }); err != nil {
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

// Holds says whether the book has an entry: by its id, and by its hash too where one is given.
func (tx *Tx) Holds(id events.ID, hash events.Hash) (bool, error) {
	if hash != (events.Hash{}) {
		seq, err := tx.file.has(&events.Entry{ID: id, Hash: hash})
		return seq != 0, err
	}
	var seq int64
	err := tx.file.QueryRow("SELECT seq FROM entry WHERE id=? LIMIT 1", id[:]).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, translate(err)
}

// Supersedes says why the book at old may not go for this one; nil where nothing would be lost with it. Every entry of
// it must be here, every sitter who was not erased here, with the names borne before, and every small picture; nobody may
// have it open, and no log may lie beside it.
func (b *Book) Supersedes(old string) error {
	info, err := os.Lstat(old)
	switch {
	case err != nil:
		return fmt.Errorf("%s cannot be looked at: %w", old, rawfile.Reason(err))
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
		return other.Read(func(from *Tx) error { return (&replacement{tx, from, old}).holdsAll() })
	})
}

// replacement asks whether a book holds everything of another one, in whose place it is to stand.
type replacement struct {
	tx, from *Tx
	old      string // where the other stands
}

// holdsAll wants everything of another book here.
func (x *replacement) holdsAll() error {
	lacking := 0
	err := x.from.Each(func(e events.Entry) error {
		held, err := x.tx.Holds(e.ID, e.Hash)
		if !held {
			lacking++
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("%s: %w", x.old, err)
	}
	if lacking > 0 {
		return fmt.Errorf("%s holds entries that this book does not (%d), so it is not replaced: merge it first, move it away, or name another place", x.old, lacking)
	}
	if err := x.holdsSitters(); err != nil {
		return err
	}
	return x.holdsThumbnails()
}

// holdsSitters wants every sitter of another book here, with every name that the other knows, but for who was erased here.
func (x *replacement) holdsSitters() error {
	theirs, err := x.from.Sitters()
	if err != nil {
		return err
	}
	mine, err := x.tx.Sitters()
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
		gone, err := x.tx.sitters.erasedHere(row.Ref)
		if err != nil {
			return err
		}
		if !gone {
			return fmt.Errorf("%s names %s otherwise than this book does, so it is not replaced: merge it first, move it away, or name another place", x.old, row.Ref)
		}
	}
	former, err := x.from.FormerNames()
	if err != nil {
		return err
	}
	for _, row := range former {
		under, err := x.tx.sitters.namesUnder(row.Ref)
		if err != nil {
			return err
		}
		if holdsName(under, row.Name) {
			continue
		}
		gone, err := x.tx.sitters.erasedHere(row.Ref)
		if err != nil {
			return err
		}
		if !gone {
			return fmt.Errorf("%s knows a name that %s bore before and this book does not, so it is not replaced: merge it first, move it away, or name another place", x.old, row.Ref)
		}
	}
	return nil
}

// holdsThumbnails wants every small picture of another book here. Where its original was last seen may have changed.
func (x *replacement) holdsThumbnails() error {
	digests := func(tx *Tx) (map[string]bool, error) {
		out := map[string]bool{}
		rows, err := tx.file.Query("SELECT sha256 FROM thumbnail")
		return out, each(rows, err, func(row scanner) error {
			var digest []byte
			err := row.Scan(&digest)
			out[string(digest)] = true
			return err
		})
	}
	mine, err := digests(x.tx)
	if err != nil {
		return err
	}
	theirs, err := digests(x.from)
	if err != nil {
		return err
	}
	maps.DeleteFunc(theirs, func(digest string, _ bool) bool { return mine[digest] })
	if n := len(theirs); n > 0 {
		return fmt.Errorf("%s holds small pictures of scans that this book does not (%d), so it is not replaced: merge it first, move it away, or name another place", x.old, n)
	}
	return nil
}

// layoutSteps bring the tables from one layout to the next: the first those of layout 1 to those of layout 2, as SQL. The
// stored bytes of the entries stand in every layout as they were written; what is derived from them is made again.
var layoutSteps = []string{}

// takeUp brings a book of an older layout to a later one by these steps, whole or not at all, after a checked copy beside
// it, and says where that lies.
func takeUp(path string, from int, steps []string) (kept string, err error) {
	db := sql.OpenDB(connector{dsn(path, Options{}, "rw")})
	db.SetMaxOpenConns(1)
	defer func() { err = errors.Join(err, translate(db.Close())) }()
	if kept, err = keepLayout(&Book{path: path, db: db, mode: "rw"}, from); err != nil {
		return "", err
	}
	all := slices.Concat([]string{"BEGIN IMMEDIATE"}, steps, []string{"DELETE FROM meta WHERE key='fold'", fmt.Sprintf("PRAGMA user_version=%d", from+len(steps)), "COMMIT"})
	for _, step := range all {
		if _, err := db.Exec(step); err != nil {
			db.Exec("ROLLBACK")
			return "", fmt.Errorf("its layout %d could not be taken up (%w); it is as it was, and a copy lies at %s", from, translate(err), kept)
		}
	}
	return kept, nil
}

// keepLayout makes the copy: each stored entry is there and hangs in its chain.
func keepLayout(b *Book, layout int) (string, error) {
	at := fmt.Sprintf("%s.layout-%d", b.path, layout)
	for n := 2; vacant(at, at) != nil; n++ {
		at = fmt.Sprintf("%s.layout-%d-%d", b.path, layout, n)
	}
	tmp, err := newTemp(at)
	if err != nil {
		return "", err
	}
	defer tmp.discard()
	if err := b.copyInto(tmp.path); err != nil {
		return "", fmt.Errorf("%s: %w", at, tmp.because(err))
	}
	copied := sql.OpenDB(connector{dsn(tmp.path, Options{}, "rw")})
	copied.SetMaxOpenConns(1)
	was, err1 := chainedRows(b.db)
	is, err2 := chainedRows(copied)
	if err := errors.Join(err1, err2, translate(copied.Close())); err != nil {
		return "", fmt.Errorf("%s: %w", at, err)
	}
	if was != is {
		return "", fmt.Errorf("%s: the copy holds %d entries of %d, and was not made; do it again", at, is, was)
	}
	return at, tmp.take(at, false)
}

// chainedRows counts the stored entries, whatever the layout; one whose hash is not that of its bytes is an error.
func chainedRows(db *sql.DB) (n int, err error) {
	rows, err := db.Query("SELECT body, prev, hash FROM entry ORDER BY seq")
	if err != nil {
		return 0, translate(err)
	}
	defer rows.Close()
	for rows.Next() {
		var body string
		var prev, hash []byte
		if err := rows.Scan(&body, &prev, &hash); err != nil {
			return 0, translate(err)
		}
		var before events.Hash
		copy(before[:], prev)
		if sum := events.HashOf(before, []byte(body)); !bytes.Equal(hash, sum[:]) {
			return 0, fmt.Errorf("%w: entry number %d does not hang in its chain; `traybook verify` of the version that wrote the book tells all", events.ErrDamaged, n+1)
		}
		n++
	}
	return n, translate(rows.Err())
}
