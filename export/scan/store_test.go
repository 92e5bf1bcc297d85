package scan

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func put(t *testing.T, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, content, 0o644))
	return path
}

func tree(t *testing.T, dir string) []string {
	t.Helper()
	found := []string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		rel, _ := filepath.Rel(dir, path)
		if err == nil && !e.IsDir() {
			found = append(found, filepath.ToSlash(rel))
		}
		return err
	}))
	return found
}

func TestStoreUnderItsDigest(t *testing.T) {
	for ext, file := range map[string][]byte{".jpg": asJPEG(t, quay(60, 40)), ".png": asPNG(t, quay(60, 40)), ".tif": asTIFF(t, quay(60, 40))} {
		t.Run(ext, func(t *testing.T) {
			dir := t.TempDir()
			src := put(t, "Scan 7.JPEG", file)
			sum := sha256.Sum256(file)
			digest := hex.EncodeToString(sum[:])
			want := "scans/" + digest[:2] + "/" + digest + ext

			s, err := Store(dir, src, false)
			require.NoError(t, err)
			assert.Equal(t, digest, s.Digest)
			assert.Equal(t, want, s.Path)
			assert.Equal(t, 60, s.Width)
			assert.False(t, s.ByReference)
			kept, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(want)))
			require.NoError(t, err)
			assert.Equal(t, file, kept)

			for path, perm := range map[string]fs.FileMode{"scans": 0o700, "scans/" + digest[:2]: 0o700, want: 0o600} {
				fi, err := os.Stat(filepath.Join(dir, path))
				require.NoError(t, err)
				assert.Equal(t, perm, fi.Mode().Perm(), path)
			}

			again, err := Store(dir, src, false)
			require.NoError(t, err)
			assert.True(t, s.Laid)
			assert.False(t, again.Laid, "a whole copy is left alone")
			s.Laid = false
			assert.Equal(t, s, again)
			assert.Equal(t, []string{want}, tree(t, dir))
		})
	}
}

func TestStoreRepairsADamagedCopyAndClearsLitter(t *testing.T) {
	dir := t.TempDir()
	src := put(t, "a.jpg", asJPEG(t, quay(60, 40)))
	s, err := Store(dir, src, false)
	require.NoError(t, err)
	path := filepath.Join(dir, filepath.FromSlash(s.Path))
	require.NoError(t, os.WriteFile(path, []byte("cut"), 0o600))
	litter := filepath.Join(dir, "scans", ".traybook-part-12")
	require.NoError(t, os.Mkdir(litter, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(litter, "new"), []byte("half"), 0o600))
	_, err = Store(dir, src, false)
	require.NoError(t, err)
	digest, err := DigestFile(path)
	require.NoError(t, err)
	assert.Equal(t, s.Digest, digest)
	assert.Equal(t, []string{s.Path}, tree(t, dir))
}

func TestStoreByReference(t *testing.T) {
	dir := t.TempDir()
	file := asJPEG(t, quay(60, 40))
	src := put(t, "a.jpg", file)
	t.Chdir(filepath.Dir(src))
	s, err := Store(dir, "a.jpg", true)
	require.NoError(t, err)
	assert.Equal(t, src, s.Path)
	assert.True(t, s.ByReference)
	sum := sha256.Sum256(file)
	assert.Equal(t, hex.EncodeToString(sum[:]), s.Digest)
	assert.Empty(t, tree(t, dir))
	assert.NoDirExists(t, filepath.Join(dir, "scans"))
}

func TestStoreRefused(t *testing.T) {
	folder := t.TempDir()
	nothing := put(t, "nothing.jpg", nil)
	good := put(t, "a.jpg", asJPEG(t, quay(60, 40)))
	for name, c := range map[string]struct{ dir, src, says string }{
		"missing":        {folder, filepath.Join(folder, "none.jpg"), "none.jpg: no such file"},
		"a folder":       {folder, folder, "is not a file"},
		"empty":          {folder, nothing, "nothing.jpg: the file is empty"},
		"no book folder": {filepath.Join(folder, "no"), good, "cannot make the folder"},
	} {
		for _, byReference := range []bool{false, true} {
			if byReference && name == "no book folder" {
				continue
			}
			t.Run(name, func(t *testing.T) {
				s, err := Store(c.dir, c.src, byReference)
				require.ErrorContains(t, err, c.says)
				assert.NotContains(t, err.Error(), "\n")
				assert.Zero(t, s)
				assert.Empty(t, tree(t, folder))
			})
		}
	}
	require.NoError(t, os.WriteFile(filepath.Join(folder, "scans"), nil, 0o600))
	_, err := Store(folder, good, false)
	require.Error(t, err)
	assert.Equal(t, []string{"scans"}, tree(t, folder))
}

// Any original is kept as it is; one whose sort its bytes do not tell keeps the ending of its name, where that is a plain word.
func TestStoreKeepsAnything(t *testing.T) {
	for name, c := range map[string]struct {
		file []byte
		ends string
	}{
		"a.RAW": {[]byte("RAWFILE 0201\x00\x01\x02\x03"), ".raw"}, "b.raf": {reduced(t), ".raf"}, "c.tiff": {separated(t), ".tiff"}, "d.heic": {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00"), ".heic"},
		"e.bin": {asJPEG(t, quay(60, 40)), ".jpg"}, "f.jpeg": {asJPEG(t, quay(60, 40))[:300], ".jpg"}, "g": {[]byte("\xff\x00"), ""}, "h.no word": {[]byte("\xff\x00"), ""}, "i.tiff": {asTIFF(t, quay(60, 40)), ".tif"},
	} {
		dir := t.TempDir()
		s, err := Store(dir, put(t, name, c.file), false)
		require.NoError(t, err, name)
		assert.Equal(t, c.ends, filepath.Ext(s.Path), name)
		assert.Equal(t, s.Path, PathOf(s.Digest, s.Info), name)
		kept, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(s.Path)))
		require.NoError(t, err)
		assert.Equal(t, c.file, kept, name)
	}
	assert.Equal(t, "scans/ab/abc", PathOf("abc", Info{MediaType: "application/octet-stream", Ending: "../x"}), "no ending leads out of the folder")
}

func TestStoreNoticesAChange(t *testing.T) {
	src := put(t, "a.jpg", asJPEG(t, quay(60, 40)))
	f, err := os.Open(src)
	require.NoError(t, err)
	defer f.Close()
	s := Stored{Info: Info{Size: 7}}
	_, err = s.copy(&bytes.Buffer{}, f, src)
	require.ErrorIs(t, err, errChanged)
	require.NoError(t, f.Close())
	_, err = s.copy(&bytes.Buffer{}, f, src)
	require.ErrorContains(t, err, "cannot read "+src)
}

func TestDigestFileOfNothing(t *testing.T) {
	_, err := DigestFile(filepath.Join(t.TempDir(), "none"))
	require.ErrorIs(t, err, fs.ErrNotExist)
}

// BenchmarkAttach is all that a first attach does with a picture of twelve
// megapixels: kept, decoded, made small. Hold it against grey/decode.
func BenchmarkAttach(b *testing.B) {
	file := twelve(b, false)
	src := filepath.Join(b.TempDir(), "a.jpg")
	require.NoError(b, os.WriteFile(src, file, 0o600))
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		b.StopTimer()
		dir := b.TempDir()
		b.StartTimer()
		s, err := Store(dir, src, false)
		require.NoError(b, err)
		img, _, err := Decode(bytes.NewReader(file), int64(len(file)))
		require.NoError(b, err)
		_, err = Thumbnail(img, s.Orientation)
		require.NoError(b, err)
	}
}
