//go:build unix

package main

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// stoppables are the commands that take long or make something: those that a kill leaves whole or absent, but for acts,
// and those that make a bag, labels and scans.
func stoppables() []killable {
	var out []killable
	for _, k := range killables {
		if !slices.Contains([]string{"tray", "amend", "void"}, k.name) {
			out = append(out, k)
		}
	}
	return append(out,
		killable{name: "export labels", args: "export labels --out labels.pdf", out: "labels.pdf", same: isSame},
		killable{name: "export archive", args: "export archive --out bag", out: "bag", same: isWholeArchive},
		killable{name: "export archive zip", args: "export archive --out bag.zip", out: "bag.zip", same: isWholeArchive},
		killable{name: "attach", args: "attach 2026-001n-0.jpg 2026-001n-1.jpg 2026-001n-2.jpg"},
	)
}

func isWholeArchive(t *testing.T, made, _ string) { require.Empty(t, checkedArchive(t, made).Problems) }

// foreignParts are names that look a little like those under which something grows, and are not ours.
var foreignParts = []string{".x.part-1", ".bag.part-12", ".copy.db.part-123", ".traybook-part-", ".traybook-part-12", ".traybook-part-x1"}

// stopBench is killBench with scans to attach, and with foreign names in the folder and in that of the scans.
func stopBench(t testing.TB) string {
	t.Helper()
	dir := killBench(t)
	for i := range 4 {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "2026-001n-"+strconv.Itoa(i)+".jpg"), printScan(t, 900+i, 700, 240, 20), 0o600))
	}
	for _, name := range foreignParts {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("not ours"), 0o600))
	}
	return dir
}

// growingIn lists what grows in a folder and in that of its scans.
func growingIn(dir string) (out []string) {
	for _, place := range []string{dir, filepath.Join(dir, "scans")} {
		found, _ := filepath.Glob(filepath.Join(place, ".traybook-part-*"))
		for _, name := range found {
			if info, err := os.Lstat(name); err == nil && info.IsDir() {
				out = append(out, name)
			}
		}
	}
	return out
}

// untilItGrows waits until something grows in the folder, or the command has ended.
func untilItGrows(dir string, ended <-chan struct{}) {
	for len(growingIn(dir)) == 0 {
		select {
		case <-ended:
			return
		case <-time.After(200 * time.Microsecond):
		}
	}
}

// logOf is what SQLite keeps beside a book that was not closed; the next hand that writes to it tidies it.
var logOf = regexp.MustCompile(`-(wal|shm)$`)

// What a stopped command says: nothing was written, or something was, or was about to be.
const (
	stoppedUnwritten = "traybook: stopped by hand; nothing was written\n"
	stoppedWritten   = "traybook: stopped by hand; what was written before stays written\n"
)

// Ctrl-C, a request to end and a closed terminal, the moment something begins to grow and at any other: a line, code 130,
// nothing half, nothing left behind, what was done stays done.
func TestCommandsStoppedLeaveNothing(t *testing.T) {
	t.Parallel()
	signals := []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP}
	for _, sig := range signals { // what the tests were started with may ignore them, and children would, too
		heard := make(chan os.Signal, 1)
		signal.Notify(heard, sig)
		defer signal.Stop(heard)
	}
	bench, program := stopBench(t), asProgram(t, "traybook")
	n := rounds(t, 1, 20)
	runs, stopped, unwritten, done, early := 0, 0, 0, 0, 0
	for at, k := range stoppables() {
		if k.long && n <= 2 {
			continue
		}
		start := func(dir string, errs *bytes.Buffer) *exec.Cmd {
			c := command(t, program, filepath.Join(dir, "book.db"), strings.Fields(k.args)...)
			c.Dir, c.Stderr = dir, errs
			return c
		}
		undisturbed := copyFolder(t, bench)
		before := entriesIn(t, filepath.Join(bench, "book.db"))
		var errs bytes.Buffer
		began := time.Now()
		require.NoError(t, start(undisturbed, &errs).Run(), "%s: %s", k.name, &errs)
		took := time.Since(began)
		after := entriesIn(t, filepath.Join(undisturbed, "book.db"))
		times := n * len(signals)
		if n == 1 {
			times = 2 // of the three, another pair for each command
		}
		for i := range times {
			sig := signals[(at+i)%len(signals)]
			what := fmt.Sprintf("%s, %v, round %d", k.name, sig, i)
			dir := copyFolder(t, bench)
			book := filepath.Join(dir, "book.db")
			var errs bytes.Buffer
			c := start(dir, &errs)
			require.NoError(t, c.Start(), what)
			ended := make(chan struct{})
			go func() { c.Wait(); close(ended) }()
			if grows := k.out != "" || k.name == "attach"; grows && i/len(signals)%2 == 0 {
				untilItGrows(dir, ended)
			} else {
				time.Sleep(time.Duration(rand.Int64N(int64(took))))
			}
			c.Process.Signal(sig)
			<-ended
			runs++
			switch code := c.ProcessState.ExitCode(); code {
			case codeStopped:
				stopped++
				require.Contains(t, []string{stoppedUnwritten, stoppedWritten}, errs.String(), what)
			case codeDone:
				done++
				require.Empty(t, errs.String(), what)
			default: // it came before the program listened, and before it made anything
				early++
				require.Equal(t, -1, code, "%s: %s", what, &errs)
				require.Empty(t, errs.String(), what)
				require.Equal(t, before, entriesIn(t, book), what)
			}
			require.Empty(t, growingIn(dir), what)
			wholeBook(t, book)
			found := entriesIn(t, book)
			if errs.String() == stoppedUnwritten {
				unwritten++
				require.Equal(t, before, found, what)
				if k.out != "" {
					require.NoFileExists(t, filepath.Join(dir, k.out), what)
					require.NoDirExists(t, filepath.Join(dir, k.out), what)
				}
			}
			require.True(t, found == before || found == after || k.name == "attach" && found < after, what)
			if k.out != "" {
				if _, err := os.Lstat(filepath.Join(dir, k.out)); err == nil {
					k.same(t, filepath.Join(dir, k.out), filepath.Join(undisturbed, k.out))
				}
			}
			var foreign, stray []string
			known := filesBelow(t, undisturbed)
			for _, name := range filesBelow(t, dir) {
				if slices.Contains(foreignParts, name) {
					foreign = append(foreign, name)
				} else if !slices.Contains(known, name) && !slices.Contains(known, logOf.ReplaceAllString(name, "")) {
					stray = append(stray, name)
				}
			}
			require.ElementsMatch(t, foreignParts, foreign, what)
			require.Empty(t, stray, what)
		}
	}
	require.Positive(t, stopped, "none was stopped")
	require.Positive(t, unwritten, "none was stopped before it wrote")
	t.Logf("%d runs: %d stopped with a line, %d of them before anything was written, %d had done their work, %d had not begun", runs, stopped, unwritten, done, early)
}

// waits is what the held program says when it reads its first line or tells its first answer, and waits there.
const waits = "waits\n"

func init() {
	held := func() Env {
		env := stoppable()
		wait := func([]byte) (int, error) {
			fmt.Print(waits)
			select {}
		}
		env.In, env.Out = readerFunc(wait), writerFunc(wait)
		return env
	}
	roles["traybook-held"] = func() { os.Exit(run(held())) }
	roles["traybook-tongue-tied"] = func() { // cannot tell its first error
		env, stumbled := stoppable(), false
		env.Err = writerFunc(func(p []byte) (int, error) {
			if !stumbled {
				stumbled = true
				panic("stumbled")
			}
			return os.Stderr.Write(p)
		})
		os.Exit(run(env))
	}
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// holding starts a command and returns when it waits.
func holding(t *testing.T, book string, errs *bytes.Buffer, args ...string) *exec.Cmd {
	t.Helper()
	heard := make(chan os.Signal, 1) // what the tests were started with may ignore it, and children would, too
	signal.Notify(heard, syscall.SIGINT)
	t.Cleanup(func() { signal.Stop(heard) })
	c := command(t, asProgram(t, "traybook-held"), book, args...)
	c.Stderr = errs
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	said, err := io.ReadAll(io.LimitReader(out, int64(len(waits))))
	require.NoError(t, err)
	require.Equal(t, waits, string(said), errs)
	return c
}

// The line says what is true: that nothing was written, or that something stays.
func TestTheLineOfAStopSaysWhetherSomethingWasWritten(t *testing.T) {
	t.Parallel()
	dir := stopBench(t)
	book := filepath.Join(dir, "book.db")
	before := entriesIn(t, book)
	for _, c := range []struct {
		args    []string
		told    string
		entries int
	}{
		{[]string{"import", "-"}, stoppedUnwritten, 0},
		{[]string{"attach", filepath.Join(dir, "2026-001n-0.jpg")}, stoppedWritten, 1},
		{[]string{"import", "-", "--json"}, `{"error":"stopped by hand; nothing was written","hint":null,"line":null}` + "\n", 1},
		{[]string{"backup", filepath.Join(dir, "copy-of-it.db")}, stoppedWritten, 1},
		{[]string{"verify"}, stoppedUnwritten, 1},
		{[]string{"rebuild"}, stoppedWritten, 1},
	} {
		var errs bytes.Buffer
		child := holding(t, book, &errs, c.args...)
		require.NoError(t, child.Process.Signal(syscall.SIGINT))
		child.Wait()
		assert.Equal(t, codeStopped, child.ProcessState.ExitCode(), "%q", c.args)
		assert.Equal(t, c.told, errs.String(), "%q", c.args)
		assert.Equal(t, before+c.entries, entriesIn(t, book), "%q", c.args)
	}
}

// A command that winds up by itself is given a moment. Who asks again does not wait for it.
func TestASecondStopEndsAtOnce(t *testing.T) {
	t.Parallel()
	book := filepath.Join(stopBench(t), "book.db")
	var errs bytes.Buffer
	c := holding(t, book, &errs, "import", "-")
	ended := make(chan struct{})
	go func() { c.Wait(); close(ended) }()
	for again := true; again; {
		c.Process.Signal(syscall.SIGINT)
		select {
		case <-ended:
			again = false
		case <-time.After(5 * time.Millisecond):
		}
	}
	status, ok := c.ProcessState.Sys().(syscall.WaitStatus)
	require.True(t, ok)
	assert.True(t, status.Signaled(), "it ended by itself, with %d: %s", status.ExitStatus(), &errs)
}

// An error that cannot be told is a fault, and is told: the program does not wait for itself.
func TestAnErrorThatCannotBeToldEndsTheProgram(t *testing.T) {
	t.Parallel()
	code, _, errs := ran(t, command(t, asProgram(t, "traybook-tongue-tied"), filepath.Join(t.TempDir(), "none.db"), "today"))
	assert.Equal(t, codeFault, code)
	assert.Contains(t, errs, "internal error, nothing was written")
}

// What a kill leaves goes with the next command that makes something there, whatever that is and whatever it is called;
// what is named a little like it stays.
func TestWhatAKillLeftIsClearedByAnother(t *testing.T) {
	t.Parallel()
	bench, program := stopBench(t), asProgram(t, "traybook")
	kills, left := 0, 0
	for _, k := range stoppables() {
		n := rounds(t, 1, 20)
		if k.long && n <= 2 || k.out == "" && k.name != "attach" {
			continue
		}
		for range n {
			dir := copyFolder(t, bench)
			book := filepath.Join(dir, "book.db")
			c := command(t, program, book, strings.Fields(k.args)...)
			c.Dir = dir
			require.NoError(t, c.Start())
			ended := make(chan struct{})
			go func() { c.Wait(); close(ended) }()
			untilItGrows(dir, ended)
			c.Process.Kill()
			<-ended
			kills++
			if len(growingIn(dir)) > 0 {
				left++
			}
			next := [][]string{{"export", "events", "--out", filepath.Join(dir, "next.ndjson")}, {"backup", filepath.Join(dir, "next.db")},
				{"export", "csv", "--out", filepath.Join(dir, "next")}}[rand.IntN(3)]
			if k.name == "attach" {
				next = []string{"attach", filepath.Join(dir, "2026-001n-3.jpg")}
			}
			code, _, errs := obeyed(t, book, next...)
			require.Zero(t, code, errs)
			require.Empty(t, growingIn(dir), "%s, then %q", k.name, next)
			for _, name := range foreignParts {
				require.FileExists(t, filepath.Join(dir, name))
			}
		}
	}
	require.Positive(t, left, "no kill left anything")
	t.Logf("%d kills, %d left something that grew, all cleared by another command", kills, left)
}
