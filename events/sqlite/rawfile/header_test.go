package rawfile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// frozen is the layout of the books that are out in the world; who changes the tables raises it with a step that leads there.
const frozen = 1

// book is a file of SQLite's own making with the marks of a book (TRBK, layout 1).
func book(t testing.TB, statements ...string) string {
	t.Helper()
	return closed(t, append([]string{fmt.Sprintf("PRAGMA application_id=%d", binary.BigEndian.Uint32([]byte("TRBK"))), fmt.Sprintf("PRAGMA user_version=%d", frozen),
		"CREATE TABLE t (v)"}, statements...)...)
}

func TestTheHeadOfABook(t *testing.T) {
	path := book(t)
	h, err := ReadHead(path)
	require.NoError(t, err)
	assert.Equal(t, Magic, string(h[:16]))
	assert.Equal(t, frozen, h.Layout())
	assert.Equal(t, frozen, Layout)
	assert.Equal(t, []uint32{1}, layouts())
	assert.Equal(t, "TRBK", string(binary.BigEndian.AppendUint32(nil, h.Word(68))))
	assert.Empty(t, h.Damaged())

	whole := contents(t, path)
	put(t, path, whole[:100])
	h, err = ReadHead(path)
	require.NoError(t, err)
	assert.Equal(t, string(whole[:100]), string(h[:]))
	put(t, path, whole[:99])
	h, err = ReadHead(path)
	require.NoError(t, err)
	assert.Equal(t, header{}, h, "of a file too short to have one nothing is believed")
	_, err = ReadHead(path + "x")
	assert.EqualError(t, err, "the book cannot be read: no such file or directory")
	assert.ErrorIs(t, err, os.ErrNotExist)
	assert.ErrorIs(t, ErrHeader, events.ErrDamaged)
}

// What every book has alike in its head is held to it, and what else stands there is not (sqlite.org/fileformat2.html, "The
// Database Header"): each byte is tried with each bit.
func TestWhatIsAlikeInEveryHead(t *testing.T) {
	h, err := ReadHead(book(t))
	require.NoError(t, err)
	says := map[int]string{}
	for at := range h {
		for bit := range 8 {
			other := h
			other[at] ^= 1 << bit
			if said := other.Damaged(); said != "" && bit < 7 {
				says[at] = strings.Map(func(r rune) rune {
					if r >= '0' && r <= '9' {
						return -1
					}
					return r
				}, said)
				if bit != 6 {
					continue
				}
				number := uint32(other[at])
				if at >= 40 {
					number = binary.BigEndian.Uint32(other[at&^3:])
				}
				assert.Contains(t, said, fmt.Sprintf("its header says %d for the ", number))
			}
		}
	}
	want := map[int]string{}
	for _, x := range []struct {
		at, size int
		what     string
		is       int
	}{
		{18, 1, "version of the file for writing", 2}, {19, 1, "version of the file for reading", 2}, {20, 1, "room kept free on each page", 0},
		{21, 1, "largest share of a row", 64}, {22, 1, "smallest share of a row", 32}, {23, 1, "share of a row on a leaf", 32},
		{44, 4, "format of the tables", 4}, {52, 4, "mark of a file that shrinks", 0}, {56, 4, "encoding of the text", 1}, {60, 4, "layout", frozen},
		{64, 4, "mark of a file that shrinks by hand", 0}, {68, 4, "mark of the program that it belongs to", 0x5452424b},
	} {
		for i := range x.size {
			want[x.at+i] = fmt.Sprintf("its header says  for the %s, where a book has ", x.what)
		}
		for _, less := range []int{0, 1} {
			other := h
			if at := x.at + x.size - 1; x.at == 18 || x.at == 19 { // a book may have either version
				other[at] = byte(x.is - less)
				assert.Empty(t, other.Damaged())
				other[at] = byte(3 * less)
			} else if less == 1 {
				other[at]++
			} else {
				continue
			}
			said := other.Damaged()
			assert.True(t, strings.HasPrefix(said, "its header says ") && strings.HasSuffix(said, fmt.Sprintf(" for the %s, where a book has %d", x.what, x.is)), said)
		}
	}
	assert.Equal(t, want, says)
	h[20], h[23] = 1, 1
	assert.Equal(t, "its header says 1 for the room kept free on each page, where a book has 0", h.Damaged(), "the first of several")
}

func TestSizesOfPages(t *testing.T) {
	for named := range 1 << 16 {
		var h header
		binary.BigEndian.PutUint16(h[16:], uint16(named))
		want := 4096 // that of every book, where the head names none that there is
		switch named {
		case 1:
			want = 65536
		case 512, 1024, 2048, 4096, 8192, 16384, 32768:
			want = named
		}
		if got := h.pageSize(); got != want {
			t.Errorf("%d names pages of %d bytes, not %d", named, want, got)
		}
	}
	for _, size := range []int{512, 4096, 65536} {
		h, err := ReadHead(closed(t, fmt.Sprintf("PRAGMA page_size=%d", size), "CREATE TABLE t (v)"))
		require.NoError(t, err)
		assert.Equal(t, size, h.pageSize(), "as SQLite names it")
	}
}

func schemaHas(q *Quarry, name, text string) bool {
	return q.SchemaHas(name, text, 1, map[int64]bool{})
}

// A table is found by its name and its text, on the first page or wherever a long list of tables goes on.
func TestTablesAreFoundInTheList(t *testing.T) {
	for _, tables := range []int{1, 2, 30} { // of 30 the list is two pages deep
		statements := []string{"PRAGMA page_size=512"}
		for i := range tables {
			statements = append(statements, fmt.Sprintf("CREATE TABLE t%d (v, %s TEXT)", i, "x"+strings.Repeat("y", 40)))
		}
		q := quarry(t, closed(t, statements...))
		for i := range tables {
			name, text := fmt.Sprintf("t%d", i), statements[i+1]
			assert.True(t, schemaHas(q, name, text), "%s of %d", name, tables)
			assert.False(t, schemaHas(q, name, text+" "))
			assert.False(t, schemaHas(q, name+"x", text))
			assert.False(t, schemaHas(q, "table", text), "its name, not its kind")
		}
		assert.Equal(t, tables == 30, q.Page(1)[100] == innerTable)
	}
	no := quarry(t, fileOfNothing(t))
	assert.False(t, schemaHas(no, "t", "CREATE TABLE t (v)"))
}

func fileOfNothing(t testing.TB) string {
	t.Helper()
	path := fileOf(t)
	put(t, path, nil)
	return path
}

// A list of tables that is damaged ends: pages that lead round or nowhere, more of them than any book's list has.
func TestAListOfTablesThatLeadsNowhere(t *testing.T) {
	const name, text = "t", "CREATE TABLE t (v)"
	var values []byte
	for _, v := range []string{"table", name, name, "", text} {
		values = append(values, byte(2*len(v)+13))
	}
	row := append(append([]byte{byte(len(values) + 1)}, values...), "table"+name+name+text...)
	table := leaf(placed{300, append([]byte{byte(len(row)), 1}, row...)})
	require.True(t, laid(t, table).SchemaHas(name, text, 2, map[int64]bool{}), "as it is found where all is well")

	inner := func(last byte, cells ...byte) []byte {
		p := make([]byte, small)
		p[0], p[4], p[11] = innerTable, byte(len(cells)), last
		for i, page := range cells {
			at := 100 + 5*i
			binary.BigEndian.PutUint16(p[12+2*i:], uint16(at))
			p[at+3] = page
		}
		return p
	}
	other := func(kind byte) []byte { p := append([]byte{}, table...); p[0] = kind; return p }
	for _, c := range []struct {
		what  string
		pages [][]byte
		found bool
	}{
		{"at the right end", [][]byte{inner(3), table}, true},
		{"in a cell", [][]byte{inner(0, 9, 3), table}, true},
		{"behind a page that leads round", [][]byte{inner(3, 2), table}, true},
		{"round and nothing else", [][]byte{inner(2, 2, 2)}, false},
		{"no page", [][]byte{inner(0, 0), table}, false},
		{"the last page", [][]byte{inner(4), nil, table}, true},
		{"behind the last", [][]byte{inner(4), table}, false},
		{"a page of an index", [][]byte{other(0x0a)}, false},
		{"a page of nothing", [][]byte{other(0)}, false},
	} {
		assert.Equal(t, c.found, laid(t, c.pages...).SchemaHas(name, text, 2, map[int64]bool{}), c.what)
	}

	for at, found := range map[int]bool{small - 4: true, small - 3: false, 0xffff: false} {
		p := inner(0, 9)
		binary.BigEndian.PutUint16(p[12:], uint16(at))
		if at < small {
			copy(p[at:], []byte{0, 0, 0, 3})
		}
		assert.Equal(t, found, laid(t, p, table).SchemaHas(name, text, 2, map[int64]bool{}), "a page named at %d", at)
	}
	lastSlot := inner(0)
	binary.BigEndian.PutUint16(lastSlot[3:], 0xffff)
	lastSlot[103] = 3
	binary.BigEndian.PutUint16(lastSlot[small-2:], 100)
	assert.True(t, laid(t, lastSlot, table).SchemaHas(name, text, 2, map[int64]bool{}), "the last cell that a page can name")
	lastSlot[103] = 0
	assert.False(t, laid(t, lastSlot, table).SchemaHas(name, text, 2, map[int64]bool{}), "more cells than a page can name")

	for pages, found := range map[int]bool{64: true, 65: false} {
		var chain [][]byte
		for i := range pages - 1 {
			chain = append(chain, inner(byte(i+3)))
		}
		assert.Equal(t, found, laid(t, append(chain, table)...).SchemaHas(name, text, 2, map[int64]bool{}), "%d pages deep", pages)
	}

	short := leaf(placed{300, cell(1, text)})
	assert.False(t, laid(t, short).SchemaHas(name, text, 2, map[int64]bool{}), "a row of another number of values")
}

func TestWhatTheSystemSaidWithoutThePath(t *testing.T) {
	_, err := os.Open(filepath.Join(t.TempDir(), "no"))
	assert.EqualError(t, Reason(err), "no such file or directory")
	alone := errors.New("alone")
	assert.Equal(t, alone, Reason(alone))
}

// A book that is open twice stays open until both are closed; another name of the same file is the same book.
func TestBooksThatThisProgramHasOpen(t *testing.T) {
	path, other := written(t), written(t)
	var here openFiles
	info, err := os.Stat(path)
	require.NoError(t, err)
	again, err := os.Stat(path)
	require.NoError(t, err)
	assert.False(t, here.Has(path))
	here.Add(nil)
	here.Add(info)
	here.Add(again)
	link := other + "-link"
	require.NoError(t, os.Symlink(path, link))
	assert.True(t, here.Has(path))
	assert.True(t, here.Has(link))
	assert.False(t, here.Has(other))
	assert.False(t, here.Has(path+"x"))
	here.Remove(info)
	assert.True(t, here.Has(path))
	here.Remove(again)
	assert.False(t, here.Has(path))
	here.Remove(again)
	assert.False(t, here.Has(path))
}
