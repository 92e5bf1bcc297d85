package eventstest

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Update says that files which hold what the program says are written anew: the flag -update of a test.
var Update = flag.Bool("update", false, "write what is held anew")

// Hold holds a text to a file: the first three lines that differ are shown. With -update the file is written.
func Hold(t testing.TB, path, text string) {
	t.Helper()
	if *Update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return
	}
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	want, is := strings.Split(string(raw), "\n"), strings.Split(text, "\n")
	three := func(lines []string, from int) string {
		return strings.Join(lines[min(from, len(lines)):min(from+3, len(lines))], "\n")
	}
	for i := range max(len(want), len(is)) {
		if i >= len(want) || i >= len(is) || want[i] != is[i] {
			require.Equal(t, three(want, i), three(is, i), "line %d of %s; where it is meant, -update writes it", i+1, path)
			t.Fatalf("%s holds %d lines, and there are %d", path, len(want), len(is)) // the rest are empty
		}
	}
}
