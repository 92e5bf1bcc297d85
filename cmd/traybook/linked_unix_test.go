//go:build unix

package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Scans that are attached through a link to the book stand beside the book itself, where whoever opens it by its own name
// looks for them.
func TestScansOfALinkedBookStandBesideTheBook(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	dir := t.TempDir()
	link := filepath.Join(dir, "link.db")
	require.NoError(t, os.Symlink(book, link))
	file := putFile(t, "print.jpg", printScan(t, 400, 300, 240, 20))
	code, _, errs := obeyed(t, link, "attach", "2026-001p1", file)
	require.Zero(t, code, errs)
	assert.DirExists(t, filepath.Join(filepath.Dir(book), "scans"))
	assert.Equal(t, []string{"link.db"}, filesBelow(t, dir))
	for _, name := range []string{book, link} {
		code, out, errs := obeyed(t, name, "verify")
		require.Zero(t, code, errs)
		assert.NotContains(t, out, "scans", "what is missing would be told")
	}
	other := filepath.Join(dir, "other.db")
	require.NoError(t, os.Link(book, other))
	code, out, errs := obeyed(t, other, "today")
	assert.Equal(t, 1, code)
	assert.Empty(t, out)
	assert.Contains(t, errs, "is one file under 2 names (hard links)")
	require.NoError(t, os.Remove(other))
}
