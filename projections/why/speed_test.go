package why_test

import (
	"fmt"
	"testing"
	"time"

	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/why"
)

// BenchmarkWhy is one diagnosis, its reading of the book included.
func BenchmarkWhy(b *testing.B) {
	b.Run("print", func(b *testing.B) {
		benchWhy(b, booktest.FromFile(b, "../../testdata/cases/metered-on-a-thin-negative.ndjson"))
	})
	b.Run("box of sheets that lean", func(b *testing.B) {
		changes := "judge n too-light stops=0.8"
		for i := range 30 {
			changes += fmt.Sprintf("; +sheet.exposed @10:%02d picture=2026-1%02d box=box-1 f=8 time_s=5; +sheet.judged @11:%02d sheet=2026-1%02dn verdict=redo symptoms=[\"thin\"] stops=0.7", i+5, i, i, i)
		}
		benchWhy(b, bookOf(b, caseLines(b, changes)))
	})
}

func benchWhy(b *testing.B, book *sqlite.Book) {
	if err := book.Read(func(tx *sqlite.Tx) error {
		for b.Loop() {
			if _, err := why.Why(snapshot.New(tx, time.Time{}), "2026-001"); err != nil {
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
