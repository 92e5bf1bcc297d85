package sqlite

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// noTarget marks a work whose figure is told without a target.
const noTarget = 0

// yardstick is one work beside its floor.
type yardstick struct {
	name   string
	target float64 // work ÷ floor, at most
	unit   int     // entries in one turn
	work   func() time.Duration
	floor  func() time.Duration
}

// yardsticks lays out the works on a life of n entries.
func yardsticks(tb testing.TB, n int) []yardstick {
	l := newLife(tb, n)
	dir := tb.TempDir()
	var made int
	fresh := func() string {
		made++
		return filepath.Join(dir, fmt.Sprintf("made-%d.db", made))
	}
	timed := func(f func()) time.Duration {
		begin := time.Now()
		f()
		return time.Since(begin)
	}
	gone := func(path string) {
		for _, end := range []string{"", "-wal", "-shm"} {
			os.Remove(path + end)
		}
	}
	var open *Book
	opened := func() *Book {
		if open == nil {
			open = l.open(tb)
			tb.Cleanup(func() { open.Close() })
		}
		return open
	}
	onBook := func(f func(b *Book)) func() time.Duration {
		return func() time.Duration {
			b := opened()
			return timed(func() { f(b) })
		}
	}
	writer := &actor{at: lifeEnds.AddDate(1, 0, 0)}
	aDay := func(act func(testing.TB)) func() time.Duration {
		return func() time.Duration {
			writer.book = opened()
			writer.begins(tb)
			return timed(func() {
				for range actsADay {
					act(tb)
				}
			})
		}
	}
	bare := func() time.Duration { return bareCommits(tb, filepath.Join(dir, "bare.db"), actsADay) }
	imports := func(lines string) func() time.Duration {
		return func() time.Duration {
			path := fresh()
			defer gone(path)
			var b *Book
			took := timed(func() { b = takeIn(tb, lines, path) })
			require.NoError(tb, b.Close())
			return took
		}
	}
	inserts := func() time.Duration {
		path := fresh()
		defer gone(path)
		return l.insertRows(tb, path)
	}
	return []yardstick{
		{"ImportSparse", 2.5, l.entries, imports(l.sparse), inserts},
		{"ImportWhole", 1.6, l.entries, imports(l.lines), inserts},
		{"Rebuild", 1.5, l.entries, onBook(func(b *Book) { require.NoError(tb, b.Rebuild()) }), onBook(func(b *Book) { scanAndDecode(tb, b, true) })},
		{"VerifyChain", 1.5, l.entries, onBook(func(b *Book) {
			r, err := b.Verify(VerifyOptions{Chain: true})
			require.NoError(tb, err)
			require.True(tb, r.OK)
		}), onBook(func(b *Book) { hashAll(tb, b) })},
		{"OwnDecode", 1, l.entries, onBook(func(b *Book) { scanAndDecode(tb, b, false) }), onBook(func(b *Book) { scanAndDecode(tb, b, true) })},
		{"Append", 1 / 0.45, actsADay, aDay(writer.keep), bare},
		{"Act", 3, actsADay, aDay(writer.act), bare},
	}
}

// Each benchmark tells the work and its floor in nanoseconds for an entry, and how many times the floor the work takes.
// -benchtime 5x gives medians of five.
func benchmarkOf(b *testing.B, name string) {
	for _, n := range sizes() {
		b.Run(sizeName(n), func(b *testing.B) {
			for _, y := range yardsticks(b, n) {
				if y.name != name {
					continue
				}
				b.ResetTimer()
				w, f := turns(b.N, y.work, y.floor)
				b.ReportMetric(0, "ns/op")
				b.ReportMetric(float64(w.median.Nanoseconds())/float64(y.unit), "ns/entry")
				b.ReportMetric(float64(f.median.Nanoseconds())/float64(y.unit), "floor-ns/entry")
				b.ReportMetric(float64(w.median)/float64(f.median), "x-floor")
			}
		})
	}
}

func BenchmarkImportSparse(b *testing.B) { benchmarkOf(b, "ImportSparse") }
func BenchmarkImportWhole(b *testing.B)  { benchmarkOf(b, "ImportWhole") }
func BenchmarkRebuild(b *testing.B)      { benchmarkOf(b, "Rebuild") }
func BenchmarkVerifyChain(b *testing.B)  { benchmarkOf(b, "VerifyChain") }
func BenchmarkAppend(b *testing.B)       { benchmarkOf(b, "Append") }
func BenchmarkAct(b *testing.B)          { benchmarkOf(b, "Act") }

// With TRAYBOOK_LONG set it tells the figures of a million entries, or of as many as TRAYBOOK_ENTRIES says; else it proves
// in a moment that the works and the floors do what they say, without holding them to a figure that a busy machine would
// spoil.
func TestTargets(t *testing.T) {
	// As the program itself has memory collected.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	n, rounds := 1000, 1
	if long {
		n, rounds = 1_000_000, 5
	}
	if wanted > 0 {
		n = wanted
	}
	t.Logf("%-12s %12s %12s %7s %7s %7s", "at "+sizeName(n), "ns/entry", "floor", "median", "least", "target")
	for _, y := range yardsticks(t, n) {
		w, f := turns(rounds, y.work, y.floor)
		ratio, quiet := float64(w.median)/float64(f.median), float64(w.least)/float64(f.least)
		met := "met"
		switch {
		case y.target == noTarget:
			met = "told"
		case min(ratio, quiet) > y.target:
			met = "NOT MET"
		}
		t.Logf("%-12s %12d %12d %7.2f %7.2f %7.2f  %s", y.name, w.median.Nanoseconds()/int64(y.unit), f.median.Nanoseconds()/int64(y.unit),
			ratio, quiet, y.target, met)
		assert.Positive(t, f.least)
		if long && y.target != noTarget {
			assert.Less(t, quiet, 1.5*y.target, "%s is far from its target", y.name)
		}
	}
}
