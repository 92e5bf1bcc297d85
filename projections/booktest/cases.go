package booktest

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/demo"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

// CaseLines reads a case of testdata/cases, which is looked for from the folder of the test upwards.
func CaseLines(t testing.TB, name string) string {
	t.Helper()
	for up := "."; ; up = filepath.Join("..", up) {
		raw, err := os.ReadFile(filepath.Join(up, "testdata", "cases", name+".ndjson"))
		if err == nil {
			return string(raw)
		}
		_, root := os.Stat(filepath.Join(up, "go.mod"))
		require.Error(t, root, "no case %s: %v", name, err)
	}
}

// Season is the book of the demo.
func Season(t testing.TB) *sqlite.Book {
	t.Helper()
	path := filepath.Join(t.TempDir(), "season.db")
	o := sqlite.Options{Folder: snapshot.Folder{}}
	require.NoError(t, demo.Build(path, o))
	b, err := sqlite.Open(path, o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b
}
