package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/demo"
)

// One growing book, one act after another through the whole program, killed at a random moment: what was acknowledged is
// there, at most the act in hand is there beyond it, and the book is whole, its views those of a refold.
func TestActsKilledAtAnyMoment(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	program := asProgram(t, "traybook-acts")
	kept, all, beyond := entriesIn(t, book), 0, 0
	n := rounds(t, 20, 500)
	for round := range n {
		c := command(t, program, book)
		var said, errs bytes.Buffer
		first := make(chan struct{}, 1)
		c.Stdout, c.Stderr = writerFunc(func(p []byte) (int, error) {
			select {
			case first <- struct{}{}:
			default:
			}
			return said.Write(p)
		}), &errs
		require.NoError(t, c.Start())
		ended := make(chan struct{})
		go func() { c.Wait(); close(ended) }() // the command has a limit of its own, at which it says where it waits
		select {
		case <-first:
		case <-ended:
			t.Fatalf("it ended before one act: %s", errs.String())
		}
		time.Sleep(time.Duration(rand.IntN(60_000)) * time.Microsecond)
		c.Process.Kill()
		<-ended
		require.Empty(t, errs.String(), "round %d", round)
		acked, now := strings.Count(said.String(), "\n"), entriesIn(t, book)
		require.Contains(t, []int{kept + acked, kept + acked + 1}, now, "round %d", round)
		wholeBook(t, book)
		all, beyond, kept = all+acked, beyond+now-kept-acked, now
	}
	t.Logf("%d kills, %d acts acknowledged and there, %d more that the kill overtook", n, all, beyond)
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }

// killable is a command that is whole or absent wherever it is killed.
type killable struct {
	name, args string
	again      string // what a second run may say against doing it twice
	out        string // what it makes beside the book
	same       func(t *testing.T, made, whole string)
	long       bool // takes too long for every run
}

var killables = []killable{
	{name: "init", args: "init --zone Europe/Oslo --book new.db", again: "is there already", out: "new.db", same: isWholeBook},
	{name: "import", args: "import plain.ndjson"},
	{name: "import whole", args: "import further.ndjson"},
	{name: "import into a missing book", args: "import whole.ndjson --book new.db", out: "new.db", same: isWholeBook},
	{name: "tray", args: "tray", again: "no exposed sheet waits"},
	{name: "amend", args: "amend last distance=2.5m", again: "says so already"},
	{name: "void", args: "void last"},
	{name: "merge", args: "merge other.db"},
	{name: "rebuild", args: "rebuild"},
	{name: "backup", args: "backup copy.db", again: "is there already", out: "copy.db", same: isWholeBook},
	{name: "salvage", args: "salvage saved.db", again: "is there already", out: "saved.db", same: isWholeBook},
	{name: "export csv", args: "export csv --out tables", again: "is there already", out: "tables", same: isSame},
	{name: "export events", args: "export events --out all.ndjson", again: "is there already", out: "all.ndjson", same: isSame},
	{name: "export pdf", args: "export pdf --picture 2026-017 --out log.pdf", again: "is there already", out: "log.pdf", same: isSame},
	{name: "demo", args: "demo --out season", again: "is there already", out: "season", same: isWholeDemo, long: true},
}

func isWholeBook(t *testing.T, made, whole string) {
	wholeBook(t, made)
	require.Equal(t, entriesIn(t, whole), entriesIn(t, made))
}

func isWholeDemo(t *testing.T, made, whole string) {
	isWholeBook(t, filepath.Join(made, "book.db"), filepath.Join(whole, "book.db"))
	require.Equal(t, filesBelow(t, whole), filesBelow(t, made))
}

func isSame(t *testing.T, made, whole string) {
	x, err := os.Stat(whole)
	require.NoError(t, err)
	if x.IsDir() {
		require.Equal(t, sums(t, whole), sums(t, made))
		return
	}
	a, err := os.ReadFile(whole)
	require.NoError(t, err)
	b, err := os.ReadFile(made)
	require.NoError(t, err)
	require.True(t, bytes.Equal(a, b), "%s: %d bytes, wanted %d", made, len(b), len(a))
}

// once makes a folder when it is first asked for, and gives each test a copy of it: what is long to make and the same for
// many is made once.
func once(lay func(t testing.TB, dir string)) func(t testing.TB) (dir string) {
	var (
		first sync.Once
		made  = fstest.MapFS{}
	)
	return func(t testing.TB) string {
		t.Helper()
		first.Do(func() {
			dir := t.TempDir()
			lay(t, dir)
			for _, f := range filesBelow(t, dir) {
				raw, err := os.ReadFile(filepath.Join(dir, f))
				require.NoError(t, err)
				made[f] = &fstest.MapFile{Data: raw, Mode: 0o600}
			}
		})
		require.NotEmpty(t, made, "another test failed to lay it out")
		dir := t.TempDir()
		require.NoError(t, os.CopyFS(dir, made))
		return dir
	}
}

// aSeason is a folder with the book of the demo's season.
var aSeason = once(func(t testing.TB, dir string) {
	require.NoError(t, demo.Build(filepath.Join(dir, "book.db"), bookOptions(false)))
})

// killBench lays out a folder with a season's book and what the commands take in.
var killBench = once(func(t testing.TB, dir string) {
	require.NoError(t, os.CopyFS(dir, os.DirFS(aSeason(t))))
	var plain strings.Builder
	for i := range 300 {
		fmt.Fprintf(&plain, `{"kind":"note.written","at":"2026-06-20T%02d:%02d:00+02:00","data":{"about":"2026-001","text":"line %d"}}`+"\n", 8+i/60, i%60, i)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "plain.ndjson"), []byte(plain.String()), 0o600))
	other := filepath.Join(dir, "other.db")
	code, _, errs := obeyed(t, other, "import", "../../testdata/cases/print-under-washed.ndjson")
	require.Zero(t, code, errs)
	code, _, errs = obeyed(t, other, "export", "events", "--out", filepath.Join(dir, "whole.ndjson"))
	require.Zero(t, code, errs)
	for _, args := range [][]string{{"bath", "mix", "developer", "1l", "60s"}, {"bath", "mix", "fixer", "1l", "2min"}, {"expose", "f/8", "4s"}} {
		code, _, errs := obeyed(t, filepath.Join(dir, "book.db"), args...)
		require.Zero(t, code, errs)
	}
	// The same book, gone on: its lines belong to the same chain.
	further := filepath.Join(copyFolder(t, dir), "book.db")
	code, _, errs = obeyed(t, further, "import", filepath.Join(dir, "plain.ndjson"))
	require.Zero(t, code, errs)
	code, _, errs = obeyed(t, further, "export", "events", "--out", filepath.Join(dir, "further.ndjson"))
	require.Zero(t, code, errs)
})

func TestCommandsKilledAreWholeOrAbsent(t *testing.T) {
	t.Parallel()
	bench := killBench(t)
	program := asProgram(t, "traybook")
	for _, k := range killables {
		n := rounds(t, 1, 60)
		if k.long && n <= 2 {
			continue
		}
		t.Run(k.name, func(t *testing.T) {
			start := func(dir string) *exec.Cmd {
				c := command(t, program, filepath.Join(dir, "book.db"), strings.Fields(k.args)...)
				c.Dir = dir
				return c
			}
			undisturbed := copyFolder(t, bench)
			before := entriesIn(t, filepath.Join(bench, "book.db"))
			began := time.Now()
			code, _, errs := ran(t, start(undisturbed))
			took := time.Since(began)
			require.Zero(t, code, errs)
			after := entriesIn(t, filepath.Join(undisturbed, "book.db"))
			cut, done := 0, 0
			for range n {
				dir := copyFolder(t, bench)
				book := filepath.Join(dir, "book.db")
				c := start(dir)
				require.NoError(t, c.Start())
				stop := time.AfterFunc(time.Duration(rand.Int64N(int64(took))), func() { c.Process.Kill() })
				c.Wait()
				stop.Stop()
				if c.ProcessState.ExitCode() < 0 {
					cut++
				}
				wholeBook(t, book)
				found := entriesIn(t, book)
				require.Contains(t, []int{before, after}, found)
				made := false
				if k.out != "" {
					if _, err := os.Lstat(filepath.Join(dir, k.out)); err == nil {
						made = true
						k.same(t, filepath.Join(dir, k.out), filepath.Join(undisturbed, k.out))
					}
				}
				if found == after && after > before || made {
					done++
				}
				// Once more, and nothing is left of the first time.
				code, _, errs := ran(t, start(dir))
				if code != 0 {
					require.True(t, k.again != "" && (found == after || made), errs)
					require.Equal(t, codeRefused, code)
					require.Contains(t, errs, k.again)
				}
				if k.out != "" {
					k.same(t, filepath.Join(dir, k.out), filepath.Join(undisturbed, k.out))
				}
				last := entriesIn(t, book)
				require.Contains(t, []int{after, found + after - before}, last)
				code, _, errs = obeyed(t, book, "mark") // the next hand that writes tidies the book's own log
				require.Zero(t, code, errs)
				wholeBook(t, book)
				require.ElementsMatch(t, filesBelow(t, undisturbed), filesBelow(t, dir))
			}
			t.Logf("%d killed before the end, %d had done their work, in %s undisturbed", cut, done, took.Round(time.Millisecond))
		})
	}
}

// An erasure that is killed leaves the name, or a book in which the next erasure clears the last trace of it.
func TestEraseKilled(t *testing.T) {
	t.Parallel()
	const name = "Sigrun Aaberg"
	bench := t.TempDir()
	first := caseBook(t, "good-picture")
	for _, args := range [][]string{{"sitter", "add", "Tora Dahl"}, {"sitter", "add", name, "--contact", "the red house"}} {
		code, _, errs := obeyed(t, first, args...)
		require.Zero(t, code, errs)
	}
	require.NoError(t, os.Rename(first, filepath.Join(bench, "book.db")))
	program := asProgram(t, "traybook")
	for range rounds(t, 8, 60) {
		dir := copyFolder(t, bench)
		book := filepath.Join(dir, "book.db")
		c := command(t, program, book, "erase", name, "--yes")
		require.NoError(t, c.Start())
		stop := time.AfterFunc(time.Duration(rand.IntN(40_000))*time.Microsecond, func() { c.Process.Kill() })
		c.Wait()
		stop.Stop()
		wholeBook(t, book)
		code, _, errs := obeyed(t, book, "erase", name, "--yes")
		if code != 0 {
			require.Contains(t, errs, "there is no sitter")
		}
		for _, f := range filesBelow(t, dir) {
			raw, err := os.ReadFile(filepath.Join(dir, f))
			require.NoError(t, err)
			require.False(t, bytes.Contains(raw, []byte(name)) || bytes.Contains(raw, []byte("the red house")), "%s holds the name", f)
		}
		code, out, _ := obeyed(t, book, "sitter", "list")
		require.Zero(t, code)
		require.Contains(t, out, "Tora Dahl")
	}
}
