package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"strings"
	"testing"

	sqlite3 "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// fault makes the disk fail once: at the statement or the row whose turn it is.
type fault struct {
	left  int // statements and rows that still go well
	rows  bool
	fired bool
}

var errDisk = sqlite3.Error{Code: sqlite3.ErrIoErr}

func (f *fault) due(row bool) bool {
	if f.fired || row != f.rows {
		return false
	}
	f.left--
	f.fired = f.left < 0
	return f.fired
}

type faulty struct {
	*sqlite3.SQLiteConn
	f *fault
}

func (c faulty) QueryContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Rows, error) {
	if c.f.due(false) {
		return nil, errDisk
	}
	rows, err := c.SQLiteConn.QueryContext(ctx, q, args)
	if err != nil {
		return nil, err
	}
	return faultyRows{rows.(*sqlite3.SQLiteRows), c.f}, nil
}

func (c faulty) ExecContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Result, error) {
	if c.f.due(false) {
		return nil, errDisk
	}
	return c.SQLiteConn.ExecContext(ctx, q, args)
}

type faultyRows struct {
	*sqlite3.SQLiteRows
	f *fault
}

func (r faultyRows) Next(dest []driver.Value) error {
	if r.f.due(true) {
		return errDisk
	}
	return r.SQLiteRows.Next(dest)
}

type faultyConnector struct {
	connector
	f *fault
}

func (c faultyConnector) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := c.connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	return faulty{conn.(*sqlite3.SQLiteConn), c.f}, nil
}

// faultyBook is the same book over a disk that fails when f says so.
func faultyBook(t *testing.T, b *Book, f *fault) *Book {
	t.Helper()
	other := *b
	other.db = sql.OpenDB(faultyConnector{connector{dsn(b.path, Options{}, "rw")}, f})
	other.db.SetMaxOpenConns(1)
	return &other
}

// Wherever the disk fails, the failure is told and nothing of the write is left.
func TestADiskThatFails(t *testing.T) {
	studio := create(t)
	sh := newHand(t, studio, "studio")
	sh.season()
	require.NoError(t, studio.Write(func(tx *Tx) error {
		for _, name := range []string{"Ylva", "Runa"} {
			if _, err := tx.AddSitter(name, ""); err != nil {
				return err
			}
		}
		return tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash{7}, JPEG: []byte{0xff}, Width: 1, Height: 1})
	}))
	sh.do(&events.SitterConsentedData{Sitter: "sitter-8", To: "show"})
	lines := strings.Join(exported(t, seasonBook(t)), "")
	joined := seasonBook(t)
	merge(t, joined, studio)
	h := newHand(t, joined, "late")
	h.at = morning.AddDate(0, 0, 1)
	acts := []events.Entry{}
	for _, d := range []events.Data{
		&events.SheetExposedData{Picture: "2026-050", Box: "box-1@2", F: 8, TimeS: 5, Sheet: "2026-050n", PlannedBox: "box-1"},
		&events.SheetJudgedData{Sheet: "2026-001n@2", Verdict: "keep"},
		&events.NoteWrittenData{About: seeded("studio9").String(), Text: "x"},
		&events.EntryVoidedData{Entry: seeded("studio20").String()},
		&events.EntryVoidedData{Batch: seeded("batchharbour9").String()},
	} {
		acts = append(acts, h.entry(d))
	}
	for _, c := range []struct {
		name string
		book *Book
		do   func(b *Book) error
	}{
		{"act", joined, func(b *Book) error {
			return b.Write(func(tx *Tx) error {
				for _, e := range acts {
					if err := tx.Append(&e); err != nil {
						return err
					}
				}
				return nil
			})
		}},
		{"import", create(t), func(b *Book) error {
			_, err := importWhole(b, events.ReadLines(strings.NewReader(lines)), nil)
			return err
		}},
		{"merge", seasonBook(t), func(b *Book) error { _, err := b.Merge(studio, nil); return err }},
		{"rebuild", joined, func(b *Book) error { return b.Rebuild() }},
		{"verify", joined, func(b *Book) error { _, err := b.Verify(VerifyOptions{}); return err }},
		{"export", joined, func(b *Book) error { return b.Read(func(tx *Tx) error { return exportLines(tx, discard{}) }) }},
		{"walk", joined, func(b *Book) error {
			return b.Read(func(tx *Tx) error { return tx.Each(func(events.Entry) error { return nil }) })
		}},
		{"thumbnails", studio, func(b *Book) error {
			return b.Read(func(tx *Tx) error { return tx.EachThumbnail(func(events.Thumbnail) error { return nil }) })
		}},
		{"sitter", studio, func(b *Book) error {
			return b.Write(func(tx *Tx) error {
				_, err := tx.AddSitter("Asta", "")
				if err == nil {
					_, err = tx.Sitters()
				}
				if err == nil {
					err = tx.SetMeta("zone", "UTC")
				}
				if err == nil {
					err = assert.AnError // and away with it
				}
				return err
			})
		}},
		{"look", joined, func(b *Book) error {
			return b.Read(func(tx *Tx) error {
				for _, look := range looks {
					if err := look(tx); err != nil {
						return err
					}
				}
				return nil
			})
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := told(t, c.book)
			for _, rows := range []bool{false, true} {
				// How many statements, or rows, it takes when all goes well; what it did is undone by failing at the end.
				count := &fault{left: 1 << 30, rows: rows}
				probe := faultyBook(t, c.book, count)
				if c.name == "act" || c.name == "import" || c.name == "merge" {
					copied := createCopy(t, c.book)
					probe = faultyBook(t, copied, count)
				}
				if err := c.do(probe); err != nil {
					require.ErrorIs(t, err, assert.AnError)
				}
				probe.db.Close()
				total := 1<<30 - count.left
				step := max(1, total/40)
				for n := 0; n < total; n += step {
					f := &fault{left: n, rows: rows}
					b := faultyBook(t, c.book, f)
					err := c.do(b)
					b.db.Close()
					if f.fired {
						assert.Error(t, err, "the failure at %d of %d was passed over", n, total)
					}
				}
			}
			assert.Equal(t, before, told(t, c.book))
			verified(t, c.book)
		})
	}
}

func createCopy(t *testing.T, b *Book) *Book {
	t.Helper()
	path := t.TempDir() + "/copy.db"
	_, err := b.db.Exec("VACUUM INTO ?", path)
	require.NoError(t, err)
	return open(t, path)
}

// looks are the questions that acts and look-backs ask, each with its error.
var looks = []func(tx *Tx) error{
	func(tx *Tx) error { _, _, err := tx.Entity("2026-001@2"); return err },
	func(tx *Tx) error { _, err := tx.EntityByID(3); return err },
	func(tx *Tx) error { _, err := tx.Entities(events.Box); return err },
	func(tx *Tx) error { _, err := tx.Entries(events.Query{Stream: 3}); return err },
	func(tx *Tx) error { _, err := tx.Views(events.ViewQuery{Kind: events.Picture}); return err },
	func(tx *Tx) error { _, _, err := tx.View(events.Entity{ID: 3}); return err },
	func(tx *Tx) error { _, err := tx.LargestNumber("2026-"); return err },
	func(tx *Tx) error { _, err := tx.Find("abcd"); return err },
	func(tx *Tx) error { _, err := tx.Batch("abcd"); return err },
	func(tx *Tx) error { _, err := tx.StreamOf(seeded("harbour1")); return err },
	func(tx *Tx) error { _, err := tx.Heads(); return err },
	func(tx *Tx) error { _, _, err := tx.LastOwn(true); return err },
	func(tx *Tx) error { _, err := tx.Count(); return err },
	func(tx *Tx) error { _, _, err := tx.Thumbnail(events.Hash{7}); return err },
	func(tx *Tx) error { _, err := tx.Meta("zone"); return err },
	func(tx *Tx) error { _, err := tx.HasOwnChain(); return err },
}

// What covers a refused commit leaves the layout of the file as it is: another version may have made it.
func TestARefusedCommitLeavesTheLayout(t *testing.T) {
	b := create(t)
	spoilt.Store(b.Path(), true) // no book has the layout 0
	_, err := b.db.Exec("PRAGMA user_version=0")
	require.NoError(t, err)
	write := func(f *fault) error {
		h := newHand(t, faultyBook(t, b, f), "harbour")
		defer h.b.db.Close()
		e := h.entry(&events.BookOpenedData{Zone: "Europe/Oslo"})
		return h.b.Write(func(tx *Tx) error { return tx.Append(&e) })
	}
	count := &fault{left: 1 << 30}
	require.NoError(t, write(count))
	b = create(t)
	spoilt.Store(b.Path(), true)
	_, err = b.db.Exec("PRAGMA user_version=0")
	require.NoError(t, err)
	require.ErrorContains(t, write(&fault{left: 1<<30 - count.left - 1}), "the disk failed", "the last statement is COMMIT")
	var layout int
	require.NoError(t, b.db.QueryRow("PRAGMA user_version").Scan(&layout))
	assert.Zero(t, layout)
}
