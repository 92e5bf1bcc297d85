package demo

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

func TestEverySheetThatWasDevelopedHasAScan(t *testing.T) {
	o := sqlite.Options{Folder: snapshot.Folder{}}
	path := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, Build(path, o))
	n, err := AttachScans(path, o)
	require.NoError(t, err)
	require.Greater(t, n, 60)
	b, err := sqlite.Open(path, o)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		found, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetAttached}})
		require.NoError(t, err)
		require.Len(t, found, n)
		for _, e := range found {
			d := e.Data.(*events.SheetAttachedData)
			fi, err := os.Stat(filepath.Join(filepath.Dir(path), "scans", d.SHA256[:2], d.SHA256+".jpg"))
			require.NoError(t, err, d.Sheet)
			require.Equal(t, d.Bytes, fi.Size())
		}
		return nil
	}))
	litter, err := filepath.Glob(filepath.Join(filepath.Dir(path), ".*"))
	require.NoError(t, err)
	require.Empty(t, litter)
}
