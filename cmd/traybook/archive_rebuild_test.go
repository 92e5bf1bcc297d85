package main

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
)

// A book made from the entries of the bag alone shows what the first one shows.
func TestBookFromTheEntriesOfTheArchiveHasEqualViews(t *testing.T) {
	t.Parallel()
	book := seasonBook(t)
	out := archived(t, book)
	raw, err := os.Open(filepath.Join(out, "data", "events.ndjson"))
	require.NoError(t, err)
	defer raw.Close()
	anew := filepath.Join(t.TempDir(), "anew.db")
	b, err := sqlite.Create(anew, bookOptions(false))
	require.NoError(t, err)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := tx.ImportWhole(events.ReadLines(raw), nil)
		return err
	}))
	require.NoError(t, b.Close())
	views := viewsOf(t, book)
	require.Greater(t, len(views), 40)
	require.Equal(t, views, viewsOf(t, anew))
}

func viewsOf(t testing.TB, path string) map[string]string {
	t.Helper()
	out := map[string]string{}
	b, err := sqlite.Open(path, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		for _, kind := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera} {
			things, err := tx.Entities(kind)
			require.NoError(t, err)
			for _, x := range things {
				v, _, err := tx.View(x)
				require.NoError(t, err)
				out[x.Name] = fmt.Sprint(v.Rank, v.Open, v.Last, v.Stock, string(v.State))
			}
		}
		return nil
	}))
	return out
}
