package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// A year is told once as long as nothing changes, and anew with the next entry, at an earlier moment, and where something
// lies ahead that may come to its time.
func TestAYearIsToldOnceForOneStateOfTheBook(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "Quay"))
	var k keptYears
	told := func(now time.Time, year int) (out report.YearReport) {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
			out, err = k.of(&View{Tx: tx, Snap: snapshot.New(tx, now), Now: now}, year)
			return err
		}))
		return out
	}
	same := func(a, b report.YearReport) bool { return &a.ByPaper[0] == &b.ByPaper[0] }
	now := booktest.Oslo(t, "2026-06-01T12:00:00")
	first := told(now, 2026)
	require.Equal(t, 1, first.Pictures)
	assert.True(t, same(first, told(now, 2026)))
	assert.True(t, same(first, told(now.Add(time.Hour), 2026)))
	assert.Zero(t, told(now, 2025).Pictures)
	assert.True(t, same(first, told(now, 2026)), "another year is kept beside it")
	assert.False(t, same(first, told(now.Add(-time.Hour), 2026)), "an earlier moment saw less")
	first = told(now, 2026)

	booktest.AddActs(t, b, `note.written 2026-05-30T10:00:00 "about":"2026-001","text":"x"`)
	second := told(now, 2026)
	assert.False(t, same(first, second), "the book went on")
	assert.True(t, same(second, told(now, 2026)))

	booktest.AddActs(t, b, `note.written 2026-07-30T10:00:00 "about":"2026-001","text":"later"`)
	ahead := told(now, 2026)
	assert.False(t, same(ahead, told(now, 2026)), "what lies ahead comes to its time though nothing is written")
	for year := range mostYears + 3 {
		told(now.AddDate(1, 0, 0), 2026-year)
		assert.LessOrEqual(t, len(k.years), mostYears)
	}
}
