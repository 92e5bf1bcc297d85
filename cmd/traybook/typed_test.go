package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events/eventstest"
)

// inColumns obeys a command on a screen of so many columns.
func inColumns(t *testing.T, book, columns string, args ...string) string {
	t.Helper()
	env, out, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": eventstest.Now, "COLUMNS": columns}, args...)
	run(env)
	return out.String() + errs.String()
}

// typedIn lists the commands and digests that a text shows.
func typedIn(text string) (out []string) {
	for _, l := range strings.Split(text, "\n") {
		for words := strings.Fields(l); len(words) > 0; {
			n := max(line.Typed(words), 1)
			if line.Typed(words) > 0 {
				out = append(out, strings.Join(words[:n], " "))
			}
			words = words[n:]
		}
	}
	return out
}

// What a person types or copies from the screen is not broken, however narrow the screen is.
func TestCommandsAndDigestsAreNotBroken(t *testing.T) {
	t.Parallel()
	dir := aSeason(t)
	book := filepath.Join(dir, "book.db")
	env, _, _ := testEnv(nil)
	asked := [][]string{{"today"}, {"verify"}, {"stock", "--all"}, {"baths", "--all"}, {"year", "2026"}, {"calibrate"}, {"why", "2026-017"}, {"history", "2026-017"},
		{"meter"}, {"expose"}, {"reprint"}, {"wash", "2026-017n"}, {"sitter", "list"}, {"erase"}, {"verify", "--head", "ab"}, {"pictures", "--sitter", "nobody"}}
	for _, path := range commandPaths(newApp(&env).Commands, nil) {
		asked = append(asked, append(path, "--help"))
	}
	fresh := func(columns string) []string { // acts: each on a book of its own
		var out []string
		book := filepath.Join(t.TempDir(), "b.db")
		for _, args := range [][]string{{"init", "--zone", "Europe/Oslo"}, {"camera", "describe", "skiff", "--focal", "135mm", "--f-widest", "5.6", "--f-smallest", "32"},
			{"paper", "receive", "9x12cm", "25", "sheets", "rc", "--name", "quay paper", "--index", "3"}, {"bath", "mix", "developer", "1l", "1+9", "60s"}, {"expose", "f/8", "4s"}} {
			out = append(out, inColumns(t, book, columns, args...))
		}
		return out
	}
	seen := 0
	holds := func(what []string, narrow, wide string) {
		for _, typed := range typedIn(wide) {
			seen++
			assert.Contains(t, narrow, typed, "%v", what)
		}
	}
	for _, args := range asked {
		holds(args, inColumns(t, book, "60", args...), inColumns(t, book, "500", args...))
	}
	// An id is drawn anew in each book.
	wide, narrow := fresh("500"), fresh("60")
	ids := regexp.MustCompile(`\b[0-9a-f]{8}\b`)
	for i, w := range wide {
		holds(nil, ids.ReplaceAllString(narrow[i], "ID"), ids.ReplaceAllString(w, "ID"))
	}
	require.Greater(t, seen, 300)
}

// The names inside commands by which a command is told from prose are those of the program.
func TestCommandsAreKnownWhereTheyAreTyped(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(nil)
	var inside []string
	for _, path := range commandPaths(newApp(&env).Commands, nil) {
		if len(path) > 1 && !slices.Contains(inside, path[1]) {
			inside = append(inside, path[1])
		}
	}
	slices.Sort(inside)
	assert.Equal(t, inside, line.Commands, "write the name into Commands in cmd/traybook/line/typed.go")
}

func TestWhereACommandEnds(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"traybook expose f/8 shows what it calls for":                       "traybook expose f/8",
		"traybook paper receive \"glossy paper\" rc 9x12cm --sheets 100":    "traybook paper receive \"glossy paper\" rc 9x12cm --sheets 100",
		"traybook bath mix developer 1l 1+9 60s --name Amber, or another":   "traybook bath mix developer 1l 1+9 60s --name Amber,",
		"`traybook bath mix developer` makes one":                           "`traybook bath mix developer`",
		"(traybook bath mix --help has them again):":                        "(traybook bath mix --help",
		"traybook void last takes it back":                                  "traybook void last",
		"traybook amend 80a3f211 reading=ID names one":                      "traybook amend 80a3f211 reading=ID",
		"traybook bath mix; then go on":                                     "traybook bath mix;",
		"traybook export events --out - | traybook import - --book copy.db": "traybook export events --out - | traybook import - --book copy.db",
		"traybook stock · traybook baths":                                   "traybook stock",
		"traybook tells":                                                    "traybook tells",
		"traybook":                                                          "",
		"a traybook":                                                        "",
		strings.Repeat("0f", 32) + ", noted":                                strings.Repeat("0f", 32) + ",",
		strings.Repeat("0f", 31) + " is none":                               "",
	} {
		words := strings.Fields(text)
		assert.Equal(t, want, strings.Join(words[:line.Typed(words)], " "), text)
	}
}

// twoInOne is advice of two commands that are parted by a comma or a word alone and read like one: a colon, a semicolon, a
// comma with an or, or the signs in which a command stands part them.
var twoInOne = regexp.MustCompile("traybook [^;:.`(\\n]*?(?:,| and|[^,] or) traybook ")

// No text reads like one command when it is two, and each example of the help is one in a line of its own.
func TestTwoCommandsAreParted(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]bool{
		"traybook void ID or traybook amend ID": true, "rinse and fix: traybook rinse, traybook fix": true, "traybook today and traybook history show it": true,
		"traybook verify, or traybook verify BAG": false, "rinse: traybook rinse; then fix: traybook fix": false, "`traybook today` and `traybook history` show it": false,
	} {
		require.Equal(t, want, twoInOne.MatchString(text), text)
	}
	read := 0
	for _, root := range []string{".", "../../projections", "../../events", "../../export"} {
		require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
				return err
			}
			f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(f, func(n ast.Node) bool {
				if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					text, err := strconv.Unquote(lit.Value)
					require.NoError(t, err)
					assert.False(t, twoInOne.MatchString(text), "%s: %s", path, text)
					read++
				}
				return true
			})
			return nil
		}))
	}
	assert.Greater(t, read, 5000)
	env, _, _ := testEnv(nil)
	var look func([]*cli.Command)
	look = func(commands []*cli.Command) {
		for _, c := range commands {
			for _, l := range strings.Split(c.UsageText, "\n") {
				assert.Regexp(t, `^traybook `, l, c.HelpName)
				if !strings.Contains(l, "|") {
					assert.Equal(t, 1, strings.Count(l, "traybook "), l)
				}
			}
			look(c.Subcommands)
		}
	}
	look(newApp(&env).Commands)
}
