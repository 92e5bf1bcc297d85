package sqlite_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
)

func TestACopyIsTheSameBytesEachTimeAndHasNoOwnChain(t *testing.T) {
	dir := t.TempDir()
	b, err := sqlite.Create(filepath.Join(dir, "book.db"), sqlite.Options{})
	require.NoError(t, err)
	at := time.Date(2026, 5, 3, 14, 5, 0, 0, time.UTC)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		e := events.Entry{Kind: events.BookOpened, At: at, RecordedAt: at, Data: &events.BookOpenedData{Zone: "Europe/Oslo"}, ID: events.ID{7}, Book: events.ID{8}}
		return tx.Append(&e)
	}))
	require.NoError(t, b.Close())
	ro, err := sqlite.Open(filepath.Join(dir, "book.db"), sqlite.Options{ReadOnly: true})
	require.NoError(t, err)
	defer ro.Close()
	var copies [2][]byte
	for i := range copies {
		path := filepath.Join(dir, string(rune('a'+i))+".db")
		require.NoError(t, ro.CopyInto(path))
		require.Error(t, ro.CopyInto(path), "nothing is written over")
		copies[i], err = os.ReadFile(path)
		require.NoError(t, err)
		require.NoFileExists(t, path+"-wal")
		c, err := sqlite.Open(path, sqlite.Options{ReadOnly: true})
		require.NoError(t, err)
		require.NoError(t, c.Read(func(tx *sqlite.Tx) error {
			own, err := tx.HasOwnChain()
			require.NoError(t, err)
			require.False(t, own)
			n, err := tx.Count()
			require.EqualValues(t, 1, n)
			return err
		}))
		require.NoError(t, c.Close())
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, copies[i], after, "looking changes nothing")
	}
	require.Equal(t, copies[0], copies[1])
}
