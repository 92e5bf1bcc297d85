package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/life"
	"traybook/events/trial"
)

// lopsided are the shapes that the benchmark tries unless TRAYBOOK_LONG asks for all.
var lopsided = []string{"bath", "boxes", "notes", "prints", "session", "voids-chained"}

// BenchmarkLopsided runs the program on books that lean to one side, and tells the seconds of the processor that each run
// took: of a book of n entries, and of a copy of it that went on with one note.
func BenchmarkLopsided(b *testing.B) {
	program := filepath.Join(b.TempDir(), "traybook")
	build(b, program, ".")
	for _, s := range life.Shapes {
		if os.Getenv("TRAYBOOK_LONG") == "" && !slices.Contains(lopsided, s.Name) {
			continue
		}
		for _, n := range []int{2500, 5000, 10_000, 20_000} {
			lopsidedWorks(b, program, s, n)
		}
	}
}

func lopsidedWorks(b *testing.B, program string, s life.Shape, n int) {
	dir := b.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	f, err := os.Create(in("lines.ndjson"))
	require.NoError(b, err)
	_, err = s.Write(f, n)
	require.NoError(b, err)
	require.NoError(b, f.Close())
	run := func(args ...string) float64 {
		c := trial.Command(b, program, args...)
		c.Dir = dir
		said, err := c.CombinedOutput()
		require.NoError(b, err, "%s", said)
		return (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds()
	}
	run("import", "--book", "book.db", "lines.ndjson")
	run("backup", "--book", "book.db", "copy.db")
	run("note", "--book", "copy.db", "quay-box", "a remark")
	run("init", "--book", "stranger.db", "--zone", "UTC")
	fresh := func(of string) { // what a work changes is made again for the next turn
		bytes, err := os.ReadFile(in(of))
		require.NoError(b, err)
		for _, end := range []string{"-wal", "-shm"} {
			require.NoError(b, os.RemoveAll(in("at.db"+end)))
		}
		require.NoError(b, os.WriteFile(in("at.db"), bytes, 0o600))
	}
	for _, w := range []struct {
		name, on string
		args     []string
	}{
		{"import", "", []string{"import", "--book", "made.db", "lines.ndjson"}},
		{"verify", "copy.db", []string{"verify", "--book", "at.db"}},
		{"backup", "copy.db", []string{"backup", "--book", "at.db", "made.db"}},
		{"rebuild", "copy.db", []string{"rebuild", "--book", "at.db"}},
		{"salvage", "copy.db", []string{"salvage", "at.db", "made.db"}},
		{"merge-copy", "book.db", []string{"merge", "--book", "at.db", "copy.db"}},
		{"merge-all", "stranger.db", []string{"merge", "--book", "at.db", "copy.db"}},
	} {
		b.Run(fmt.Sprintf("%s/%s/%d", s.Name, w.name, n), func(b *testing.B) {
			took := 0.0
			for b.Loop() {
				require.NoError(b, os.RemoveAll(in("made.db")))
				if w.on != "" {
					fresh(w.on)
				}
				took += run(w.args...)
			}
			b.ReportMetric(took/float64(b.N), "cpu-s/op")
		})
	}
}
