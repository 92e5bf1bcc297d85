package sqlite

import (
	"bytes"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/projections/acts"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// What the pages in a browser and the look-backs of the terminal show of today goes through as many rows in a long life as in a
// short one.
func TestALookIsAsLongInAnyBook(t *testing.T) {
	short, long := looksAtALife(t, 3_000), looksAtALife(t, 12_000)
	for what, rows := range short {
		assert.Greater(t, rows, 5, what)
		assert.LessOrEqual(t, float64(long[what]), 1.3*float64(rows)+60, "%s: %d, then %d", what, rows, long[what])
	}
}

func looksAtALife(t *testing.T, n int) map[string]int {
	path := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, CreateFilled(path, Options{Folder: snapshot.Folder{}}, nil))
	rows := &rowCounter{}
	b := rows.open(t, path)
	var raw bytes.Buffer
	_, err := eventstest.WriteLife(&raw, n, 7)
	require.NoError(t, err)
	p := acts.NewImportBuffer(nil)
	for line, err := range events.ReadLines(&raw) {
		require.NoError(t, err)
		require.NoError(t, p.Add(line))
	}
	require.NoError(t, b.Write(func(tx *Tx) error {
		_, err := acts.ImportBuffered(tx, p, lifeEnds, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	var now time.Time
	var picture string
	require.NoError(t, b.Read(func(tx *Tx) error {
		last, err := tx.Entries(events.Query{Newest: true, Limit: 1})
		require.NoError(t, err)
		now = last[0].At.Add(time.Minute)
		views, err := tx.Views(events.ViewQuery{Kind: events.Picture, Limit: 3})
		require.NoError(t, err)
		picture = views[2].Entity.Name
		return nil
	}))
	out := map[string]int{}
	for what, look := range map[string]func(*snapshot.Snapshot) error{
		"today": func(snap *snapshot.Snapshot) error { _, err := report.Today(snap, false); return err },
		"pictures": func(snap *snapshot.Snapshot) error {
			found, err := report.Pictures(snap, report.PictureFilter{Page: 36})
			for _, x := range found.Pictures {
				p, err := snap.Picture(x.Picture)
				require.NoError(t, err)
				_, err = report.FaceOf(snap, p)
				require.NoError(t, err)
			}
			return err
		},
		"pictures of a cause": func(snap *snapshot.Snapshot) error {
			looked := 0
			_, err := report.Pictures(snap, report.PictureFilter{Page: 36, Cause: "light-leak", Causes: func(string) ([]string, error) { looked++; return nil, nil }})
			assert.Less(t, looked, 100)
			return err
		},
		"picture":      func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, picture, true); return err },
		"evening":      func(snap *snapshot.Snapshot) error { _, err := report.Captions(snap, false); return err },
		"paper":        func(snap *snapshot.Snapshot) error { _, err := report.Stock(snap, false); return err },
		"baths":        func(snap *snapshot.Snapshot) error { _, err := report.Baths(snap, false); return err },
		"all supplies": func(snap *snapshot.Snapshot) error { _, err := report.Supplies(snap, 0, 3); return err },
	} {
		require.NoError(t, b.Read(func(tx *Tx) error {
			out[what] = rows.of(func() { require.NoError(t, look(snapshot.New(tx, now)), what) }).rows
			return nil
		}))
	}
	return out
}
