package main

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
)

// A line that begins with a command's whole name is read with that command alone, and means what it means beside all.
func TestOneCommandUnderstandsItsLinesAsAmongAll(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(nil)
	whole := newApp(&env)
	for _, path := range commandPaths(whole.Commands, nil) {
		for _, rest := range []string{"", "--help", "help", "2026-014", "--json 2026-014n", "--as-of 2026", "--aperture 8 --sitter=mole", "--nothing", "nothing", "-x", "-- -1"} {
			text := append(path[:len(path):len(path)], strings.Fields(rest)...)
			alone := newAppFor(&env, text)
			require.Len(t, alone.Commands, 1, "%v", text)
			require.Equal(t, path[0], alone.Commands[0].Name)
			want, wrong := line.Reorder(text, specOf(whole))
			got, wrongToo := line.Reorder(text, specOf(alone))
			assert.Equal(t, want, got, "%v", text)
			assert.Equal(t, wrong, wrongToo, "%v", text)
		}
	}
	for _, line := range []string{"", "--json stock", "sto", "Stock", "nothing", "h"} {
		assert.Len(t, newAppFor(&env, strings.Fields(line)).Commands, len(whole.Commands), line)
	}
	_, err := line.Reorder([]string{"stok"}, specOf(newAppFor(&env, []string{"stok"})))
	assert.ErrorContains(t, err, "did you mean stock?")
}

// commandPaths lists every command that can be seen, groups before what is in them.
func commandPaths(commands []*cli.Command, above []string) [][]string {
	var out [][]string
	for _, c := range commands {
		if c.Hidden {
			continue
		}
		path := append(slices.Clone(above), c.Name)
		out = append(append(out, path), commandPaths(c.Subcommands, path)...)
	}
	return out
}
