package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// Any original is kept as it came, byte for byte: what cannot be shown says so when it is attached, in verify, in the archive.
func TestAnyOriginalIsKept(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	jpeg := printScan(t, 60, 40, 50, 5)
	raw := []byte("RAWFILE 0201\x00\x01\x02\x03\xff\xfe")
	file := putFile(t, "2026-001n.X3R", raw)
	code, _, errs := obeyed(t, book, "attach", "--by-reference", file)
	require.Equal(t, codeRefused, code)
	require.Contains(t, errs, "attach it without --by-reference")
	code, out, errs := obeyed(t, book, "attach", file)
	require.Zero(t, code, errs)
	said := strings.Join(strings.Fields(out), " ")
	require.Contains(t, said, "2026-001n.X3R · application/octet-stream, 18 bytes kept as scans/")
	require.Contains(t, said, "kept without a small picture, and not looked through, for by its bytes it is application/octet-stream, and JPEG, PNG and TIFF are read: attach a JPEG of it beside it")

	// A copy that breaks off is likely a slip: it is kept for who insists.
	torn := putFile(t, "2026-001p1.jpg", jpeg[:len(jpeg)/2])
	code, _, errs = obeyed(t, book, "attach", torn)
	require.Equal(t, codeRefused, code)
	require.Contains(t, errs, "the JPEG breaks off before its end")
	require.Contains(t, errs, "copy the file again, or keep it as it is with --even-so")
	code, out, errs = obeyed(t, book, "attach", "--even-so", torn)
	require.Zero(t, code, errs)
	require.Contains(t, strings.Join(strings.Fields(out), " "), "kept without a small picture, and not looked through, for the JPEG breaks off before its end: copy the file again")
	code, out, errs = obeyed(t, book, "attach", "--even-so", torn)
	require.Zero(t, code, errs)
	require.Contains(t, out, "is attached already, its copy is whole")

	code, out, errs = obeyed(t, book, "verify")
	require.Zero(t, code, errs)
	require.Regexp(t, `no small picture of the scan of 2026-001n, scans/../[0-9a-f]{12}….x3r, is kept; it is too large, or of a sort that is not read`, strings.Join(strings.Fields(out), " "))
	scans := filepath.Join(filepath.Dir(book), "scans")
	for _, c := range []struct{ command, says, gone string }{
		{"export pdf --picture 2026-001", `kept without a small picture: 2026-001n.x3r, application/octet-stream, 18 bytes; tones predicted`,
			`scan not at hand: 2026-001n.x3r, application/octet-stream, 18 bytes; tones predicted`},
		{"export pdf", `kept without a small picture: 2026-001n.x3r, application/octet-stream, 18 bytes; tones predicted`,
			`scan not at hand: 2026-001n.x3r, application/octet-stream, 18 bytes; tones predicted`},
		{"export book", `The scan of print 1 is kept, and cannot be shown: 2026-001p1.jpg, image/jpeg, `, `The scan is not where it was kept.`},
	} {
		told := func() string {
			pdf := filepath.Join(t.TempDir(), "pages.pdf")
			code, _, errs := obeyed(t, book, append(strings.Fields(c.command), "--out", pdf)...)
			require.Zero(t, code, errs)
			drawn, err := os.ReadFile(pdf)
			require.NoError(t, err)
			return strings.ReplaceAll(eventstest.PDFStructure(drawn), "\u00a0", " ")
		}
		require.Contains(t, told(), c.says, c.command)
		require.NoError(t, os.Rename(scans, scans+" away"))
		require.Contains(t, told(), c.gone, c.command)
		require.NotContains(t, told(), c.says, c.command)
		require.NoError(t, os.Rename(scans+" away", scans))
	}

	bag := archived(t, book)
	report := checkedArchive(t, bag)
	require.Empty(t, report.Problems)
	require.Empty(t, report.Notes)
	for name, want := range map[string][]byte{"2026-001n.x3r": raw, "2026-001p1.jpg": jpeg[:len(jpeg)/2]} {
		is, err := os.ReadFile(filepath.Join(bag, "data", "scans", name))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(want, is), name)
		described, err := os.ReadFile(filepath.Join(bag, "data", "scans", name+".xmp"))
		require.NoError(t, err)
		assert.Contains(t, string(described), "<dc:identifier>"+strings.TrimSuffix(name, filepath.Ext(name)))
	}
	readme, err := os.ReadFile(filepath.Join(bag, "data", "readme.txt"))
	require.NoError(t, err)
	require.Contains(t, string(readme), "SCANS WITHOUT A SMALL PICTURE")
	require.Contains(t, string(readme), "\n  scans/2026-001n.x3r  application/octet-stream  18 bytes  ")
	require.Contains(t, string(readme), "\n  scans/2026-001p1.jpg  image/jpeg  ")
	require.NotContains(t, filesBelow(t, filepath.Join(bag, "data")), "thumbnails/2026-001n.jpg")

	// The copy of the book in the bag finds both, and a book that is joined to it brings them along.
	other := filepath.Join(t.TempDir(), "book.db")
	code, _, errs = obeyed(t, other, "init", "--zone", "Europe/Oslo")
	require.Zero(t, code, errs)
	code, out, errs = obeyed(t, other, "merge", filepath.Join(bag, "data", "book.db"))
	require.Zero(t, code, errs)
	require.Contains(t, out, "2 scans copied")
	code, out, errs = obeyed(t, other, "verify")
	require.Zero(t, code, out+errs)
}

// An original that is called as descriptions are is kept as any other: beside a description of its own, by either way of naming
// them, and its last copy is never replaced.
func TestAnOriginalMayBeCalledAsADescription(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	file := putFile(t, "2026-001n.xmp", []byte("<x/>\n"))
	code, _, errs := obeyed(t, book, "attach", "--even-so", file)
	require.Zero(t, code, errs)
	for _, naming := range []string{"scan.tif.xmp", "scan.xmp"} {
		bag := filepath.Join(t.TempDir(), "bag")
		code, _, errs = obeyed(t, book, "export", "archive", "--sidecars", naming, "--out", bag)
		require.Zero(t, code, errs)
		require.Empty(t, checkedArchive(t, bag).Problems)
		is, err := os.ReadFile(filepath.Join(bag, "data", "scans", "2026-001n.xmp"))
		require.NoError(t, err)
		assert.Equal(t, "<x/>\n", string(is))
		described, err := os.ReadFile(filepath.Join(bag, "data", "scans", "2026-001n.xmp.xmp"))
		require.NoError(t, err)
		assert.Contains(t, string(described), "<dc:identifier>2026-001n")
		code, _, errs = obeyed(t, book, "export", "archive", "--force", "--out", bag)
		require.Zero(t, code, errs)
		beside := filepath.Join(filepath.Dir(book), "scans")
		require.NoError(t, os.Rename(beside, beside+" away"))
		code, _, errs = obeyed(t, book, "export", "archive", "--force", "--even-so", "--out", bag)
		assert.Equal(t, codeRefused, code)
		assert.Contains(t, errs, "holds data/scans/2026-001n.xmp, a scan that stands nowhere else")
		require.NoError(t, os.Rename(beside+" away", beside))
	}
}
