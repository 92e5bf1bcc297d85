package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
)

// obeyedByScreens are characters that do not show and that a terminal or an editor obeys: controls below U+0020, DEL,
// those from U+0080 on, and every mark that turns the direction of writing.
const obeyedByScreens = "\x1b[2J \x07 \x7f \u0085 \u009b31m \u061c \u200e \u200f \u202a \u202b \u202c \u202d \u202e \u2066 \u2067 \u2068 \u2069"

// hostileBook is a case whose every text, also those that were empty, holds them all.
func hostileBook(t testing.TB, name string) string {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/cases/" + name + ".ndjson")
	require.NoError(t, err)
	var in []acts.ImportLine
	filled := 0
	for i, text := range bytes.Split(bytes.TrimSpace(raw), []byte("\n")) {
		l, err := events.ParseLine(text)
		require.NoError(t, err)
		for _, f := range events.Fields(l.Kind) {
			if f.Type != "text" {
				continue
			}
			was, _ := f.Value(l.Data)
			old, _ := was.(string)
			if err := f.Put(l.Data, old+obeyedByScreens); err == nil {
				filled++
			}
		}
		in = append(in, acts.ImportLine{Line: l, Number: i + 1})
	}
	require.Greater(t, filled, 10)
	path := filepath.Join(t.TempDir(), "book.db")
	b, err := sqlite.Create(path, bookOptions(false))
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportPlain(tx, in, in[len(in)-1].At, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	return path
}

// Whatever the texts of a book hold, no file of its archive that is read as text holds what a screen obeys. The log
// itself, events.ndjson, is what was hashed, byte for byte.
func TestNoTextOfAnArchiveIsObeyedByAScreen(t *testing.T) {
	t.Parallel()
	book := withScans(t, hostileBook(t, "good-picture"))
	code, _, errs := obeyed(t, book, "sitter", "add", "Asta"+obeyedByScreens, "--contact", "the mole"+obeyedByScreens)
	require.Zero(t, code, errs)
	out := archived(t, book)
	kept := []string{".ndjson", ".db", ".pdf", ".jpg"}
	read := map[string]int{}
	for _, name := range filesBelow(t, out) {
		end := filepath.Ext(name)
		if slices.Contains(kept, end) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(name)))
		require.NoError(t, err)
		read[end]++
		for _, r := range string(text) {
			if unicode.IsControl(r) && !strings.ContainsRune("\n\r\t", r) || unicode.Is(unicode.Bidi_Control, r) {
				assert.Fail(t, "it is obeyed", "%s holds U+%04X", name, r)
				break
			}
		}
	}
	for _, end := range []string{".xmp", ".txt", ".csv", ".md"} {
		assert.NotZero(t, read[end], end)
	}
	require.Empty(t, checkedArchive(t, out).Problems)
}
