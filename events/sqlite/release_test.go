package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"testing"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
)

// A fault of the program while the chains are followed is told, and the book is let go: what reads ahead does not keep
// the connection for ever.
func TestAFaultWhileVerifyingLetsTheBookGo(t *testing.T) {
	book := create(t)
	at := time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC)
	require.NoError(t, book.Write(func(tx *Tx) error {
		tx.Many()
		for i := range 8 * chainRows { // more than is read ahead
			id := events.ID{1, byte(i >> 8), byte(i)}
			e := events.Entry{Kind: events.MomentMarked, At: at, RecordedAt: at, ID: id, Book: events.ID{2}, Data: &events.MomentMarkedData{}}
			if i == 0 {
				e.Kind, e.Data = events.BookOpened, &events.BookOpenedData{Zone: "UTC"}
			}
			if err := tx.Append(&e); err != nil {
				return err
			}
		}
		return nil
	}))
	told := make(chan any, 1)
	go func() {
		defer func() { told <- recover() }()
		book.Verify(VerifyOptions{Progress: func(_, _ int64) { panic("a fault") }})
	}()
	eventstest.Within(t) // a book that is kept for ever shows where it waits
	assert.Equal(t, "a fault", <-told)
	require.NoError(t, book.Read(func(tx *Tx) error { _, err := tx.Count(); return err }), "and it can be used on")
}

// refusing is a connection that refuses one statement after so many that went well.
type refusing struct {
	*sqlite3.SQLiteConn
	text  string
	code  sqlite3.ErrNo
	after *int
}

func (c refusing) ExecContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Result, error) {
	if q == c.text {
		if *c.after--; *c.after < 0 {
			return nil, sqlite3.Error{Code: c.code}
		}
	}
	return c.SQLiteConn.ExecContext(ctx, q, args)
}

type refusingConnector struct {
	connector
	refuses refusing
}

func (c refusingConnector) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := c.connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	c.refuses.SQLiteConn = conn.(*sqlite3.SQLiteConn)
	return c.refuses, nil
}

// An erasure whose traces could not be removed says why: a disk that is full has not failed, and one that another
// program keeps busy has neither.
func TestAnErasureSaysWhyTracesAreLeft(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		code  sqlite3.ErrNo
		after int
		says  string
	}{
		"full":                 {"VACUUM", sqlite3.ErrFull, 0, "too full to write the book anew"},
		"failed":               {"VACUUM", sqlite3.ErrIoErr, 0, "the disk failed while its traces were removed"},
		"busy":                 {"VACUUM", sqlite3.ErrBusy, 0, "until no other program has the book open"},
		"busy at the very end": {"BEGIN IMMEDIATE", sqlite3.ErrBusy, 1, "until no other program has the book open"},
	} {
		t.Run(name, func(t *testing.T) {
			b := create(t)
			require.NoError(t, b.Write(func(tx *Tx) error { _, err := tx.AddSitter("Sigrun", ""); return err }))
			other := *b
			other.db = sql.OpenDB(refusingConnector{connector{dsn(b.path, Options{}, "rw")}, refusing{nil, c.text, c.code, &c.after}})
			other.db.SetMaxOpenConns(1)
			defer other.db.Close()
			err := other.EraseSitter("sitter-1", func(*Tx) error { return nil }, func(*Tx) error { return nil })
			assert.ErrorContains(t, err, "the name is out of the table")
			assert.ErrorContains(t, err, c.says)
			pending, err := b.ScrubPending()
			require.NoError(t, err)
			assert.True(t, pending, "the next erasure goes on with it")
		})
	}
}
