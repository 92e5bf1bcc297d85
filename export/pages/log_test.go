package pages_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

func logOf(t testing.TB, b *sqlite.Book, scope export.Scope, o pages.LogOptions) []byte {
	t.Helper()
	var out []byte
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		asOf, err := tx.NewestRecorded()
		require.NoError(t, err)
		o.Created = asOf
		heads, err := tx.Heads()
		require.NoError(t, err)
		o.Head = heads[0].Hash.String()
		out, err = pages.Log(tx, asOf, scope, o)
		return err
	}))
	return out
}

func TestTheSameBookGivesTheSamePages(t *testing.T) {
	for _, size := range []string{"A4", "Letter"} {
		t.Run(size, func(t *testing.T) {
			o := pages.LogOptions{Size: size}
			first := logOf(t, booktest.FromLines(t, booktest.CaseLines(t, "print-wrong-aperture")), export.Scope{}, o)
			second := logOf(t, booktest.FromLines(t, booktest.CaseLines(t, "print-wrong-aperture")), export.Scope{}, o)
			require.Equal(t, first, second)
		})
	}
}

func TestAFaultOfTheDrawingIsTheCallersToSee(t *testing.T) {
	lines := strings.Replace(booktest.CaseLines(t, "print-wrong-aperture"), `"data":{"picture":"2026-001",`, `"data":{"picture":"2026-001","sitter":"Asta Lind",`, 1)
	o := pages.LogOptions{Sitter: func(string) string { panic("no ink") }}
	require.PanicsWithValue(t, "no ink", func() { logOf(t, booktest.FromLines(t, lines), export.Scope{}, o) })
}

// However many baths there were, each has its bar: none of them is told as one of so many more.
func TestEveryBathHasItsBar(t *testing.T) {
	lines := "book.opened 2026-05-01T08:00:00 \"zone\":\"Europe/Oslo\""
	for i := range 101 {
		lines += fmt.Sprintf("\nbath.mixed 2026-05-%02dT09:%02d:00 \"bath\":\"tray-%d\",\"role\":\"developer\",\"name\":\"plain\",\"volume_ml\":%d,\"time_s\":60,\"capacity_m2\":1,\"life_h\":9000", 2+i/60, i%60, i+1, 1000+i)
	}
	pdf := string(logOf(t, booktest.FromActs(t, lines), export.Scope{}, pages.LogOptions{Uncompressed: true}))
	for i := range 101 {
		name := string(ofUTF16(fmt.Sprintf("tray-%d", i+1)))
		// in the table, beside its bar, and in the title of its course where it has one
		require.GreaterOrEqual(t, strings.Count(pdf, "("+name+")"), 2, "tray-%d", i+1)
	}
	require.NotContains(t, pdf, string(ofUTF16(" more")))
	onThePage(t, []byte(pdf), "A4")
}
