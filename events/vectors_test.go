package events

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const vectorFolder = "../testdata/vectors"

var freeze = flag.Bool("freeze", false, "freeze the first plain line of a kind that has no whole line yet")

// vectors reads the frozen lines: by file name, whole lines first.
func vectors(t testing.TB) map[string][][]byte {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(vectorFolder, "*.ndjson"))
	require.NoError(t, err)
	out := map[string][][]byte{}
	for _, f := range files {
		raw, err := os.ReadFile(f)
		require.NoError(t, err)
		s := bufio.NewScanner(bytes.NewReader(raw))
		for s.Scan() {
			out[filepath.Base(f)] = append(out[filepath.Base(f)], []byte(s.Text()))
		}
	}
	return out
}

// kindOf takes the name of a vector file apart.
func kindOf(file string) (kind, version string) {
	name := strings.TrimSuffix(file, ".ndjson")
	cut := strings.LastIndex(name, ".v")
	return name[:cut], name[cut+2:]
}

// vector is the frozen whole line of a kind, parsed.
func vector(t testing.TB, k Kind) Line {
	t.Helper()
	lines := vectors(t)[string(k)+".v1.ndjson"]
	require.NotEmpty(t, lines, "%s has no frozen line: write testdata/vectors/%s.v1.ndjson, a whole line first", k, k)
	l, err := ParseLine(lines[0])
	require.NoError(t, err)
	return l
}

// handHash computes the hash of a whole line as ten lines in any language would.
func handHash(t testing.TB, line []byte) string {
	t.Helper()
	cut := bytes.LastIndex(line, []byte(`,"prev"`))
	require.Positive(t, cut)
	stored := string(line[:cut]) + "}"
	prev := string(line[cut+len(`,"prev":"`):][:64])
	sum := sha256.Sum256([]byte("traybook-entry-1\n" + prev + "\n" + stored))
	return hex.EncodeToString(sum[:])
}

func TestEveryKindHasAFrozenLine(t *testing.T) {
	all := vectors(t)
	for _, k := range Kinds {
		for v := 1; v <= Version; v++ {
			lines := all[string(k)+".v1.ndjson"]
			require.NotEmpty(t, lines, "%s has no frozen line: write testdata/vectors/%s.v1.ndjson, a plain line with every field and one with as few as may be; "+
				"go test ./events -run EveryKindHasAFrozenLine -freeze puts the whole line before them", k, k)
			if first, err := ParseLine(lines[0]); *freeze && err == nil && !first.Whole {
				require.Equal(t, Kinds[len(Kinds)-1], k, "a new kind goes last in dataTypes: the frozen lines are one chain")
				freezeLine(t, k, first.Entry, lines)
				continue
			}
			require.GreaterOrEqual(t, len(lines), 2, "%s has no frozen whole line with plain ones after it: testdata/vectors/%s.v1.ndjson", k, k)
		}
	}
}

// freezeLine seals an entry behind the last frozen one and writes it before the plain lines of its kind.
func freezeLine(t *testing.T, k Kind, e Entry, plain [][]byte) {
	last := vector(t, Kinds[len(Kinds)-2])
	id, err := MadeID(k, e.At, e.Data)
	require.NoError(t, err)
	e.ID, e.Book, e.BookSeq, e.V = id, last.Book, last.BookSeq+1, Version
	e.RecordedAt = last.RecordedAt.Add(time.Minute)
	require.NoError(t, e.Seal(last.Hash))
	lines := append([][]byte{e.AppendLine(nil)}, plain...)
	require.NoError(t, os.WriteFile(filepath.Join(vectorFolder, string(k)+".v1.ndjson"), append(bytes.Join(lines, []byte("\n")), '\n'), 0o644))
}

// A kind that a book somewhere holds may never be forgotten.
func TestKindsNeverShrink(t *testing.T) {
	known := map[string]bool{}
	for _, k := range Kinds {
		assert.False(t, known[string(k)], "%s stands twice in the list", k)
		known[string(k)] = true
		d, ok := New(k)
		require.True(t, ok)
		assert.Equal(t, k, d.Kind())
	}
	assert.Len(t, typeOf, len(Kinds))
	for file := range vectors(t) {
		kind, version := kindOf(file)
		assert.True(t, known[kind], "%s was released and is no longer known", kind)
		assert.Equal(t, "1", version)
	}
}

func TestFrozenLinesStayReadable(t *testing.T) {
	for file, lines := range vectors(t) {
		t.Run(file, func(t *testing.T) {
			kind, _ := kindOf(file)
			shown := map[string]bool{}
			for i, raw := range lines {
				l, err := ParseLine(raw)
				require.NoError(t, err)
				assert.Equal(t, kind, string(l.Kind))
				assert.Equal(t, i == 0, l.Whole)
				for _, f := range Fields(l.Kind) {
					_, there := f.Value(l.Data)
					shown[f.Name] = shown[f.Name] || there
				}
				if !l.Whole {
					continue
				}
				assert.Equal(t, handHash(t, raw), l.Hash.String())
				assert.Equal(t, string(raw), string(l.AppendLine(nil)), "a whole line is kept byte for byte")
				require.NoError(t, Validate(l.Data))
				back, err := Decode(l.Stored)
				require.NoError(t, err)
				back.Prev, back.Hash = l.Prev, l.Hash
				assert.Equal(t, l.Entry, back)
			}
			for _, f := range Fields(Kind(kind)) { // one that came later stands in a plain line
				assert.True(t, shown[f.Name] || slices.Contains([]string{"ev", "lux", "cd_m2", "batch"}, f.Name), "no frozen line shows the field %s", f.Name)
			}
		})
	}
}

// The frozen whole lines, in the order of the kinds, are one chain.
func TestFrozenLinesAreOneChain(t *testing.T) {
	var prev Hash
	for i, k := range Kinds {
		l := vector(t, k)
		assert.Equal(t, prev, l.Prev, "%s", k)
		assert.EqualValues(t, i+1, l.BookSeq)
		assert.Equal(t, l.Hash, HashOf(l.Prev, l.Stored))
		prev = l.Hash
	}
}

// Sealing a frozen entry's parts again gives its bytes: the encoder has not moved.
func TestSealGivesTheFrozenBytes(t *testing.T) {
	for _, k := range Kinds {
		l := vector(t, k)
		e := l.Entry
		e.Stored, e.Hash, e.Prev = nil, Hash{}, Hash{}
		require.NoError(t, e.Seal(l.Prev))
		assert.Equal(t, string(l.Stored), string(e.Stored))
		assert.Equal(t, l.Hash, e.Hash)
		assert.True(t, json.Valid(e.Stored))
	}
}
