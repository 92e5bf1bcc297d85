package export_test

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/projections"
)

// recorded is the clock of every import in these tests.
var recorded = time.Date(2026, 12, 31, 12, 0, 0, 0, time.UTC)

// bookOf makes a book in a temporary folder from plain lines.
func bookOf(t testing.TB, lines string) *sqlite.Book {
	t.Helper()
	b, err := sqlite.Create(filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Folder: projections.Folder{}})
	require.NoError(t, err)
	wholeAtEnd(t, b)
	addTo(t, b, lines)
	return b
}

func addTo(t testing.TB, b *sqlite.Book, lines string) {
	t.Helper()
	var in []projections.ImportLine
	for l, err := range events.ReadLines(strings.NewReader(lines)) {
		require.NoError(t, err)
		in = append(in, projections.ImportLine{Line: l, Number: l.N})
	}
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := projections.ImportPlain(tx, in, recorded, events.ID{1}, events.ID{2}, nil)
		return err
	}))
}

// tablesOf writes every table of a book into memory.
func tablesOf(t testing.TB, b *sqlite.Book, scope export.Scope, o export.TableOptions) map[string]string {
	t.Helper()
	text := map[string]string{}
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		asOf, err := tx.NewestRecorded()
		require.NoError(t, err)
		tables, err := export.NewTables(tx, asOf, scope, o)
		if err != nil {
			return err
		}
		for _, name := range export.TableNames() {
			var out bytes.Buffer
			if _, err := tables.Write(name, &out); err != nil {
				return err
			}
			text[name] = out.String()
		}
		return nil
	}))
	return text
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
