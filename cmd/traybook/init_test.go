package main

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Only setting up asks, only at a terminal, and only for what is missing.
func TestInitAsks(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, typed string
		options     []string
		terminal    bool
		code        int
		out, asked  string // parts
	}{
		{"everything", "Europe/Nowhere\nEurope/Oslo\nOda Fjeld\n", nil, true, codeDone, "book opened in Europe/Oslo by Oda Fjeld", "Europe/Nowhere"},
		{"offers the machine's zone", "\n\n", nil, true, codeDone, "book opened in Europe/Athens", "[Europe/Athens]"},
		{"only the owner", "Oda Fjeld\n", []string{"--zone", "Europe/Oslo"}, true, codeDone, "in Europe/Oslo by Oda Fjeld", "Whose book"},
		{"nothing", "", []string{"--zone", "Europe/Oslo", "--owner", "Oda"}, true, codeDone, "by Oda", ""},
		{"cut off", "Europe/Oslo\n", nil, true, codeRefused, "", "cut off; nothing was made"},
		{"no terminal", "Europe/Oslo\n", nil, false, codeDone, "book opened in Europe/Athens", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "book.db")
			env, out, errs := testEnv(map[string]string{"TZ": "Europe/Athens"}, append([]string{"init", "--book", path}, c.options...)...)
			env.In = strings.NewReader(c.typed)
			if c.terminal {
				env.InFD = 0
				env.Around.IsTerminal = func(int) bool { return true }
			}
			listens := false
			env.Listen = func() { listens = true }
			env.Until = func() context.Context { t.Error("a question does not wind up by itself"); return t.Context() }
			require.Equal(t, c.code, run(env), errs)
			assert.Equal(t, c.asked != "", listens, "who is asked can leave")
			assert.Contains(t, out.String(), c.out)
			assert.Contains(t, errs.String(), c.asked)
			if c.asked == "" {
				assert.Empty(t, errs.String())
			}
			if c.code == codeDone {
				assert.FileExists(t, path)
			} else {
				assert.NoFileExists(t, path)
			}
		})
	}
}
