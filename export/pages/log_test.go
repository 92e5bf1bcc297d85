package pages_test

import (
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
