package export_test

import (
	"errors"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/export"
	"traybook/projections/wording"
)

// A refusal on the way names the file where it would have stood, in what to do as well.
func TestARefusedArchiveNamesNoFileOfItsMaking(t *testing.T) {
	out := filepath.Join(t.TempDir(), "bag")
	torn := wording.Refuses("torn", "{file} is torn", "mend {file}")
	_, err := export.Archive(out, export.ArchiveOptions{}, func(path string) error {
		return torn.Refuse(path)
	}, nil)
	var no *wording.Refusal
	require.True(t, errors.As(err, &no))
	want := filepath.Join(out, "data", "book.db")
	require.Equal(t, torn.Refuse(want), no)
	require.EqualError(t, err, no.Error())
}
