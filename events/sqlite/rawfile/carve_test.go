package rawfile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var errEnough = errors.New("enough")

// Every row of every leaf is found once, those of pages out of use too; the pages out of use are those that SQLite counts.
func TestRowsOfPagesInUseAndOutOfUse(t *testing.T) {
	path := fileOf(t)
	db := database(t, path, "PRAGMA page_size=512", "PRAGMA secure_delete=OFF", "CREATE TABLE gone (v)", "CREATE TABLE kept (v)")
	const each = 2000
	do(t, db, "BEGIN")
	for i := range each {
		do(t, db, fmt.Sprintf("INSERT INTO gone VALUES ('gone %d %s')", i, dots(100)), fmt.Sprintf("INSERT INTO kept VALUES ('kept %d %s')", i, dots(100)))
	}
	do(t, db, "COMMIT", "DROP TABLE gone")
	free, pages := number(t, db, "PRAGMA freelist_count"), number(t, db, "PRAGMA page_count")
	require.Greater(t, free, int64(3*128), "several pages of the list of pages out of use")
	require.NoError(t, db.Close())

	q := quarry(t, path)
	assert.Equal(t, pages, q.Pages)
	assert.Len(t, q.Free, int(free))
	kept, gone := map[string]int{}, map[string]int{}
	for _, r := range carved(t, q, false, 1) {
		if v := r.Values[0].(string); v[:4] == "kept" {
			kept[v]++
			assert.False(t, q.Free[r.Where.Page], "page %d is in use", r.Where.Page)
		} else {
			gone[v]++
			assert.True(t, q.Free[r.Where.Page], "page %d is out of use", r.Where.Page)
		}
	}
	assert.Len(t, kept, each)
	for v, n := range kept {
		require.Equal(t, 1, n, v)
	}
	assert.Greater(t, len(gone), each*9/10, "only what the list itself is written over is lost")
	assert.Len(t, carved(t, q, false, 5), 1, "the list of tables, behind the head of the file")
}

// The list of pages out of use is followed as far as it is one.
func TestTheListOfPagesOutOfUse(t *testing.T) {
	const most = small/4 - 2 // pages that one page of the list names at most
	trunk := func(next byte, n int, pages ...byte) []byte {
		p := make([]byte, small)
		p[3] = next
		binary.BigEndian.PutUint32(p[4:], uint32(n))
		for i, page := range pages {
			p[8+4*i+3] = page
		}
		return p
	}
	full := trunk(0, most)
	full[small-1] = 9
	for _, c := range []struct {
		what  string
		first byte
		pages [][]byte
		want  []int64
	}{
		{"none", 0, [][]byte{trunk(0, 1, 9)}, nil},
		{"one of no others", 2, [][]byte{trunk(0, 0, 9)}, []int64{2}},
		{"two", 2, [][]byte{trunk(4, 2, 7, 8), nil, trunk(0, 1, 6)}, []int64{2, 4, 6, 7, 8}},
		{"on the last page", 3, [][]byte{nil, trunk(0, 1, 9)}, []int64{3, 9}},
		{"on the first", 1, [][]byte{nil}, nil}, // the mark of the file is no number of pages
		{"behind the last page", 3, [][]byte{trunk(0, 1, 9)}, nil},
		{"that goes on behind the last page", 2, [][]byte{trunk(3, 1, 9)}, []int64{2, 9}},
		{"round", 2, [][]byte{trunk(3, 1, 7), trunk(2, 1, 8)}, []int64{2, 3, 7, 8}},
		{"a full page", 2, [][]byte{full}, []int64{0, 2, 9}},
		{"a page that would name more than it can", 2, [][]byte{trunk(3, most+1, 9), trunk(0, 0)}, nil},
		{"a page in use", 2, [][]byte{leaf(placed{300, cell(1, "flood")})}, nil},
	} {
		raw := joined(c.pages...)
		raw[firstFree+3] = c.first
		path := fileOf(t)
		put(t, path, raw)
		var got []int64
		for page := range quarry(t, path).Free {
			got = append(got, page)
		}
		slices.Sort(got)
		assert.Equal(t, c.want, got, c.what)
	}
}

// Of a page's cells as many are looked at as it has room to name, and what is no row is passed over.
func TestCellsOfAPage(t *testing.T) {
	several := leaf(placed{300, cell(1, "flood")}, placed{400, []byte{0, 0}}, placed{500, cell(2, "ebb")})
	assert.Equal(t, []string{"flood", "ebb"}, texts(t, laid(t, several), false))
	fewer := slices.Clone(several)
	fewer[4] = 1
	assert.Equal(t, []string{"flood"}, texts(t, laid(t, fewer), false), "no more than it says")

	last := leaf(placed{300, cell(1, "flood")})
	binary.BigEndian.PutUint16(last[3:], 0xffff)
	binary.BigEndian.PutUint16(last[small-2:], 300)
	assert.Equal(t, []string{"flood", "flood"}, texts(t, laid(t, last), false), "the first and the last that a page can name")

	for kind := range 256 {
		other := slices.Clone(several)
		other[0] = byte(kind)
		assert.Equal(t, kind == leafTable, len(texts(t, laid(t, other), false)) > 0, "a page of the kind %#x", kind)
	}
}

// Where whoever is given the rows has enough, no more come.
func TestWhoHasEnoughIsGivenNoMore(t *testing.T) {
	q := laid(t, leaf(placed{300, cell(1, "flood")}, placed{400, cell(2, "ebb")}), leaf(placed{300, cell(3, "slack")}))
	seen := 0
	assert.Equal(t, errEnough, q.Each(false, func(CarvedRow) error { seen++; return errEnough }))
	assert.Equal(t, 1, seen)
}

func TestPagesOfAFileCutAnywhere(t *testing.T) {
	whole := joined(leaf(placed{300, cell(1, "flood")}))
	for _, c := range []struct{ size, pages int }{{0, 0}, {1, 1}, {99, 1}, {small, 1}, {small + 1, 2}, {2*small - 1, 2}, {2 * small, 2}} {
		path := fileOf(t)
		put(t, path, whole[:c.size])
		q := quarry(t, path)
		if c.size < 18 {
			assert.Equal(t, 4096, q.PageSize, "where nothing says more, that of every book")
		} else {
			assert.Equal(t, small, q.PageSize)
		}
		assert.EqualValues(t, c.pages, q.Pages, "of %d bytes", c.size)
		for n := range c.pages {
			want := make([]byte, q.PageSize)
			copy(want, whole[n*small:c.size])
			assert.Equal(t, want, q.Page(int64(n)+1), "what is cut off is nought")
		}
		if c.size >= 300+len(cell(1, "flood"))+small {
			assert.Equal(t, []string{"flood"}, texts(t, q, false))
		}
	}
}

func TestWhatIsClosedIsLetGo(t *testing.T) {
	q := quarry(t, harbourLog(t))
	q.Close()
	for _, f := range []*os.File{q.file, q.wal} {
		_, err := f.Stat()
		assert.ErrorIs(t, err, os.ErrClosed)
	}
}

func TestWhatCannotBeOpened(t *testing.T) {
	_, err := OpenQuarry(fileOf(t))
	assert.ErrorIs(t, err, os.ErrNotExist)
	for _, suffix := range []string{"-wal", "-shm"} {
		path := written(t, leaf(placed{300, cell(1, "flood")}))
		require.NoError(t, os.Symlink(filepath.Base(path)+suffix, path+suffix))
		_, err := OpenQuarry(path)
		assert.ErrorContains(t, err, "too many levels of symbolic links", suffix)
	}
}

// A book that is reached through a link has its log where it stands itself.
func TestALinkLeadsToTheLogToo(t *testing.T) {
	path := written(t, leaf(placed{300, cell(1, "flood")}))
	put(t, path+"-wal", logOf(binary.LittleEndian, small, "saltsalt", logged{2, 2, leaf(placed{300, cell(1, "ebb")})}))
	link := filepath.Join(t.TempDir(), "link.db")
	require.NoError(t, os.Symlink(path, link))
	assert.Equal(t, path, OwnPlace(link))
	assert.Equal(t, link+"x", OwnPlace(link+"x"), "of what is not there the place is as it was given")
	assert.Equal(t, []string{"ebb"}, texts(t, quarry(t, link), false))
}

// harbourLog is a book of pages 2 to 4 in a file, 2 and 3 newer in its log, the log damaged, and behind the damage 3 and 5
// once more, each in a transaction of its own.
func harbourLog(t *testing.T) string {
	row := func(text string) []byte { return leaf(placed{300, cell(1, text)}) }
	path := written(t, row("old 2"), row("old 3"), row("old 4"))
	frames := []logged{{2, 0, row("new 2")}, {3, 4, row("new 3")}, {4, 4, row("damaged 4")}, {3, 4, row("first late 3")}, {3, 5, row("late 3")}, {5, 5, row("late 5")}}
	raw := logOf(binary.LittleEndian, small, "saltsalt", frames...)
	raw[LogHead+2*(FrameHead+small)+FrameHead+300] ^= 1
	put(t, path+"-wal", raw)
	return path
}

// A page is as SQLite takes it in, or as it stood at the end, and each state of it that was written behind the damage.
func TestPagesBehindTheDamageOfALog(t *testing.T) {
	q := quarry(t, harbourLog(t))
	assert.EqualValues(t, 4, q.Pages)
	assert.EqualValues(t, 2, q.Log.Taken)
	taken := []string{"new 2", "new 3", "old 4"}
	assert.Equal(t, taken, texts(t, q, false))
	assert.Equal(t, taken, texts(t, q, true), "nothing is brought yet")
	assert.Len(t, q.Behind(), 4)

	q.BringBehind()
	assert.EqualValues(t, 5, q.Pages)
	assert.Equal(t, taken, texts(t, q, false))
	late := []string{"new 2", "late 3", "late 5"}
	assert.Equal(t, late, texts(t, q, true), "of page 4 only what is damaged")
	for _, isLate := range []bool{false, true} {
		for _, r := range carved(t, q, isLate, 1) {
			row, ok := q.Row(q.At(r.Where), r.Where)
			require.True(t, ok)
			assert.Equal(t, r, row, "late %v", isLate)
		}
	}
	var versions []string
	require.NoError(t, q.EachVersion(func(r CarvedRow) error {
		row, ok := q.Row(q.At(r.Where), r.Where)
		require.True(t, ok)
		assert.Equal(t, r, row)
		versions = append(versions, r.Values[0].(string))
		return nil
	}))
	assert.Equal(t, []string{"first late 3", "late 3", "late 5"}, versions)
	assert.Equal(t, errEnough, q.EachVersion(func(CarvedRow) error { return errEnough }))
}

// A row that runs over goes on in the state of the pages in which it was asked for.
func TestARowThatRunsOverBehindTheDamage(t *testing.T) {
	const size = 478
	page := func(c []byte) []byte { return leaf(placed{300, c}) }
	over := func(rowid byte, text string) []byte {
		return append(append(append(varint(size), rowid), record(text)[:39]...), 0, 0, 0, 3)
	}
	rest := func(text string) []byte { return append([]byte{0, 0, 0, 0}, record(text)[39:]...) }
	text := func(end string) string { return dots(size-3-4) + end }
	path := written(t, page(over(1, text("old."))), rest(text("old.")), leaf())
	raw := logOf(binary.LittleEndian, small, "saltsalt", logged{4, 4, leaf()}, logged{3, 4, rest(text("late"))})
	raw[LogHead] ^= 1
	put(t, path+"-wal", raw)
	q := quarry(t, path)
	q.BringBehind()
	assert.Equal(t, []string{text("old.")}, texts(t, q, false))
	assert.Equal(t, []string{text("late")}, texts(t, q, true))
	for _, r := range carved(t, q, true, 1) {
		where := r.Where
		row, ok := q.Row(q.At(where), where)
		require.True(t, ok)
		assert.Equal(t, text("late"), row.Values[0])
	}
}

// What the list of pages out of use says is taken as it stood at the end.
func TestPagesOutOfUseBehindTheDamage(t *testing.T) {
	list := func(page byte) []byte {
		p := firstPage()
		p[firstFree+3] = page
		return p
	}
	path := written(t, make([]byte, small), make([]byte, small))
	raw := logOf(binary.LittleEndian, small, "saltsalt", logged{1, 3, list(2)}, logged{2, 3, leaf()}, logged{1, 3, list(3)})
	raw[LogHead+FrameHead+small] ^= 1
	put(t, path+"-wal", raw)
	q := quarry(t, path)
	assert.Equal(t, map[int64]bool{2: true}, q.Free)
	q.BringBehind()
	assert.Equal(t, map[int64]bool{3: true}, q.Free)
}

// A number of a page behind the damage may say anything: one that no page can have brings nothing.
func TestPagesOfNoBookBehindTheDamage(t *testing.T) {
	row := leaf(placed{300, cell(1, "late")})
	path := written(t, nil)
	raw := logOf(binary.LittleEndian, small, "saltsalt", logged{2, 2, nil}, logged{0, 2, row}, logged{7, 2, row}, logged{8, 9, row})
	raw[LogHead+FrameHead] ^= 1
	put(t, path+"-wal", raw)
	q := quarry(t, path)
	require.Len(t, q.Behind(), 4)
	require.EqualValues(t, 2, q.Pages)
	q.BringBehind()
	assert.EqualValues(t, 2, q.Pages)
	for _, last := range []int{6, 7} { // two pages of the file, and four behind the damage
		raw := logOf(binary.LittleEndian, small, "saltsalt", logged{2, 2, nil}, logged{last, 2, row}, logged{1, 2, firstPage()}, logged{2, 9, row})
		raw[LogHead+FrameHead] ^= 1
		put(t, path+"-wal", raw)
		q := quarry(t, path)
		q.BringBehind()
		if last == 6 {
			assert.EqualValues(t, 6, q.Pages)
			assert.Equal(t, []string{"late", "late"}, texts(t, q, true))
		} else {
			assert.EqualValues(t, 2, q.Pages)
			assert.Equal(t, []string{"late"}, texts(t, q, true))
		}
	}
}
