package rawfile

import (
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// What stands in a file, its log and its index may be anything: whoever looks gets to an end, and what is taken for a row
// keeps its bounds.
func FuzzQuarry(f *testing.F) {
	row := leaf(placed{300, cell(1, "flood")}, placed{400, cell(2, "ebb")})
	list := make([]byte, small)
	list[3], list[7], list[11] = 2, 1, 3
	file := joined(row, list)
	file[firstFree+3] = 3
	frames := []logged{{2, 0, row}, {3, 3, list}, {2, 3, row}, {9, 9, nil}}
	log := logOf(binary.LittleEndian, small, "saltsalt", frames...)
	f.Add(file, log, []byte{})
	f.Add(file, logOf(binary.BigEndian, small, "saltsalt", frames...), make([]byte, 136))
	damaged := append([]byte{}, log...)
	damaged[LogHead+logLength+40] ^= 1
	f.Add(file, damaged, []byte{})
	f.Add(file[:700], log[:len(log)-9], []byte{})
	f.Add([]byte{}, []byte{}, []byte{})
	f.Fuzz(looksAtAnything)
}

func looksAtAnything(t *testing.T, file, log, index []byte) {
	eventstest.Within(t)
	path := fileOf(t)
	put(t, path, file)
	put(t, path+"-wal", log)
	put(t, path+"-shm", index)
	CheckLog(path)
	h, err := ReadHead(path)
	require.NoError(t, err)
	h.Damaged()
	q := quarry(t, path)
	holds := func(r CarvedRow) error {
		assert.LessOrEqual(t, len(r.Values), MaxColumns)
		assert.Less(t, r.Where.At, q.PageSize)
		again, ok := q.Row(q.At(r.Where), r.Where)
		assert.True(t, ok)
		assert.Equal(t, r, again)
		return nil
	}
	require.NoError(t, q.Each(false, holds))
	before := q.Pages
	q.BringBehind()
	assert.LessOrEqual(t, q.Pages, before+int64(len(q.Behind())))
	require.NoError(t, q.Each(true, holds))
	require.NoError(t, q.EachVersion(holds))
	q.SchemaHas("t", "CREATE TABLE t (v)", 1, map[int64]bool{})
	require.NoError(t, CutLog(path+"-wal"))
	cut := contents(t, path+"-wal")
	assert.Equal(t, string(log[:len(cut)]), string(cut), "it is cut and nothing else")
}

func FuzzRecord(f *testing.F) {
	f.Add([]byte{3, 0, 25, 1, 'a', 'b', 'c', 'd', 'e', 'f', 7})
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, raw []byte) {
		if values, ok := Record(raw); ok {
			assert.LessOrEqual(t, len(values), MaxColumns)
		}
		q := laid(t)
		page := make([]byte, small)
		copy(page, raw)
		for at := range 20 {
			q.Row(page, Cell{Page: 2, At: at})
		}
	})
}
