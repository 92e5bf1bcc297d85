package main

import (
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const fileLimit = "TRAYBOOK_TEST_FSIZE" // bytes to which any file of the child may grow

func init() {
	roles["traybook-narrow"] = func() {
		n, err := strconv.ParseUint(os.Getenv(fileLimit), 10, 64)
		if err == nil {
			err = syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: n, Max: n})
		}
		if err != nil {
			panic(err)
		}
		main()
	}
}

// fails are the commands that write, each once in a folder laid out by killBench.
var fails = []string{
	"note 2026-001 dry", "import plain.ndjson", "amend last distance=2.5m", "void last", "merge other.db", "rebuild", "tray",
	"init --zone Europe/Oslo --book new.db", "import whole.ndjson --book new.db",
	"backup copy.db", "salvage saved.db", "export csv --out tables", "export events --out all.ndjson", "export pdf --picture 2026-017 --out log.pdf",
	"export archive --out bag", "attach 2026-001n print.jpg", "sitter add Asta", "erase Holm --yes",
}

func failBench(t *testing.T) string {
	dir := killBench(t)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "print.jpg"), printScan(t, 600, 450, 240, 20), 0o600))
	code, _, errs := obeyed(t, filepath.Join(dir, "book.db"), "sitter", "add", "Holm")
	require.Zero(t, code, errs)
	return dir
}

// told wants one plain line about a failure, with what to do.
func toldPlainly(t *testing.T, what, errs string) {
	t.Helper()
	lines := strings.Split(strings.TrimRight(errs, "\n"), "\n")
	assert.LessOrEqual(t, len(lines), 2, "%s: %s", what, errs)
	assert.True(t, strings.HasPrefix(errs, "traybook: "), "%s: %s", what, errs)
	for _, foreign := range []string{"SQL", "panic", "goroutine", "internal error", "*fs.", "disk I/O error"} {
		assert.NotContains(t, errs, foreign, what)
	}
}

// asBefore wants the book and its folder as they were before a command that failed; SQLite's log may stand beside it. An
// erasure alone may be done and yet fail, for its traces are still there.
func asBefore(t *testing.T, what, dir string, files []string, entries int) {
	t.Helper()
	book := filepath.Join(dir, "book.db")
	if !strings.HasPrefix(what, "erase") {
		assert.Equal(t, entries, entriesIn(t, book), what)
	}
	wholeBook(t, book)
	var left []string
	for _, f := range filesBelow(t, dir) {
		if !strings.HasSuffix(f, "-wal") && !strings.HasSuffix(f, "-shm") {
			left = append(left, f)
		}
	}
	assert.ElementsMatch(t, files, left, what)
}

// No file may grow beyond a limit: the act is done or refused in a plain line, and what is refused leaves nothing.
func TestFilesThatMayNotGrow(t *testing.T) {
	t.Parallel()
	bench := failBench(t)
	files, before := filesBelow(t, bench), entriesIn(t, filepath.Join(bench, "book.db"))
	program := asProgram(t, "traybook-narrow")
	limits := []int{0, 20_000, 70_000, 400_000}
	if rounds(t, 0, 1) > 0 {
		limits = nil
		for l := 0; l < 1<<20; l += 1 + l/3 + 3000 {
			limits = append(limits, l)
		}
	}
	refused, done := map[string]int{}, map[string]int{}
	for i, line := range fails {
		for k, limit := range limits {
			if rounds(t, 0, 1) == 0 && k > 0 && k != 1+i%3 {
				continue // nothing at all may be written, and one of the other bounds
			}
			what := fmt.Sprintf("%s, with %d bytes", line, limit)
			dir := copyFolder(t, bench)
			c := command(t, program, filepath.Join(dir, "book.db"), strings.Fields(line)...)
			c.Dir = dir
			c.Env = append(c.Env, fileLimit+"="+strconv.Itoa(limit))
			code, _, errs := ran(t, c)
			if code == 0 {
				done[line]++
				wholeBook(t, filepath.Join(dir, "book.db"))
				continue
			}
			refused[line]++
			assert.Equal(t, codeRefused, code, "%s: %s", what, errs)
			toldPlainly(t, what, errs)
			asBefore(t, what, dir, files, before)
		}
	}
	for _, line := range fails {
		assert.Positive(t, refused[line], "%s was never refused", line)
	}
	t.Logf("refused %v, done %v", refused, done)
}

// What is written out into a full device is told with exit 1, whatever the command.
func TestAnswersIntoAFullDevice(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	program := asProgram(t, "traybook")
	for _, look := range append(looks, []string{"--help"}, []string{"--version"}) {
		full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
		require.NoError(t, err)
		c := command(t, program, book, look...)
		c.Stdout = full
		code, _, errs := ran(t, c)
		full.Close()
		assert.Equal(t, codeRefused, code, "%v", look)
		assert.Contains(t, errs, "no space left on device", "%v", look)
		toldPlainly(t, fmt.Sprint(look), errs)
	}
}

// answered are commands that write to the book or make a file, each of which can be done once in a folder laid out by
// failBench.
var answered = append(slices.Clone(fails), "mark", "expose f/8 4s", "note 2026-001 dry --debug", "attach 2026-001n print.jpg --text scanned", "bath mix developer 1l 60s",
	"export labels --out labels.pdf", "export cards --out cards.pdf", "export wall --out wall.pdf", "export archive --out bag.zip", "export csv --table sheets --out sheets.csv",
	"note 2026-001 dry --json", "tray --json", "import plain.ndjson --json", "merge other.db --json", "backup copy.db --json", "export pdf --out log.pdf --json")

// An act that is in the book, a file that has its name, is never told as refused, because its answer goes into a full
// device or to a reader who has gone: it is done to its end, and said to be.
func TestWhatIsWrittenIsNeverToldAsRefused(t *testing.T) {
	t.Parallel()
	bench := failBench(t)
	program := asProgram(t, "traybook")
	each := map[string]func() *os.File{
		"a full device": func() *os.File {
			full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
			require.NoError(t, err)
			return full
		},
		"a closed pipe": func() *os.File {
			r, w, err := os.Pipe()
			require.NoError(t, err)
			r.Close()
			return w
		},
	}
	lines := append(slices.Clone(answered), "demo --out season")
	if os.Getenv("TRAYBOOK_LONG") != "1" {
		lines = everyNth(answered, 3)
	}
	runs := 0
	for _, line := range lines {
		undisturbed := copyFolder(t, bench)
		c := command(t, program, filepath.Join(undisturbed, "book.db"), strings.Fields(line)...)
		c.Dir = undisturbed
		code, _, errs := ran(t, c)
		require.Zero(t, code, "%s: %s", line, errs)
		want := entriesIn(t, filepath.Join(undisturbed, "book.db"))
		for into, open := range each {
			dir := copyFolder(t, bench)
			c := command(t, program, filepath.Join(dir, "book.db"), strings.Fields(line)...)
			out := open()
			c.Dir, c.Stdout = dir, out
			code, _, errs := ran(t, c)
			out.Close()
			what := line + " into " + into
			assert.Equal(t, codeUntold, code, what)
			assert.Contains(t, errs, "written; the answer could not be shown", what)
			assert.Equal(t, want, entriesIn(t, filepath.Join(dir, "book.db")), what)
			assert.ElementsMatch(t, filesBelow(t, undisturbed), filesBelow(t, dir), what)
			runs++
		}
	}
	t.Logf("%d commands, %d runs: each was done and said so", len(lines), runs)
}

// everyNth takes every n-th of a list, the first included.
func everyNth[T any](list []T, n int) (out []T) {
	for i := 0; i < len(list); i += n {
		out = append(out, list[i])
	}
	return out
}

// A reader who has seen enough of a look leaves: that is nothing to be told.
func TestAReaderWhoLeavesIsNoFailure(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	program := asProgram(t, "traybook")
	for _, look := range looks {
		r, w, err := os.Pipe()
		require.NoError(t, err)
		r.Close()
		c := command(t, program, book, look...)
		c.Stdout = w
		code, _, errs := ran(t, c)
		w.Close()
		assert.Equal(t, codePiped, code, "%v", look)
		assert.Empty(t, errs, "%v", look)
	}
}

// asNobody runs a command as someone whom the folder's permissions bind: root is bound by none.
func asNobody(c *exec.Cmd) {
	if os.Geteuid() == 0 {
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534, NoSetGroups: true}}
	}
}

// forNobody gives a folder with all in it to that someone, and a copy of the program that he may run.
func forNobody(t *testing.T, dir string) (program string) {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	in, err := os.Open(self)
	require.NoError(t, err)
	defer in.Close()
	program = filepath.Join(t.TempDir(), "traybook")
	out, err := os.OpenFile(program, os.O_CREATE|os.O_WRONLY, 0o755)
	require.NoError(t, err)
	_, err = io.Copy(out, in)
	require.NoError(t, err)
	require.NoError(t, out.Close())
	if os.Geteuid() == 0 {
		require.NoError(t, os.Chown(dir, 65534, 65534))
		for _, f := range filesBelow(t, dir) {
			require.NoError(t, os.Chown(filepath.Join(dir, f), 65534, 65534))
		}
	}
	return program
}

// bytesOf is sums without what SQLite keeps beside an open book.
func bytesOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := sums(t, dir)
	for f := range out {
		if strings.HasSuffix(f, "-wal") || strings.HasSuffix(f, "-shm") {
			delete(out, f)
		}
	}
	return out
}

// A folder in which nothing may be written: looks go on, acts are refused in a line, and not a byte moves.
func TestAFolderThatCannotBeWritten(t *testing.T) {
	dir := failBench(t)
	program := forNobody(t, dir)
	book := filepath.Join(dir, "book.db")
	elsewhere := t.TempDir()
	for at := elsewhere; at != os.TempDir() && at != "/"; at = filepath.Dir(at) {
		require.NoError(t, os.Chmod(at, 0o755))
	}
	require.NoError(t, os.Chmod(elsewhere, 0o777))
	modes := map[string][2]os.FileMode{"folder": {0o500, 0o600}, "folder-and-file": {0o500, 0o400}, "file": {0o700, 0o400}}
	for k, name := range slices.Sorted(maps.Keys(modes)) {
		mode := modes[name]
		t.Run(name, func(t *testing.T) {
			require.NoError(t, os.Chmod(book, mode[1]))
			require.NoError(t, os.Chmod(dir, mode[0]))
			defer os.Chmod(dir, 0o700)
			before := bytesOf(t, dir)
			for _, line := range []string{"today", "pictures", "history 2026-001", "verify", "export events --out -", "export csv --out " + filepath.Join(elsewhere, name)} {
				c := command(t, program, book, strings.Fields(line)...)
				asNobody(c)
				code, out, errs := ran(t, c)
				assert.Zero(t, code, "%s: %s%s", line, out, errs)
				assert.Equal(t, before, bytesOf(t, dir), line)
			}
			for i, line := range fails {
				if os.Getenv("TRAYBOOK_LONG") != "1" && (i+k)%len(modes) != 0 {
					continue
				}
				if mode[0] == 0o700 && !strings.Contains("note amend void merge rebuild tray sitter erase", strings.Fields(line)[0]) && line != "import plain.ndjson" {
					continue // it writes beside the book, where it may
				}
				c := command(t, program, book, strings.Fields(line)...)
				c.Dir = dir
				asNobody(c)
				code, _, errs := ran(t, c)
				assert.Equal(t, codeRefused, code, "%s: %s", line, errs)
				toldPlainly(t, line, errs)
				assert.Equal(t, before, bytesOf(t, dir), line)
			}
		})
	}
}

// mounted puts a small file system of its own on a folder, where this machine lets the test do that.
func mounted(t *testing.T, size string) (dir string, ok bool) {
	dir = t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "mode=700,size="+size); err != nil {
		passedOver(t, "no file system can be mounted here: "+err.Error())
		return "", false
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(dir, syscall.MNT_DETACH)) })
	return dir, true
}

// A disk that fills up, and a medium that may only be read.
func TestAFullDiskAndAReadOnlyMedium(t *testing.T) {
	t.Parallel()
	bench := failBench(t)
	dir, ok := mounted(t, "8m")
	if !ok {
		return
	}
	require.NoError(t, os.CopyFS(dir, os.DirFS(bench)))
	book := filepath.Join(dir, "book.db")
	files, before := filesBelow(t, dir), entriesIn(t, book)
	program := asProgram(t, "traybook")
	ballast := filepath.Join(dir, "ballast")
	fill := func(leave int64) {
		var fs syscall.Statfs_t
		os.Remove(ballast)
		require.NoError(t, syscall.Statfs(dir, &fs))
		require.NoError(t, os.WriteFile(ballast, make([]byte, max(0, int64(fs.Bavail)*fs.Bsize-leave)), 0o600))
	}
	rooms := []int64{0, 4096, 40_000}
	for i, line := range fails {
		for k, leave := range rooms {
			if os.Getenv("TRAYBOOK_LONG") != "1" && (i+k)%len(rooms) != 0 {
				continue
			}
			what := fmt.Sprintf("%s, with room for %d bytes", line, leave)
			fill(leave)
			c := command(t, program, book, strings.Fields(line)...)
			c.Dir = dir
			code, _, errs := ran(t, c)
			os.Remove(ballast)
			if code != 0 {
				assert.Equal(t, codeRefused, code, "%s: %s", what, errs)
				toldPlainly(t, what, errs)
				asBefore(t, what, dir, files, before)
			} else {
				assert.NotZero(t, leave, "%s: done on a full disk", what)
				wholeBook(t, book)
			}
			require.NoError(t, os.RemoveAll(dir+"/scans"))
			for _, f := range filesBelow(t, dir) { // back to what it was
				require.NoError(t, os.Remove(filepath.Join(dir, f)))
			}
			for _, sub := range []string{"tables", "bag"} {
				os.RemoveAll(filepath.Join(dir, sub))
			}
			require.NoError(t, os.CopyFS(dir, os.DirFS(bench)))
		}
	}
	require.NoError(t, syscall.Mount("", dir, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	was := sums(t, dir)
	for _, line := range []string{"today", "history 2026-001", "verify", "export events --out -"} {
		code, _, errs := ran(t, command(t, program, book, strings.Fields(line)...))
		assert.Zero(t, code, "%s: %s", line, errs)
	}
	for _, line := range fails {
		c := command(t, program, book, strings.Fields(line)...)
		c.Dir = dir
		code, _, errs := ran(t, c)
		assert.Equal(t, codeRefused, code, "%s: %s", line, errs)
		toldPlainly(t, line, errs)
	}
	assert.Equal(t, was, sums(t, dir))
}
