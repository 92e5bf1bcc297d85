package main

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
)

// syncing are the commands that make something safe on the disk, with what they make beside the book.
func syncing() map[string]string {
	lines := map[string]string{"expose f/8 4s": "", "meter f/8 4s": "", "export labels --out labels.pdf": "labels.pdf", "export archive --out bag.zip": "bag.zip",
		"init --zone Europe/Oslo --book deep/er/new.db": "deep/er/new.db"}
	for _, line := range fails {
		words := strings.Fields(line)
		for _, made := range []string{"new.db", "copy.db", "saved.db", "tables", "all.ndjson", "log.pdf", "bag"} {
			if words[len(words)-1] == made {
				lines[line] = made
			}
		}
		lines[line] += ""
	}
	return lines
}

// allBelow is filesBelow with the folders, and without what SQLite keeps beside an open book.
func allBelow(t testing.TB, dir string) (out []string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && path != dir && !strings.HasSuffix(path, "-wal") && !strings.HasSuffix(path, "-shm") {
			rel, _ := filepath.Rel(dir, path)
			out = append(out, rel)
		}
		return err
	}))
	return out
}

// withLog gives a copy of a folder in which the book was left as a killed program leaves it: what was last written lies
// in SQLite's log beside it.
func withLog(t *testing.T, bench string) (dir string) {
	t.Helper()
	from := copyFolder(t, bench)
	book, err := sqlite.Open(filepath.Join(from, "book.db"), bookOptions(true))
	require.NoError(t, err)
	defer book.Close()
	require.NoError(t, book.Read(func(tx *sqlite.Tx) error {
		if _, err := tx.Heads(); err != nil {
			return err
		}
		code, _, errs := obeyed(t, filepath.Join(from, "book.db"), "expose", "f/8", "5s", "--sheet", "2026-041n")
		require.Zero(t, code, errs)
		dir = copyFolder(t, from)
		return nil
	}))
	log, err := os.Stat(filepath.Join(dir, "book.db-wal"))
	require.NoError(t, err)
	require.Positive(t, log.Size())
	require.NoError(t, os.Remove(filepath.Join(dir, "book.db-shm")))
	return dir
}

// At a disk whose syncs fail, from one of them on or one alone, a command says so with exit 1 and leaves all as it was, or
// is done. What is done is safe: it is there after a power cut at that moment, in which everything is lost that was not
// synced. So it is too with a book whose last acts lie in the log that a killed program left.
func TestADiskThatCannotSync(t *testing.T) {
	t.Parallel()
	program := asProgram(t, "traybook-watched")
	if !canWatch(t, program) {
		return
	}
	bench := failBench(t)
	for name, lines := range map[string][]string{
		"closed":                   {"init --zone Europe/Oslo --book deep/er/new.db", "backup copy.db", "export csv --out tables"},
		"left by a killed program": {"expose f/8 4s"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := bench
			if name != "closed" {
				dir = withLog(t, bench)
			}
			if rounds(t, 0, 1) > 0 {
				lines = slices.Sorted(maps.Keys(syncing()))
			}
			s := syncTrial{bench: dir, program: program, files: allBelow(t, dir), refused: map[string]int{}, done: map[string]int{}}
			s.before = entriesIn(t, filepath.Join(copyFolder(t, dir), "book.db"))
			for _, line := range lines {
				s.try(t, line)
			}
			t.Logf("%d runs: refused %v, done %v", s.runs, s.refused, s.done)
		})
	}
}

// syncTrial tries commands in copies of one folder.
type syncTrial struct {
	bench, program string
	files          []string
	before         int
	refused, done  map[string]int
	runs           int
}

func (s *syncTrial) obey(t *testing.T, m *medium, line string) (code int, errs string) {
	c := command(t, s.program, filepath.Join(m.root, "book.db"), strings.Fields(line)...)
	c.Dir = m.root
	code, _, errs = m.run(t, c)
	return code, errs
}

func (s *syncTrial) try(t *testing.T, line string) {
	whole := newMedium(t, copyFolder(t, s.bench), nil)
	code, errs := s.obey(t, whole, line)
	require.Zero(t, code, "%s: %s", line, errs)
	syncs := len(whole.said)
	isDone := func(what, dir string) { s.isDone(t, what, dir, whole.root, syncing()[line]) }
	isDone(line+", after a power cut", whole.afterPowerCut(t))
	at, modes := []int{1, syncs}, []string{"from"}
	if rounds(t, 0, 1) > 0 {
		at, modes = nil, []string{"from", "at"}
		for n := range syncs {
			at = append(at, n+1)
		}
	}
	for _, n := range at {
		for _, mode := range modes {
			what := fmt.Sprintf("%s, failing %s sync %d of %d (%s)", line, mode, n, syncs, whole.said[n-1])
			m := newMedium(t, copyFolder(t, s.bench), func(at int) bool { return at == n || mode == "from" && at > n })
			s.runs++
			code, errs := s.obey(t, m, line)
			if code == 0 {
				s.done[line]++
				isDone(what, m.root)
				isDone(what+", after a power cut", m.afterPowerCut(t))
				continue
			}
			s.refused[line]++
			assert.Equal(t, codeRefused, code, "%s: %s", what, errs)
			toldPlainly(t, what, errs)
			assert.NotContains(t, errs, "-part-", what)
			first := errs
			wholeBook(t, filepath.Join(m.root, "book.db"))
			wholeBook(t, filepath.Join(m.afterPowerCut(t), "book.db"))
			s.asBefore(t, what, line, m.root)
			// The disk is well again: the same command does its work.
			m.fails = nil
			code, errs = s.obey(t, m, line)
			if code != 0 && strings.HasPrefix(line, "erase") {
				assert.Contains(t, errs, "there is no sitter", what)
				assert.Contains(t, first, "the name is out of the table", what)
			} else {
				assert.Zero(t, code, "%s, once more: %s", what, errs)
			}
			isDone(what+", once more", m.root)
			isDone(what+", once more, after a power cut", m.afterPowerCut(t))
		}
	}
}

// asBefore wants nothing of a refused command to be left, but for the row that an erasure took away, and a scan that no
// entry names yet, which the next run takes up.
func (s *syncTrial) asBefore(t *testing.T, what, line, dir string) {
	if !strings.HasPrefix(line, "erase") {
		assert.Equal(t, s.before, entriesIn(t, filepath.Join(dir, "book.db")), what)
	}
	left := slices.DeleteFunc(allBelow(t, dir), func(f string) bool { return strings.HasPrefix(line, "attach") && strings.HasPrefix(f, "scans") })
	assert.ElementsMatch(t, s.files, left, what)
}

// isDone wants what a whole run left.
func (s *syncTrial) isDone(t *testing.T, what, dir, whole, made string) {
	t.Helper()
	books := []string{"book.db"}
	if filepath.Ext(made) == ".db" {
		books = append(books, made)
	} else if made != "" {
		isSame(t, filepath.Join(dir, made), filepath.Join(whole, made))
	}
	for _, book := range books {
		wholeBook(t, filepath.Join(dir, book))
		assert.Equal(t, entriesIn(t, filepath.Join(whole, book)), entriesIn(t, filepath.Join(dir, book)), "%s: %s", what, book)
	}
}
