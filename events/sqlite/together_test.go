package sqlite

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// Writes that are joined are all kept, or none is, whichever fails; each sees what those before it wrote.
func TestWritesTogetherAreKeptWholeOrNotAtAll(t *testing.T) {
	unfit := errors.New("does not fit")
	for _, c := range []struct {
		name  string
		fails int // the write, or with 2 the end of them, that fails
		kept  int64
	}{{"all fit", 9, 2}, {"the first fails", 0, 0}, {"the second fails", 1, 0}, {"what comes after them fails", 2, 0}} {
		t.Run(c.name, func(t *testing.T) {
			b := seasonBook(t)
			before := verified(t, b).Events
			h := newHand(t, b, "together")
			note := func(i int) error {
				return b.Write(func(tx *Tx) error {
					e := h.entry(&events.NoteWrittenData{About: "dev-1", Text: "a note"})
					if err := tx.Append(&e); err != nil {
						return err
					}
					if i == c.fails {
						return unfit
					}
					return nil
				})
			}
			err := b.Together(func() error {
				first := note(0)
				if first == nil {
					require.NoError(t, b.Read(func(tx *Tx) error {
						found, err := tx.Entries(events.Query{Kinds: []events.Kind{events.NoteWritten}})
						assert.NotEmpty(t, found, "what was written stands there for what follows")
						return err
					}))
				}
				second := note(1)
				if c.fails == 1 {
					assert.ErrorIs(t, second, unfit)
				}
				if c.fails == 2 {
					return unfit
				}
				return nil // a failed write is remembered, though nobody says so
			})
			assert.Equal(t, c.kept == 0, errors.Is(err, unfit), "%v", err)
			assert.Equal(t, before+c.kept, verified(t, b).Events)
			assert.Equal(t, c.kept > 0, b.Written())
			require.NoError(t, note(3), "the book is open for what comes next")
		})
	}
}

// A name that SQLite would give to what stands beside a book is told as that book's, in any letters, and no other name is.
func TestWhatStandsBesideABook(t *testing.T) {
	path := seasonFile(t)
	dir := filepath.Dir(path)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("no book"), 0o600))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "folder.db"), 0o700))
	for _, c := range []struct{ name, book string }{
		{filepath.Base(path) + "-wal", path}, {filepath.Base(path) + "-shm", path}, {filepath.Base(path) + "-JOURNAL", path}, {strings.ToUpper(filepath.Base(path)) + "-wal", path},
		{filepath.Base(path), ""}, {filepath.Base(path) + "-log", ""}, {"-wal", ""}, {"notes.txt-wal", ""}, {"folder.db-wal", ""}, {"other.db-wal", ""},
	} {
		assert.Equal(t, c.book, CompanionOf(filepath.Join(dir, c.name)), c.name)
	}
	for end, free := range map[string]bool{"": true, "-wal": false, "-journal": false, "-txt": true} {
		at := filepath.Join(t.TempDir(), "new.db")
		if end != "" {
			require.NoError(t, os.WriteFile(at+end, []byte("x"), 0o600))
		}
		b, err := Create(at, options)
		if !free {
			assert.ErrorContains(t, err, "new.db"+end+" lies there, the log of a book", end)
			assert.NoFileExists(t, at)
			continue
		}
		require.NoError(t, err, end)
		require.NoError(t, b.Close())
	}
}
