package main

import (
	"archive/zip"
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A hash is asked for in one way, of a book and of an archive.
func TestAHeadIsAskedForInOneWay(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	folder := archived(t, book)
	_, out, _ := obeyed(t, book, "verify", "--json")
	var told verifiedJSON
	require.NoError(t, json.Unmarshal([]byte(out), &told), out)
	for _, of := range [][]string{{"verify"}, {"verify", folder}} {
		for head, want := range map[string]int{*told.Head: codeDone, strings.ToUpper(*told.Head): codeDone, strings.Repeat("5", 64): codeDamaged,
			"": codeUsage, "5f0c": codeUsage, strings.Repeat("0", 64): codeDamaged} {
			code, _, errs := obeyed(t, book, append(of, "--head="+head)...)
			assert.Equal(t, want, code, "%q --head=%s: %s", of, head, errs)
		}
	}
}

// What is not there is the archive or something else, and only the first is told as such.
func TestWhatVerifyOfAnArchiveLacksIsTold(t *testing.T) {
	book := shortBook(t)
	folder := archived(t, book)
	code, _, errs := obeyed(t, book, "verify", folder+"-2")
	assert.Equal(t, codeRefused, code)
	assert.Contains(t, errs, "there is no archive at "+folder+"-2")
	nowhere := filepath.Join(t.TempDir(), "nowhere")
	t.Setenv("TMPDIR", nowhere)
	code, out, errs := obeyed(t, book, "verify", folder)
	assert.NotEqual(t, codeDone, code)
	assert.NotContains(t, errs, "there is no archive")
	assert.Contains(t, out+errs, "the copy of the book cannot be looked at")
}

// Of a zip that was cut off the cut is told, not all that is not there any more.
func TestACutZipIsToldAsThat(t *testing.T) {
	t.Parallel()
	packed := archived(t, shortBook(t), "--zip")
	raw, err := os.ReadFile(packed)
	require.NoError(t, err)
	cut := filepath.Join(t.TempDir(), "cut.zip")
	for _, share := range []float64{0.02, 0.1, 0.35, 0.6, 0.9, 0.97} {
		require.NoError(t, os.WriteFile(cut, raw[:int(float64(len(raw))*share)], 0o600))
		code, got := judged(t, cut)
		require.Equal(t, codeDamaged, code, share)
		require.NotEmpty(t, got.Problems)
		assert.LessOrEqual(t, len(got.Problems), 2, "%v: %v", share, got.Problems)
		assert.Equal(t, "cut-off", got.Problems[0].Kind, share)
		assert.Contains(t, got.Problems[0].Text, "copy it again from where it is whole")
	}
	// Its list alone is lost: every file in it is judged.
	require.NoError(t, os.WriteFile(cut, raw[:len(raw)-10], 0o600))
	code, got := judged(t, cut)
	assert.Equal(t, codeDamaged, code)
	require.Len(t, got.Problems, 1)
	assert.Equal(t, "unreadable", got.Problems[0].Kind)
	assert.Positive(t, got.Events)
}

// No command mends a book inside an archive, and none is advised.
func TestNothingIsAdvisedForABookInAnArchive(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	folder := archived(t, book)
	copied := filepath.Join(folder, "data", "book.db")
	spoilt.Store(copied, true)
	b, err := sql.Open("sqlite3", copied)
	require.NoError(t, err)
	_, err = b.Exec("DELETE FROM view")
	require.NoError(t, err)
	require.NoError(t, b.Close())
	_, got := judged(t, folder)
	said := 0
	for _, p := range got.Problems {
		if p.Kind == "book" {
			said++
			assert.NotContains(t, p.Text, "traybook rebuild")
		}
	}
	assert.Positive(t, said, "%v", got.Problems)
}

// judged is what verify says of an archive, in the form for scripts.
func judged(t testing.TB, path string) (code int, told verifiedJSON) {
	t.Helper()
	code, out, errs := obeyed(t, "", "verify", path, "--json")
	require.Empty(t, errs)
	require.NoError(t, json.Unmarshal([]byte(out), &told), out)
	require.Equal(t, told.OK, code == 0)
	return code, told
}

// One damage, in a folder and in a zip: the zip is not put aside as unreadable, but judged to its end, with all that the
// folder's report says, and exit 3.
func TestADamagedZipIsJudgedLikeADamagedFolder(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	folder, packed := archived(t, book), archived(t, book, "--zip")
	raw, err := os.ReadFile(packed)
	require.NoError(t, err)
	z, err := zip.OpenReader(packed)
	require.NoError(t, err)
	defer z.Close()
	damaged := filepath.Join(t.TempDir(), filepath.Base(packed))
	tried := 0
	for _, f := range z.File {
		name := strings.TrimPrefix(f.Name, "skerrow/")
		from, err := f.DataOffset()
		require.NoError(t, err)
		places := []int64{0, int64(f.UncompressedSize64) / 2, int64(f.UncompressedSize64) - 1}
		if os.Getenv("TRAYBOOK_LONG") != "1" {
			places = places[1:2]
		}
		for _, at := range places {
			file := filepath.Join(folder, filepath.FromSlash(name))
			whole, err := os.ReadFile(file)
			require.NoError(t, err)
			other := append([]byte{}, whole...)
			other[at] ^= 1
			require.NoError(t, os.WriteFile(file, other, 0o600))
			raw[from+at] ^= 1
			require.NoError(t, os.WriteFile(damaged, raw, 0o600))
			code, wants := judged(t, folder)
			require.Equal(t, codeDamaged, code, name)
			code, got := judged(t, damaged)
			assert.Equal(t, codeDamaged, code, name)
			assert.Subset(t, got.Problems, wants.Problems, name)
			assert.Equal(t, wants.Events, got.Events, name)
			require.NoError(t, os.WriteFile(file, whole, 0o600))
			raw[from+at] ^= 1
			tried++
		}
	}
	t.Logf("%d damages, each told of the zip as of the folder", tried)
}

// Bits flipped all over a zip, its headers and its directory included, and the zip cut at many lengths: always a whole
// report, and never another code than that of damage, or none where the bit is one that nobody reads.
func TestAnyBitOfAZipAndAnyCut(t *testing.T) {
	t.Parallel()
	packed := archived(t, caseBook(t, "good-picture"), "--zip")
	raw, err := os.ReadFile(packed)
	require.NoError(t, err)
	damaged := filepath.Join(t.TempDir(), filepath.Base(packed))
	n := rounds(t, 40, 1500)
	unread := 0
	for i := range n {
		at := (i*len(raw) + len(raw)/2) / n
		raw[at] ^= 1 << (i % 8)
		require.NoError(t, os.WriteFile(damaged, raw, 0o600))
		raw[at] ^= 1 << (i % 8)
		if code, _ := judged(t, damaged); code == 0 {
			unread++
			continue
		}
		code, told := judged(t, damaged)
		require.Equal(t, codeDamaged, code, "bit %d of byte %d", i%8, at)
		require.NotEmpty(t, told.Problems)
	}
	require.Less(t, unread, n/20, "only what nobody reads goes unseen")
	for i := range n / 4 {
		require.NoError(t, os.WriteFile(damaged, raw[:i*len(raw)/(n/4)], 0o600))
		code, _ := judged(t, damaged)
		require.Equal(t, codeDamaged, code, "cut at %d of %d", i, n/4)
	}
	// The directory lies at the end: each of its bytes.
	directory := strings.Index(string(raw), "PK\x01\x02")
	for at := directory; at < len(raw); at += max(1, (len(raw)-directory)/n) {
		raw[at] ^= 0x10
		require.NoError(t, os.WriteFile(damaged, raw, 0o600))
		raw[at] ^= 0x10
		code, told := judged(t, damaged)
		if code != 0 {
			require.Equal(t, codeDamaged, code, "byte %d", at)
			require.NotEmpty(t, told.Problems)
		}
	}
	t.Logf("%d bits, %d of them where nobody reads, %d cuts, the directory", n, unread, n/4)
}
