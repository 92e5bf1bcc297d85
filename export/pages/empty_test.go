package pages_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

func TestAnEmptyBookHasItsPages(t *testing.T) {
	b := booktest.FromLines(t, `{"kind":"book.opened","at":"2025-12-30T10:00:00+01:00","data":{"zone":"Europe/Oslo"}}`+"\n")
	for _, scope := range []export.Scope{{}, {Year: 2026}} {
		pdf := logOf(t, b, scope, pages.LogOptions{Uncompressed: true})
		require.Contains(t, string(pdf), string(ofUTF16("No picture was exposed.")))
	}
}
