package booktest

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
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
