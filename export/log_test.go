package export_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/export"
)

func logOf(t testing.TB, b *sqlite.Book, scope export.Scope, o export.LogOptions) []byte {
	t.Helper()
	var out []byte
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		asOf, err := tx.NewestRecorded()
		require.NoError(t, err)
		o.Created = asOf
		heads, err := tx.Heads()
		require.NoError(t, err)
		o.Head = heads[0].Hash.String()
		out, err = export.Log(tx, asOf, scope, o)
		return err
	}))
	return out
}

func TestTheSameBookGivesTheSamePages(t *testing.T) {
	for _, size := range []string{"A4", "Letter"} {
		t.Run(size, func(t *testing.T) {
			o := export.LogOptions{Size: size}
			first := logOf(t, bookOf(t, caseLines(t, "print-aperture-misset")), export.Scope{}, o)
			second := logOf(t, bookOf(t, caseLines(t, "print-aperture-misset")), export.Scope{}, o)
			require.Equal(t, first, second)
		})
	}
}
