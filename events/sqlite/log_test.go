package sqlite

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite/rawfile"
)

const logged = 30 // acts in the log of a dead program

// deadBook is a season's book as a program leaves it that died after 30 more acts: they lie in the log.
func deadBook(t testing.TB) (path string) {
	t.Helper()
	b := seasonBook(t)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	h.do(notes(logged)...)
	path = filepath.Join(t.TempDir(), "book.db")
	for _, suffix := range []string{"", "-wal", "-shm"} {
		copyBook(t, b.Path()+suffix, path+suffix)
	}
	require.NoError(t, b.Close())
	return path
}

// logIsTold holds that a damaged log is named by verify, that nothing opens the book over it, and that salvage saves the
// acts but for those that stood where the damage is. It says how many acts are lost.
func logIsTold(t testing.TB, path, what string) int64 {
	t.Helper()
	before := besides(t, path)
	r, err := VerifyFile(path, options, VerifyOptions{})
	require.NoError(t, err, what)
	require.False(t, r.OK, what)
	require.Equal(t, ProblemLog, r.Problems[0].Kind, "%s: %v", what, r.Problems)
	for _, readOnly := range []bool{true, false} {
		_, err := Open(path, Options{Folder: tally{}, ReadOnly: readOnly})
		require.ErrorIs(t, err, events.ErrDamaged, what)
		require.ErrorContains(t, err, "salvage", what)
	}
	named := 0
	for _, p := range r.Problems {
		if p.Kind == ProblemLog && p.Entry != "" {
			named++
		}
	}
	b, s := rescue(t, path)
	require.NoError(t, b.Close())
	require.Equal(t, before, besides(t, path), "%s: nothing beside the book is touched", what)
	require.EqualValues(t, s.Kept+s.Rewritten, r.Events+int64(named), "%s: verify names what salvage saves", what)
	return 27 + logged - s.Kept - s.Rewritten
}

// Of what stands beside the entries only the last state is brought, from behind the damage too: what was changed or taken
// out since does not come back.
func TestWhatStandsBesideIsTakenAsItStoodAtTheEnd(t *testing.T) {
	b := seasonBook(t)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	thumbnail := events.Thumbnail{SHA256: events.Hash{7}, JPEG: []byte{0xff, 0xd8}, Width: 1, Height: 1}
	var ref string
	require.NoError(t, b.Write(func(tx *Tx) (err error) {
		if ref, err = tx.AddSitter("Ylva", ""); err != nil {
			return err
		}
		return tx.PutThumbnail(thumbnail)
	}))
	require.NoError(t, b.Close()) // all that is in the file
	b = open(t, b.Path())
	h.b = b
	h.do(notes(2)...)
	first := len(fileBytes(t, b.Path()+"-wal")) / 2
	require.NoError(t, b.Write(func(tx *Tx) error {
		if err := tx.SetSitter(events.SitterRow{Ref: ref, Name: "Ylva of the quay", Contact: "by the mole"}); err != nil {
			return err
		}
		_, err := tx.file.Exec("DELETE FROM thumbnail")
		return err
	}))
	h.do(notes(2)...)
	path := filepath.Join(t.TempDir(), "book.db")
	for _, suffix := range []string{"", "-wal", "-shm"} {
		copyBook(t, b.Path()+suffix, path+suffix)
	}
	log := []byte(fileBytes(t, path+"-wal"))
	log[first] ^= 1
	require.NoError(t, os.WriteFile(path+"-wal", log, 0o600))
	saved, s := rescue(t, path)
	assert.Zero(t, s.Thumbnails)
	assert.EqualValues(t, 1, s.Sitters)
	require.NoError(t, saved.Read(func(tx *Tx) error {
		rows, err := tx.Sitters()
		require.NoError(t, err)
		assert.Equal(t, []events.SitterRow{{Ref: ref, Name: "Ylva of the quay", Contact: "by the mole"}}, rows)
		former, err := tx.FormerNames()
		require.NoError(t, err)
		assert.Equal(t, []events.SitterRow{{Ref: ref, Name: "Ylva"}}, former)
		return nil
	}))
}

func besides(t testing.TB, path string) (out []string) {
	t.Helper()
	for _, suffix := range []string{"", "-wal", "-shm"} {
		raw, _ := os.ReadFile(path + suffix)
		out = append(out, string(raw))
	}
	return out
}

func TestAWholeLogOfADeadProgramIsTakenIn(t *testing.T) {
	for _, index := range []bool{true, false} {
		path := deadBook(t)
		if !index {
			require.NoError(t, os.Remove(path+"-shm"))
		}
		r, err := VerifyFile(path, options, VerifyOptions{})
		require.NoError(t, err)
		assert.True(t, r.OK, "%v", r.Problems)
		assert.EqualValues(t, 27+logged, r.Events)
		_, s := rescue(t, path)
		assert.EqualValues(t, 27+logged, s.Kept)
		assert.Empty(t, s.Problems)
	}
}

// A byte changed anywhere in the log, with its index beside it or without, is found before anything is written over it.
func TestEveryByteOfALog(t *testing.T) {
	for _, index := range []bool{true, false} {
		path := deadBook(t)
		if !index {
			require.NoError(t, os.Remove(path+"-shm"))
		}
		f, err := os.OpenFile(path+"-wal", os.O_RDWR, 0)
		require.NoError(t, err)
		defer f.Close()
		raw, err := os.ReadFile(path + "-wal")
		require.NoError(t, err)
		flip := func(at int, with byte) {
			_, err := f.WriteAt([]byte{raw[at] ^ with}, int64(at))
			require.NoError(t, err)
		}
		l, err := rawfile.LogOf(path)
		require.NoError(t, err)
		require.False(t, l.Lost())
		require.EqualValues(t, len(raw), rawfile.LogHead+l.Taken*(rawfile.FrameHead+4096))
		n := 0
		for at := 0; at < len(raw); at += max(1, len(raw)/rounds(300, 6000)) {
			flip(at, 1<<(at%8))
			l, err := rawfile.LogOf(path)
			require.NoError(t, err)
			require.True(t, l.Lost(), "index %v, byte %d", index, at)
			flip(at, 0)
			n++
		}
		fully, lost, most := 0, int64(0), int64(0)
		for at := 3; at < len(raw); at += max(1, len(raw)/rounds(4, 60)) {
			flip(at, 1<<(at%8))
			gone := logIsTold(t, path, fmt.Sprintf("index %v, byte %d", index, at))
			lost, most = lost+gone, max(most, gone)
			flip(at, 0)
			fully++
		}
		assert.LessOrEqual(t, most, int64(1), "one act at most stands in one byte")
		t.Logf("index %v: of %d bytes %d changed and found, %d salvaged; acts lost: %d, at most %d at once", index, len(raw), n, fully, lost, most)
	}
}

// A log cut anywhere: its index tells. Without one a cut between two acts is no different from a log that is shorter.
func TestACutLog(t *testing.T) {
	path := deadBook(t)
	raw, err := os.ReadFile(path + "-wal")
	require.NoError(t, err)
	cuts := []int{0, 1, 31, 32, 40, len(raw) - 1, len(raw) - 4120, len(raw) - 4121}
	for n := 0; n < len(raw); n += max(1, len(raw)/rounds(3, 60)) {
		cuts = append(cuts, n)
	}
	for _, n := range cuts {
		require.NoError(t, os.WriteFile(path+"-wal", raw[:n], 0o600))
		logIsTold(t, path, fmt.Sprintf("cut at %d", n))
	}
	require.NoError(t, os.Remove(path+"-wal"))
	r, err := VerifyFile(path, options, VerifyOptions{})
	require.NoError(t, err)
	assert.False(t, r.OK, "the log is gone altogether")
}

// What a program left that died while it wrote was never acknowledged, and is no damage.
func TestAnUnfinishedWriteIsNoDamage(t *testing.T) {
	b := seasonBook(t)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	h.do(notes(3)...)
	path := filepath.Join(t.TempDir(), "book.db")
	copyBook(t, b.Path(), path)
	copyBook(t, b.Path()+"-shm", path+"-shm") // as it was before the last act
	h.do(&events.NoteWrittenData{About: "2026-001", Text: "half"})
	wal := fileBytes(t, b.Path()+"-wal")
	for _, n := range []int{len(wal), len(wal) - 1, len(wal) - 4120, len(wal) - 4121} {
		require.NoError(t, os.WriteFile(path+"-wal", []byte(wal[:n]), 0o600))
		l, err := rawfile.LogOf(path)
		require.NoError(t, err)
		assert.False(t, l.Lost(), "cut at %d of %d", n, len(wal))
	}
	broken := []byte(wal)
	broken[len(wal)-5000] ^= 1 // the sums of a write are made last: only its end is on the disk
	require.NoError(t, os.WriteFile(path+"-wal", broken, 0o600))
	r, err := VerifyFile(path, options, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, r.OK, "%v", r.Problems)
	assert.EqualValues(t, 30, r.Events)
}

// A log that is in use is not looked at: its writer knows it.
func TestALogInUseIsLeftAlone(t *testing.T) {
	b := seasonBook(t)
	newHand(t, b, "late").do(notes(2)...)
	f, err := os.OpenFile(b.Path()+"-wal", os.O_RDWR, 0)
	require.NoError(t, err)
	defer f.Close()
	_, err = f.WriteAt([]byte{0xff}, 5000)
	require.NoError(t, err)
	require.NoError(t, rawfile.CheckLog(b.Path()))
}

// Any bit of the file's header: what hides the book is named as damage, and the book can be saved. What SQLite does not
// use changes nothing.
func TestEveryBitOfTheHeader(t *testing.T) {
	whole := season()
	path := filepath.Join(t.TempDir(), "book.db")
	var harmless []int
	found := 0
	for bit := 0; bit < 800; bit += rounds(13, 1) {
		raw := []byte(string(whole))
		raw[bit/8] ^= 1 << (bit % 8)
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		what := fmt.Sprintf("byte %d, bit %d", bit/8, bit%8)
		r, err := VerifyFile(path, options, VerifyOptions{})
		require.NoError(t, err, what)
		if r.OK {
			harmless = append(harmless, bit/8)
		} else {
			found++
		}
		assert.True(t, r.OK || r.Problems[0].Kind == ProblemFile, "%s: %v", what, r.Problems)
		b, s := rescue(t, path)
		assert.EqualValues(t, 27, s.Kept, what)
		require.NoError(t, b.Close())
	}
	for _, at := range slices.Compact(harmless) {
		unused := at >= 24 && at < 28 || at == 31 || at >= 40 && at < 44 || at >= 48 && at < 52 || at >= 72 // counters, a size of 0 (the file tells), places of no use
		assert.True(t, unused, "byte %d of the header may say anything", at)
	}
	t.Logf("%d found, %d in places without use", found, len(harmless))
}

// The layout and the mark of the program are in the header; a damaged one is not taken for another version's or another
// program's file where the tables are a book's.
func TestADamagedMarkIsDamage(t *testing.T) {
	whole := season()
	path := filepath.Join(t.TempDir(), "book.db")
	with := func(at int, b byte) error {
		raw := []byte(string(whole))
		raw[at] = b
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		_, err := Open(path, options)
		return err
	}
	assert.ErrorContains(t, with(71, 'x'), "mark of the program")
	assert.ErrorIs(t, with(71, 'x'), events.ErrDamaged)
	assert.True(t, IsBook(path))
	assert.ErrorIs(t, with(63, 0), events.ErrDamaged)
	assert.ErrorIs(t, with(63, 3), events.ErrDamaged, "one bit off")
	assert.ErrorIs(t, with(63, 2), events.ErrNewer, "two bits off is another layout")
	assert.True(t, IsBook(path))
	other := filepath.Join(t.TempDir(), "other.db")
	require.NoError(t, os.WriteFile(other, nil, 0o600))
	db := raw(t, other)
	_, err := db.Exec("CREATE TABLE entry (x); PRAGMA user_version=3")
	require.NoError(t, err)
	_, err = Open(other, options)
	assert.Equal(t, other+": the file is a database of another program, not a book", fmt.Sprint(err))
	assert.False(t, IsBook(other))
}

// A file may claim to be larger than any disk; what it holds is read, and no more.
func TestSparseFilesEnd(t *testing.T) {
	path := deadBook(t)
	for _, suffix := range []string{"", "-wal"} {
		require.NoError(t, os.Truncate(path+suffix, 1<<41))
		require.NoError(t, ends(t, "a sparse book"+suffix, func() error {
			if _, err := VerifyFile(path, options, VerifyOptions{}); err != nil {
				return err
			}
			_, s := rescueQuietly(t, path)
			assert.EqualValues(t, 27+logged, s.Kept+s.Rewritten)
			return nil
		}))
	}
}

// rescueQuietly salvages a file that is too large to be compared.
func rescueQuietly(t testing.TB, old string) (string, Salvaged) {
	opened := events.Entry{At: morning.AddDate(0, 1, 0), RecordedAt: morning.AddDate(0, 1, 0), ID: seeded("salvage"), Book: seeded("book of salvage")}
	path := filepath.Join(t.TempDir(), "saved.db")
	s, err := Salvage(old, path, options, opened)
	assert.NoError(t, err)
	return path, s
}

func TestMisplacedIsSaidPlainly(t *testing.T) {
	assert.Equal(t, "an entry has the number -3, where the first must have 1", misplaced(-3, 0))
	assert.True(t, strings.HasPrefix(misplaced(7, 9), "entry number 7 stands behind number 9"))
}
