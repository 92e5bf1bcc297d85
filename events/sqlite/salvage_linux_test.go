package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"

	"traybook/events"
)

// A book that may not be read is told as such, with the system's own reason.
func TestSalvageOfWhatMayNotBeRead(t *testing.T) {
	for _, suffix := range []string{"", "-wal", "-shm"} {
		t.Run("book.db"+suffix, func(t *testing.T) {
			path, saved := seasonFile(t), filepath.Join(t.TempDir(), "saved.db")
			require.NoError(t, os.Chmod(path, 0o644))
			require.NoError(t, os.Chmod(filepath.Dir(filepath.Dir(path)), 0o755)) // so that only the file is out of reach
			if suffix != "" {
				require.NoError(t, os.WriteFile(path+suffix, []byte("x"), 0o600))
			}
			require.NoError(t, os.Chmod(path+suffix, 0))
			err := eventstest.WithoutRights(func() error {
				_, err := Salvage(path, saved, options, events.Entry{})
				return err
			})
			assert.EqualError(t, err, path+" cannot be read: permission denied")
		})
	}
}
