package sqlite_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
)

// holds says whether the bytes of a book or its log hold a text.
func holds(t *testing.T, path, text string) bool {
	t.Helper()
	for _, end := range []string{"", "-wal", "-shm"} {
		raw, err := os.ReadFile(path + end)
		if err != nil {
			require.ErrorIs(t, err, os.ErrNotExist)
			continue
		}
		if bytes.Contains(raw, []byte(text)) {
			return true
		}
	}
	return false
}

func TestErasedSitterLeavesNoTrace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	b, err := sqlite.Create(path, sqlite.Options{})
	require.NoError(t, err)
	defer b.Close()
	const name, contact = "Sigrun Aaberg", "the red house, second floor"
	var ref string
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		e := events.Entry{Kind: events.BookOpened, At: time.Unix(1, 0).UTC(), RecordedAt: time.Unix(1, 0).UTC(), ID: events.ID{1}, Book: events.ID{2},
			Data: &events.BookOpenedData{Zone: "UTC"}}
		require.NoError(t, tx.Append(&e))
		for _, other := range []string{"Ole Vik", name, "Tora Dahl"} {
			r, err := tx.AddSitter(other, contact)
			require.NoError(t, err)
			if other == name {
				ref = r
			}
		}
		return tx.SetSitter(events.SitterRow{Ref: ref, Name: name, Contact: contact})
	}))
	require.True(t, holds(t, path, name), "the name must be found before, or the search proves nothing")

	// Another connection that reads keeps the log alive: the row goes, the traces stay, and it is said so.
	other, err := sqlite.Open(path, sqlite.Options{ReadOnly: true})
	require.NoError(t, err)
	wrote := false
	err = other.Read(func(tx *sqlite.Tx) error {
		_, err := tx.Count()
		require.NoError(t, err)
		err = b.EraseSitter(ref, func(*sqlite.Tx) error { return nil }, func(*sqlite.Tx) error { wrote = true; return nil })
		require.ErrorIs(t, err, sqlite.ErrTracesLeft)
		require.ErrorIs(t, err, events.ErrBusy)
		return nil
	})
	require.NoError(t, err)
	require.True(t, wrote)
	require.NoError(t, other.Close())
	pending, err := b.ScrubPending()
	require.NoError(t, err)
	require.True(t, pending)

	require.NoError(t, b.Scrub())
	require.False(t, holds(t, path, name))
	pending, err = b.ScrubPending()
	require.NoError(t, err)
	require.False(t, pending)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		rows, err := tx.Sitters()
		require.NoError(t, err)
		require.Len(t, rows, 2)
		return nil
	}))
	next := ""
	require.NoError(t, b.Write(func(tx *sqlite.Tx) (err error) {
		next, err = tx.AddSitter("Liv Moe", "")
		return err
	}))
	require.Equal(t, "sitter-4", next)
}
