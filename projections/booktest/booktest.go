package booktest

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
)

// FromLines makes a book in a temporary folder from plain lines.
func FromLines(t testing.TB, lines string) *sqlite.Book {
	t.Helper()
	b, err := sqlite.Create(filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Folder: snapshot.Folder{}})
	require.NoError(t, err)
	wholeAtEnd(t, b)
	AddLines(t, b, lines)
	return b
}

// AddLines imports plain lines into a book.
func AddLines(t testing.TB, b *sqlite.Book, lines string) {
	t.Helper()
	var in []acts.ImportLine
	for l, err := range events.ReadLines(strings.NewReader(lines)) {
		require.NoError(t, err)
		in = append(in, acts.ImportLine{Line: l, Number: l.N})
	}
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportPlain(tx, in, Recorded, events.ID{1}, events.ID{2}, nil)
		return err
	}))
}

// Look runs f on a snapshot that sees the whole book.
func Look(t testing.TB, b *sqlite.Book, f func(*snapshot.Snapshot)) {
	t.Helper()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		f(snapshot.New(tx, time.Time{}))
		return nil
	}))
}

// Recorded is the moment at which entries of tests were written down.
var Recorded = time.Date(2026, 12, 31, 12, 0, 0, 0, time.UTC)

// ReadLines parses a file of plain lines.
func ReadLines(t testing.TB, path string) []acts.ImportLine {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	var out []acts.ImportLine
	for i, text := range bytes.Split(bytes.TrimSuffix(raw, []byte("\n")), []byte("\n")) {
		l, err := events.ParseLine(text)
		require.NoError(t, err, "line %d", i+1)
		out = append(out, acts.ImportLine{Line: l, Number: i + 1})
	}
	return out
}

// FromFile makes a book in a temporary folder from a file of plain lines.
func FromFile(t testing.TB, path string) *sqlite.Book {
	t.Helper()
	b := NewBook(t)
	lines := ReadLines(t, path)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportPlain(tx, lines, Recorded, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	return b
}

// NewBook is an empty book in a temporary folder, verified when the test ends.
func NewBook(t testing.TB) *sqlite.Book {
	t.Helper()
	b, err := sqlite.Create(filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Folder: snapshot.Folder{}})
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

// Crowded is a snapshot with no room, which every Tidy clears.
func Crowded(snap *snapshot.Snapshot) *snapshot.Snapshot {
	snap.Room = 0
	return snap
}

// FromActs makes a book from acts written one a line: kind, a space, the time in Oslo, a space, the data.
func FromActs(t testing.TB, text ...string) *sqlite.Book {
	t.Helper()
	b := NewBook(t)
	AddActs(t, b, text...)
	return b
}

// AddActs writes more acts into a book, each text in one import.
func AddActs(t testing.TB, b *sqlite.Book, texts ...string) {
	t.Helper()
	for _, text := range texts {
		var lines []acts.ImportLine
		for i, row := range strings.Split(strings.TrimSpace(text), "\n") {
			parts := strings.SplitN(strings.TrimSpace(row), " ", 3)
			require.Len(t, parts, 3, row)
			l, err := events.ParseLine([]byte(fmt.Sprintf(`{"kind":%q,"at":"%s+02:00","data":{%s}}`, parts[0], parts[1], parts[2])))
			require.NoError(t, err, row)
			lines = append(lines, acts.ImportLine{Line: l, Number: i + 1})
		}
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
			_, err := acts.ImportPlain(tx, lines, Recorded, events.ID{1}, events.ID{2}, nil)
			return err
		}))
	}
}

// LookAt runs f on a book as of a time in Oslo, "" for everything.
func LookAt(t testing.TB, b *sqlite.Book, asOf string, f func(snap *snapshot.Snapshot)) {
	t.Helper()
	var at time.Time
	if asOf != "" {
		at = Oslo(t, asOf)
	}
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		f(snapshot.New(tx, at))
		return nil
	}))
}

// Oslo is a moment of summer time in Oslo, written without its zone.
func Oslo(t testing.TB, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text+"+02:00")
	require.NoError(t, err)
	return at
}
