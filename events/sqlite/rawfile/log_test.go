package rawfile

import (
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

var logging = []string{"PRAGMA page_size=512", "PRAGMA journal_mode=WAL", "PRAGMA wal_autocheckpoint=0", "PRAGMA secure_delete=OFF", "CREATE TABLE t (v)"}

const logLength = FrameHead + small

// acted writes rows in one transaction each.
func acted(from, to int) (statements []string) {
	for i := from; i < to; i++ {
		statements = append(statements, fmt.Sprintf("INSERT INTO t VALUES ('act %d %s')", i, dots(200)))
	}
	return statements
}

// deadBook is a book of which the table and twelve acts lie in the log of a program that died.
func deadBook(t testing.TB) string {
	t.Helper()
	path := fileOf(t)
	db := database(t, path, append(logging, acted(0, 12)...)...)
	defer db.Close()
	return died(t, path)
}

// takenIn is the file as SQLite makes it of a copy of what a program left, log and all, and how many frames of the log it took.
func takenIn(t testing.TB, path string) (file []byte, frames int64) {
	t.Helper()
	other := fileOf(t)
	for _, suffix := range []string{"", "-wal"} {
		if b, err := os.ReadFile(path + suffix); err == nil {
			put(t, other+suffix, b)
		}
	}
	db := database(t, other)
	do(t, db, "PRAGMA schema_version") // it takes the log in when it is asked for the first time
	frames = -1
	var busy, moved int64
	require.NoError(t, db.QueryRow("PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &frames, &moved))
	require.Equal(t, frames, moved)
	require.NoError(t, db.Close())
	return contents(t, other), max(frames, 0)
}

// holdsAsSQLite holds that a quarry has each page as SQLite takes the book in.
func holdsAsSQLite(t testing.TB, path, what string) *Quarry {
	t.Helper()
	q := quarry(t, path)
	file, frames := takenIn(t, path)
	if q.Log != nil {
		require.Equal(t, frames, q.Log.Taken, what)
	}
	require.Equal(t, int64(len(file)), q.Pages*int64(q.PageSize), what)
	for n := range q.Pages {
		if n == 0 { // SQLite counts changes in the head
			continue
		}
		require.Equal(t, file[n*small:(n+1)*small], q.Page(n+1), "%s: page %d", what, n+1)
	}
	return q
}

func withoutIndex(t testing.TB, path string) string {
	t.Helper()
	require.NoError(t, os.Remove(path+"-shm"))
	return path
}

// A log is taken in as SQLite does, its sums over words of either order.
func TestALogIsTakenInAsSQLiteDoes(t *testing.T) {
	path := deadBook(t)
	q := holdsAsSQLite(t, path, "whole")
	assert.Greater(t, q.Log.Taken, int64(12))
	assert.Equal(t, q.Log.Taken, q.Log.accepted)
	assert.False(t, q.Log.moved)
	assert.False(t, q.Log.Lost())
	assert.Empty(t, q.Log.behind)
	assert.Nil(t, q.Behind())
	assert.NoError(t, CheckLog(path))
	assert.Len(t, texts(t, q, false), 12)

	raw := contents(t, path+"-wal")
	var frames []logged
	for at := LogHead; at < len(raw); at += logLength {
		frames = append(frames, logged{int(binary.BigEndian.Uint32(raw[at:])), int(binary.BigEndian.Uint32(raw[at+4:])), raw[at+FrameHead : at+logLength]})
	}
	again := func(order binary.ByteOrder) []byte { return logOf(order, small, string(raw[16:24]), frames...) }
	require.Equal(t, raw[20:], again(binary.LittleEndian)[20:], "what the tests write")
	for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
		put(t, path+"-wal", again(order))
		q := holdsAsSQLite(t, path, order.String())
		assert.Len(t, texts(t, q, false), 12, order)
	}
}

// Whatever byte of a log is changed, what is taken in is what SQLite takes in, and what lies behind is told as lost where
// the index says that it was accepted; without an index, where a transaction is whole behind the damage.
func TestALogWithADamagedByte(t *testing.T) {
	path := deadBook(t)
	raw := contents(t, path+"-wal")
	total := int64(len(raw)-LogHead) / logLength
	commits := func(frame int64) (n int) { // from a frame on
		for ; frame < total; frame++ {
			if binary.BigEndian.Uint32(raw[LogHead+frame*logLength+4:]) != 0 {
				n++
			}
		}
		return n
	}
	var places []int
	for at := range LogHead {
		places = append(places, at)
	}
	for frame := range int(total) {
		for _, at := range []int{0, 3, 7, 8, 15, 16, 19, 20, 23, FrameHead, FrameHead + small - 1} {
			places = append(places, LogHead+frame*logLength+at)
		}
	}
	for _, at := range places {
		damaged := []byte(string(raw))
		damaged[at] ^= 0x10
		put(t, path+"-wal", damaged)
		l, err := LogOf(path)
		require.NoError(t, err)
		frame := max(0, int64(at-LogHead)/logLength)
		if at < LogHead {
			frame = 0
		}
		what := fmt.Sprintf("byte %d of frame %d of %d", at-LogHead-int(frame)*logLength, frame, total)
		require.LessOrEqual(t, l.Taken, frame, what)
		require.Equal(t, total, l.Taken+int64(len(l.behind)), what)
		require.True(t, l.Lost(), what)
		require.Zero(t, l.gone(), what)
		if at%7 == 0 || at < LogHead { // SQLite itself is asked about some
			holdsAsSQLite(t, path, what)
		}
		for i, fr := range l.behind { // in their order, each at its place
			n := l.Taken + int64(i)
			require.Equal(t, LogHead+n*logLength+FrameHead, fr.at, what)
			if n != frame {
				require.EqualValues(t, binary.BigEndian.Uint32(raw[LogHead+n*logLength:]), fr.page, what)
				require.EqualValues(t, binary.BigEndian.Uint32(raw[LogHead+n*logLength+4:]), fr.commit, what)
			}
		}
		f, err := os.Open(path + "-wal")
		require.NoError(t, err)
		bare, err := readFrames(f, small)
		f.Close()
		require.NoError(t, err)
		require.EqualValues(t, -1, bare.accepted)
		require.GreaterOrEqual(t, bare.commits(), commits(frame+1), what)
		require.Equal(t, bare.commits() > 0, bare.Lost(), what)
	}
}

// What the head of a log must say for SQLite to believe it.
func TestTheHeadOfALog(t *testing.T) {
	path := written(t, leaf(placed{300, cell(1, "old")}))
	good := logOf(binary.LittleEndian, small, "saltsalt", logged{2, 2, leaf(placed{300, cell(1, "new")})})
	takes := func(raw []byte) bool {
		put(t, path+"-wal", raw)
		q := quarry(t, path)
		want := "old"
		if q.Log.Taken == 1 {
			want = "new"
		}
		assert.Equal(t, []string{want}, texts(t, q, false))
		return q.Log.Taken == 1
	}
	assert.True(t, takes(good))
	resummed := func(at int, b byte) []byte { // with sums that fit
		raw := []byte(string(good))
		raw[at] = b
		s := newLogSum(raw)
		s.add(raw[:24])
		binary.BigEndian.PutUint32(raw[24:], s.s1)
		binary.BigEndian.PutUint32(raw[28:], s.s2)
		s.add(raw[LogHead : LogHead+8])
		s.add(raw[LogHead+FrameHead:])
		binary.BigEndian.PutUint32(raw[LogHead+16:], s.s1)
		binary.BigEndian.PutUint32(raw[LogHead+20:], s.s2)
		return raw
	}
	assert.True(t, takes(resummed(3, 0x82)))
	assert.True(t, takes(resummed(3, 0x83)))
	for _, magic := range []byte{0x80, 0x81, 0x84, 0x02} {
		assert.False(t, takes(resummed(3, magic)), "%x is no log", magic)
	}
	assert.False(t, takes(resummed(0, 0x36)))
	assert.True(t, takes(resummed(10, small>>8)))
	assert.False(t, takes(resummed(10, 4)), "a log of a book with other pages")
	assert.False(t, takes(good[:LogHead]))
	assert.False(t, takes(good[:LogHead-1]))
	assert.False(t, takes(nil))
	assert.False(t, takes(good[:len(good)-1]))
	assert.True(t, takes(append(good, make([]byte, 2*logLength)...)), "noughts behind it are no frames")
	assert.Empty(t, quarry(t, path).Log.behind)
}

// A log that begins anew is written over from its front, and what it held before lies behind, under other salts.
func TestWhatAnOlderLogLeftIsNoDamage(t *testing.T) {
	path := fileOf(t)
	db := database(t, path, append(logging, acted(0, 12)...)...)
	length := len(contents(t, path+"-wal"))
	do(t, db, "PRAGMA wal_checkpoint(FULL)")
	do(t, db, acted(12, 14)...)
	require.Len(t, contents(t, path+"-wal"), length, "it is not shortened")
	for _, left := range []string{died(t, path), withoutIndex(t, died(t, path))} {
		q := holdsAsSQLite(t, left, "begun anew")
		assert.Len(t, texts(t, q, false), 14)
		assert.Empty(t, q.Log.behind)
		assert.False(t, q.Log.Lost())
		assert.NoError(t, CheckLog(left))
		q.BringBehind()
		assert.Len(t, texts(t, q, true), 14)
	}
}

// A transaction that a program died in is not taken in and not lost, wherever the log ends in it, and can be cut off.
func TestATransactionThatWasNotFinished(t *testing.T) {
	path := fileOf(t)
	db := database(t, path, append(logging, acted(0, 3)...)...)
	do(t, db, "PRAGMA cache_size=1", "BEGIN")
	do(t, db, acted(3, 40)...)
	left := died(t, path)
	whole := contents(t, left+"-wal")
	l, err := LogOf(left)
	require.NoError(t, err)
	require.Greater(t, len(l.behind), 3)
	finished := LogHead + int(l.Taken)*logLength
	for _, length := range []int{len(whole), len(whole) - 1, finished + logLength + FrameHead + 1, finished + logLength + FrameHead, finished + logLength + FrameHead - 1, finished + logLength, finished + 1, finished} {
		put(t, left+"-wal", whole[:length])
		q := holdsAsSQLite(t, left, "unfinished")
		begun := length - finished
		want := begun / logLength
		if begun%logLength >= FrameHead { // enough of one to say whose it is
			want++
		}
		assert.Len(t, q.Log.behind, want, "of %d bytes", begun)
		assert.Equal(t, finished, LogHead+int(q.Log.Taken)*logLength)
		assert.False(t, q.Log.Lost())
		assert.Zero(t, q.Log.commits())
		assert.Nil(t, q.Behind(), "nothing of it was acknowledged")
		assert.Len(t, texts(t, q, false), 3)

		require.NoError(t, CutLog(left+"-wal"))
		cut := contents(t, left+"-wal")
		if want > 0 {
			assert.Equal(t, string(whole[:finished]), string(cut))
		} else {
			assert.Equal(t, string(whole[:length]), string(cut))
		}
		assert.Len(t, texts(t, holdsAsSQLite(t, left, "cut"), false), 3)
	}

	foreign := append([]byte(string(whole[:finished])), make([]byte, FrameHead)...)
	put(t, left+"-wal", foreign) // the head of a frame that belongs to no log
	assert.Empty(t, quarry(t, left).Log.behind)
}

// A frame that the log ends in the midst of is known by its salts, and its page by its number.
func TestAFrameThatIsCut(t *testing.T) {
	path := written(t, leaf(placed{300, cell(1, "old")}))
	raw := logOf(binary.LittleEndian, small, "saltsalt", logged{1, 2, firstPage()}, logged{2, 2, leaf(placed{300, cell(1, "late")})})
	put(t, path+"-wal", raw[:LogHead+logLength+FrameHead+400])
	l, err := LogOf(path)
	require.NoError(t, err)
	assert.Equal(t, []frame{{page: 2, at: LogHead + logLength + FrameHead}}, l.behind)
	assert.False(t, l.Lost(), "what ended it is not there")
}

func TestLogsAreCutOfAnyPageSize(t *testing.T) {
	for size, cuts := range map[int]bool{256: false, 511: false, 512: true, 65536: true, 65537: false} {
		path := fileOf(t)
		whole := logOf(binary.LittleEndian, size, "saltsalt", logged{page: 1, commit: 1}, logged{page: 1})
		put(t, path, whole)
		require.NoError(t, CutLog(path))
		want := len(whole)
		if cuts {
			want = LogHead + FrameHead + size
		}
		assert.Len(t, contents(t, path), want, "pages of %d bytes", size)
	}
	path := fileOf(t)
	assert.ErrorIs(t, CutLog(path), os.ErrNotExist)
	put(t, path, make([]byte, LogHead-1))
	require.NoError(t, CutLog(path))
	assert.Len(t, contents(t, path), LogHead-1)
	f, err := os.Open(path)
	require.NoError(t, err)
	f.Close()
	_, err = readFrames(f, small)
	assert.ErrorIs(t, err, os.ErrClosed)
}

// The index tells how much was accepted; one that is damaged, or of another log, tells nothing.
func TestTheIndexBesideALog(t *testing.T) {
	path := deadBook(t)
	index := contents(t, path+"-shm")
	l, err := LogOf(path)
	require.NoError(t, err)
	frames := l.Taken
	with := func(change func(b []byte)) *bookLog {
		b := []byte(string(index))
		change(b)
		put(t, path+"-shm", b)
		l, err := LogOf(path)
		require.NoError(t, err)
		return l
	}
	resummed := func(b []byte) {
		s := logSum{order: binary.NativeEndian}
		s.add(b[:40])
		binary.NativeEndian.PutUint32(b[40:], s.s1)
		binary.NativeEndian.PutUint32(b[44:], s.s2)
		copy(b[48:96], b[:48])
	}
	assert.Equal(t, frames, with(func([]byte) {}).accepted)
	assert.Equal(t, frames, with(resummed).accepted, "the sums that SQLite makes")
	for at := range 96 {
		assert.EqualValues(t, -1, with(func(b []byte) { b[at] ^= 4 }).accepted, "byte %d of one copy", at)
	}
	for at := range 48 {
		assert.EqualValues(t, -1, with(func(b []byte) { b[at] ^= 4; copy(b[48:96], b[:48]) }).accepted, "byte %d of both copies", at)
	}
	assert.EqualValues(t, -1, with(func(b []byte) { b[12] = 0; resummed(b) }).accepted, "an index that is not made yet")
	for at := 32; at < 40; at++ {
		assert.EqualValues(t, -1, with(func(b []byte) { b[at] ^= 4; resummed(b) }).accepted, "the index of another log")
	}
	assert.EqualValues(t, 3, with(func(b []byte) { binary.NativeEndian.PutUint32(b[16:], 3); resummed(b) }).accepted)
	for length, accepted := range map[int]int64{0: -1, 99: -1, 100: frames} {
		put(t, path+"-shm", index[:length])
		l, err := LogOf(path)
		require.NoError(t, err)
		assert.Equal(t, accepted, l.accepted, "an index of %d bytes", length)
	}
	for moved, all := range map[int64]bool{0: false, frames - 1: false, frames: true, frames + 1: true} {
		assert.Equal(t, all, with(func(b []byte) { binary.NativeEndian.PutUint32(b[96:], uint32(moved)) }).moved, "%d of %d in the file already", moved, frames)
	}

	// Without a log there are no salts to hold it against.
	put(t, path+"-shm", index)
	require.NoError(t, os.Remove(path+"-wal"))
	l, err = LogOf(path)
	require.NoError(t, err)
	assert.Equal(t, frames, l.accepted)
	assert.Zero(t, l.Taken)
	assert.True(t, l.Lost())
	assert.Equal(t, frames, l.gone())
	assert.Empty(t, withoutLog(t, path))
}

// withoutLog are the rows of a book whose log is gone.
func withoutLog(t testing.TB, path string) []string {
	t.Helper()
	q := quarry(t, path)
	q.BringBehind()
	require.NoError(t, q.EachVersion(func(CarvedRow) error { return errEnough }))
	return texts(t, q, true)
}

// What lies in the file already is not lost with the log.
func TestALogThatWasMovedIntoTheFile(t *testing.T) {
	path := fileOf(t)
	db := database(t, path, append(logging, acted(0, 5)...)...)
	do(t, db, "PRAGMA wal_checkpoint(PASSIVE)")
	left := died(t, path)
	l, err := LogOf(left)
	require.NoError(t, err)
	assert.True(t, l.moved)
	assert.False(t, l.Lost())
	for _, length := range []int{0, 31, 32, 100} {
		put(t, left+"-wal", contents(t, path+"-wal")[:length])
		l, err := LogOf(left)
		require.NoError(t, err)
		assert.False(t, l.Lost(), "cut to %d bytes", length)
		assert.NoError(t, CheckLog(left))
	}
	do(t, db, acted(5, 6)...)
	again := died(t, path)
	put(t, again+"-wal", nil)
	l, err = LogOf(again)
	require.NoError(t, err)
	assert.True(t, l.Lost(), "an act came after")
}

func TestWhatIsLost(t *testing.T) {
	end, midst := frame{commit: 7}, frame{}
	for _, c := range []struct {
		what   string
		l      bookLog
		lost   bool
		gone   int64
		behind int
	}{
		{"nothing at all", bookLog{accepted: -1}, false, 0, 0},
		{"no index, an unfinished transaction", bookLog{accepted: -1, Taken: 4, behind: []frame{midst, midst}}, false, 0, 0},
		{"no index, a whole transaction", bookLog{accepted: -1, Taken: 4, behind: []frame{midst, end}}, true, 0, 1},
		{"all that was accepted", bookLog{accepted: 4, Taken: 4}, false, 0, 0},
		{"one more than was acknowledged", bookLog{accepted: 4, Taken: 4, behind: []frame{midst, end}}, false, 0, 1},
		{"two more: the index is older than the log", bookLog{accepted: 4, Taken: 4, behind: []frame{end, midst, end}}, true, 0, 2},
		{"less than was accepted", bookLog{accepted: 5, Taken: 4}, true, 1, 0},
		{"what was accepted lies behind the damage", bookLog{accepted: 6, Taken: 4, behind: []frame{midst, end}}, true, 0, 1},
		{"part of it does", bookLog{accepted: 9, Taken: 4, behind: []frame{midst, end}}, true, 3, 1},
		{"none of a log that is in the file", bookLog{accepted: 9, moved: true}, false, 9, 0},
		{"part of a log that is in the file", bookLog{accepted: 9, Taken: 1, moved: true}, true, 8, 0},
	} {
		assert.Equal(t, c.lost, c.l.Lost(), c.what)
		assert.Equal(t, c.gone, c.l.gone(), c.what)
		assert.Equal(t, c.behind, c.l.commits(), c.what)
		q := Quarry{Log: &c.l}
		if c.lost || c.l.accepted < 0 {
			assert.Equal(t, c.l.behind, q.Behind(), c.what)
		} else {
			assert.Nil(t, q.Behind(), c.what)
		}
	}
	whole := &bookLog{accepted: 9, Taken: 4, behind: []frame{midst, end}}
	const says = "the log beside it, book.db-wal, is damaged or cut: 4 of its pages are taken in, 2 lie behind the damage"
	assert.Equal(t, says+", 3 are gone, and with them acts that were acknowledged", whole.Says("/far/book.db"))
	whole.accepted = 7
	assert.Equal(t, says+", 1 are gone, and with them acts that were acknowledged", whole.Says("book.db"))
	whole.accepted = 6
	assert.Equal(t, says+", and with them acts that were acknowledged", whole.Says("book.db"))
}

// Before SQLite sees a book, its log is looked at.
func TestALogIsCheckedBeforeSQLiteSeesIt(t *testing.T) {
	path := deadBook(t)
	raw := contents(t, path+"-wal")
	put(t, path+"-wal", raw[:len(raw)-1])
	frames := (len(raw) - LogHead) / logLength
	taken := int((quarry(t, path).Log.Taken))
	err := CheckLog(path)
	require.ErrorIs(t, err, events.ErrDamaged)
	assert.EqualError(t, err, events.ErrDamaged.Error()+fmt.Sprintf(": the log beside it, book.db-wal, is damaged or cut: %d of its pages are taken in, %d lie behind the damage", taken, frames-taken)+
		", and with them acts that were acknowledged; nothing was touched: `traybook verify` names what can be read of them, `traybook salvage` saves it")
	info, err := os.Stat(path)
	require.NoError(t, err)
	OpenHere.Add(info)
	assert.NoError(t, CheckLog(path), "of a book that this program has open the log is in use")
	q := quarry(t, path)
	assert.EqualValues(t, taken, q.Log.Taken)
	assert.Nil(t, q.Behind())
	OpenHere.Remove(info)
	assert.Error(t, CheckLog(path))

	for _, suffix := range besideToo[1:] {
		require.NoError(t, os.Remove(path+suffix))
		require.NoError(t, os.Symlink("book.db"+suffix, path+suffix))
		assert.EqualError(t, CheckLog(path), "the log beside the book cannot be read: too many levels of symbolic links", suffix)
		require.NoError(t, os.Remove(path+suffix))
		put(t, path+suffix, nil)
	}
	require.NoError(t, os.Remove(path))
	assert.EqualError(t, CheckLog(path), "the log beside the book cannot be read: the book cannot be read: no such file or directory")
}

func TestBooksWithoutALog(t *testing.T) {
	path := closed(t, logging...)
	for _, suffix := range besideToo[1:] {
		require.NoFileExists(t, path+suffix)
	}
	l, err := LogOf(path)
	require.NoError(t, err)
	assert.Nil(t, l)
	assert.NoError(t, CheckLog(path))
	assert.Nil(t, quarry(t, path).Log)
	assert.Nil(t, quarry(t, path).Behind())
	require.NoError(t, os.Symlink("nothing", path+"-wal"))
	l, err = LogOf(path)
	require.NoError(t, err)
	assert.Nil(t, l, "a link that leads to no log")
	put(t, path+"-shm", nil)
	l, err = LogOf(path)
	require.NoError(t, err)
	assert.Equal(t, &bookLog{accepted: -1}, l)
	require.NoError(t, os.Remove(path+"-wal"))
	put(t, path+"-wal", nil)
	require.NoError(t, os.Remove(path+"-shm"))
	l, err = LogOf(path)
	require.NoError(t, err)
	assert.Equal(t, &bookLog{newer: map[int64]int64{}, accepted: -1}, l)
}

func TestWhatIsNoFileIsNotOpened(t *testing.T) {
	path := closed(t, logging...)
	assert.NoError(t, PlainFiles(path))
	assert.EqualError(t, PlainFiles(path+"x"), "no such file or directory")
	assert.EqualError(t, PlainFiles(filepath.Dir(path)), "it is no file but a pipe, a device or a folder; name the book")
	for _, suffix := range []string{"-wal", "-shm", "-journal"} {
		put(t, path+suffix, nil)
		assert.NoError(t, PlainFiles(path))
		require.NoError(t, os.Remove(path+suffix))
		require.NoError(t, os.Mkdir(path+suffix, 0o700))
		assert.EqualError(t, PlainFiles(path), "book.db"+suffix+" lies beside it, and it is no file but a pipe, a device or a folder; move it away")
		require.NoError(t, os.Remove(path+suffix))
		require.NoError(t, os.Symlink("book.db"+suffix, path+suffix))
		assert.EqualError(t, PlainFiles(path), "too many levels of symbolic links")
		require.NoError(t, os.Remove(path+suffix))
	}
}
