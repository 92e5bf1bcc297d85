package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/demo"
	"traybook/events/sqlite"
	"traybook/export/bag"
)

// outputs are the lines that make a file or a folder; OUT is its place.
var outputs = []string{
	"export events --out OUT --force", "export events --out OUT --picture 2026-001 --force", "export csv --out OUT --force",
	"export csv --table sheets --out OUT --force", "export pdf --out OUT --force", "export pdf --picture 2026-001 --out OUT --force",
	"export book --out OUT --force",
	"export labels --out OUT --force", "export cards --out OUT --force", "plan day --sitters 3 --labels OUT --force", "export wall --out OUT --force", "figure wall --pdf OUT --index 3 --force",
	"export archive --out OUT --force", "export archive --zip --out OUT --force", "demo --out OUT --force",
	"backup OUT", "backup OUT --force", "salvage OUT", "init --zone Europe/Oslo --book OUT", "import FILE --book OUT",
}

// Whatever option names a place to write to stands in a line of outputs.
func TestEveryOutputIsAmongTheOutputs(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(nil)
	var walk func(above string, commands []*cli.Command)
	walk = func(above string, commands []*cli.Command) {
		for _, c := range commands {
			name := strings.TrimSpace(above + " " + c.Name)
			if above == "figure" {
				name = "figure wall" // all of them hang their page up in one way
			}
			for _, f := range c.Flags {
				if n := f.Names()[0]; n == "out" || n == "pdf" || n == "force" {
					assert.True(t, slices.ContainsFunc(outputs, func(line string) bool { return strings.HasPrefix(line, name+" ") }), "%s --%s", name, n)
				}
			}
			walk(name, c.Subcommands)
		}
	}
	walk("", newApp(&env).Commands)
}

// guarded lays out a folder with everything that no output may take the place of, and gives the places to write to.
func guarded(t *testing.T) (dir string, places []string) {
	dir = t.TempDir()
	at := func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	place := func(name string) { places = append(places, at(name)) }
	put := func(name, text string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(at(name)), 0o700))
		require.NoError(t, os.WriteFile(at(name), []byte(text), 0o600))
	}
	do := func(book string, args ...string) {
		code, _, errs := obeyed(t, at(book), args...)
		require.Zero(t, code, errs)
	}
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Dir(shortBook(t)))))
	require.NoError(t, os.CopyFS(at("asta"), os.DirFS(filepath.Dir(withScans(t, caseBook(t, "print-wrong-aperture"))))))
	// Another's book as a program that was killed leaves it, with acts in its log.
	killed, err := sqlite.Open(at("asta/book.db"), bookOptions(false))
	require.NoError(t, err)
	require.NoError(t, killed.Write(func(tx *sqlite.Tx) error { return tx.SetMeta("held", "open") }))
	put("killed/book.db", readText(t, at("asta/book.db")))
	put("killed/book.db-wal", readText(t, at("asta/book.db-wal")))
	require.NoError(t, killed.Close())
	require.NotEmpty(t, readText(t, at("killed/book.db-wal")))

	for _, name := range []string{"book.db", "asta/book.db", "killed/book.db"} {
		place(name)
		for _, end := range []string{"-wal", "-shm", "-journal"} {
			place(name + end)
		}
	}
	place("BOOK.DB-wal")
	place("book.db-WAL")
	put("sub/letter.txt", "dear Oda")
	places = append(places, dir+"/sub/../book.db", dir+"/./asta//book.db", dir+"/sub/../book.db-wal")
	require.NoError(t, os.Symlink("book.db", at("by-name.db")))
	require.NoError(t, os.Symlink("asta", at("shelf")))
	require.NoError(t, os.Symlink("asta/scans", at("prints")))
	for _, name := range []string{"by-name.db", "second-name.db", "second-log", "shelf/book.db", "shelf/book.db-wal", "prints/x.db", "prints"} {
		place(name)
	}
	scans := filesBelow(t, at("asta/scans"))
	for _, name := range []string{scans[0], "new.pdf", filepath.Dir(scans[0]), filepath.Dir(scans[0]) + "/x.csv"} {
		place("asta/scans/" + filepath.ToSlash(name))
		place("shelf/scans/" + filepath.ToSlash(name))
	}
	place("scans")
	place("asta/Scans")
	// Books that do not look like one any more, or not yet to this program.
	newer := []byte(readText(t, at("book.db")))
	torn := slices.Clone(newer)
	newer[63]++
	clear(torn[:4096])
	put("newer.db", string(newer))
	put("torn.db", string(torn))
	place("newer.db")
	place("torn.db")
	// What is no book, and no output of ours.
	put("letter.pdf", "%PDF-1.4 a letter of Asta's")
	put("letter.csv", "to,from\r\nOda,Asta\r\n")
	put("typed.ndjson", `{"kind":"note.written","at":"2026-06-20T08:00:00+02:00","data":{"about":"2026-001","text":"not in the book yet"}}`)
	put("letter.zip", "PK\x03\x04 not a bag")
	for _, name := range []string{"sub/letter.txt", "letter.pdf", "letter.csv", "typed.ndjson", "letter.zip", "sub", "asta", dir} {
		places = append(places, at(strings.TrimPrefix(name, dir)))
	}
	// An outline of a table of one's own, in a folder called as ours are.
	put("tables/sheets.csv", "to,from\r\n")
	place("tables")
	// Archives that hold more than they list, that were changed, of another book, of another program; another's lines.
	do("book.db", "export", "archive", "--out", at("more"))
	put("more/data/scans/letter.txt", "dear Oda")
	do("book.db", "export", "archive", "--out", at("changed"))
	put("changed/data/readme.txt", "what Asta wrote over it")
	do("book.db", "export", "archive", "--out", at("hollow"))
	require.NoError(t, os.Mkdir(at("hollow/data/kept"), 0o700))
	do("asta/book.db", "export", "archive", "--out", at("asta-2026"))
	do("asta/book.db", "export", "archive", "--out", at("asta-2026.zip"))
	do("asta/book.db", "export", "events", "--out", at("asta.ndjson"))
	_, err = bag.WriteDir(at("foreign"), nil, bag.Contents{Info: []bag.Label{{Name: "Bag-Software-Agent", Value: "another"}}, Payload: []bag.Payload{bag.Bytes("x", []byte("x"))}})
	require.NoError(t, err)
	for _, name := range []string{"more", "changed", "hollow", "asta-2026", "asta-2026.zip", "asta.ndjson", "foreign"} {
		place(name)
	}
	// A copy that was gone on with.
	do("book.db", "backup", at("copy.db"))
	do("copy.db", "note", "2026-001", "written in the copy")
	place("copy.db")
	put("whole.ndjson", "")
	require.NoError(t, os.Remove(at("whole.ndjson")))
	do("asta/book.db", "export", "events", "--out", at("whole.ndjson"))
	spoilt.Store(at("asta/book.db"), true) // a book under two names is refused
	require.NoError(t, os.Link(at("asta/book.db"), at("second-name.db")))
	require.NoError(t, os.Link(at("killed/book.db-wal"), at("second-log")))
	return dir, places
}

func readText(t testing.TB, path string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(raw)
}

// laidOut is everything below a folder: names, sorts, and the bytes of files.
func laidOut(t testing.TB, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		out[path] = d.Type().String()
		if d.Type().IsRegular() {
			out[path] = readText(t, path)
		}
		return nil
	}))
	return out
}

// No output, by --force or not, takes the place of a book, of what SQLite keeps beside it, of its scans, of a file of
// another sort, or of a folder in which anything stands that the new one does not make good: nothing below the folder is
// another afterwards.
func TestNoOutputTakesTheirPlace(t *testing.T) {
	t.Parallel()
	dir, places := guarded(t)
	book := filepath.Join(dir, "book.db")
	before := laidOut(t, dir)
	every := 11
	if os.Getenv("TRAYBOOK_LONG") == "1" {
		every = 1
	}
	runs := 0
	for i, line := range outputs {
		for k, place := range places {
			if (i+k)%every != 0 || every > 1 && strings.HasPrefix(line, "demo") && k != i {
				continue // a season is long to draw
			}
			words := strings.Fields(line)
			for w := range words {
				words[w] = strings.NewReplacer("OUT", place, "FILE", filepath.Join(dir, "whole.ndjson")).Replace(words[w])
			}
			if strings.HasPrefix(line, "import") && existing(place) {
				continue // into a book that is there: that is no output
			}
			code, out, errs := obeyed(t, book, words...)
			runs++
			if !assert.Equal(t, codeRefused, code, "%v: %s%s", words, out, errs) || !sameLayout(t, before, laidOut(t, dir), fmt.Sprint(words)) {
				dir, places = guarded(t)
				book, before = filepath.Join(dir, "book.db"), laidOut(t, dir)
			}
			toldPlain(t, fmt.Sprint(words), errs)
		}
	}
	t.Logf("%d outputs at %d places, %d runs: nothing was lost", len(outputs), len(places), runs)
}

func existing(path string) bool { _, err := os.Stat(path); return err == nil }

func sameLayout(t *testing.T, before, after map[string]string, what string) bool {
	same := true
	for path, was := range before {
		same = same && assert.True(t, after[path] == was, "%s: %s was changed", what, path)
	}
	for path := range after {
		_, ok := before[path]
		same = same && assert.True(t, ok, "%s: %s was made", what, path)
	}
	return same
}

func toldPlain(t *testing.T, what, errs string) {
	t.Helper()
	assert.True(t, strings.HasPrefix(errs, "traybook: "), "%s: %s", what, errs)
	assert.NotContains(t, errs, "internal error", what)
}

// What an output of the same book left is replaced by --force, and only then.
func TestAnOutputIsReplacedByItsNext(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	dir := t.TempDir()
	for i, line := range outputs {
		if !strings.Contains(line, "--force") || strings.HasPrefix(line, "demo") {
			continue
		}
		out := filepath.Join(dir, fmt.Sprint("out-", i))
		words := strings.Fields(strings.Replace(line, "OUT", out, 1))
		for round := range 2 {
			code, _, errs := obeyed(t, book, words...)
			require.Zero(t, code, "%v, round %d: %s", words, round, errs)
			code, _, errs = obeyed(t, book, "note", "2026-001", "one more")
			require.Zero(t, code, errs)
		}
		unforced := slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "--force" })
		before := laidOut(t, dir)
		code, _, errs := obeyed(t, book, unforced...)
		require.Equal(t, codeRefused, code, "%v", unforced)
		require.Contains(t, errs, "is there already", "%v", unforced)
		require.True(t, sameLayout(t, before, laidOut(t, dir), line))
	}
	for _, f := range filesBelow(t, dir) {
		require.True(t, strings.HasPrefix(f, "out-"), "nothing is left beside: %s", f)
	}
}

// A scan that stands in an old archive alone does not go with it, nor do acts that were written into a demo's book.
func TestTheLastCopyIsKept(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	old := archived(t, book)
	spoilt.Store(book, true)
	scans := filepath.Join(filepath.Dir(book), "scans")
	require.NoError(t, os.Remove(filepath.Join(scans, filesBelow(t, scans)[0])))
	before := laidOut(t, old)
	code, _, errs := obeyed(t, book, "export", "archive", "--out", old, "--force", "--even-so")
	require.Equal(t, codeRefused, code)
	require.Contains(t, errs, "a scan that stands nowhere else")
	require.True(t, sameLayout(t, before, laidOut(t, old), "archive"))

	season := filepath.Join(t.TempDir(), "season")
	code, _, errs = obeyed(t, book, "demo", "--out", season)
	require.Zero(t, code, errs)
	code, _, errs = obeyed(t, filepath.Join(season, "book.db"), "note", demoPicture, "my own")
	require.Zero(t, code, errs)
	before = laidOut(t, season)
	code, _, errs = obeyed(t, book, "demo", "--out", season, "--force")
	require.Equal(t, codeRefused, code)
	require.Contains(t, errs, "holds more than demo made")
	require.True(t, sameLayout(t, before, laidOut(t, season), "demo"))
	_, err := demo.Made(filepath.Join(season, "book.db"), bookOptions(true))
	require.NoError(t, err)
}

// An archive that has lost what tells its sort, or what entries it holds, is not replaced: what else stands in it may stand
// nowhere else.
func TestAnArchiveThatLostWhatTellsItsContentIsKept(t *testing.T) {
	t.Parallel()
	for lost, says := range map[string]string{
		"bag-info.txt":       "is not an archive that traybook wrote, so it is not replaced",
		"data/events.ndjson": "has lost data/events.ndjson, so nothing tells whether this book holds what it holds",
	} {
		old := archived(t, shortBook(t))
		require.NoError(t, os.Remove(filepath.Join(old, filepath.FromSlash(lost))))
		before := laidOut(t, old)
		code, _, errs := obeyed(t, shortBook(t), "export", "archive", "--out", old, "--force")
		require.Equal(t, codeRefused, code, lost)
		require.Contains(t, errs, says)
		require.True(t, sameLayout(t, before, laidOut(t, old), lost))
	}
	empty := t.TempDir()
	code, _, errs := obeyed(t, shortBook(t), "export", "archive", "--out", empty, "--force")
	require.Zero(t, code, errs)
	require.FileExists(t, filepath.Join(empty, "bag-info.txt"))
}
