package export_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/export"
	"traybook/projections/booktest"
)

func TestAnEmptyBookHasItsTables(t *testing.T) {
	b := booktest.FromLines(t, `{"kind":"book.opened","at":"2025-12-30T10:00:00+01:00","data":{"zone":"Europe/Oslo"}}`+"\n")
	for name, text := range tablesOf(t, b, export.Scope{}, export.TableOptions{}) {
		want := 0
		if name == "entries.csv" {
			want = 1
		}
		require.Len(t, records(t, text), want, name)
	}
}
