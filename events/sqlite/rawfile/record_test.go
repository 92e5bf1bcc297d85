package rawfile

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestVarint(t *testing.T) {
	for _, c := range []struct { // sqlite.org/fileformat2.html, "Record Format": seven bits a byte, the ninth byte whole
		v     int64
		bytes string
	}{
		{0, "\x00"}, {1, "\x01"}, {127, "\x7f"}, {128, "\x81\x00"}, {16383, "\xff\x7f"}, {16384, "\x81\x80\x00"},
		{1<<21 - 1, "\xff\xff\x7f"}, {1 << 21, "\x81\x80\x80\x00"}, {1<<56 - 1, "\xff\xff\xff\xff\xff\xff\xff\x7f"},
		{1 << 56, "\x80\xc0\x80\x80\x80\x80\x80\x80\x00"}, {math.MaxInt64, "\xbf\xff\xff\xff\xff\xff\xff\xff\xff"},
		{math.MinInt64, "\xc0\x80\x80\x80\x80\x80\x80\x80\x00"}, {-1, "\xff\xff\xff\xff\xff\xff\xff\xff\xff"},
	} {
		require.Equal(t, c.bytes, string(varint(uint64(c.v))), "%d: what the tests write", c.v)
		v, n := Varint([]byte("ab"+c.bytes+"\x05"), 2)
		assert.Equal(t, c.v, v)
		assert.Equal(t, len(c.bytes), n, "%d", c.v)
		v, n = Varint([]byte(c.bytes), 0)
		assert.Equal(t, c.v, v)
		assert.Equal(t, len(c.bytes), n, "%d at the end", c.v)
		for cut := range c.bytes {
			v, n = Varint([]byte(c.bytes)[:cut], 0)
			assert.Zero(t, n, "%d cut after %d bytes", c.v, cut)
			assert.Zero(t, v)
		}
	}
	for _, at := range []int{-1, -9, 1, 2, math.MinInt, math.MaxInt - 8} {
		_, n := Varint([]byte{1}, at)
		assert.Zero(t, n, "at %d", at)
	}
}

// What SQLite writes of any kind and size is read back as it was given, with its number.
func TestEveryValueIsReadAsSQLiteKeepsIt(t *testing.T) {
	values := []any{nil, "", "a", "tide", "жё", []byte{}, []byte{0}, []byte("ebb\x00\xff"), 1.5, -1.5, math.Copysign(0, -1), math.MaxFloat64, math.Inf(1)}
	for _, edge := range []int64{0, 1, 2, 1 << 7, 1 << 15, 1 << 23, 1 << 31, 1 << 47, 0x0102030405060708} {
		for _, off := range []int64{-1, 0, 1} {
			values = append(values, edge+off, -edge+off)
		}
	}
	values = append(values, int64(math.MaxInt64), int64(math.MinInt64))
	path := fileOf(t)
	db := database(t, path, "CREATE TABLE t (mark, v, rest)")
	numbers := map[int64]bool{}
	for i, v := range values {
		rowid, whole := v.(int64)
		if !whole || numbers[rowid] {
			rowid = int64(1000 + i)
		}
		numbers[rowid] = true
		_, err := db.Exec("INSERT INTO t (rowid, mark, v, rest) VALUES (?, ?, ?, 'rest')", rowid, i, v)
		require.NoError(t, err)
		values[i] = []any{rowid, v}
	}
	require.NoError(t, db.Close())
	seen := map[int64]bool{}
	for _, r := range carved(t, quarry(t, path), false, 3) {
		i := r.Values[0].(int64)
		rowid, v := values[i].([]any)[0], values[i].([]any)[1]
		if f, real := v.(float64); real { // its bits, as SQLite keeps them
			v = int64(math.Float64bits(f))
		}
		assert.Equal(t, rowid, r.Rowid)
		assert.Equal(t, v, r.Values[1], "value %d", i)
		assert.Equal(t, "rest", r.Values[2], "what stands behind value %d", i)
		seen[i] = true
	}
	assert.Len(t, seen, len(values))
}

// A row of every length there is, and those about the edges of larger pages, whole on its page or running over onto others.
func TestRowsOfEveryLength(t *testing.T) {
	for _, pageSize := range []int{512, 1024, 4096, 65536} {
		t.Run(fmt.Sprint(pageSize), func(t *testing.T) {
			var lengths []int
			if pageSize == 512 {
				for n := range 2200 {
					lengths = append(lengths, n)
				}
			}
			for _, edge := range []int{pageSize - 40, (pageSize-12)*32/255 - 25 + pageSize, 2*pageSize - 45, 2 * pageSize} {
				for off := range 20 {
					lengths = append(lengths, edge+off)
				}
			}
			path := fileOf(t)
			db := database(t, path, fmt.Sprintf("PRAGMA page_size=%d", pageSize), "CREATE TABLE t (v)", "BEGIN")
			for i, n := range lengths {
				_, err := db.Exec("INSERT INTO t (rowid, v) VALUES (?, ?)", i+1, dots(n))
				require.NoError(t, err)
			}
			do(t, db, "COMMIT")
			require.NoError(t, db.Close())
			q := quarry(t, path)
			assert.Equal(t, pageSize, q.PageSize)
			rows := carved(t, q, false, 1)
			require.Len(t, rows, len(lengths))
			for _, r := range rows {
				if want := dots(lengths[r.Rowid-1]); r.Values[0] != want {
					t.Fatalf("a text of %d bytes is not read as it was written", len(want))
				}
				again, ok := q.Row(q.At(r.Where), r.Where)
				require.True(t, ok)
				require.Equal(t, r, again, "where it was found it is found again")
			}
		})
	}
}

// The longest row that is believed, and the first that is not.
func TestTheLongestRow(t *testing.T) {
	const beside = 7 + 100 // the head of the record, and the other value
	path := closed(t, "PRAGMA page_size=65536", "CREATE TABLE t (a, b)",
		fmt.Sprintf("INSERT INTO t VALUES (zeroblob(%d), zeroblob(100))", 32<<20-beside),
		fmt.Sprintf("INSERT INTO t VALUES (zeroblob(%d), zeroblob(100))", 32<<20-beside+1))
	rows := carved(t, quarry(t, path), false, 2)
	require.Len(t, rows, 1)
	assert.EqualValues(t, 1, rows[0].Rowid)
	assert.Len(t, rows[0].Values[0], 32<<20-beside)

	head := append([]byte{5}, varint(64<<20-2)...) // a blob of as many bytes as a row may have with its head, and a text
	values, ok := Record(append(head, make([]byte, 32<<20)...))
	require.True(t, ok)
	require.Len(t, values[0], 32<<20-7)
	_, ok = Record(append(append([]byte{5}, varint(64<<20)...), make([]byte, 32<<20)...))
	assert.False(t, ok)
}

func TestRecordsThatAreNone(t *testing.T) {
	ones := func(n int) string { return strings.Repeat("\x09", n) }
	hundred := make([]any, 100)
	for i := range hundred {
		hundred[i] = int64(1)
	}
	for _, c := range []struct {
		what, bytes string
		want        []any
	}{
		{"nothing", "", nil},
		{"a head that is cut", "\x82", nil},
		{"a head of no length", "\x00\x09", nil},
		{"a head shorter than its own length", "\x80\x01\x09", nil},
		{"a head of its length alone", "\x01", []any{}},
		{"a head that ends with its length", "\x80\x02", []any{}},
		{"a head longer than all", "\x03\x09", nil},
		{"a head as long as all", "\x02\x09", []any{int64(1)}},
		{"a head of a length below nought", "\xff\xff\xff\xff\xff\xff\xff\xff\xff\x09", nil},
		{"a kind that is cut", "\x03\x09\x81", nil},
		{"a kind kept for SQLite itself", "\x02\x0a", nil},
		{"another one", "\x02\x0b", nil},
		{"a number that is cut", "\x02\x02\x01", nil},
		{"a number", "\x02\x02\x01\x02", []any{int64(258)}},
		{"a text that is cut", "\x02\x13ab", nil},
		{"a text", "\x02\x13abc", []any{"abc"}},
		{"a text before more bytes", "\x02\x13abcd", []any{"abc"}},
		{"what is left of a record for its second value", "\x03\x13\x01abc", nil},
		{"as many values as a row may have", "\x65" + ones(100), hundred},
		{"one more", "\x66" + ones(101), nil},
	} {
		got, ok := Record([]byte(c.bytes))
		assert.Equal(t, c.want != nil, ok, c.what)
		if len(c.want) == 0 {
			assert.Empty(t, got, c.what)
		} else {
			assert.Equal(t, c.want, got, c.what)
		}
	}
}

// A row whose bytes run off its page, or whose further pages lead nowhere, is none; one that just fits is whole.
func TestRowsThatRunOffTheirPage(t *testing.T) {
	const size = 478 // the smallest record that runs over: 39 bytes of it stay on a page of 512, which leaves 439 for the next
	over := func(next byte) []byte {
		r := record(dots(size - 3))
		c := append(append(varint(size), 1), r[:39]...)
		return append(c, 0, 0, 0, next)
	}
	rest := func(next byte) []byte { return append([]byte{0, 0, 0, next}, record(dots(size - 3))[39:]...) }
	end := func(c []byte) int { return small - len(c) }
	longer := over(3)
	longer[5] += 2 // the length of the text, one more
	text := cell(1, "tide")
	for _, c := range []struct {
		what  string
		at    int
		cell  []byte
		next  []byte
		reads string
	}{
		{"a row up to the end", end(text), text, nil, "tide"},
		{"a row that is cut", end(text) + 1, text, nil, ""},
		{"the length alone", small - 1, text, nil, ""},
		{"the length and the number", small - 2, text, nil, ""},
		{"a length that is cut", small - 1, []byte{0x81}, nil, ""},
		{"a number that is cut", small - 2, []byte{5, 0x81}, nil, ""},
		{"a place behind the page", small, nil, nil, ""},
		{"a place far behind", 65535, nil, nil, ""},
		{"a row of no bytes", 100, []byte{0, 1, 2, 9}, nil, ""},
		{"a row of less than none", 100, append(varint(math.MaxUint64), 1, 2, 9), nil, ""},
		{"one that runs over", end(over(3)), over(3), rest(0), dots(size - 3)},
		{"one that runs over from the middle", 300, over(3), rest(0), dots(size - 3)},
		{"whose next page is cut off its page", end(over(3)) + 1, over(3), rest(0), ""},
		{"whose bytes before that are cut", end(over(3)) + 5, over(3), rest(0), ""},
		{"whose text is said to be longer than the row", 300, longer, rest(0), ""},
		{"to no page", 300, over(0), rest(0), ""},
		{"to a page behind the last", 300, over(4), rest(0), ""},
	} {
		p := make([]byte, small)
		if c.at < small {
			copy(p[c.at:], c.cell)
		}
		q := laid(t, p, c.next)
		require.EqualValues(t, 3, q.Pages)
		r, ok := q.Row(q.Page(2), Cell{Page: 2, At: c.at})
		assert.Equal(t, c.reads != "", ok, c.what)
		if ok {
			assert.Equal(t, []any{c.reads}, r.Values, c.what)
			assert.EqualValues(t, 1, r.Rowid)
		}
	}
	for what, ring := range map[string][2]byte{"one on itself": {3, 3}, "two on each other": {4, 3}} {
		const long = 39 + 3*508
		p := make([]byte, small)
		copy(p[100:], append(append(append(varint(long), 1), record(dots(long - 4))[:39]...), 0, 0, 0, 3))
		q := laid(t, p, []byte{0, 0, 0, ring[0]}, []byte{0, 0, 0, ring[1]})
		_, ok := q.Row(q.Page(2), Cell{Page: 2, At: 100})
		assert.False(t, ok, "further pages that lead round, %s", what)
	}
}
