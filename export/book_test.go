package export_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/export"
)

// tablesOf writes every table of a book into memory.
func tablesOf(t testing.TB, b *sqlite.Book, scope export.Scope, o export.TableOptions) map[string]string {
	t.Helper()
	text := map[string]string{}
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		asOf, err := tx.NewestRecorded()
		require.NoError(t, err)
		tables, err := export.NewTables(tx, asOf, scope, o)
		if err != nil {
			return err
		}
		for _, name := range export.TableNames() {
			var out bytes.Buffer
			if _, err := tables.Write(name, &out); err != nil {
				return err
			}
			text[name] = out.String()
		}
		return nil
	}))
	return text
}
