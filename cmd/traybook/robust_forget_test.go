package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
)

// namesOfAsta are the bytes by which the sitter of these tests would be known.
var namesOfAsta = []string{"Asta Holm", "asta_holm", "Asta Vik", "the pilot house"}

// filesNaming lists the files below a folder that hold a name of hers.
func filesNaming(t testing.TB, dir string) []string {
	t.Helper()
	var out []string
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(path)
		for _, name := range namesOfAsta {
			if bytes.Contains(raw, []byte(name)) || strings.Contains(d.Name(), name) {
				out = append(out, filepath.Base(path)+": "+name)
			}
		}
		return err
	}))
	return out
}

func does(t testing.TB, book string, args ...string) string {
	t.Helper()
	code, out, errs := obeyed(t, book, args...)
	require.Zero(t, code, "%v: %s", args, errs)
	return out
}

// leftInPlace gives a book the small picture of a scan whose path holds a name.
func leftInPlace(t testing.TB, book, path string) {
	t.Helper()
	b, err := sqlite.Open(book, bookOptions(false))
	require.NoError(t, err)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		return tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash{1, byte(len(path))}, JPEG: []byte("\xff\xd8\xff"), Width: 1, Height: 1, Path: path})
	}))
	require.NoError(t, b.Close())
}

// An erasure is killed at any moment: she is in the table or she is not; while bytes of hers are left, verify and today say
// so, and after the next act none is left in any file.
func TestErasureKilledAtAnyMoment(t *testing.T) {
	t.Parallel()
	bench := t.TempDir()
	book := filepath.Join(bench, "book.db")
	does(t, book, "import", "../../testdata/cases/print-under-washed.ndjson")
	does(t, book, "sitter", "add", "Asta Holm", "--contact", "the pilot house")
	leftInPlace(t, book, "/scans/asta_holm.jpg")
	var plain strings.Builder
	for i := range 500 { // so that the file takes a while to be written anew
		fmt.Fprintf(&plain, `{"kind":"moment.marked","at":"2026-06-20T%02d:%02d:%02d+02:00","data":{"text":"line %d"}}`+"\n", 8+i/3600, i/60%60, i%60, i)
	}
	lines := filepath.Join(bench, "plain.ndjson")
	require.NoError(t, os.WriteFile(lines, []byte(plain.String()), 0o600))
	does(t, book, "import", lines)
	program := asProgram(t, "traybook")
	var whole string
	took := time.Hour
	for range 2 { // the first run of a program is slower than those that are killed
		whole = copyFolder(t, bench)
		began := time.Now()
		code, _, errs := ran(t, command(t, program, filepath.Join(whole, "book.db"), "erase", "Asta Holm", "--yes"))
		took = min(took, time.Since(began))
		require.Zero(t, code, errs)
		require.Empty(t, filesNaming(t, whole))
	}
	n, cut, half, absent := rounds(t, 4, 200), 0, 0, 0
	for range n {
		dir := copyFolder(t, bench)
		book := filepath.Join(dir, "book.db")
		c := command(t, program, book, "erase", "Asta Holm", "--yes")
		require.NoError(t, c.Start())
		// The later part of the run is where the row is gone and its bytes are not.
		stop := time.AfterFunc(time.Duration(rand.Int64N(int64(took)/2)+int64(took)/2), func() { c.Process.Kill() })
		c.Wait()
		stop.Stop()
		if c.ProcessState.ExitCode() < 0 {
			cut++
		}
		said := does(t, book, "verify")
		inTable := strings.Contains(does(t, book, "sitter", "list"), "Asta Holm")
		pending := strings.Contains(said, "an erasure was stopped")
		require.Equal(t, pending, strings.Contains(strings.Join(strings.Fields(does(t, book, "today")), " "), "traces of a sitter whose erasure was stopped"))
		switch {
		case inTable:
			absent++
			require.False(t, pending)
			does(t, book, "erase", "Asta Holm", "--yes")
		case pending:
			half++
		default:
			require.Empty(t, filesNaming(t, dir), "bytes are left and nobody says so")
		}
		does(t, book, "mark")
		require.Empty(t, filesNaming(t, dir))
		require.NotContains(t, does(t, book, "verify"), "an erasure was stopped")
	}
	t.Logf("%d runs, %d killed: %d before she was out of the table, %d with bytes of hers left, which the next act removed", n, cut, absent, half)
}

// Who holds the book open keeps the traces in it. That is told until they are gone; an act that cannot remove them is
// written all the same.
func TestTracesThatAnotherKeepsAreTold(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	book := filepath.Join(dir, "book.db")
	does(t, book, "import", "../../testdata/cases/print-under-washed.ndjson")
	does(t, book, "sitter", "add", "Asta Holm")
	other, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	require.NoError(t, other.Read(func(tx *sqlite.Tx) error {
		_, err := tx.Count()
		require.NoError(t, err)
		code, _, errs := obeyed(t, book, "erase", "Asta Holm", "--yes")
		require.Equal(t, codeBusy, code)
		require.Contains(t, errs, "its traces lie in the file")
		assert.Contains(t, does(t, book, "mark"), "mark")
		assert.Contains(t, does(t, book, "verify"), "an erasure was stopped")
		code, _, _ = obeyed(t, book, "erase")
		assert.Equal(t, codeBusy, code)
		return nil
	}))
	require.NoError(t, other.Close())
	assert.Contains(t, does(t, book, "erase"), "are gone now")
	require.Empty(t, filesNaming(t, dir))
	code, _, _ := obeyed(t, book, "erase")
	assert.Equal(t, codeUsage, code)
}

// oldCopies are the states in which a copy from before an erasure may be: what is done before it is taken, what is done to
// the book after, and what is done to the copy.
var oldCopies = map[string]struct{ before, after, inCopy [][]string }{
	"named by nobody":                {},
	"named by an entry":              {before: [][]string{{"sitter", "consent", "sitter-1", "show"}}},
	"named later":                    {after: [][]string{{"sitter", "consent", "sitter-1", "show"}}},
	"named in the copy":              {inCopy: [][]string{{"sitter", "consent", "sitter-1", "show"}}},
	"renamed since":                  {after: [][]string{{"sitter", "add", "sitter-1", "--name", "Asta Vik"}}},
	"renamed and named by an entry":  {before: [][]string{{"sitter", "consent", "sitter-1", "keep"}}, after: [][]string{{"sitter", "add", "sitter-1", "--name", "Asta Vik"}}},
	"the copy went on":               {inCopy: [][]string{{"mark"}}},
	"the copy went on, renamed":      {after: [][]string{{"sitter", "add", "sitter-1", "--name", "Asta Vik"}}, inCopy: [][]string{{"mark"}}},
	"the erasure was voided by hand": {after: [][]string{{"mark"}}},
	"written twice":                  {before: [][]string{{"sitter", "add", "Asta Holm"}, {"sitter", "add", "ASTA  HOLM"}}},
}

// comebacks are the ways by which what an old copy holds may come into a book that forgot. Each gives the book to look at.
var comebacks = map[string]func(t *testing.T, dir, book, old string) string{
	"merged into the book": func(t *testing.T, _, book, old string) string {
		does(t, book, "merge", old)
		does(t, book, "merge", old)
		return book
	},
	"the book merged into it": func(t *testing.T, _, book, old string) string {
		does(t, old, "merge", book)
		return old
	},
	"the book's lines imported into it": func(t *testing.T, dir, book, old string) string {
		lines := filepath.Join(dir, "all.ndjson")
		does(t, book, "export", "events", "--out", lines)
		does(t, old, "import", lines)
		return old
	},
	"its lines and a file of names imported": func(t *testing.T, dir, book, old string) string {
		lines, told := filepath.Join(dir, "old.ndjson"), filepath.Join(dir, "told.ndjson")
		does(t, old, "export", "events", "--out", lines)
		does(t, book, "import", lines)
		require.NoError(t, os.WriteFile(told, []byte(`{"kind":"sitter.consented","at":"2026-06-20T10:20:00+02:00","data":{"sitter":"HOLM, As`+"\u00ad"+`ta","to":"keep"}}`), 0o600))
		if strings.Contains(t.Name(), "renamed") { // by another name she is somebody else to the book
			require.NoError(t, os.Remove(told))
			return book
		}
		does(t, book, "import", told)
		require.NoError(t, os.Remove(told))
		return book
	},
}

// An old copy brings nobody back, in whatever state it is and by whatever way it comes: no file of the book, nor one that is
// made from it after, holds a byte of the name.
func TestOldCopiesBringNobodyBack(t *testing.T) {
	t.Parallel()
	tried, files := 0, 0
	for i, state := range slices.Sorted(maps.Keys(oldCopies)) {
		s := oldCopies[state]
		for k, way := range slices.Sorted(maps.Keys(comebacks)) {
			if rounds(t, 0, 1) == 0 && (i+k)%3 != 0 {
				continue
			}
			comes := comebacks[way]
			t.Run(state+", "+way, func(t *testing.T) {
				dir, aside := t.TempDir(), t.TempDir()
				book, old := filepath.Join(dir, "book.db"), filepath.Join(aside, "old.db")
				all := func(book string, acts [][]string) {
					for _, args := range acts {
						code, _, errs := obeyed(t, book, args...)
						require.Contains(t, []int{0, codeRefused}, code, errs) // a second row of one name is refused, too
					}
				}
				does(t, book, "import", "../../testdata/cases/print-under-washed.ndjson")
				does(t, book, "sitter", "add", "Asta Holm", "--contact", "the pilot house")
				leftInPlace(t, book, "/scans/asta_holm.jpg")
				all(book, s.before)
				does(t, book, "backup", old)
				all(old, s.inCopy)
				leftInPlace(t, old, "/elsewhere/asta_holm-2.jpg")
				all(book, s.after)
				does(t, book, "erase", "sitter-1", "--yes")
				require.Empty(t, filesNaming(t, dir))
				got := comes(t, dir, book, old)
				if got == old { // what is looked at is the copy; the folder of the book is clean by itself
					dir = aside
				}
				require.Empty(t, filesNaming(t, dir))
				for _, args := range [][]string{{"mark"}, {"rebuild"}, {"backup", filepath.Join(dir, "again.db")}, {"salvage", filepath.Join(dir, "saved.db")},
					{"export", "events", "--out", filepath.Join(dir, "events.ndjson")}, {"export", "archive", "--out", filepath.Join(dir, "bag"), "--even-so"}} {
					if args[len(args)-1] != "--even-so" || rounds(t, 0, 1) > 0 || state == "renamed since" {
						does(t, got, args...)
					}
				}
				require.Empty(t, filesNaming(t, dir))
				require.Contains(t, does(t, got, "verify"), "is whole")
				tried, files = tried+1, files+len(filesBelow(t, dir))
			})
		}
	}
	t.Logf("%d old copies came, %d files searched after", tried, files)
}
