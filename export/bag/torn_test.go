package bag

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A zip without its list is looked through header by header: each entry is taken in, passed over or named by what its own
// header says, and the next is found behind it.
func TestAZipWithoutItsListIsLookedThrough(t *testing.T) {
	type entry struct {
		name, text string
		method     uint16
	}
	var inner bytes.Buffer
	z := zip.NewWriter(&inner)
	_, err := z.CreateHeader(&zip.FileHeader{Name: "bag/inner", Method: zip.Store})
	require.NoError(t, err)
	require.NoError(t, z.Close())
	inside := inner.String()[:bytes.Index(inner.Bytes(), []byte("PK\x01\x02"))]
	const first, last = "bag/bagit.txt", "bag/data/events.ndjson"
	for _, c := range []struct {
		name  string
		other entry
		there map[string]int64 // besides the first and the last
		says  []string
	}{
		{"a file", entry{"bag/data/book.db", "a book", zip.Store}, map[string]int64{"data/book.db": 6}, nil},
		{"a file that holds the beginning of a header", entry{"bag/data/book.db", "PK\x03", zip.Store}, map[string]int64{"data/book.db": 3}, nil},
		{"a file that holds a zip", entry{"bag/data/book.zip", inside, zip.Store}, map[string]int64{"data/book.zip": int64(len(inside))}, nil},
		{"a folder", entry{"bag/data/", "", zip.Store}, nil, nil},
		{"the folder itself", entry{"bag/", "", zip.Store}, nil, nil},
		{"a path that leads out", entry{"bag/../letter", "x", zip.Store}, nil, []string{"unsafe-path: bag/../letter: the path leads out of the bag by '..'"}},
		{"one outside the folder", entry{"letter", "x", zip.Store}, nil, []string{"layout: letter: the zip must hold one folder with everything in it; this stands outside"}},
		{"a packed one", entry{"bag/data/log.pdf", "xxxx", zip.Deflate}, nil, []string{"unreadable: data/log.pdf: the zip's list of its files is needed to read it, and is damaged or cut off"}},
		{"one named twice", entry{first, "again", zip.Store}, nil, []string{"doubled: bagit.txt: the zip holds this name twice; which one is read depends on the program"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			z := zip.NewWriter(&b)
			for _, e := range []entry{{first, "BagIt", zip.Store}, c.other, {last, "{}\n", zip.Store}} {
				h := &zip.FileHeader{Name: e.name, Method: e.method, CompressedSize64: uint64(len(e.text)), UncompressedSize64: uint64(len(e.text)), ReaderVersion: 20}
				w, err := z.CreateRaw(h)
				require.NoError(t, err)
				if e.text != "" {
					_, err = io.WriteString(w, e.text)
					require.NoError(t, err)
				}
			}
			require.NoError(t, z.Close())
			listed := bytes.Index(b.Bytes(), []byte("PK\x01\x02"))
			bag, err := Open(layBytes(t, b.Bytes()[:listed+9])) // the list is there, and cut off
			require.NoError(t, err)
			defer bag.Close()
			assert.True(t, bag.Looks())
			want := map[string]int64{"bagit.txt": 5, "data/events.ndjson": 3}
			for name, size := range c.there {
				want[name] = size
			}
			assert.Equal(t, want, bag.size)
			text := func(name string) string {
				f, err := bag.Open(name)
				require.NoError(t, err)
				defer f.Close()
				raw, err := io.ReadAll(f)
				require.NoError(t, err)
				return string(raw)
			}
			assert.Equal(t, []string{"BagIt", "{}\n"}, []string{text("bagit.txt"), text("data/events.ndjson")})
			said := c.says
			said = append(said, "unreadable: year-2026.zip: the zip's list of its files is damaged or cut off; what stands in it was looked for without the list")
			var got []string
			for _, p := range bag.found.Problems {
				got = append(got, p.String())
			}
			assert.Equal(t, said, got)
		})
	}
}

// A file is taken for a zip by its name or by how it begins, and for a bag by what it holds.
func TestWhatIsTakenForAZipAndForABag(t *testing.T) {
	zipOf := func(names ...string) string {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, name := range names {
			_, err := z.Create(name)
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		return b.String()
	}
	for _, c := range []struct {
		name, text string
		looks      bool
		says       string // of the first problem
	}{
		{"letter.txt", "Dear Ane", false, "this is no zip file"},
		{"letter.txt", "", false, "this is no zip file"},
		{"letter.txt", "P", false, "this is no zip file"},
		{"letter.txt", "PK and more", true, "the zip is cut off; 0 files can be found in it"},
		{"bag.ZIP", "Dear Ane", true, "the zip is cut off; 0 files can be found in it"},
		{"bag.zip", zipOf("other/letter"), false, ""},
		{"bag.zip", zipOf("bagit.txt"), true, ""},
		{"bag.zip", zipOf("one/letter", "two/manifest-sha256.txt"), true, ""},
		{"bag.zip", zipOf("one/letter", "two/tagmanifest-md5.txt"), true, ""},
		{"bag.zip", zipOf("one/letter", "two/manifest-sha256.csv", "three/a-manifest.txt"), false, ""},
		{"bag.zip", zipOf("one/bag-info.txt"), true, ""},
	} {
		path := filepath.Join(t.TempDir(), c.name)
		require.NoError(t, os.WriteFile(path, []byte(c.text), 0o600))
		b, err := Open(path)
		require.NoError(t, err)
		assert.Equal(t, c.looks, b.Looks(), "%s %q", c.name, c.text)
		if c.says != "" && assert.NotEmpty(t, b.found.Problems) {
			assert.Contains(t, b.found.Problems[0].String(), c.says, "%s %q", c.name, c.text)
		}
		require.NoError(t, b.Close())
	}
}

// What is there is let go for another bag only where it lost some of its files and no more.
func TestWhichDamageMayBeReplaced(t *testing.T) {
	whole := contents(t, write(t, "folder", sample()))
	for _, c := range []struct {
		name   string
		damage func(map[string][]byte)
		says   string // "" for yes
	}{
		{"none", func(map[string][]byte) {}, ""},
		{"a file gone", drop("data/events.ndjson"), ""},
		{"a file changed", edit("data/events.ndjson", "{}", "[]"), " holds data/events.ndjson, which is not as it was written: move it away, or name another place"},
		{"a file more", add("data/letter.txt", "x"), " holds data/letter.txt, which no manifest of it lists: move it away, or name another place"},
		{"no declaration to read", func(f map[string][]byte) { f["bagit.txt"] = []byte("a letter\n"); reseal(f) }, " is no whole archive ("},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := map[string][]byte{}
			for name, text := range whole {
				files[name] = text
			}
			c.damage(files)
			path := lay(t, "folder", files)
			_, empty, err := Replaceable(path)
			assert.False(t, empty)
			if c.says == "" {
				assert.NoError(t, err)
			} else if assert.Error(t, err) {
				assert.True(t, strings.HasPrefix(err.Error(), path+c.says), err)
			}
		})
	}
	path := lay(t, "folder", whole)
	require.NoError(t, os.Mkdir(filepath.Join(path, "data", "drawer"), 0o700))
	_, _, err := Replaceable(path)
	assert.EqualError(t, err, path+" holds the empty folder data/drawer, which no archive has: move it away, or name another place")
	_, empty, err := Replaceable(t.TempDir())
	require.NoError(t, err)
	assert.True(t, empty)
	_, _, err = Replaceable(filepath.Join(t.TempDir(), "none"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}
