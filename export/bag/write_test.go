package bag

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/events/eventstest"
)

// sample is a small year of a harbour town.
func sample() Contents {
	return Contents{
		Info: []Label{
			{"Source-Organization", "The ferry office of Sundhaven"},
			{"External-Identifier", "2026"},
			{"Bagging-Date", "2026-12-31"},
			{"External-Description", "a year\nof plates"},
		},
		Payload: []Payload{
			Bytes("scans/ab/abcd.jpg", bytes.Repeat([]byte("grain"), 5000)),
			Bytes("events.ndjson", []byte("{}\n")),
			Bytes("csv/sheets.csv", []byte("sheet\r\n2026-014\r\n")),
			Bytes("empty", nil),
		},
	}
}

func write(t testing.TB, form string, c Contents) string {
	t.Helper()
	dir := t.TempDir()
	var w Written
	var err error
	path := filepath.Join(dir, "year-2026")
	if form == "zip" {
		path += ".zip"
		w, err = WriteZip(path, nil, c)
	} else {
		w, err = WriteDir(path, nil, c)
	}
	require.NoError(t, err)
	require.Len(t, c.Payload, w.Files)
	return path
}

var forms = []string{"folder", "zip"}

// contents reads a bag with nothing but the standard library.
func contents(t testing.TB, path string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	if strings.HasSuffix(path, ".zip") {
		z, err := zip.OpenReader(path)
		require.NoError(t, err)
		defer z.Close()
		for _, f := range z.File {
			r, err := f.Open()
			require.NoError(t, err)
			b, err := io.ReadAll(r)
			require.NoError(t, err)
			name, ok := strings.CutPrefix(f.Name, "year-2026/")
			require.True(t, ok, f.Name)
			require.NotContains(t, files, name)
			files[name] = b
		}
		return files
	}
	require.NoError(t, filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(name)
		rel, _ := filepath.Rel(path, name)
		files[filepath.ToSlash(rel)] = b
		return err
	}))
	return files
}

// sums does what the sum programs do with -c: each line is a digest, two
// blanks and a name to its end.
func sums(t testing.TB, files map[string][]byte, manifest string, sum func([]byte) string) (names []string) {
	t.Helper()
	for _, l := range strings.SplitAfter(string(files[manifest]), "\n") {
		if l == "" {
			continue
		}
		digest, name, ok := strings.Cut(strings.TrimSuffix(l, "\n"), "  ")
		require.True(t, ok && strings.HasSuffix(l, "\n"), "%q", l)
		content, there := files[name]
		require.True(t, there, name)
		require.Equal(t, sum(content), digest, name)
		names = append(names, name)
	}
	return names
}

func sum256(b []byte) string { s := sha256.Sum256(b); return hex.EncodeToString(s[:]) }
func sum512(b []byte) string { s := sha512.Sum512(b); return hex.EncodeToString(s[:]) }

func TestGoodBag(t *testing.T) {
	for _, form := range forms {
		t.Run(form, func(t *testing.T) {
			path := write(t, form, sample())
			files := contents(t, path)
			assert.Empty(t, eventstest.BagFaults(files))

			payload := []string{"data/csv/sheets.csv", "data/empty", "data/events.ndjson", "data/scans/ab/abcd.jpg"}
			tags := []string{"bag-info.txt", "bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt"}
			all := append(append([]string{"tagmanifest-sha256.txt", "tagmanifest-sha512.txt"}, payload...), tags...)
			assert.ElementsMatch(t, all, sortedKeys(files))
			assert.Equal(t, payload, sums(t, files, "manifest-sha256.txt", sum256))
			assert.Equal(t, payload, sums(t, files, "manifest-sha512.txt", sum512))
			assert.Equal(t, tags, sums(t, files, "tagmanifest-sha256.txt", sum256))
			assert.Equal(t, tags, sums(t, files, "tagmanifest-sha512.txt", sum512))
			assert.Equal(t, "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", string(files["bagit.txt"]))
			assert.Equal(t, "Source-Organization: The ferry office of Sundhaven\nExternal-Identifier: 2026\n"+
				"Bagging-Date: 2026-12-31\nExternal-Description: a year\n  of plates\nPayload-Oxum: 25020.4\n", string(files["bag-info.txt"]))

			r, err := Verify(path)
			require.NoError(t, err)
			assert.True(t, r.OK(), "%v", r.Problems)
			assert.Empty(t, r.Notes)
			assert.Equal(t, 4, r.Files)
			assert.EqualValues(t, 25020, r.Bytes)
			assert.Equal(t, "2026", r.Value("external-identifier"))
			assert.Equal(t, "a year\nof plates", r.Value("External-Description"))
			assert.Empty(t, r.Value("Contact-Name"))
		})
	}
}

func TestBagIsPrivateAndLeavesNoLitter(t *testing.T) {
	path := write(t, "folder", sample())
	require.NoError(t, filepath.WalkDir(filepath.Dir(path), func(name string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		fi, err := d.Info()
		require.NoError(t, err)
		switch {
		case name == filepath.Dir(path):
		case d.IsDir():
			assert.Equal(t, fs.FileMode(0o700), fi.Mode().Perm(), name)
		default:
			assert.Equal(t, fs.FileMode(0o600), fi.Mode(), name)
		}
		assert.False(t, strings.HasPrefix(d.Name(), "."), name)
		return nil
	}))
	fi, err := os.Stat(write(t, "zip", sample()))
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o600), fi.Mode())
}

func TestZipIsTheSameOnEveryRunAndStored(t *testing.T) {
	first, err := os.ReadFile(write(t, "zip", sample()))
	require.NoError(t, err)
	c := sample()
	c.Payload[0], c.Payload[2] = c.Payload[2], c.Payload[0]
	t.Setenv("TZ", "Asia/Tokyo")
	path := write(t, "zip", c)
	second, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, first, second)

	z, err := zip.OpenReader(path)
	require.NoError(t, err)
	defer z.Close()
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		assert.Equal(t, zip.Store, f.Method)
		assert.Equal(t, "1980-01-01 00:00:00", f.Modified.Format("2006-01-02 15:04:05"))
		assert.Equal(t, fs.FileMode(0o600), f.Mode())
		assert.Zero(t, f.Flags&8, "sizes stand before the entry, for readers that cannot seek")
	}
	assert.True(t, sort.StringsAreSorted(names), "%v", names)
}

func TestZipTopFolder(t *testing.T) {
	for file, want := range map[string]string{"Year-2026.zip": "Year-2026/", "år.zip": "bag/", "archive": "archive/", ".zip": "bag/"} {
		assert.Equal(t, want, topFolder(filepath.Join("x", file)))
	}
}

func TestLargePayloadIsStreamed(t *testing.T) {
	const size = 64 << 20
	c := Contents{Payload: []Payload{Reader("large", func() (io.ReadCloser, error) {
		return io.NopCloser(io.LimitReader(zeros{}, size)), nil
	})}}
	n := testing.AllocsPerRun(1, func() {
		path := write(t, "zip", c)
		r, err := Verify(path)
		require.NoError(t, err)
		require.True(t, r.OK(), "%v", r.Problems)
		require.EqualValues(t, size, r.Bytes)
	})
	assert.Less(t, n, 20_000.0)
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// replaceable lets go of what Replaceable does.
func replaceable(old, _ string) error { _, _, err := Replaceable(old); return err }

func TestOnlyWhatABagListsIsReplaced(t *testing.T) {
	path := write(t, "folder", sample())
	_, err := WriteDir(path, nil, sample())
	require.ErrorIs(t, err, fs.ErrExist)

	smaller := Contents{Payload: []Payload{Bytes("events.ndjson", []byte("{}\n"))}}
	_, err = WriteDir(path, replaceable, smaller)
	require.NoError(t, err)
	assert.NotContains(t, contents(t, path), "data/empty")
	r, err := Verify(path)
	require.NoError(t, err)
	assert.True(t, r.OK(), "%v", r.Problems)

	require.NoError(t, os.WriteFile(filepath.Join(path, "letter.txt"), nil, 0o600))
	_, err = WriteDir(path, replaceable, smaller)
	require.ErrorContains(t, err, "letter.txt, which no manifest of it lists")
	assert.FileExists(t, filepath.Join(path, "letter.txt"))

	other := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(other, "data"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(other, "data", "letter.txt"), nil, 0o600))
	_, err = WriteDir(other, replaceable, smaller)
	require.ErrorContains(t, err, "is not a bag")
	assert.DirExists(t, filepath.Join(other, "data"))

	z := write(t, "zip", sample())
	_, err = WriteZip(z, nil, smaller)
	require.ErrorIs(t, err, fs.ErrExist)
	_, err = WriteZip(z, replaceable, smaller)
	require.NoError(t, err)
	r, err = Verify(z)
	require.NoError(t, err)
	assert.Equal(t, 1, r.Files)
}

func TestEveryAllowedBagVerifies(t *testing.T) {
	name := rapid.StringMatching(`[a-z0-9_][a-z0-9._-]{0,6}[a-z0-9_]`)
	rapid.Check(t, func(rt *rapid.T) {
		var c Contents
		seen := map[string]bool{}
		for i := range rapid.IntRange(0, 6).Draw(rt, "files") {
			n := fmt.Sprintf("d%d/", i%2) + name.Draw(rt, "name")
			if !seen[n] && refuseName(n) == "" {
				seen[n] = true
				c.Payload = append(c.Payload, Bytes(n, rapid.SliceOfN(rapid.Byte(), 0, 50).Draw(rt, "content")))
			}
		}
		for _, form := range forms {
			r, err := Verify(write(t, form, c))
			require.NoError(rt, err)
			require.True(rt, r.OK(), "%v", r.Problems)
			require.Equal(rt, len(c.Payload), r.Files)
		}
	})
}
