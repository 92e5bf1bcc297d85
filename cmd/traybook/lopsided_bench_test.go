package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// lopsided are the shapes that the benchmark tries unless TRAYBOOK_LONG asks for all.
var lopsided = []string{"bath", "boxes", "notes", "prints", "session", "voids-chained"}

// lopsidedSizes are the numbers of entries; each is twice the one before, so the time of a run is to be at most 2.3 times.
var lopsidedSizes = []int{2500, 5000, 10_000, 20_000}

// BenchmarkLopsided runs the program on books that lean to one side: on a book of n entries, and on a copy of it that went
// on with one note. Of each size it tells the least seconds of the processor of all turns, the sizes by turns so that the
// load of the machine meets each alike, and the largest step from one size to the next.
func BenchmarkLopsided(b *testing.B) {
	program := filepath.Join(b.TempDir(), "traybook")
	build(b, program, ".")
	for _, s := range eventstest.Shapes {
		if os.Getenv("TRAYBOOK_LONG") == "" && !slices.Contains(lopsided, s.Name) {
			continue
		}
		b.Run(s.Name, func(b *testing.B) {
			var books []lopsidedBook
			for _, n := range lopsidedSizes {
				books = append(books, newLopsidedBook(b, program, s, n))
			}
			for _, w := range lopsidedWorks {
				b.Run(w.name, func(b *testing.B) {
					least := make([]float64, len(books))
					for i := range least {
						least[i] = math.Inf(1)
					}
					for b.Loop() {
						for i, book := range books {
							least[i] = min(least[i], book.work(b, w))
						}
					}
					step := 0.0
					for i, s := range least {
						b.ReportMetric(s, fmt.Sprintf("cpu-s/%d", lopsidedSizes[i]))
						if i > 0 {
							step = max(step, s/least[i-1])
						}
					}
					b.ReportMetric(step, "largest-step")
				})
			}
		})
	}
}

type lopsidedWork struct {
	name, on string // on is the file that the work changes, made anew for each turn
	args     []string
}

var lopsidedWorks = []lopsidedWork{
	{"import", "", []string{"import", "--book", "made.db", "lines.ndjson"}},
	{"verify", "copy.db", []string{"verify", "--book", "at.db"}},
	{"backup", "copy.db", []string{"backup", "--book", "at.db", "made.db"}},
	{"rebuild", "copy.db", []string{"rebuild", "--book", "at.db"}},
	{"salvage", "copy.db", []string{"salvage", "at.db", "made.db"}},
	{"merge-copy", "book.db", []string{"merge", "--book", "at.db", "copy.db"}},
	{"merge-all", "stranger.db", []string{"merge", "--book", "at.db", "copy.db"}},
}

// lopsidedBook is a folder with a book of a shape, a copy of it that went on with one note, and a book of its own.
type lopsidedBook struct{ program, dir string }

func newLopsidedBook(b *testing.B, program string, s eventstest.Shape, n int) lopsidedBook {
	x := lopsidedBook{program, b.TempDir()}
	f, err := os.Create(filepath.Join(x.dir, "lines.ndjson"))
	require.NoError(b, err)
	_, err = s.Write(f, n)
	require.NoError(b, err)
	require.NoError(b, f.Close())
	x.run(b, "import", "--book", "book.db", "lines.ndjson")
	x.run(b, "backup", "--book", "book.db", "copy.db")
	x.run(b, "note", "--book", "copy.db", "quay-box", "a remark")
	x.run(b, "init", "--book", "stranger.db", "--zone", "UTC")
	return x
}

// run gives the seconds of the processor that a run of the program took.
func (x lopsidedBook) run(b *testing.B, args ...string) float64 {
	c := eventstest.Command(b, x.program, args...)
	c.Dir = x.dir
	said, err := c.CombinedOutput()
	require.NoError(b, err, "%s", said)
	return (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds()
}

func (x lopsidedBook) work(b *testing.B, w lopsidedWork) float64 {
	in := func(name string) string { return filepath.Join(x.dir, name) }
	for _, name := range []string{"made.db", "at.db", "at.db-wal", "at.db-shm"} {
		require.NoError(b, os.RemoveAll(in(name)))
	}
	if w.on != "" {
		bytes, err := os.ReadFile(in(w.on))
		require.NoError(b, err)
		require.NoError(b, os.WriteFile(in("at.db"), bytes, 0o600))
	}
	return x.run(b, w.args...)
}
