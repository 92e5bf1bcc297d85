package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func completed(t *testing.T, vars map[string]string, words ...string) []string {
	t.Helper()
	env, out, errs := testEnv(vars, append([]string{"completion", "words", "--"}, words...)...)
	require.Equal(t, 0, run(env), errs.String())
	return strings.Fields(out.String())
}

func TestCompletion(t *testing.T) {
	t.Parallel()
	home := map[string]string{"HOME": t.TempDir()}
	for _, c := range []struct {
		words string // the last one is being typed; _ stands for an empty one
		holds string
		lacks string
	}{
		{"fig", "figure", "completion"},
		{"figure _", "exposure focus strip develop fix wash dilute light paper tones", "figure"},
		{"figure f", "focus fix", "strip"},
		{"figure strip --", "--base --step --count --json --book --help", "--debug"},
		{"figure light --sky _", "clear thin cloud dark", "--sky"},
		{"figure light --lat 59.9 --s", "--sky", "--lat"},
		{"--no-color fig", "figure", ""},
		{"--book x.db fig", "figure", ""},
		{"completion _", "bash zsh fish", "words"},
		{"figure strip --base _", "", "--base"},
	} {
		t.Run(c.words, func(t *testing.T) {
			words := strings.Fields(c.words)
			if last := len(words) - 1; words[last] == "_" {
				words[last] = ""
			}
			got := completed(t, home, words...)
			assert.Subset(t, got, strings.Fields(c.holds))
			for _, w := range strings.Fields(c.lacks) {
				assert.NotContains(t, got, w)
			}
		})
	}
}

func TestCompletionOfAList(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(nil)
	app := newApp(&env)
	app.Commands[len(app.Commands)-1].Flags = append(app.Commands[len(app.Commands)-1].Flags, factors("symptoms", "`flat` seen"))
	name := app.Commands[len(app.Commands)-1].Name
	assert.Equal(t, []string{"too-dark,flat"}, complete(&env, app, []string{name, "--symptoms", "too-dark,fl"}))
}
