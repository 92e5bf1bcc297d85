package rawfile

import (
	"encoding/binary"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A file and a log that are larger than any disk, but for a few pages of either, are read to their ends.
func TestHolesAreSteppedOver(t *testing.T) {
	const far = 1 << 31 // pages, of which a terabyte holds as many
	path := written(t, leaf(placed{300, cell(1, "flood")}))
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	require.NoError(t, err)
	defer f.Close()
	put1 := func(page int64, text string) {
		_, err := f.WriteAt(leaf(placed{300, cell(1, text)}), (page-1)*small)
		require.NoError(t, err)
	}
	put1(far/2, "middle")
	require.NoError(t, f.Truncate(far*small))
	put(t, path+"-wal", logOf(binary.LittleEndian, small, "saltsalt",
		logged{far / 4, 0, leaf(placed{300, cell(1, "logged")})}, logged{far - 5, far, leaf(placed{300, cell(1, "logged late")})}))
	q := quarry(t, path)
	assert.EqualValues(t, far, q.Pages)
	assert.Equal(t, []string{"flood", "logged", "middle", "logged late"}, texts(t, q, false))

	put1(far, "last")
	assert.Equal(t, []string{"flood", "logged", "middle", "logged late", "last"}, texts(t, quarry(t, path), false))
}

// A log may claim to be larger than any disk.
func TestHolesOfALogAreSteppedOver(t *testing.T) {
	path := written(t, leaf(placed{300, cell(1, "old")}), leaf(placed{300, cell(1, "old 3")}))
	frames := []logged{{2, 3, leaf(placed{300, cell(1, "new")})}, {3, 3, leaf(placed{300, cell(1, "late")})}}
	raw := logOf(binary.LittleEndian, small, "saltsalt", frames...)
	put(t, path+"-wal", raw[:LogHead+logLength])
	f, err := os.OpenFile(path+"-wal", os.O_RDWR, 0)
	require.NoError(t, err)
	defer f.Close()
	const far = LogHead + 1<<32*logLength // a place of a frame, some terabytes on
	require.NoError(t, f.Truncate(far+4*logLength))
	holds := func(late []string) {
		t.Helper()
		q := quarry(t, path)
		assert.EqualValues(t, 1, q.Log.Taken)
		assert.Equal(t, []string{"new", "old 3"}, texts(t, q, false))
		q.BringBehind()
		assert.Equal(t, late, texts(t, q, true))
	}
	holds([]string{"new", "old 3"})
	_, err = f.WriteAt(raw[LogHead+logLength:], far)
	require.NoError(t, err)
	holds([]string{"new", "late"})
	l, err := LogOf(path)
	require.NoError(t, err)
	assert.Equal(t, []frame{{3, 3, far + FrameHead}}, l.behind)
	assert.True(t, l.Lost())
}
