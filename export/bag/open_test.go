package bag

import (
	"io"
	"io/fs"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOpenGivesThePayload(t *testing.T) {
	for _, form := range forms {
		t.Run(form, func(t *testing.T) {
			b, err := Open(write(t, form, sample()))
			require.NoError(t, err)
			assert.Len(t, b.Names(), 10)
			size, ok := b.Has("data/events.ndjson")
			assert.True(t, ok)
			assert.EqualValues(t, 3, size)
			f, err := b.Open("data/events.ndjson")
			require.NoError(t, err)
			text, err := io.ReadAll(f)
			require.NoError(t, err)
			assert.Equal(t, "{}\n", string(text))
			require.NoError(t, f.Close())
			for _, name := range []string{"data", "data/../bagit.txt", "../secret", "data/none", ""} {
				_, err := b.Open(name)
				require.ErrorIs(t, err, fs.ErrNotExist, name)
			}
			require.NoError(t, b.Close())
		})
	}
}
