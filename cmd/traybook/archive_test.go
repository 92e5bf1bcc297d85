package main

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/bag"
)

// seasonBook is the season of the demo with two scans attached.
func seasonBook(t testing.TB) string {
	t.Helper()
	return withScans(t, filepath.Join(aSeason(t), "book.db"))
}

// shortBook is one good picture with two scans attached.
func shortBook(t testing.TB) string { return withScans(t, caseBook(t, "good-picture")) }

func withScans(t testing.TB, path string) string {
	t.Helper()
	dir := t.TempDir()
	for i, name := range []string{"2026-001n.jpg", "2026-001p1.jpg"} {
		file := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(file, printScan(t, 240+10*i, 180, 240, 20), 0o600))
		code, _, errs := obeyed(t, path, "attach", file)
		require.Zero(t, code, errs)
	}
	return path
}

func archived(t testing.TB, book string, args ...string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "skerrow")
	if slices.Contains(args, "--zip") {
		out += ".zip"
	}
	code, _, errs := obeyed(t, book, append([]string{"export", "archive", "--out", out}, args...)...)
	require.Zero(t, code, errs)
	return out
}

func checkedArchive(t testing.TB, path string) export.ArchiveReport {
	t.Helper()
	r, err := export.CheckArchive(path, export.ArchiveCheck{Book: checkBookCopy})
	require.NoError(t, err)
	return r
}

func TestArchiveIsWholeAndSaysEverything(t *testing.T) {
	t.Parallel()
	book := seasonBook(t)
	out := archived(t, book)
	r := checkedArchive(t, out)
	require.Empty(t, r.Problems)
	require.Empty(t, r.Notes)
	require.Len(t, r.Heads, 1)
	for _, name := range []string{"readme.txt", "format.md", "kinds.md", "kinds.schema.json", "reader.py", "events.ndjson", "book.db", "log.pdf", "tables/schema.md", "tables/entries.csv",
		"tables/sheets.csv", "tables/scans.csv", "tables/sitters.csv"} {
		assert.FileExists(t, filepath.Join(out, "data", name))
	}
	var scans, thumbs, sidecars int
	for _, f := range filesBelow(t, out) {
		switch {
		case strings.HasSuffix(f, ".xmp"):
			sidecars++
		case strings.HasPrefix(f, "data/scans/"):
			scans++
		case strings.HasPrefix(f, "data/thumbnails/"):
			thumbs++
		}
	}
	require.Equal(t, []int{2, 2, 2}, []int{scans, thumbs, sidecars})
	readme, err := os.ReadFile(filepath.Join(out, "data", "readme.txt"))
	require.NoError(t, err)
	require.Contains(t, string(readme), r.Heads[0].Hash.String(), "the end of the chain stands where a reader finds it")
	for _, f := range filesBelow(t, filepath.Dir(out)) {
		require.True(t, strings.HasPrefix(f, "skerrow/"), "nothing is left beside it: %s", f)
	}
	names := sittersOf(t, book)
	table, err := os.ReadFile(filepath.Join(out, "data", "tables", "sitters.csv"))
	require.NoError(t, err)
	require.Equal(t, len(names)+1, strings.Count(string(table), "\r\n"))
	require.Contains(t, string(readme), fmt.Sprintf("Names and contacts of %d sitters", len(names)))
}

func sittersOf(t testing.TB, book string) (rows []events.SitterRow) {
	t.Helper()
	b, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) { rows, err = tx.Sitters(); return err }))
	require.NotEmpty(t, rows)
	return rows
}

func TestArchiveIsTheSameBytesEachTime(t *testing.T) {
	t.Parallel()
	book := seasonBook(t)
	a, b := archived(t, book), archived(t, book)
	require.Equal(t, filesBelow(t, a), filesBelow(t, b))
	for _, f := range filesBelow(t, a) {
		x, err := os.ReadFile(filepath.Join(a, f))
		require.NoError(t, err)
		y, err := os.ReadFile(filepath.Join(b, f))
		require.NoError(t, err)
		require.True(t, bytes.Equal(x, y), f)
	}
	x, err := os.ReadFile(archived(t, book, "--zip"))
	require.NoError(t, err)
	y, err := os.ReadFile(archived(t, book, "--zip"))
	require.NoError(t, err)
	require.True(t, bytes.Equal(x, y), "as a zip file")
}

func TestArchiveNarrowedHoldsEveryEntry(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	whole, narrow := checkedArchive(t, archived(t, book)), archived(t, book, "--year", "2025")
	r := checkedArchive(t, narrow)
	require.Empty(t, r.Problems)
	require.Equal(t, whole.Entries, r.Entries)
	require.NoDirExists(t, filepath.Join(narrow, "data", "scans"), "no scan is of that year")
	one := archived(t, book, "--picture", "2026-001", "--zip")
	r = checkedArchive(t, one)
	require.Empty(t, r.Problems)
	require.Equal(t, whole.Entries, r.Entries)
}

func TestArchiveIsWholeOrAbsent(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	out := archived(t, book)
	code, _, errs := obeyed(t, book, "export", "archive", "--out", out)
	require.Equal(t, codeRefused, code)
	require.Contains(t, errs, "is there already")
	code, _, errs = obeyed(t, book, "export", "archive", "--out", out, "--force")
	require.Zero(t, code, errs)
	require.Empty(t, checkedArchive(t, out).Problems)

	spoilt.Store(book, true)
	scans := filepath.Join(filepath.Dir(book), "scans")
	kept := filesBelow(t, scans)
	require.NoError(t, os.Remove(filepath.Join(scans, kept[0])))
	require.NoError(t, os.WriteFile(filepath.Join(scans, kept[1]), []byte("another"), 0o600))
	none := filepath.Join(t.TempDir(), "none")
	code, _, errs = obeyed(t, book, "export", "archive", "--out", none)
	require.Equal(t, codeRefused, code)
	for _, want := range []string{"missing", "altered", "--even-so"} {
		require.Contains(t, errs, want)
	}
	require.Empty(t, filesBelow(t, filepath.Dir(none)))
	without := archived(t, book, "--even-so")
	r := checkedArchive(t, without)
	require.Empty(t, r.Problems)
	require.Len(t, r.Notes, 2)
}

func TestArchiveOfLastYearHoldsAfterThisYearsActs(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	old := archived(t, book)
	before := checkedArchive(t, old)
	code, _, errs := obeyed(t, book, "note", "2026-001", "hung in the ticket hatch")
	require.Zero(t, code, errs)
	require.Empty(t, checkedArchive(t, old).Problems)
	r, err := export.CheckArchive(archived(t, book), export.ArchiveCheck{Book: checkBookCopy, Head: &before.Heads[0].Hash})
	require.NoError(t, err)
	require.Empty(t, r.Problems, "the new one still holds the old one's end")
}

// rebagged makes the bag anew after a change of its payload, as someone would who covers the traces.
func rebagged(t testing.TB, dir string, info func([]bag.Label) []bag.Label, change func(name string, content []byte) []byte) string {
	t.Helper()
	b, err := bag.Open(dir)
	require.NoError(t, err)
	defer b.Close()
	old := b.Verify()
	var c bag.Contents
	for _, l := range old.Info {
		if l.Name != "Payload-Oxum" {
			c.Info = append(c.Info, l)
		}
	}
	if info != nil {
		c.Info = info(c.Info)
	}
	for _, f := range filesBelow(t, filepath.Join(dir, "data")) {
		raw, err := os.ReadFile(filepath.Join(dir, "data", f))
		require.NoError(t, err)
		if raw = change(f, raw); raw != nil {
			c.Payload = append(c.Payload, bag.Bytes(f, raw))
		}
	}
	out := filepath.Join(t.TempDir(), "rebagged")
	_, err = bag.WriteDir(out, nil, c)
	require.NoError(t, err)
	return out
}

func TestDamagedArchiveIsFoundAndNamed(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	whole := archived(t, book)
	fresh := func(t *testing.T) string {
		dir := filepath.Join(t.TempDir(), "bag")
		require.NoError(t, os.CopyFS(dir, os.DirFS(whole)))
		return dir
	}
	var scanName string
	for _, f := range filesBelow(t, whole) {
		if strings.HasPrefix(f, "data/scans/") && strings.HasSuffix(f, ".jpg") {
			scanName = f
		}
	}
	appendTo := func(t *testing.T, file, text string) {
		f, err := os.OpenFile(file, os.O_APPEND|os.O_WRONLY, 0)
		require.NoError(t, err)
		_, err = f.WriteString(text)
		require.NoError(t, err)
		require.NoError(t, f.Close())
	}
	for name, c := range map[string]struct {
		damage func(t *testing.T, dir string)
		kind   string
		says   string
	}{
		"missing": {func(t *testing.T, d string) { require.NoError(t, os.Remove(filepath.Join(d, "data/log.pdf"))) }, "missing", "log.pdf"},
		"extra": {func(t *testing.T, d string) {
			require.NoError(t, os.WriteFile(filepath.Join(d, "data/more.txt"), nil, 0o600))
		}, "extra", "more.txt"},
		"changed":      {func(t *testing.T, d string) { appendTo(t, filepath.Join(d, "data/readme.txt"), "!") }, "changed", "readme.txt"},
		"scan changed": {func(t *testing.T, d string) { appendTo(t, filepath.Join(d, scanName), "!") }, "changed", scanName},
		"renamed": {func(t *testing.T, d string) {
			require.NoError(t, os.Rename(filepath.Join(d, "data/format.md"), filepath.Join(d, "data/shape.md")))
		}, "extra", "shape.md"},
		"doubled": {func(t *testing.T, d string) {
			m := filepath.Join(d, "manifest-sha256.txt")
			raw, err := os.ReadFile(m)
			require.NoError(t, err)
			appendTo(t, m, strings.SplitAfter(string(raw), "\n")[0])
		}, "doubled", "manifest"},
		"leads out": {func(t *testing.T, d string) {
			appendTo(t, filepath.Join(d, "manifest-sha256.txt"), strings.Repeat("0", 64)+"  data/../../secret\n")
		}, "unsafe-path", "secret"},
		"case twins": {func(t *testing.T, d string) {
			require.NoError(t, os.WriteFile(filepath.Join(d, "data/README.txt"), nil, 0o600))
		}, "case-twins", "README.txt"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := fresh(t)
			c.damage(t, dir)
			found(t, checkedArchive(t, dir), c.kind, c.says)
		})
	}

	lines := func(f func([]string) []string) func(string, []byte) []byte {
		return func(name string, raw []byte) []byte {
			if name != "events.ndjson" {
				return raw
			}
			return []byte(strings.Join(f(strings.SplitAfter(strings.TrimSuffix(string(raw), "\n")+"\n", "\n")), ""))
		}
	}
	// With every digest made anew, so that the bag itself is whole.
	for name, c := range map[string]struct {
		change func(string, []byte) []byte
		kind   string
		says   string
	}{
		"chain cut off":   {lines(func(l []string) []string { return l[:len(l)-2] }), "cut-off", "no chain ends with"},
		"entry taken out": {lines(func(l []string) []string { return slices.Delete(l, 10, 11) }), "chain", "line 11"},
		"entries swapped": {lines(func(l []string) []string { l[10], l[11] = l[11], l[10]; return l }), "order", "line 11"},
		"entry changed":   {lines(func(l []string) []string { l[10] = strings.Replace(l[10], `"data":{"`, `"data":{ "`, 1); return l }), "line", "line 11"},
		"entry doubled":   {lines(func(l []string) []string { return slices.Insert(l, 11, l[10]) }), "doubled-entry", "line 12"},
		"table short": {func(name string, raw []byte) []byte {
			if name != "tables/entries.csv" {
				return raw
			}
			return raw[:bytes.LastIndex(raw[:len(raw)-2], []byte("\r\n"))+2]
		}, "table", "lacks the entry"},
		"scan of another": {func(name string, raw []byte) []byte {
			if "data/"+name == scanName {
				return append(raw, 0)
			}
			return raw
		}, "scan", "not the one that was attached"},
		"scan gone": {func(name string, raw []byte) []byte {
			if "data/"+name == scanName {
				return nil
			}
			return raw
		}, "scan", "is missing"},
		"book cut": {func(name string, raw []byte) []byte {
			if name == "book.db" {
				return raw[:len(raw)/2]
			}
			return raw
		}, "book", "book.db"},
		"book of another": {func(name string, raw []byte) []byte {
			if name == "book.db" {
				other, err := os.ReadFile(caseBook(t, "print-wrong-aperture"))
				require.NoError(t, err)
				return other
			}
			return raw
		}, "book", "entries that events.ndjson does not hold"},
	} {
		t.Run(name+", digests made anew", func(t *testing.T) {
			r := checkedArchive(t, rebagged(t, whole, nil, c.change))
			found(t, r, c.kind, c.says)
		})
	}
	t.Run("no head noted", func(t *testing.T) {
		drop := func(l []bag.Label) []bag.Label {
			return slices.DeleteFunc(l, func(x bag.Label) bool { return x.Name == "Chain-Head" })
		}
		r := checkedArchive(t, rebagged(t, whole, drop, func(_ string, raw []byte) []byte { return raw }))
		found(t, r, "cut-off", "names no chain's end")
	})
}

// found wants a problem of a kind that says something.
func found(t *testing.T, r export.ArchiveReport, kind, says string) {
	t.Helper()
	ok := slices.ContainsFunc(r.Problems, func(f export.Finding) bool { return f.Kind == kind && strings.Contains(f.Text, says) })
	require.True(t, ok, "no %s that says %q among %+v", kind, says, r.Problems[:min(len(r.Problems), 6)])
}

func TestArchiveAsAZipUnpacksToTheSameBag(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	dir, file := archived(t, book), archived(t, book, "--zip")
	z, err := zip.OpenReader(file)
	require.NoError(t, err)
	defer z.Close()
	var names []string
	for _, f := range z.File {
		rel, ok := strings.CutPrefix(f.Name, "skerrow/")
		require.True(t, ok, f.Name)
		names = append(names, rel)
		in, err := f.Open()
		require.NoError(t, err)
		got, err := io.ReadAll(in)
		require.NoError(t, err)
		want, err := os.ReadFile(filepath.Join(dir, rel))
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, got), rel)
	}
	slices.Sort(names)
	require.Equal(t, filesBelow(t, dir), names)
}

func TestArchiveAnswersScripts(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	out := filepath.Join(t.TempDir(), "a")
	code, said, errs := obeyed(t, book, "export", "archive", "--out", out, "--json")
	require.Zero(t, code, errs)
	var told struct {
		Path           string
		Files, Entries int
		Missing        []string
	}
	require.NoError(t, json.Unmarshal([]byte(said), &told))
	require.Equal(t, out, told.Path)
	require.NotNil(t, told.Missing)
	require.Equal(t, len(filesBelow(t, filepath.Join(out, "data"))), told.Files)
	code, _, _ = obeyed(t, book, "export", "archive")
	require.Equal(t, codeUsage, code)
	code, _, _ = obeyed(t, book, "export", "archive", "--out", "-")
	require.Equal(t, codeUsage, code)
}
