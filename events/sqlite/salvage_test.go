package sqlite

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite/rawfile"
)

// rescue salvages a file and gives the new book, after checking that the old one was left alone.
func rescue(t testing.TB, old string) (*Book, Salvaged) {
	t.Helper()
	before, _ := os.ReadFile(old)
	wal, _ := os.ReadFile(old + "-wal")
	opened := events.Entry{At: morning.AddDate(0, 1, 0), RecordedAt: morning.AddDate(0, 1, 0), Zone: "Europe/Oslo", ID: seeded("salvage"), Book: seeded("book of salvage")}
	path := filepath.Join(t.TempDir(), "saved.db")
	s, err := Salvage(old, path, options, opened)
	require.NoError(t, err)
	after, _ := os.ReadFile(old)
	walAfter, _ := os.ReadFile(old + "-wal")
	assert.True(t, string(before) == string(after) && string(wal) == string(walAfter), "the old book is only looked at")
	b := open(t, path)
	r := verified(t, b)
	assert.Equal(t, s.Kept+s.Rewritten+int64(len(r.Heads)-s.chains(t, b)), r.Events)
	return b, s
}

// chains counts the chains of a salvaged book that were in the old one.
func (s Salvaged) chains(t testing.TB, b *Book) (n int) {
	require.NoError(t, b.Read(func(tx *Tx) error {
		return tx.Each(func(e events.Entry) error {
			if e.BookSeq == 1 && e.Kind != events.BookSalvaged {
				n++
			}
			return nil
		})
	}))
	return n
}

func lastData(t testing.TB, b *Book, k events.Kind) events.Data {
	t.Helper()
	var d events.Data
	require.NoError(t, b.Read(func(tx *Tx) error {
		return tx.Each(func(e events.Entry) error {
			if e.Kind == k {
				d = e.Data
			}
			return nil
		})
	}))
	return d
}

func TestSalvageASoundBook(t *testing.T) {
	path := seasonFile(t)
	head := verified(t, open(t, path)).Head
	b, s := rescue(t, path)
	assert.Equal(t, Salvaged{Kept: 27, Head: head.Hash}, s)
	d := lastData(t, b, events.BookSalvaged).(*events.BookSalvagedData)
	assert.Equal(t, events.BookSalvagedData{From: "book.db", Head: head.Hash.String()}, *d)
	r := verified(t, b)
	assert.Len(t, r.Heads, 2)
	assert.Equal(t, seeded("book of salvage"), r.Head.Book)
	h := newHand(t, b, "later")
	h.at = morning.AddDate(0, 2, 0)
	assert.EqualValues(t, 2, h.do(&events.SheetDriedData{Sheet: "2026-001n"}).BookSeq, "the book goes on")
	steady(t, b)
	_, err := Salvage(path, b.Path(), options, events.Entry{})
	assert.ErrorContains(t, err, "is there already")
	_, err = Salvage(path+"x", b.Path(), options, events.Entry{})
	assert.ErrorContains(t, err, "cannot be read")
}

func TestSalvageDamagedRows(t *testing.T) {
	for _, c := range []struct {
		name, statement          string
		kept, rewritten, missing int64
		problem                  string
	}{
		{"bytes", `UPDATE entry SET body=replace(body,'"time_s":60','"time_s":61') WHERE seq=10`, 9, 17, 1, ProblemHash},
		{"no entry", `UPDATE entry SET body='{}' WHERE seq=10`, 9, 17, 1, ProblemBytes},
		{"the first byte of the last", `UPDATE entry SET body='x'||substr(body,2) WHERE seq=27`, 26, 0, 1, ProblemBytes},
		{"hash", `UPDATE entry SET hash=zeroblob(32) WHERE seq=10`, 27, 0, 0, ""},
		{"prev", `UPDATE entry SET prev=zeroblob(32) WHERE seq=10`, 27, 0, 0, ""},
		{"columns", `UPDATE entry SET id=zeroblob(16), chain=5, book_seq=70, kind='x', at=0, stream=99, box=98, session=97 WHERE seq=10`, 27, 0, 0, ""},
		{"deleted", `DELETE FROM entry WHERE seq IN (10,11)`, 9, 16, 2, ""},
		{"order", `UPDATE entry SET seq=CASE seq WHEN 10 THEN -11 ELSE -10 END WHERE seq IN (10,11); UPDATE entry SET seq=-seq WHERE seq<0`, 27, 0, 0, ""},
		{"the first", `DELETE FROM entry WHERE seq=1`, 0, 26, 1, ""},
		{"everything beside", `DELETE FROM entity; DELETE FROM view; DELETE FROM correction; DELETE FROM cite; UPDATE meta SET value='x'`, 27, 0, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := seasonFile(t)
			tamper(t, path, c.statement)
			b, s := rescue(t, path)
			assert.Equal(t, []int64{c.kept, c.rewritten, c.missing}, []int64{s.Kept, s.Rewritten, s.Missing})
			if c.problem == "" {
				assert.Empty(t, s.Problems)
			} else {
				require.Len(t, s.Problems, 1)
				assert.Equal(t, c.problem, s.Problems[0].Kind)
			}
			d := lastData(t, b, events.BookSalvaged).(*events.BookSalvagedData)
			assert.EqualValues(t, c.missing, d.Missing)
			if c.rewritten > 0 {
				assert.Equal(t, fmt.Sprintf("%d entries behind a gap were written anew under their own ids", c.rewritten), d.Text)
			}
			steady(t, b)
		})
	}
}

// A text that passes for a blob, or a blob for a text, is still the same bytes, which the hashes bear out; a row of an entry
// that says anything else of its kind is told as lost. The last entry is tried, which leaves no gap.
func TestSalvageOfRowsWithDamagedKinds(t *testing.T) {
	whole := season()
	var kinds []int // where the row of the last entry says of what kind its body, prev and hash are: the low byte of each
	eachCell(t, whole, func(page []byte, base int, r rawfile.CarvedRow) {
		if len(r.Values) != 14 || r.Rowid != 27 {
			return
		}
		at := r.Where.At
		for range 3 { // length, number, length of the head
			_, n := rawfile.Varint(page, at)
			at += n
		}
		for range 4 {
			_, n := rawfile.Varint(page, at)
			at += n
			kinds = append(kinds, base+at-1)
		}
	})
	require.Len(t, kinds, 4)
	for i, at := range kinds[1:] {
		raw := []byte(string(whole))
		raw[at] ^= 1
		path := filepath.Join(t.TempDir(), "book.db")
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		_, s := rescue(t, path)
		assert.EqualValues(t, 27, s.Kept, "column %d", i+1)
		assert.Empty(t, s.Problems)
	}
	raw := []byte(string(whole))
	raw[kinds[1]], raw[kinds[1]-1] = 0, 0x80 // no body at all
	path := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, os.WriteFile(path, raw, 0o600))
	_, s := rescue(t, path)
	assert.EqualValues(t, 26, s.Kept)
	assert.EqualValues(t, 1, s.Missing)
	require.Len(t, s.Problems, 1)
	assert.Equal(t, ProblemBytes, s.Problems[0].Kind)
}

// A page that stands twice in a file brings its entries once, and one that is damaged in the one place and whole in the other
// is not lost.
func TestSalvageOfAPageThatStandsTwice(t *testing.T) {
	whole := season()
	page, body, hash := 0, 0, 0 // of the tenth entry
	eachCell(t, whole, func(p []byte, base int, r rawfile.CarvedRow) {
		if len(r.Values) == 14 && r.Rowid == 10 {
			page, body = base, r.Where.At+strings.Index(string(p[r.Where.At:]), r.Values[1].(string))
			hash = r.Where.At + strings.Index(string(p[r.Where.At:]), string(r.Values[3].([]byte)))
		}
	})
	require.Positive(t, body)
	for name, spoil := range map[string]func(p []byte){
		"whole":         func([]byte) {},
		"no entry":      func(p []byte) { p[body] = 'x' },
		"another entry": func(p []byte) { p[body+len(`{"kind":"`)] ^= 1 },
		"another hash":  func(p []byte) { p[hash] ^= 1 },
	} {
		for _, first := range []bool{true, false} {
			raw := []byte(string(whole))
			copied := []byte(string(raw[page : page+4096]))
			if first {
				spoil(raw[page:])
			} else {
				spoil(copied)
			}
			path := filepath.Join(t.TempDir(), "book.db")
			require.NoError(t, os.WriteFile(path, append(raw, copied...), 0o600))
			_, s := rescue(t, path)
			assert.EqualValues(t, 27, s.Kept, name)
			assert.Zero(t, s.Missing, name)
			assert.Empty(t, s.Problems, name)
		}
	}
}

// A void whose entry is lost dangles and harms nothing; when a backup brings the entry, the void holds.
func TestSalvageThenTheBackup(t *testing.T) {
	path := seasonFile(t)
	whole := filepath.Join(t.TempDir(), "whole.db")
	copyBook(t, path, whole)
	tamper(t, path, `DELETE FROM entry WHERE kind='paper.spoiled' OR kind='sheet.exposed'`)
	b, _ := rescue(t, path)
	merge(t, b, open(t, whole))
	steady(t, b)
	backup := open(t, whole)
	folded := func(b *Book) (out []string) {
		require.NoError(t, b.Read(func(tx *Tx) error {
			es, err := tx.Entries(events.Query{})
			for _, e := range events.Fold(es) {
				if e.Kind != events.BookOpened && e.Kind != events.BookSalvaged {
					out = append(out, e.ID.String())
				}
			}
			return err
		}))
		return out
	}
	assert.ElementsMatch(t, folded(backup), folded(b), "together they are the whole book again")
}

// Any page lost to zeros costs what stood on it, and no more.
func TestSalvageAnyPageZeroed(t *testing.T) {
	path := seasonFile(t)
	whole := season()
	q, err := rawfile.OpenQuarry(path)
	require.NoError(t, err)
	perPage := map[int64]int64{}
	require.NoError(t, q.Each(false, func(r rawfile.CarvedRow) error {
		if len(r.Values) == 14 {
			perPage[r.Where.Page]++
		}
		return nil
	}))
	q.Close()
	require.Greater(t, len(perPage), 2)
	for n := range int64(len(whole) / 4096) {
		damaged := filepath.Join(t.TempDir(), "book.db")
		raw := []byte(string(whole))
		clear(raw[n*4096 : (n+1)*4096])
		require.NoError(t, os.WriteFile(damaged, raw, 0o600))
		_, s := rescue(t, damaged)
		assert.Equal(t, 27-perPage[n+1], s.Kept+s.Rewritten, "page %d", n+1)
		if n > 0 {
			r, err := VerifyFile(damaged, options, VerifyOptions{})
			require.NoError(t, err)
			assert.False(t, r.OK, "page %d", n+1)
		}
	}
}

func TestSalvageCutAnywhere(t *testing.T) {
	whole := season()
	for _, n := range []int{0, 1, 99, 100, 4095, 4096, 5000, len(whole) / 3, len(whole) / 2, len(whole) - 4096, len(whole) - 1} {
		path := filepath.Join(t.TempDir(), "book.db")
		require.NoError(t, os.WriteFile(path, whole[:n], 0o600))
		_, s := rescue(t, path)
		assert.LessOrEqual(t, s.Kept+s.Rewritten, int64(27), "cut at %d", n)
		r, err := VerifyFile(path, options, VerifyOptions{})
		if err == nil {
			assert.False(t, r.OK, "cut at %d", n)
		} else {
			assert.ErrorIs(t, err, events.ErrDamaged, "cut at %d", n)
		}
	}
}

// Scattered bytes of noise: whatever is left is saved, and nothing panics.
func TestSalvageNoise(t *testing.T) {
	whole := season()
	rng := rand.New(rand.NewPCG(7, 7))
	for i := range 40 {
		raw := []byte(string(whole))
		for range 1 + i*4 {
			raw[rng.IntN(len(raw))] = byte(rng.Uint32())
		}
		path := filepath.Join(t.TempDir(), "book.db")
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		rescue(t, path)
	}
}

// What lies in the log beside the file counts, up to its last whole transaction.
func TestSalvageReadsTheLog(t *testing.T) {
	b := seasonBook(t)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	h.picture("2026-009")
	dir := t.TempDir()
	path := filepath.Join(dir, "book.db")
	copyBook(t, b.Path(), path)
	copyBook(t, b.Path()+"-wal", path+"-wal")
	_, s := rescue(t, path)
	assert.EqualValues(t, 31, s.Kept)
	wal, err := os.ReadFile(path + "-wal")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path+"-wal", wal[:len(wal)-10], 0o600))
	_, s = rescue(t, path)
	assert.EqualValues(t, 31, s.Kept, "of a torn end the act is kept whose row is whole")
	require.NoError(t, os.WriteFile(path+"-wal", []byte(strings.Repeat("x", 5000)), 0o600))
	_, s = rescue(t, path)
	assert.EqualValues(t, 27, s.Kept)
}

// streams are the names of what each entry of a book belongs to.
func streams(t testing.TB, b *Book) map[events.ID]string {
	t.Helper()
	names := map[events.ID]string{}
	require.NoError(t, b.Read(func(tx *Tx) error {
		return tx.Each(func(e events.Entry) error {
			stream, err := tx.StreamOf(e.ID)
			names[e.ID] = stream.Name
			return err
		})
	}))
	return names
}

func TestSalvageJoinedBookAndWhatStandsBeside(t *testing.T) {
	b := seasonBook(t)
	other := create(t)
	newHand(t, other, "studio").season()
	merge(t, b, other)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	theirs := h.do(&events.SheetJudgedData{Sheet: "2026-001n@2", Verdict: "redo"})
	camera := h.do(&events.CameraDescribedData{Camera: "mole-camera@2", FocalMM: 135, FWidest: 8, FSmallest: 64})
	long := h.do(&events.NoteWrittenData{About: "2026-001", Text: strings.Repeat("a long evening ", 260)})
	require.NoError(t, b.Write(func(tx *Tx) error {
		if _, err := tx.file.Exec("INSERT INTO sitter VALUES ('sitter-8','Ylva','ferry steps'), ('sitter-9','Runa','')"); err != nil {
			return err
		}
		return tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash{1}, JPEG: []byte("\xff\xd8" + strings.Repeat("j", 30000)), Width: 3, Height: 4, Path: "/scans/x.jpg"})
	}))
	h.do(&events.SitterErasedData{Sitter: "sitter-9"})
	before := told(t, b)
	belongs := streams(t, b)
	asBefore := func(saved *Book) { // what belonged together still does, and nothing else; a name may have become another
		t.Helper()
		now, was := map[string]string{}, map[string]string{}
		for id, name := range streams(t, saved) {
			before, ok := belongs[id]
			if !ok {
				continue
			}
			if is, known := now[before]; known {
				assert.Equal(t, is, name, "of %s", before)
			}
			if is, known := was[name]; known {
				assert.Equal(t, is, before, "in %s", name)
			}
			now[before], was[name] = name, before
		}
	}
	path := b.Path()
	require.NoError(t, b.Close())
	saved, s := rescue(t, path)
	asBefore(saved)
	assert.EqualValues(t, 27*2+4, s.Kept)
	assert.Equal(t, 1, s.Sitters)
	assert.Equal(t, 1, s.Thumbnails)
	assert.Equal(t, "2026-001@2", streamOf(t, saved, theirs))
	assert.Equal(t, "mole-camera@2", streamOf(t, saved, camera))
	assert.Equal(t, "2026-001", streamOf(t, saved, long))
	after := told(t, saved)
	assert.Equal(t, strings.Count(before, "\n"), strings.Count(after, "\n")-1, "all but the salvage itself")
	require.NoError(t, saved.Read(func(tx *Tx) error {
		th, ok, err := tx.Thumbnail(events.Hash{1})
		assert.True(t, ok)
		assert.Len(t, th.JPEG, 30002)
		return err
	}))

	// A gap in the other's chain: what lies behind it still means the other's things.
	tamper(t, path, `DELETE FROM entry WHERE seq=28+9`)
	saved, s = rescue(t, path)
	assert.Positive(t, s.Rewritten)
	asBefore(saved)
	assert.Equal(t, "2026-001@2", streamOf(t, saved, theirs))
	steady(t, saved)

	// Gaps in both: each goes on in a chain of its own.
	tamper(t, path, `DELETE FROM entry WHERE seq=10`)
	saved, _ = rescue(t, path)
	asBefore(saved)
	assert.Equal(t, "2026-001@2", streamOf(t, saved, theirs))
	r := verified(t, saved)
	assert.Len(t, r.Heads, 4)
	assert.Equal(t, seeded("book of salvage"), r.Head.Book)
	steady(t, saved)

	// The other's beginning is gone altogether: what is left of it is still not taken for ours.
	tamper(t, path, `DELETE FROM entry WHERE seq BETWEEN 28 AND 35`)
	saved, _ = rescue(t, path)
	steady(t, saved)
	require.NoError(t, saved.Read(func(tx *Tx) error {
		_, ok, err := tx.Entity("2026-002@2")
		assert.True(t, ok)
		return err
	}))
}

// A bit that flips beside a small picture costs that picture at most: what its table would refuse is left out.
func TestSalvageLeavesOutADamagedThumbnail(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Write(func(tx *Tx) error {
		for n := range byte(2) {
			if err := tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash{n}, JPEG: []byte("\xff\xd8j"), Width: 1 << 40, Height: 1 << 40, Path: "/scans/x.jpg"}); err != nil {
				return err
			}
		}
		return nil
	}))
	path := b.Path()
	require.NoError(t, b.Close())
	raw := []byte(fileBytes(t, path))
	// The head of the row: its own size, and how each of the columns is kept. 76, 18: 32 bytes and three; 5: a number of
	// six bytes, which one bit makes a text of none; 37: a text of twelve.
	head := []byte{6, 76, 18, 5, 5, 37}
	at := bytes.LastIndex(raw, head)
	require.Positive(t, at)
	for bit := 8 * 3; bit < 8*len(head); bit++ {
		flipped := bytes.Clone(raw)
		flipped[at+bit/8] ^= 1 << (bit % 8)
		damaged := filepath.Join(t.TempDir(), "book.db")
		require.NoError(t, os.WriteFile(damaged, flipped, 0o600))
		_, s := rescue(t, damaged)
		assert.EqualValues(t, 27, s.Kept, "bit %d", bit)
		assert.GreaterOrEqual(t, s.Thumbnails, 1, "bit %d", bit)
	}
}

// What was taken out of a book does not come back, though the log alone knows that its pages are out of use.
func TestSalvageKnowsPagesOutOfUseFromTheLog(t *testing.T) {
	b := seasonBook(t)
	path := b.Path()
	require.NoError(t, b.Write(func(tx *Tx) error {
		for n := range 200 {
			if err := tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash{1, byte(n)}, JPEG: []byte("\xff\xd8" + strings.Repeat("j", 900)), Width: 3, Height: 4}); err != nil {
				return err
			}
		}
		return nil
	}))
	require.NoError(t, b.Close()) // the log goes into the file
	b = open(t, path)
	require.NoError(t, b.Write(func(tx *Tx) error {
		_, err := tx.file.Exec("DELETE FROM thumbnail")
		return err
	}))
	copied := filepath.Join(t.TempDir(), "book.db")
	copyBook(t, path, copied)
	copyBook(t, path+"-wal", copied+"-wal")
	_, s := rescue(t, copied)
	assert.Zero(t, s.Thumbnails)
}
