package main

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/screen"
	"traybook/events/eventstest"
)

func TestMain(m *testing.M) {
	for name, role := range roles {
		roles[name] = fixed(role)
	}
	if strings.TrimSuffix(filepath.Base(os.Args[0]), ".exe") == "traybook" {
		roles["traybook"]()
		os.Exit(0)
	}
	others := maps.Clone(roles)
	delete(others, "traybook") // in a script its name is a command that holds its answers against their schema
	testscript.Main(tidied{m}, others)
}

// tidied are the tests, after which the program that they built goes.
type tidied struct{ *testing.M }

func (m tidied) Run() int {
	code := m.M.Run()
	if builtIn != "" {
		os.RemoveAll(builtIn)
	}
	return code
}

// builtIn is the folder of the built program, empty as long as no test asked for it.
var (
	builtIn  string
	building sync.Mutex
)

// built is the program as go build makes it, made once for all tests that ask. It starts in two thirds of the time of the
// test binary, which sets up what tests need, too; a script starts it dozens of times.
func built(t testing.TB) (program string) {
	t.Helper()
	building.Lock()
	defer building.Unlock()
	if builtIn == "" {
		dir, err := os.MkdirTemp("", "traybook-built")
		require.NoError(t, err)
		build(t, filepath.Join(dir, "traybook"), ".")
		builtIn = dir
	}
	return filepath.Join(builtIn, "traybook")
}

// What the program says must not depend on the day: no script takes the moment away that all are given. And none has the
// program answer in JSON past what holds answers against their schema.
func TestNoScriptTakesItsMomentAway(t *testing.T) {
	t.Parallel()
	scripts, err := filepath.Glob("../../testdata/script/*.txtar")
	require.NoError(t, err)
	require.NotEmpty(t, scripts)
	for _, script := range scripts {
		text, err := os.ReadFile(script)
		require.NoError(t, err)
		assert.NotRegexp(t, `(?m)TRAYBOOK_NOW=(\s|$)`, string(text), script)
		assert.NotRegexp(t, `(?m)^[^#\n]*exec traybook .*--json`, string(text), script)
	}
}

// The scripts in testdata/script run the real program and look at what it says, at its exit code and its files.
func TestScripts(t *testing.T) {
	t.Parallel()
	program := built(t)
	typefaces, err := filepath.Abs("../../testdata/typefaces")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/script",
		RequireExplicitExec: false,
		Setup: func(env *testscript.Env) error {
			env.Setenv("PATH", filepath.Dir(program)+string(filepath.ListSeparator)+env.Getenv("PATH"))
			env.Setenv("HOME", env.WorkDir)
			env.Setenv("TYPEFACES", typefaces)
			env.Setenv("XDG_DATA_HOME", "")
			env.Setenv("TRAYBOOK_BOOK", "")
			env.Setenv("TRAYBOOK_NOW", "2026-05-03T14:05:00+02:00")
			env.Setenv("TZ", "")
			env.Setenv("COLUMNS", "80")
			env.Setenv("NO_COLOR", "")
			env.Values[spoiltKey{}] = map[string]bool{}
			env.Defer(func() { wholeBooks(env) })
			return nil
		},
		Condition: judgeIsHere,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"traybook": traybookInScript,
			"exits":    exits,
			"refused":  refused,
			"json":     jsonHolds,
			"within":   within,
			"grab":     grab,
			"clock":    clockTo,
			"holds":    bytesHold,
			"rewrite":  rewrite,
			"spoils":   spoils,
			"asks":     asksTables,
			"agree":    agreeOnTables,
		},
	})
}

// question is one query in docs/QUESTIONS.md with its answer behind it.
var question = regexp.MustCompile("(?s)```sql\n(.*?)```\n\n((?:    [^\n]*\n)+)")

// asks JUDGE TABLES has a judge take in a folder of tables as the page of questions says, and put each question of the page to
// them: sqlite3, or duckdb, whose package for Node TRAYBOOK_DUCKDB names.
func asksTables(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: asks JUDGE TABLES")
	}
	asked, answers := answersOfTables(ts, args[0], args[1])
	for i, q := range asked {
		want := strings.ReplaceAll(strings.TrimPrefix(q[2], "    "), "\n    ", "\n")
		if answers[i] != want {
			ts.Fatalf("%s\nis answered by\n%sand the page says\n%s", q[1], answers[i], want)
		}
	}
}

// agree TABLES puts the questions of the page to both judges, of a book of which it says nothing, and wants the same answers.
func agreeOnTables(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: agree TABLES")
	}
	asked, one := answersOfTables(ts, "sqlite3", args[0])
	_, other := answersOfTables(ts, "duckdb", args[0])
	for i, q := range asked {
		if one[i] != other[i] {
			ts.Fatalf("%s\nis answered by\n%sand by\n%s", q[1], one[i], other[i])
		}
	}
}

// answersOfTables are the questions of the page, and how a judge answers them of a folder of tables.
func answersOfTables(ts *testscript.TestScript, judge, tables string) (asked [][]string, answers []string) {
	page, err := os.ReadFile("../../docs/QUESTIONS.md")
	ts.Check(err)
	asked = question.FindAllStringSubmatch(string(page), -1)
	if len(asked) != 10 {
		ts.Fatalf("the page asks %d questions, and says ten", len(asked))
	}
	queries := make([]string, len(asked))
	for i, q := range asked {
		queries[i] = q[1]
	}
	return asked, map[string]func(*testscript.TestScript, string, []string) []string{"sqlite3": bySQLite, "duckdb": byDuckDB}[judge](ts, ts.MkAbs(tables), queries)
}

func bySQLite(ts *testscript.TestScript, dir string, queries []string) (answers []string) {
	tables, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	ts.Check(err)
	book := []string{ts.MkAbs(filepath.Base(dir) + ".sqlite")}
	for _, t := range tables {
		book = append(book, fmt.Sprintf(".import --csv '%s' %s", t, strings.TrimSuffix(filepath.Base(t), ".csv")))
	}
	ts.Check(ts.Exec("sqlite3", book...))
	for _, q := range queries {
		ts.Check(ts.Exec("sqlite3", "-readonly", book[0], q))
		answers = append(answers, ts.ReadFile("stdout"))
	}
	return answers
}

func byDuckDB(ts *testscript.TestScript, dir string, queries []string) (answers []string) {
	judge, err := filepath.Abs("../../testdata/judges/duckdb.mjs")
	ts.Check(err)
	asked, err := json.Marshal(queries)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs("queries.json"), asked, 0o600))
	ts.Check(ts.Exec("node", judge, os.Getenv(duckDB), dir, ts.MkAbs("queries.json")))
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("stdout")), &answers))
	return answers
}

// duckDB names the folder of DuckDB's package for Node.
const duckDB = "TRAYBOOK_DUCKDB"

// spoiltKey is where a script keeps the files that it damages on purpose.
type spoiltKey struct{}

// spoils BOOK… says that what the script leaves there is no whole book, on purpose.
func spoils(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: spoils BOOK…")
	}
	for _, a := range args {
		ts.Value(spoiltKey{}).(map[string]bool)[ts.MkAbs(a)] = true
	}
}

// wholeBooks verifies every book that a script leaves behind.
func wholeBooks(env *testscript.Env) {
	left := env.Values[spoiltKey{}].(map[string]bool)
	var found strings.Builder
	err := filepath.WalkDir(env.WorkDir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || filepath.Ext(path) != ".db" || left[path] {
			return err
		}
		if why := unsound(path); why != "" {
			fmt.Fprintf(&found, "%s is not whole after the script; one that it damages on purpose it names by spoils: %s\n", path, why)
		}
		return nil
	})
	if err != nil || found.Len() > 0 {
		env.T().Fatal(found.String(), err)
	}
}

// judgesPassedOver are the outside programs that scripts ask for and this machine lacks, each told once.
var judgesPassedOver sync.Map

// judgeIsHere is the condition [judge:PROGRAM]: an outside program is at hand. What it would have judged is passed over
// otherwise, and told as such.
func judgeIsHere(condition string) (bool, error) {
	judge, ok := strings.CutPrefix(condition, "judge:")
	if !ok {
		return false, fmt.Errorf("unknown condition %q", condition)
	}
	program, named := judge, true
	if judge == "duckdb" {
		program, named = "node", os.Getenv(duckDB) != ""
	}
	if _, err := exec.LookPath(program); err == nil && named {
		return true, nil
	}
	if _, told := judgesPassedOver.LoadOrStore(judge, true); !told {
		return false, eventstest.PassedOver("scripts", "there is no "+judge+" here")
	}
	return false, nil
}

// exits CODE COMMAND ARG… runs the program and wants that exit code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND ARG…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		coded, ok := err.(interface{ ExitCode() int })
		if !ok {
			ts.Fatalf("%v", err)
		}
		got = coded.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
	holdToSchema(ts, args[2:])
}

// json KEY WANT [TOLERANCE] looks into the object on the last command's output. KEY goes down by dots and numbers, as in
// zones.4.print; a tolerance is absolute. With stderr as its first word it looks there.
func jsonHolds(ts *testscript.TestScript, neg bool, args []string) {
	stream := "stdout"
	if len(args) > 0 && args[0] == "stderr" {
		stream, args = "stderr", args[1:]
	}
	if len(args) < 2 || len(args) > 3 {
		ts.Fatalf("usage: json [stderr] KEY WANT [TOLERANCE]")
	}
	var at any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(stream)), &at))
	for _, step := range strings.Split(args[0], ".") {
		switch v := at.(type) {
		case map[string]any:
			inner, ok := v[step]
			if !ok {
				ts.Fatalf("no key %q", step)
			}
			at = inner
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i >= len(v) {
				ts.Fatalf("no element %q of %d", step, len(v))
			}
			at = v[i]
		default:
			ts.Fatalf("nothing below %q", step)
		}
	}
	holds, shown := false, ""
	if v, ok := at.(float64); ok && args[1] != "null" {
		want, err := strconv.ParseFloat(args[1], 64)
		ts.Check(err)
		tolerance := 1e-9
		if len(args) == 3 {
			tolerance, err = strconv.ParseFloat(args[2], 64)
			ts.Check(err)
		}
		holds, shown = math.Abs(v-want) <= tolerance, strconv.FormatFloat(v, 'g', -1, 64)
	} else {
		b, err := json.Marshal(at)
		ts.Check(err)
		shown = strings.Trim(string(b), `"`)
		holds = shown == args[1]
	}
	if holds == neg {
		ts.Fatalf("%s is %s, wanted (negated: %t) %s", args[0], shown, neg, args[1])
	}
}

// within COLUMNS wants no line of the last command's output wider than so many columns.
func within(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: within COLUMNS")
	}
	most, err := strconv.Atoi(args[0])
	ts.Check(err)
	for _, line := range strings.Split(ts.ReadFile("stdout"), "\n") {
		if w := screen.Width(line); w > most {
			ts.Fatalf("%d columns: %s", w, line)
		}
	}
}

// The help of every command stands within a narrow screen, but for what is typed as it stands, and each shows an example that begins with its own name.
func TestHelpOfEveryCommand(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(nil)
	for _, path := range commandPaths(newApp(&env).Commands, nil) {
		name := strings.Join(path, " ")
		t.Run(name, func(t *testing.T) {
			env, out, errs := testEnv(map[string]string{"COLUMNS": "60"}, append(path, "--help")...)
			if code := run(env); code != 0 {
				t.Fatalf("exit %d: %s", code, errs)
			}
			text := out.String()
			if !strings.Contains(text, "EXAMPLES\n") || !strings.Contains(text, "  traybook "+name) {
				t.Errorf("no example in the help of %s:\n%s", name, text)
			}
			for _, line := range strings.Split(text, "\n") {
				if screen.Width(line) > 60 && !strings.HasPrefix(line, "  traybook ") { // a command is not broken
					t.Errorf("wider than the screen: %s", line)
				}
			}
		})
	}
}
