package report_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// Pages of supplies hold every box and bath once, the latest first, however many came at one moment.
func TestPagesOfSuppliesHoldAll(t *testing.T) {
	var lines strings.Builder
	add := func(day int, kind, data string) {
		fmt.Fprintf(&lines, `{"kind":%q,"at":"2026-05-%02dT09:00:00+02:00","zone":"Europe/Oslo","data":{%s}}`+"\n", kind, day, data)
	}
	add(1, "book.opened", `"zone":"Europe/Oslo","owner":"the ferry steps"`)
	for i, day := range []int{2, 4, 4, 4, 4, 9} {
		add(day, "paper.received", fmt.Sprintf(`"box":"box-%d","name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":100`, i+1))
	}
	for i, day := range []int{2, 3, 4, 4, 5, 6, 7, 8} {
		add(day, "bath.mixed", fmt.Sprintf(`"bath":"dev-%d","role":"developer","name":"print developer","volume_ml":1000`, i+1))
	}
	add(10, "bath.discarded", `"bath":"dev-8"`)
	booktest.Look(t, booktest.FromLines(t, lines.String()), func(snap *snapshot.Snapshot) {
		stock, err := report.Stock(snap, true)
		require.NoError(t, err)
		baths, err := report.Baths(snap, true)
		require.NoError(t, err)
		slices.Reverse(stock.Boxes)
		slices.Reverse(baths.Baths)
		require.Len(t, stock.Boxes, 6)
		require.Len(t, baths.Baths, 8)
		for most, pages := range map[int]int{1: 8, 2: 4, 3: 3, 100: 1} {
			var all report.SuppliesReport
			before, n := int64(0), 0
			for ; n == 0 || before > 0; n++ {
				require.Less(t, n, 20)
				page, err := beside(t, snap, func(snap *snapshot.Snapshot) (report.SuppliesReport, error) {
					return report.Supplies(snap, before, most)
				})
				require.NoError(t, err)
				all.Boxes, all.Baths, before = append(all.Boxes, page.Boxes...), append(all.Baths, page.Baths...), page.Older
			}
			assert.Equal(t, stock.Boxes, all.Boxes, "%d", most)
			assert.Equal(t, baths.Baths, all.Baths, "%d", most)
			assert.Equal(t, pages, n, "%d", most)
		}
	})
}
