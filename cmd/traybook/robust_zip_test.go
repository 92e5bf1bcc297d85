package main

import (
	"archive/zip"
	"bytes"
	"hash/crc32"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// zipThatClaims is a zip of a few bytes whose list says that its file is of another size.
func zipThatClaims(t *testing.T, packed, unpacked uint64) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.CreateRaw(&zip.FileHeader{Name: "skerrow/data/events.ndjson", Method: zip.Store, CRC32: crc32.ChecksumIEEE([]byte("{}")),
		CompressedSize64: packed, UncompressedSize64: unpacked})
	require.NoError(t, err)
	_, err = w.Write([]byte("{}"))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return b.Bytes()
}

// Whatever a file claims of its size, and however much of it is a hole, a command that is given it ends, with a line.
func TestFilesOfClaimedSizesEndWithALine(t *testing.T) {
	t.Parallel()
	eventstest.Within(t)
	book := caseBook(t, "good-picture")
	dir := t.TempDir()
	for name, f := range map[string]struct {
		bytes []byte
		size  int64 // of the file, the rest a hole; 0 = as the bytes are
	}{
		"claims-much.zip":        {zipThatClaims(t, 1<<62, 1<<62), 0},
		"claims-a-bomb.zip":      {zipThatClaims(t, 2, 1<<50), 0},
		"claims-negative.zip":    {zipThatClaims(t, 1<<63, 1<<63), 0},
		"claims-a-little.zip":    {zipThatClaims(t, 1<<33, 1<<33), 0},
		"a-hole-behind.zip":      {zipThatClaims(t, 2, 2), 1 << 40},
		"a-hole.zip":             {[]byte("PK\x03\x04"), 1 << 40},
		"a-hole-of-lines.ndjson": {[]byte("{\"kind\""), 1 << 40},
	} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, f.bytes, 0o600))
		if f.size > 0 {
			if err := os.Truncate(path, f.size); err != nil {
				passedOver(t, "a file of a terabyte: "+err.Error())
				continue
			}
		}
		for _, args := range [][]string{{"verify", path}, {"import", path}} {
			code, out, errs := obeyed(t, book, args...)
			assert.Contains(t, []int{codeRefused, codeUsage, codeDamaged}, code, "%q: %s%s", args, out, errs)
			assert.NotEmpty(t, out+errs, "%q", args)
			assert.NotContains(t, out+errs, "internal error", "%q", args)
		}
	}
}
