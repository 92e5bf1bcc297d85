package sqlite

import (
	"sync"
	"sync/atomic"

	"traybook/events"
)

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
	gone    chan struct{}
	failed  atomic.Pointer[error]
}

// putBehind begins to put rows in behind.
func (s *statements) putBehind() error {
	stmt, err := s.conn.PrepareContext(uncancelled, insertEntry)
	if err != nil {
		return translate(err)
	}
	b := &behind{rows: make(chan []entryRow, 16), gone: make(chan struct{})}
	s.behind = b
	go func() {
		defer close(b.gone)
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
