package bag

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// addTo puts one more raw entry behind those of a good bag.
func addTo(t testing.TB, h *zip.FileHeader, content string) string {
	t.Helper()
	path := write(t, "zip", sample())
	src, err := zip.OpenReader(path)
	require.NoError(t, err)
	defer src.Close()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range src.File {
		require.NoError(t, z.Copy(f))
	}
	h.ReaderVersion = 20
	w, err := z.CreateRaw(h)
	require.NoError(t, err)
	if !strings.HasSuffix(h.Name, "/") {
		_, err = w.Write([]byte(content))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return layBytes(t, b.Bytes())
}

func layBytes(t testing.TB, b []byte) string {
	path := filepath.Join(t.TempDir(), "year-2026.zip")
	require.NoError(t, os.WriteFile(path, b, 0o600))
	return path
}

func TestHostileEntries(t *testing.T) {
	const top = "year-2026/"
	link := &zip.FileHeader{Name: top + "data/link"}
	link.SetMode(fs.ModeSymlink | 0o777)
	for name, c := range map[string]struct {
		header *zip.FileHeader
		want   string
	}{
		"up and out":        {&zip.FileHeader{Name: top + "../evil"}, "unsafe-path: year-2026/../evil: the path leads out"},
		"absolute":          {&zip.FileHeader{Name: "/evil"}, "unsafe-path: /evil: the path begins at the root"},
		"home":              {&zip.FileHeader{Name: "~/evil"}, "unsafe-path: ~/evil"},
		"backslash":         {&zip.FileHeader{Name: top + `data\evil`}, `unsafe-path: year-2026/data\evil`},
		"folder up":         {&zip.FileHeader{Name: top + "../evil/"}, "unsafe-path: year-2026/../evil/"},
		"beside":            {&zip.FileHeader{Name: "evil"}, "layout: evil: the zip must hold one folder"},
		"other folder":      {&zip.FileHeader{Name: "evil/data"}, "layout: year-2026/: the zip must hold one folder with everything in it; this is another"},
		"link":              {link, "not-a-file: data/link: a bag holds plain files only; this is a link"},
		"encrypted":         {&zip.FileHeader{Name: top + "data/x", Flags: 1}, "unreadable: data/x: the entry is encrypted"},
		"unknown method":    {&zip.FileHeader{Name: top + "data/x", Method: 99}, "unreadable: data/x: the entry is packed by method 99"},
		"bomb by ratio":     {&zip.FileHeader{Name: top + "data/x", Method: zip.Deflate, UncompressedSize64: 1 << 30, CompressedSize64: 1 << 20}, "too-large: data/x: the entry would grow"},
		"bomb by size":      {&zip.FileHeader{Name: top + "data/x", UncompressedSize64: MaxFile + 1, CompressedSize64: MaxFile + 1}, "too-large: data/x: the zip declares"},
		"twice":             {&zip.FileHeader{Name: top + "bagit.txt"}, "doubled: bagit.txt: the zip holds this name twice"},
		"size of a lie":     {&zip.FileHeader{Name: top + "data/x", UncompressedSize64: 7, CompressedSize64: 3}, "unreadable: data/x: it cannot be read to its end"},
		"checksum of a lie": {&zip.FileHeader{Name: top + "data/x", UncompressedSize64: 3, CompressedSize64: 3, CRC32: 1}, "changed: data/x: its content does not have the sum that the zip gives"},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Verify(addTo(t, c.header, "xyz"))
			require.NoError(t, err)
			var got []string
			for _, p := range r.Problems {
				got = append(got, p.String())
			}
			found := false
			for _, g := range got {
				found = found || strings.HasPrefix(g, c.want)
			}
			assert.True(t, found, "%q\n  want %q", got, c.want)
		})
	}
}

func TestFolderEntriesAreNoFiles(t *testing.T) {
	r, err := Verify(addTo(t, &zip.FileHeader{Name: "year-2026/data/"}, ""))
	require.NoError(t, err)
	assert.True(t, r.OK(), "%v", r.Problems)
}

// Two entries of the directory that point at one place: each is small, all
// together they are without end.
func TestOverlappingEntries(t *testing.T) {
	path := write(t, "zip", sample())
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	central := bytes.Index(b, []byte("PK\x01\x02"))
	next := central + bytes.Index(b[central+1:], []byte("PK\x01\x02")) + 1
	copy(b[next+42:next+46], b[central+42:central+46]) // the second entry's place becomes the first's
	r, err := Verify(layBytes(t, b))
	require.NoError(t, err)
	assert.Contains(t, kinds(r), "too-large bagit.txt")
}

func TestEntryThatPointsNowhere(t *testing.T) {
	b, err := os.ReadFile(write(t, "zip", sample()))
	require.NoError(t, err)
	central := bytes.Index(b, []byte("PK\x01\x02"))
	binary.LittleEndian.PutUint32(b[central+42:], 12345)
	r, err := Verify(layBytes(t, b))
	require.NoError(t, err)
	assert.Contains(t, kinds(r), "unreadable bag-info.txt")
}

func kinds(r Report) []string {
	var list []string
	for _, p := range r.Problems {
		list = append(list, string(p.Kind)+" "+p.Name)
	}
	return list
}

// A zip that is cut off is looked at as far as it goes: what stands before the cut is there, the cut is named, and the file
// that it goes through. What lies behind it is not.
func TestCutAndEmptyZips(t *testing.T) {
	whole, err := os.ReadFile(write(t, "zip", sample()))
	require.NoError(t, err)
	directory := bytes.Index(whole, []byte("PK\x01\x02"))
	all := sortedKeys(lookedAt(t, whole))
	for n := 0; n < len(whole); n += 331 {
		r, err := Verify(layBytes(t, whole[:n]))
		require.NoError(t, err)
		if n < directory {
			require.True(t, r.CutOff, "cut at %d", n)
			require.Contains(t, kinds(r), "cut-off year-2026.zip", "cut at %d", n)
			require.LessOrEqual(t, len(r.Problems), 2, "cut at %d", n)
		} else {
			require.Contains(t, kinds(r), "unreadable year-2026.zip", "cut at %d", n)
		}
		there := lookedAt(t, whole[:n])
		missing := 0
		for _, name := range all {
			at := bytes.Index(whole, []byte("year-2026/"+name))
			_, ok := there[name]
			require.Equal(t, at+len("year-2026/"+name) <= n, ok, "%s, cut at %d", name, n)
			if !ok {
				missing++
			}
		}
		if n >= directory {
			require.Len(t, r.Problems, 1, "cut at %d: every file is there", n)
		}
		require.Equal(t, missing == 0, len(there) == len(all))
	}
	var empty bytes.Buffer
	require.NoError(t, zip.NewWriter(&empty).Close())
	r, err := Verify(layBytes(t, empty.Bytes()))
	require.NoError(t, err)
	assert.Equal(t, []string{"layout zip"}, kinds(r))
}

// lookedAt gives the files that are found in a zip, and their sizes.
func lookedAt(t testing.TB, zip []byte) map[string]int64 {
	t.Helper()
	b, err := Open(layBytes(t, zip))
	require.NoError(t, err)
	defer b.Close()
	return b.size
}

func TestTooManyEntries(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for range MaxEntries + 1 {
		_, err := z.CreateRaw(&zip.FileHeader{Name: "a/b"})
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	r, err := Verify(layBytes(t, b.Bytes()))
	require.NoError(t, err)
	assert.Equal(t, []string{"too-large zip"}, kinds(r))
}

// A flipped bit in a zip is found, or was in a place that carries
// nothing of the bag (a time, a name of the maker's system).
func TestFlippedBitsAreFound(t *testing.T) {
	c := sample()
	c.Payload = c.Payload[1:]
	whole, err := os.ReadFile(write(t, "zip", c))
	require.NoError(t, err)
	missed := 0
	for i := 0; i < len(whole); i += 3 {
		b := bytes.Clone(whole)
		b[i] ^= 1 << (i % 8)
		path := layBytes(t, b)
		r, err := Verify(path)
		require.NoError(t, err)
		if r.OK() {
			missed++
			assert.Equal(t, contents(t, layBytes(t, whole)), contents(t, path), "byte %d", i)
		}
	}
	assert.Less(t, missed, len(whole)/6, "at most half of those tried")
}

func FuzzManifest(f *testing.F) {
	for _, s := range []string{
		"", "\n", "\r", "\r\n", "\ufeff", "%", "a  b",
		strings.Repeat("0", 64) + "  data/a\n" + strings.Repeat("F", 64) + "\t*data/b%25%0a\r\n",
		strings.Repeat("0", 64) + "  data/../a", strings.Repeat("0", 64) + "  ~a", strings.Repeat("a", 70000),
		"Label: value\n  more\nPayload-Oxum: 1.1\n", " lost", "no colon",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		var r Report
		lines, _ := readManifest(bytes.NewReader(b), "m", 32, &r)
		for _, l := range lines {
			require.Len(t, l.digest, 64)
			require.Empty(t, refusePath(l.path))
			require.False(t, strings.HasPrefix(l.path, "/") || strings.HasPrefix(l.path, "~") || strings.Contains("/"+l.path+"/", "/../"))
		}
		for _, p := range append(r.Problems, r.Notes...) {
			require.NotContains(t, p.String(), "\x1b")
			require.NotContains(t, p.String(), "\n")
		}
		_ = readInfo(bytes.NewReader(b), &r)
		require.LessOrEqual(t, len(r.Info), 1+bytes.Count(b, []byte("\n"))+bytes.Count(b, []byte("\r")))
	})
}

func FuzzZip(f *testing.F) {
	whole, err := os.ReadFile(write(f, "zip", Contents{Payload: []Payload{Bytes("a", []byte("x"))}}))
	require.NoError(f, err)
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, b []byte) {
		path := layBytes(t, b)
		r, err := Verify(path)
		require.NoError(t, err)
		if r.OK() {
			// Whatever is called whole has all its payload listed and right.
			files, err := Open(path)
			require.NoError(t, err)
			defer files.Close()
			for _, name := range files.Names() {
				require.Empty(t, refusePath(name))
			}
		}
	})
}
