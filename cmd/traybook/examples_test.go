package main

import (
	"context"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"
)

// harbourDay are the acts after which every example of the help has what it names: pictures up to 2026-014, three boxes, two
// developers and fixers, strips, holders, sitters, and a sheet that waits for each act.
const harbourDay = `
init --zone Europe/Oslo --owner "Oda Fjeld"
camera describe harbour --focal 135mm --f-widest 5.6 --f-smallest 32 --copy-f 11
paper receive 9x12cm 100 sheets rc --name "Harbour matt" --index 3
paper receive 9x12cm 100 sheets rc --name "Harbour pearl" --index 3
paper receive 13x18cm 50 sheets fb --name "Quay baryta" --index 4
bath mix developer 1l 1+9 60s 20C --name Amber --capacity 1m2 --life 8h --bath dev-1
bath mix fixer 1l 1+4 2min --bath fix-1
bath mix stop 1l 15s
bath mix developer 1l 1+9 60s 20C --name Amber --capacity 1m2 --life 8h --bath dev-2
bath mix fixer 1l 1+4 2min --bath fix-2
sitter add "Tordis Vik"
sitter add "Ingrid Moe"
sitter add "Asta Holm" --contact "the pilot's house"
session open mole "the mole" clear --lat 59.9N --lon 10.7E --at 08:00
load holder-2 box-1
meter f/8 4s --index 3
strip expose scene f/8 2s 4s 8s --strip strip-1 --box box-1
strip expose scene f/8 2s 2.8s 4s 5.6s 8s 11s 16s --strip strip-2 --box box-1
expose f/8 4s box-1 2026-014 --distance 2m "Ferry at the slip" --sitter sitter-3 --even-so
develop 60s dev-2 2026-014n
fix 2min fix-2 2026-014n
wash 4 changes 1l 5min 2026-014n
meter negative f/11 8s --picture 2026-014 --index 3
reprint 2026-014 f/11 8s box-2
develop 60s 2026-014p1
fix 2min 2026-014p1
wash 4 changes 1l 5min 2026-014p1
meter f/8 4s --index 3
mark cap off
`

// before are the acts that an example of a command needs in front of it, beside those of harbourDay; an entry that the
// example names is the last of them.
var before = map[string][]string{
	"develop": {"expose f/8 4s box-1"},
	"tray":    {"expose f/8 4s box-1"},
	"rinse":   {"expose f/8 4s box-1", "develop 60s dev-2"},
	"fix":     {"expose f/8 4s box-1", "develop 60s dev-2"},
	"wash":    {"expose f/8 4s box-1", "develop 60s dev-2", "fix 2min fix-2"},
	"order":   {"order take sitter-1 1 print 400 NOK", "order take sitter-1 1 print 400 NOK", "order take sitter-1 1 print 400 NOK"},
	"deliver": {"order take sitter-1 1 print 400 NOK", "order take sitter-1 1 print 400 NOK", "order take sitter-1 1 print 400 NOK"},
	"plan":    {"meter darkest f/8 30s --index 3", "meter f/8 4s --index 3", "meter lightest f/8 1/2s --index 3"},
	"reverse": {"bath mix bleach 1l 60s --second-exposure 30s", "bath mix clearing-bath 1l 30s"},
	"tone":    {"bath mix toner 1l 4min"},
	"history": {"expose f/8 4s box-1"},
	"why":     {"expose f/8 4s box-1"},
	"amend":   {"expose f/8 4s box-1 --filter yellow"},
	"void":    {"note 2026-014 a gull"},
}

// world is a folder in which the examples are run: the book of harbourDay and the files that they name.
type world struct {
	dir   string
	entry string // the entry that an example names
	batch string // of an import
}

func (w world) do(t *testing.T, in string, args ...string) (code int, out, errs string) {
	t.Helper()
	env, stdout, stderr := testEnv(map[string]string{"TRAYBOOK_BOOK": "book.db", "TRAYBOOK_NOW": "2026-05-03T14:05:00+02:00", "HOME": w.dir, "TZ": "Europe/Oslo"}, args...)
	env.In = strings.NewReader(in)
	env.Until = context.Background
	if args[0] == "serve" { // asked to stop as soon as it runs; at a free port, on a machine that may be in no network
		stopped, stop := context.WithCancel(context.Background())
		stop()
		env.Until = func() context.Context { return stopped }
		env.Args = slices.DeleteFunc(append(slices.Clone(args), "--port=0"), func(a string) bool { return a == "--port" || a == "8500" })
		if slices.Contains(args, "--lan") {
			env.Args = append(env.Args, "--address=127.0.0.1")
		}
	}
	code = run(env)
	return code, stdout.String(), stderr.String()
}

func (w world) must(t *testing.T, args ...string) string {
	t.Helper()
	code, out, errs := w.do(t, "", args...)
	require.Zero(t, code, "%s\n%s", args, errs)
	return out
}

// madeWorld makes the world in the folder that the test works in.
func madeWorld(t *testing.T) world {
	w := world{dir: t.TempDir()}
	t.Chdir(w.dir)
	for _, l := range strings.Split(strings.TrimSpace(harbourDay), "\n") {
		w.must(t, words(t, l)...)
	}
	require.NoError(t, os.WriteFile("afternoon.ndjson", []byte(
		`{"kind":"note.written","at":"2026-05-03T13:00:00+02:00","data":{"about":"2026-014","text":"calm"}}`+"\n"+
			`{"kind":"note.written","at":"2026-05-03T13:01:00+02:00","data":{"about":"2026-014","text":"a gull"}}`+"\n"), 0o600))
	var batch struct{ Batch string }
	require.NoError(t, json.Unmarshal([]byte(w.must(t, "import", "afternoon.ndjson", "--json")), &batch))
	w.batch = batch.Batch[:8]
	require.NoError(t, os.WriteFile("afternoon.ndjson", []byte(
		`{"kind":"note.written","at":"2026-05-03T13:05:00+02:00","data":{"about":"2026-014","text":"wind"}}`+"\n"), 0o600))
	require.NoError(t, os.WriteFile("card.txt", []byte("# Bildet ditt\n{number}\n"), 0o600))
	w.must(t, "backup", "field-book.db")
	w.must(t, "note", "--book", "field-book.db", "2026-014", "a swell")
	w.must(t, "backup", "damaged.db")
	w.must(t, "backup", "book-copy.db")
	w.must(t, "export", "archive", "--out", "skerrow-2026.zip", "--year", "2026")
	require.NoError(t, os.Mkdir("scans", 0o700))
	for _, scan := range []string{"print.jpg", "plate.jpg", "scans/2026-014n.jpg", "scans/2026-014p1-back.jpg"} {
		require.NoError(t, os.WriteFile(scan, printScan(t, 60, 80, 240, 30), 0o600))
	}
	return w
}

// words parts a line as a shell does that knows double quotes.
func words(t *testing.T, line string) []string {
	t.Helper()
	var out []string
	word, quoted, begun := "", false, false
	for _, c := range line {
		switch {
		case c == '"':
			quoted, begun = !quoted, true
		case c == ' ' && !quoted:
			if begun {
				out = append(out, word)
			}
			word, begun = "", false
		default:
			word, begun = word+string(c), true
		}
	}
	require.False(t, quoted, "%s: a quote is left open", line)
	if begun {
		out = append(out, word)
	}
	return out
}

// noZero are the examples that end otherwise than well where nobody is at a terminal, and what they say.
var noZero = map[string]string{
	"traybook bench":                  "terminal",
	"traybook bench --bell off --dim": "terminal",
	"traybook erase sitter-3":         "nobody is here to be asked",
}

// try runs an example in the folder, a pipe part by part.
func (w world) try(t *testing.T, example string) {
	t.Helper()
	line, _, _ := strings.Cut(example, "  ") // what stands behind is a remark
	for _, shell := range []string{" > ", " >> "} {
		line, _, _ = strings.Cut(line, shell)
	}
	for was, is := range map[string]string{"80a3": w.entry, "9d3c": w.entry, "1ab38eb7": w.batch, "print.tif": "print.jpg"} {
		line = strings.ReplaceAll(line, was, is)
	}
	if front, _, found := strings.Cut(line, "5f0c…"); found {
		var said struct{ Head string }
		require.NoError(t, json.Unmarshal([]byte(w.must(t, "verify", "--json")), &said))
		line = front + said.Head
	}
	said, code, errs := "", 0, ""
	for _, part := range strings.Split(line, " | ") {
		args := words(t, part)
		require.Equal(t, "traybook", args[0], "%s", example)
		code, said, errs = w.do(t, said, args[1:]...)
		why := noZero[example]
		if strings.HasSuffix(example, "; writes no entry") {
			why = "so no entry was written"
		}
		if why != "" {
			require.NotZero(t, code, "%s", example)
			require.Contains(t, errs, why, "%s", example)
			return
		}
		require.Zero(t, code, "%s\n%s%s", line, said, errs)
	}
}

// Every example of the help can be typed as it stands, in a book that has what it names.
func TestExamplesOfTheHelpAreTaken(t *testing.T) {
	env, _, _ := testEnv(nil)
	app := newApp(&env)
	examples := map[string]bool{}
	see := func(text string) {
		for _, l := range strings.Split(text, "\n") {
			if l = strings.TrimSpace(l); strings.HasPrefix(l, "traybook ") {
				examples[l] = true
			}
		}
	}
	see(strings.Join(shortExamples, "\n"))
	var walk func([]*cli.Command)
	walk = func(commands []*cli.Command) {
		for _, c := range commands {
			assert.True(t, c.Hidden || strings.Contains(c.UsageText, "traybook "), "%s has no example", c.Name)
			see(c.UsageText)
			walk(c.Subcommands)
		}
	}
	walk(app.Commands)
	for example := range examples { // a season is long to write, and testdata/script/demo.txtar writes two
		if strings.HasPrefix(example, "traybook demo") {
			delete(examples, example)
		}
	}
	made := madeWorld(t)
	for _, example := range slices.Sorted(maps.Keys(examples)) {
		t.Run(strings.TrimPrefix(example, "traybook "), func(t *testing.T) {
			w := made
			w.dir = t.TempDir()
			require.NoError(t, os.CopyFS(w.dir, os.DirFS(made.dir)))
			t.Chdir(w.dir)
			if strings.HasPrefix(example, "traybook init") {
				require.NoError(t, os.Remove("book.db"))
			}
			for _, l := range before[strings.Fields(example)[1]] {
				var said struct{ ID string }
				require.NoError(t, json.Unmarshal([]byte(w.must(t, append(words(t, l), "--json")...)), &said))
				w.entry = said.ID[:8]
			}
			w.try(t, example)
		})
	}
}

// The lines of the README are typed one after another, from no book to an archive that is verified.
func TestLinesOfTheReadmeAreTaken(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	w := world{dir: t.TempDir()}
	t.Chdir(w.dir)
	tried := 0
	for i, block := range strings.Split(string(text), "```") {
		if i%2 == 0 {
			continue
		}
		for _, l := range strings.Split(block, "\n") {
			if !strings.HasPrefix(l, "traybook ") {
				continue
			}
			if strings.Contains(l, " amend ") {
				var history struct {
					Sheets []struct{ Entries []struct{ ID string } }
				}
				require.NoError(t, json.Unmarshal([]byte(w.must(t, "history", "2026-001", "--json")), &history))
				w.entry = history.Sheets[0].Entries[0].ID[:8]
			}
			w.try(t, l)
			tried++
		}
	}
	assert.Greater(t, tried, 20)
}
