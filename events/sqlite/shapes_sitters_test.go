package sqlite

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
)

// manySitters are the works on a table of sitters of n people that ask something of it for each of them.
var manySitters = map[string]func(t *testing.T, c *rowCounter, n int) cost{
	"merge of clashing references": mergeClashing,
	"merge of erasures":            mergeErasures,
	"import beside erasures":       importBesideErasures,
}

// However many sitters clash, are erased or come in, twice as many take about twice the work.
func TestNoTableOfSittersTakesMoreThanItsRows(t *testing.T) {
	for what, work := range manySitters {
		t.Run(what, func(t *testing.T) {
			once, twice := work(t, &rowCounter{}, 40), work(t, &rowCounter{}, 80)
			require.Greater(t, twice.rows, 500, "there is something to compare")
			assertGrows(t, "rows", 4*once.rows, 4*twice.rows)
			assertGrows(t, "allocations", once.allocated, twice.allocated)
		})
	}
}

// sittersBook is a book whose acts name the first of its sitters.
func sittersBook(t *testing.T, c *rowCounter, book byte, called string, n, named int) *Book {
	path := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, CreateFilled(path, Options{Folder: snapshot.Folder{}}, nil))
	b := c.open(t, path)
	require.NoError(t, b.Write(func(tx *Tx) error {
		require.NoError(t, tx.EnsureOwn(events.Entry{Kind: events.BookOpened, ID: events.ID{book}, Book: events.ID{book, 1}, At: lifeEnds, RecordedAt: lifeEnds,
			Data: &events.BookOpenedData{Zone: "UTC"}}))
		for i := range n {
			ref, err := tx.AddSitter(fmt.Sprintf("%s %s", called, letters(i)), "")
			require.NoError(t, err)
			if i < named {
				require.NoError(t, tx.Append(sitterEntry(book, i, &events.SitterConsentedData{Sitter: ref, To: "show"})))
			}
		}
		return nil
	}))
	return b
}

func letters(i int) string { return string([]byte{'a' + byte(i/26), 'a' + byte(i%26)}) }

func sitterEntry(book byte, i int, d events.Data) *events.Entry {
	return &events.Entry{Kind: d.Kind(), ID: events.ID{book, 2, byte(i >> 8), byte(i)}, At: lifeEnds, RecordedAt: lifeEnds, Data: d}
}

// mergeClashing joins a book that gave the same references to others, half of whom an entry names.
func mergeClashing(t *testing.T, c *rowCounter, n int) cost {
	here, there := sittersBook(t, c, 1, "Ferry", 2*n, 0), sittersBook(t, c, 2, "Harbour", 2*n, n)
	return c.of(func() {
		m, err := here.Merge(there, nil)
		require.NoError(t, err)
		require.Len(t, m.Renumbered, n)
		require.Equal(t, 2*n, m.Sitters)
	})
}

// mergeErasures joins a copy that went on with an erasure of each sitter, whose name stands in the path of a scan too.
func mergeErasures(t *testing.T, c *rowCounter, n int) cost {
	here := sittersBook(t, c, 1, "Ferry", n, n)
	copied := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, here.Backup(copied))
	there := c.open(t, copied)
	require.NoError(t, there.Write(func(tx *Tx) error {
		require.NoError(t, tx.EnsureOwn(events.Entry{Kind: events.BookOpened, ID: events.ID{7}, Book: events.ID{8}, At: lifeEnds, RecordedAt: lifeEnds,
			Data: &events.BookOpenedData{Zone: "UTC"}}))
		for i := range n {
			require.NoError(t, tx.Append(sitterEntry(3, i, &events.SitterErasedData{Sitter: fmt.Sprintf("sitter-%d", i+1)})))
		}
		return nil
	}))
	require.NoError(t, here.Write(func(tx *Tx) error {
		for i := range n {
			require.NoError(t, tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash{1, byte(i)}, JPEG: []byte("\xff\xd8"), Width: 4, Height: 3,
				Path: fmt.Sprintf("/scans/ferry-%s.jpg", letters(i))}))
		}
		return nil
	}))
	out := c.of(func() {
		_, err := here.Merge(there, nil)
		require.NoError(t, err)
	})
	require.NoError(t, here.Read(func(tx *Tx) error {
		rows, err := tx.Sitters()
		require.NoError(t, err)
		require.Empty(t, rows)
		return tx.EachThumbnail(func(x events.Thumbnail) error {
			require.Equal(t, events.PathForgotten, x.Path)
			return nil
		})
	}))
	return out
}

// importBesideErasures takes a file with new names into a book in which as many sitters were erased.
func importBesideErasures(t *testing.T, c *rowCounter, n int) cost {
	n /= 2 // each name takes some hundredths of a second to be held against stones
	b := sittersBook(t, c, 1, "Ferry", 0, 0)
	require.NoError(t, b.Write(func(tx *Tx) error {
		for i := range n {
			require.NoError(t, tx.Append(sitterEntry(3, i, &events.SitterErasedData{Sitter: fmt.Sprintf("sitter-%d", i+1), Salt: events.ID{4}.String(),
				Digest: events.Hash{5, byte(i)}.String()})))
		}
		return nil
	}))
	p := acts.NewImportBuffer(nil)
	for i := range n {
		require.NoError(t, p.Add(events.Line{N: i + 1, Entry: events.Entry{Kind: events.SitterConsented, At: lifeEnds.Add(time.Duration(i) * time.Second), Zone: "UTC",
			Data: &events.SitterConsentedData{Sitter: "Harbour " + letters(i), To: "show"}}}))
	}
	return c.of(func() {
		require.NoError(t, b.Write(func(tx *Tx) error {
			_, err := acts.ImportBuffered(tx, p, lifeEnds, events.ID{6}, events.ID{7}, nil)
			return err
		}))
	})
}
