package sqlite

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/snapshot"
)

// What a box holds stands in its kept view, with the views of the program itself: it is right after its last sheet is
// taken, after a cut, and after each of these is taken back or put right.
func TestAViewOfABoxFollowsWhatIsTakenFromIt(t *testing.T) {
	b, err := Create(filepath.Join(t.TempDir(), "book.db"), Options{Folder: snapshot.Folder{}})
	require.NoError(t, err)
	wholeAtEnd(t, b)
	h := newHand(t, b, "stock")
	h.begin()
	say := func(d events.Data) events.Entry {
		t.Helper()
		e := h.do(d)
		verified(t, b)
		return e
	}
	taken := func(picture, box string) events.Entry {
		t.Helper()
		return say(&events.SheetExposedData{Picture: picture, Sheet: picture + "n", Box: box, F: 8, TimeS: 5})
	}
	say(&events.PaperReceivedData{Box: "box-1", Name: "quay paper", Base: "rc", WidthMM: 102, HeightMM: 127, Sheets: 4})
	cut := say(&events.PaperCutData{Box: "box-1", Sheets: 1, Into: "small", Parts: 2, WidthMM: 51, HeightMM: 127})
	taken("2026-001", "small")
	second := taken("2026-002", "small")
	taken("2026-003", "box-1")
	taken("2026-004", "box-1")
	last := taken("2026-005", "box-1")
	empty := func(box string) bool {
		t.Helper()
		open := false
		require.NoError(t, b.Read(func(tx *Tx) error {
			entity, found, err := tx.Entity(box)
			require.NoError(t, err)
			require.True(t, found)
			v, found, err := tx.View(entity)
			require.True(t, found)
			open = v.Open
			return err
		}))
		return !open
	}
	require.True(t, empty("box-1"), "its last sheet is taken")
	require.True(t, empty("small"))
	back := h.void(last)
	verified(t, b)
	require.False(t, empty("box-1"))
	h.void(back)
	verified(t, b)
	require.True(t, empty("box-1"))
	h.void(second)
	verified(t, b)
	require.False(t, empty("small"))
	h.amend(cut, `{"parts":4}`)
	verified(t, b)
	h.void(second)
	h.void(cut)
	verified(t, b)
}
