package projections_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections"
)

var recorded = time.Date(2026, 12, 31, 12, 0, 0, 0, time.UTC)

// readLines parses a file of plain lines.
func readLines(t testing.TB, path string) []projections.ImportLine {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	var out []projections.ImportLine
	for i, text := range bytes.Split(bytes.TrimSuffix(raw, []byte("\n")), []byte("\n")) {
		l, err := events.ParseLine(text)
		require.NoError(t, err, "line %d", i+1)
		out = append(out, projections.ImportLine{Line: l, Number: i + 1})
	}
	return out
}

// bookFrom makes a book in a temporary folder from a file of plain lines.
func bookFrom(t testing.TB, path string) *sqlite.Book {
	t.Helper()
	b := newBook(t)
	lines := readLines(t, path)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := projections.ImportPlain(tx, lines, recorded, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	return b
}

func TestCasesShowCalledForDoneAndDeviation(t *testing.T) {
	for _, c := range []struct {
		file, sheet      string
		calledFor, stops float64
	}{
		{"negative-extension-left-out", "2026-001n", 10.39, -0.792}, // m = 180/(750-180): (1+m)² = 1.731
		{"print-aperture-misset", "2026-001p1", 10, 2},
		{"good-picture", "2026-001n", 5.81, 0},
		{"good-picture", "2026-001p1", 20, 0},
	} {
		t.Run(c.file+"/"+c.sheet, func(t *testing.T) {
			b := bookFrom(t, "../testdata/cases/"+c.file+".ndjson")
			require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
				d := projections.NewDesk(tx, time.Time{})
				p, s, err := d.SheetByName(c.sheet)
				require.NoError(t, err)
				step, err := d.Step(p, *s.Exposure())
				require.NoError(t, err)
				require.NotNil(t, step.CalledForS)
				require.InDelta(t, c.calledFor, *step.CalledForS, 0.01*c.calledFor)
				require.InDelta(t, c.stops, *step.DeviationStops, 0.01)
				return nil
			}))
		})
	}
}

// newBook is an empty book in a temporary folder, verified when the test ends.
func newBook(t testing.TB) *sqlite.Book {
	t.Helper()
	b, err := sqlite.Create(filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Folder: projections.Folder{}})
	require.NoError(t, err)
	wholeAtEnd(t, b)
	return b
}

// wholeAtEnd closes a book when its test ends and verifies all of it, whatever the test was about.
func wholeAtEnd(t testing.TB, b *sqlite.Book) {
	t.Helper()
	t.Cleanup(func() {
		r, err := b.Verify(sqlite.VerifyOptions{})
		require.NoError(t, err)
		require.True(t, r.OK, "the book is not whole after the test: %v", r.Problems)
		require.NoError(t, b.Close())
	})
}
