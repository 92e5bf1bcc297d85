package sqlite_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
)

func TestAThumbnailIsMadeOnceAndOnlyItsPathMoves(t *testing.T) {
	b, err := sqlite.Create(filepath.Join(t.TempDir(), "book.db"), sqlite.Options{})
	require.NoError(t, err)
	defer b.Close()
	first := events.Thumbnail{SHA256: events.Hash{2}, JPEG: []byte("one"), Width: 4, Height: 3, Path: "/old/place"}
	second := events.Thumbnail{SHA256: events.Hash{1}, JPEG: []byte("two"), Width: 3, Height: 4}
	again := first
	again.JPEG, again.Path = []byte("made anew"), "/new/place"
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		for _, x := range []events.Thumbnail{first, second, again} {
			require.NoError(t, tx.PutThumbnail(x))
		}
		return nil
	}))
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		_, ok, err := tx.Thumbnail(events.Hash{9})
		require.NoError(t, err)
		require.False(t, ok, "none is kept of an unknown scan")
		want := first
		want.Path = "/new/place"
		got, ok, err := tx.Thumbnail(first.SHA256)
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, want, got)
		var all []events.Thumbnail
		require.NoError(t, tx.EachThumbnail(func(x events.Thumbnail) error { all = append(all, x); return nil }))
		require.Equal(t, []events.Thumbnail{second, want}, all, "by digest")
		return nil
	}))
}
