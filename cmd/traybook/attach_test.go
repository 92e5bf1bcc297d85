package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export/scan"
	"traybook/projections/acts"
)

// caseBook makes a book in a folder of its own from one of the recorded cases, and gives its path.
func caseBook(t testing.TB, name string) string {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/cases/" + name + ".ndjson")
	require.NoError(t, err)
	return bookOfLines(t, raw)
}

// bookOfLines is a book of plain lines, the first of which opens it.
func bookOfLines(t testing.TB, raw []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	var in []acts.ImportLine
	for i, text := range bytes.Split(bytes.TrimSpace(raw), []byte("\n")) {
		l, err := events.ParseLine(text)
		require.NoError(t, err)
		in = append(in, acts.ImportLine{Line: l, Number: i + 1})
	}
	b, err := sqlite.Create(path, bookOptions(false))
	require.NoError(t, err)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		at := in[len(in)-1].At
		_, err := acts.ImportPlain(tx, in, at, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	require.NoError(t, b.Close())
	return path
}

// obeyed runs a command line on a book and gives its exit code and what it said on both streams.
func obeyed(t testing.TB, book string, args ...string) (code int, out, errs string) {
	t.Helper()
	wholeAtEnd(t, book)
	env, stdout, stderr := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": eventstest.Now}, args...)
	code = run(env)
	return code, stdout.String(), stderr.String()
}

// printScan is the scan of a print: white border, a ramp from light to dark inside it, no black deeper than given.
func printScan(t testing.TB, w, h int, lightest, darkest uint8) []byte {
	t.Helper()
	g := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := uint8(250)
			if x > w/10 && x < w-w/10 && y > h/10 && y < h-h/10 {
				v = lightest - uint8(int(lightest-darkest)*(x-w/10)/(w-w/5))
			}
			g.SetGray(x, y, color.Gray{Y: v})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, g, &jpeg.Options{Quality: 92}))
	return b.Bytes()
}

func putFile(t testing.TB, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, content, 0o600))
	return path
}

// filesBelow lists the files below a folder.
func filesBelow(t testing.TB, dir string) []string {
	t.Helper()
	var out []string
	require.NoError(t, filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(dir, p)
			out = append(out, filepath.ToSlash(rel))
		}
		return err
	}))
	return out
}

func TestAttachKeepsTheOriginalAndASmallPicture(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	file := putFile(t, "print.jpg", printScan(t, 1200, 900, 240, 20))
	code, out, errs := obeyed(t, book, "attach", "2026-001p1", file, "--json")
	require.Zero(t, code, errs)
	var told attachedJSON
	require.NoError(t, json.Unmarshal([]byte(out), &told))
	require.Equal(t, "2026-001p1", *told.Sheet)
	kept := filepath.Join(filepath.Dir(book), filepath.FromSlash(told.Path))
	digest, err := scan.DigestFile(kept)
	require.NoError(t, err)
	require.Equal(t, told.SHA256, digest, "the copy is the original")
	require.Equal(t, "scans/"+digest[:2]+"/"+digest+".jpg", told.Path)
	require.NotNil(t, told.Measured)
	require.Contains(t, told.Measured.Command, "traybook judge 2026-001p1 ")

	b, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		found, err := tx.Find(told.ID)
		require.NoError(t, err)
		require.Len(t, found, 1)
		data := found[0].Data.(*events.SheetAttachedData)
		require.Equal(t, "image/jpeg", data.Media)
		require.Equal(t, "print", data.Of)
		require.Equal(t, []int{1200, 900}, []int{*data.WidthPX, *data.HeightPX})
		h, err := events.ParseHash(digest)
		require.NoError(t, err)
		th, ok, err := tx.Thumbnail(h)
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, []int{400, 300}, []int{th.Width, th.Height})
		judged, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetJudged}})
		require.NoError(t, err)
		require.Len(t, judged, 1, "what was measured is not written unasked")
		return nil
	}))
}

func TestAttachAgainAddsNothingAndMendsTheCopy(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	file := putFile(t, "plate.jpg", printScan(t, 300, 200, 240, 20))
	code, _, errs := obeyed(t, book, "attach", "2026-001n", file)
	require.Zero(t, code, errs)
	scans := filepath.Join(filepath.Dir(book), scan.Folder)
	before := filesBelow(t, scans)
	require.Len(t, before, 1)
	require.NoError(t, os.Remove(filepath.Join(scans, before[0])))
	code, out, errs := obeyed(t, book, "attach", "2026-001n", file)
	require.Zero(t, code, errs)
	require.Contains(t, out, "attached already")
	require.Equal(t, before, filesBelow(t, scans))
	require.Equal(t, 1, attachedEntries(t, book))
}

func attachedEntries(t testing.TB, book string) int {
	t.Helper()
	b, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	n := 0
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		found, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetAttached}})
		n = len(found)
		return err
	}))
	return n
}

func TestAttachByReferenceLeavesTheFileWhereItIs(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	file := putFile(t, "plate.jpg", printScan(t, 300, 200, 240, 20))
	code, out, errs := obeyed(t, book, "attach", "--by-reference", "2026-001n", file, "--of", "inverted", "--json")
	require.Zero(t, code, errs)
	var told attachedJSON
	require.NoError(t, json.Unmarshal([]byte(out), &told))
	require.Equal(t, file, told.Path)
	require.NoDirExists(t, filepath.Join(filepath.Dir(book), scan.Folder))
}

func TestAttachTakesTheSheetFromTheNameOfTheFile(t *testing.T) {
	t.Parallel()
	for file, want := range map[string]string{
		"2026-001n.jpg": "2026-001n", "/a/b/2026-001p1-back.TIF": "2026-001p1", "2026-001p12.jpg": "2026-001p12",
		"plate.jpg": "", "2026-001.jpg": "", "x2026-001n.jpg": "",
	} {
		assert.Equal(t, want, sheetInName(file), file)
	}
	book := caseBook(t, "good-picture")
	dir := t.TempDir()
	var files []string
	for i, name := range []string{"2026-001n.jpg", "2026-001p1.jpg", "2026-001p1-back.jpg"} {
		files = append(files, filepath.Join(dir, name))
		require.NoError(t, os.WriteFile(files[i], printScan(t, 200+10*i, 150, 240, 20), 0o600))
	}
	code, out, errs := obeyed(t, book, append([]string{"attach"}, files...)...)
	require.Zero(t, code, errs)
	for _, want := range []string{"2026-001n: ", "2026-001p1: "} {
		require.Contains(t, out, want)
	}
	require.Equal(t, 3, attachedEntries(t, book))
}

func TestAttachRefusesInOneLineAndLeavesNothing(t *testing.T) {
	t.Parallel()
	whole := printScan(t, 300, 200, 240, 20)
	for name, content := range map[string][]byte{
		"text.jpg": []byte("a ferry"), "empty.jpg": {}, "cut.jpg": whole[:len(whole)/2], "head.jpg": whole[:200],
	} {
		t.Run(name, func(t *testing.T) {
			book := caseBook(t, "good-picture")
			file := putFile(t, name, content)
			code, out, errs := obeyed(t, book, "attach", "2026-001n", file)
			require.Equal(t, codeRefused, code)
			require.Empty(t, out)
			require.Contains(t, errs, file)
			require.Equal(t, 2-map[string]int{"empty.jpg": 1}[name], strings.Count(errs, "\n"), "what is wrong, and what to do: %s", errs)
			require.NoDirExists(t, filepath.Join(filepath.Dir(book), scan.Folder))
			require.Zero(t, attachedEntries(t, book))
		})
	}
	t.Run("one of several", func(t *testing.T) {
		book := caseBook(t, "good-picture")
		good, bad := putFile(t, "a.jpg", whole), putFile(t, "b.jpg", whole[:len(whole)/2])
		code, _, errs := obeyed(t, book, "attach", "2026-001n", bad, good)
		require.Equal(t, codeRefused, code)
		require.Contains(t, errs, "1 of 2 files could not be attached")
		require.Equal(t, 1, attachedEntries(t, book), "the good one is in")
	})
	t.Run("no such sheet", func(t *testing.T) {
		book := caseBook(t, "good-picture")
		code, _, errs := obeyed(t, book, "attach", "2026-001p9", putFile(t, "a.jpg", whole))
		require.Equal(t, codeRefused, code, errs)
		require.NoDirExists(t, filepath.Join(filepath.Dir(book), scan.Folder))
	})
}

// BenchmarkAttachTwelveMegapixels takes sixteen pictures of twelve megapixels into a book on all cores; decode is the
// same pictures only decoded, one after another.
func BenchmarkAttachTwelveMegapixels(b *testing.B) {
	const many = 16
	dir := b.TempDir()
	var files []string
	for i := range many {
		img := image.NewRGBA(image.Rect(0, 0, 4000, 3000))
		for y := range 3000 {
			for x := range 4000 {
				v := uint8(x*255/4000) ^ uint8((y+i)%7)
				img.SetRGBA(x, y, color.RGBA{v, v / 2, 255 - v, 255})
			}
		}
		var raw bytes.Buffer
		require.NoError(b, jpeg.Encode(&raw, img, &jpeg.Options{Quality: 90}))
		files = append(files, filepath.Join(dir, fmt.Sprintf("2026-001n-%d.jpg", i)))
		require.NoError(b, os.WriteFile(files[i], raw.Bytes(), 0o600))
	}
	b.Run("decode", func(b *testing.B) {
		for b.Loop() {
			for _, f := range files {
				in, err := os.Open(f)
				require.NoError(b, err)
				_, err = jpeg.Decode(in)
				require.NoError(b, err)
				in.Close()
			}
		}
	})
	b.Run("attach", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			book := caseBook(b, "good-picture")
			b.StartTimer()
			code, _, errs := obeyed(b, book, append([]string{"attach"}, files...)...)
			require.Zero(b, code, errs)
		}
	})
}
