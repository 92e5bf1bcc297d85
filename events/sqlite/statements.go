package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	sqlite3 "github.com/mattn/go-sqlite3"

	"traybook/events"
	"traybook/events/sqlite/rawfile"
)

// statements are what a transaction asks of the file.
//
// The transaction is begun and ended by statements of its own on one connection, not by the library's kind, which has
// another goroutine watch over every question: that takes longer than most answers.
type statements struct {
	conn *sql.Conn
	path string // of the book
	done bool   // committed, or taken back
}

// Cancelling inside a write would roll back under the statement that follows: nothing here can be cancelled.
var uncancelled = context.Background()

// begin opens a transaction. One that writes takes its place at once, so that what it reads first still holds.
func (b *Book) begin(read bool) (*statements, error) {
	conn, err := b.db.Conn(uncancelled)
	if err != nil {
		return nil, err
	}
	text := "BEGIN IMMEDIATE"
	if read {
		text = "BEGIN"
	}
	if _, err := conn.ExecContext(uncancelled, text); err != nil {
		conn.Close()
		return nil, err
	}
	return &statements{conn: conn, path: b.path}, nil
}

// finish ends the transaction by COMMIT, or by ROLLBACK where nothing was to be written.
func (s *statements) finish(how string) error {
	_, err := s.conn.ExecContext(uncancelled, how)
	s.done = err == nil
	var e sqlite3.Error
	if how == "COMMIT" && errors.As(err, &e) && e.Code == sqlite3.ErrIoErr {
		s.takeBack()
		s.overwriteRefused()
	}
	return err
}

func (s *statements) takeBack() {
	s.conn.ExecContext(uncancelled, "ROLLBACK")
	s.done = true
}

// overwriteRefused covers, in SQLite's log, what a commit wrote before the disk failed to sync it. The commit was refused;
// but where the log stays beside the file, whoever opens it next would read it there, whole, and an act that was told to
// have failed, and was done again, would stand twice. The layout that the file has is set once more: it changes nothing,
// begins where the refused pages begin, and breaks the sums that run through them. It may fail as well, when its pages
// lie there.
func (s *statements) overwriteRefused() {
	var layout int
	if s.conn.QueryRowContext(uncancelled, "PRAGMA user_version").Scan(&layout) == nil {
		s.conn.ExecContext(uncancelled, fmt.Sprintf("PRAGMA user_version=%d", layout))
	}
	// What is left of the refused pages must not be taken for something that was acknowledged and then damaged.
	if _, err := s.conn.ExecContext(uncancelled, "BEGIN IMMEDIATE"); err == nil {
		rawfile.CutLog(s.path + "-wal")
		s.takeBack()
	}
}

// leave lets the connection go, and takes back what was not finished. SQLite may have done that by itself: then it says
// so, and nothing changes.
func (s *statements) leave() {
	if !s.done {
		s.takeBack()
	}
	s.conn.Close()
}

// Query asks for rows.
func (s *statements) Query(text string, args ...any) (*sql.Rows, error) {
	return s.conn.QueryContext(uncancelled, text, args...)
}

// QueryRow asks for one row.
func (s *statements) QueryRow(text string, args ...any) scanner {
	return typedRow{s.conn.QueryRowContext(uncancelled, text, args...)}
}

// state fixes what a transaction sees, and gives a number that is another one in a later transaction of this connection where
// others wrote meanwhile (SQLite's data_version).
func (s *statements) state() (n int64, err error) {
	err = s.QueryRow("PRAGMA data_version").Scan(&n)
	return n, err
}

// again begins a transaction that only reads anew, and fixes what it sees.
func (s *statements) again() error {
	if _, err := s.Exec("ROLLBACK; BEGIN"); err != nil {
		return err
	}
	_, err := s.state()
	return err
}

// Exec changes the file.
func (s *statements) Exec(text string, args ...any) (sql.Result, error) {
	return s.conn.ExecContext(uncancelled, text, args...)
}

// meta reads one of the book's own settings, "" where it is not set.
func (s *statements) meta(key string) (string, error) {
	var v string
	err := s.QueryRow("SELECT value FROM meta WHERE key=?", key).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return v, translate(err)
}

// setMeta sets it; "" removes it.
func (s *statements) setMeta(key, value string) error {
	var err error
	if value == "" {
		_, err = s.Exec("DELETE FROM meta WHERE key=?", key)
	} else {
		_, err = s.Exec("INSERT INTO meta VALUES (?,?) ON CONFLICT(key) DO UPDATE SET value=excluded.value", key, value)
	}
	return translate(err)
}

// scanner is one row of an answer.
type scanner interface{ Scan(...any) error }

// typedRow is a row whose columns hold what their types allow, or else the book is damaged: SQLite itself keeps anything
// in any column.
type typedRow struct{ scanner }

// Scan reads the columns.
func (r typedRow) Scan(into ...any) error {
	if row, one := r.scanner.(*sql.Row); one && row.Err() != nil {
		return row.Err()
	}
	err := r.scanner.Scan(into...)
	var failed sqlite3.Error
	if err == nil || errors.Is(err, sql.ErrNoRows) || errors.As(err, &failed) {
		return err
	}
	return damaged("")
}

// each gives the rows of an answer to f, one by one; the first that f cannot take ends it. err is what the question
// itself brought.
func each(rows *sql.Rows, err error, f func(scanner) error) error {
	if err != nil {
		return translate(err)
	}
	defer rows.Close()
	row := typedRow{rows}
	for rows.Next() {
		if err := f(row); err != nil {
			return translate(err)
		}
	}
	return translate(rows.Err())
}

// collect reads the rows of an answer.
func collect[T any](rows *sql.Rows, err error, scan func(scanner) (T, error)) ([]T, error) {
	var out []T
	if err := each(rows, err, func(row scanner) error {
		v, err := scan(row)
		out = append(out, v)
		return err
	}); err != nil {
		return nil, err
	}
	return out, nil
}

const insertEntry = "INSERT INTO entry VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)"

// entryRow is the row of one entry.
type entryRow struct {
	seq        int64
	stored     []byte
	prev, hash events.Hash
	columns
}

func (r *entryRow) args() []any {
	return []any{r.seq, string(r.stored), r.prev[:], r.hash[:], r.id[:], r.chain, r.bookSeq, r.kind, r.at, r.stream,
		r.box, r.bath, r.session, batchColumn(r.batch)}
}
