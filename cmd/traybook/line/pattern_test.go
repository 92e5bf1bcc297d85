package line_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/line"
)

func TestPatternIsItsExpression(t *testing.T) {
	p := line.NewPattern(`(\d+)([a-z]*)`)
	assert.True(t, p.MatchString("x12mm"))
	assert.False(t, p.MatchString("mm"))
	assert.Equal(t, "12mm", p.FindString("x12mm"))
	assert.Equal(t, []string{"12mm", "12", "mm"}, p.FindStringSubmatch("x12mm"))
	assert.Equal(t, "x-mm", p.ReplaceAllString("x12mm", "-$2"))
}

// Every expression in the program compiles, though none does before it is used.
func TestEveryPatternCompiles(t *testing.T) {
	call := regexp.MustCompile("NewPattern\\(`([^`]*)`\\)")
	found := 0
	err := filepath.WalkDir("..", func(path string, _ os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		raw, err := os.ReadFile(path)
		require.NoError(t, err)
		calls := call.FindAllStringSubmatch(string(raw), -1)
		for _, m := range calls {
			_, err := regexp.Compile(m[1])
			assert.NoError(t, err, "%s: %s", path, m[1])
		}
		if filepath.Base(path) != "pattern.go" {
			assert.Equal(t, strings.Count(string(raw), "NewPattern("), len(calls), "%s: an expression stands in back-ticks", path)
		}
		found += len(calls)
		return nil
	})
	require.NoError(t, err)
	assert.Greater(t, found, 30)
}
