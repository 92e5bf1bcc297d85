package projections_test

import (
	"testing"
	"time"

	"traybook/events/sqlite"
	"traybook/projections"
)

// BenchmarkWhy is one diagnosis of a print, its reading of the book included.
func BenchmarkWhy(b *testing.B) {
	book := bookFrom(b, "../testdata/cases/metered-on-a-thin-negative.ndjson")
	if err := book.Read(func(tx *sqlite.Tx) error {
		for b.Loop() {
			if _, err := projections.NewDesk(tx, time.Time{}).Why("2026-001"); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		b.Fatal(err)
	}
	if each := b.Elapsed() / time.Duration(b.N); b.N > 100 && each > 2*time.Millisecond {
		b.Errorf("%v for one picture; a year's failures are to cost well under a second", each)
	}
}
