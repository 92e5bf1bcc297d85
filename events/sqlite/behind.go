package sqlite

import (
	"database/sql"
	"strings"
	"sync"
	"sync/atomic"

	"traybook/events"
)

// statements are what a transaction asks of the file. When many entries come in at once their rows are put in behind
// the back of the one who makes them, on another core; whoever asks for anything waits until they are in.
type statements struct {
	*sql.Tx
	behind *behind
}

// Query asks for rows.
func (s *statements) Query(text string, args ...any) (*sql.Rows, error) {
	if err := s.settled(); err != nil {
		return nil, err
	}
	return s.Tx.Query(text, args...)
}

// QueryRow asks for one row.
func (s *statements) QueryRow(text string, args ...any) *sql.Row {
	s.settled() // its error comes back with the next row, or at the end
	return s.Tx.QueryRow(text, args...)
}

// Exec changes the file. Rows of other tables may go in before those of the entries.
func (s *statements) Exec(text string, args ...any) (sql.Result, error) {
	if !strings.HasPrefix(text, "INSERT") {
		if err := s.settled(); err != nil {
			return nil, err
		}
	}
	return s.Tx.Exec(text, args...)
}

func (s *statements) settled() error {
	if s.behind == nil {
		return nil
	}
	return s.behind.flush()
}

// end waits for the rows and lets the one who puts them in go.
func (s *statements) end() error {
	if s.behind == nil {
		return nil
	}
	err := s.behind.flush()
	close(s.behind.rows)
	s.behind = nil
	return err
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
	return []any{r.seq, string(r.stored), r.prev[:], r.hash[:], r.id[:], r.chain, r.bookSeq, r.kind, r.at, r.home,
		r.box, r.bath, r.session, batchColumn(r.batch)}
}

// handRows is how many rows are handed over together.
const handRows = 16

type behind struct {
	rows    chan []entryRow
	hand    []entryRow
	pending sync.WaitGroup
	failed  atomic.Pointer[error]
}

// putBehind begins to put rows in behind.
func (s *statements) putBehind() error {
	stmt, err := s.Tx.Prepare(insertEntry)
	if err != nil {
		return translate(err)
	}
	b := &behind{rows: make(chan []entryRow, 16)}
	s.behind = b
	go func() {
		defer stmt.Close()
		for rows := range b.rows {
			for i := range rows {
				if b.failed.Load() != nil {
					break
				}
				if _, err := stmt.Exec(rows[i].args()...); err != nil {
					b.failed.Store(&err)
				}
			}
			b.pending.Done()
		}
	}()
	return nil
}

func (b *behind) put(r entryRow) error {
	b.hand = append(b.hand, r)
	if len(b.hand) < handRows {
		return nil
	}
	b.handOver()
	return b.err()
}

func (b *behind) handOver() {
	if len(b.hand) > 0 {
		b.pending.Add(1)
		b.rows <- b.hand
		b.hand = make([]entryRow, 0, handRows)
	}
}

func (b *behind) flush() error {
	b.handOver()
	b.pending.Wait()
	return b.err()
}

func (b *behind) err() error {
	if err := b.failed.Load(); err != nil {
		return translate(*err)
	}
	return nil
}
