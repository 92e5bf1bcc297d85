package sqlite

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite/rawfile"
)

// walkLimit is how long one walk through a book of a few hundred entries may take on a crowded machine. It only keeps the
// tests from waiting for ever.
const walkLimit = 2 * time.Minute

// walks are all ways through a book's file that ask for many rows or go from one to the next. whole is a sound book of
// another hand.
var walks = []struct {
	name string
	do   func(path, whole, dir string) error
}{
	{"verify --chain", func(path, _, _ string) error {
		r, err := VerifyFile(path, options, VerifyOptions{Chain: true})
		return errors.Join(err, reported(r))
	}},
	{"backup", func(path, _, dir string) error {
		return with(path, true, func(b *Book) error { return b.Backup(filepath.Join(dir, "copy.db")) })
	}},
	{"merge from", func(path, whole, _ string) error { return mergeFiles(whole, path) }},
	{"merge into", func(path, whole, _ string) error { return mergeFiles(path, whole) }},
	{"export", func(path, _, _ string) error {
		return with(path, true, func(b *Book) error { return b.Read(func(tx *Tx) error { return exportLines(tx, discard{}) }) })
	}},
	{"each", func(path, _, _ string) error {
		return with(path, true, func(b *Book) error {
			return b.Read(func(tx *Tx) error { return tx.Each(func(events.Entry) error { return nil }) })
		})
	}},
	{"looks", func(path, _, _ string) error {
		return with(path, true, func(b *Book) error { return b.Read(everyLook) })
	}},
	{"act", func(path, _, _ string) error {
		return with(path, false, func(b *Book) error {
			e := events.Entry{Kind: events.NoteWritten, At: morning.AddDate(1, 0, 0), RecordedAt: morning.AddDate(1, 0, 0), ID: seeded("late"), Data: &events.NoteWrittenData{About: "2026-001", Text: "late"}}
			return b.Write(func(tx *Tx) error { return tx.Append(&e) })
		})
	}},
	{"void", func(path, _, _ string) error {
		return with(path, false, func(b *Book) error {
			return b.Write(func(tx *Tx) error {
				last, ok, err := tx.LastOwn(true)
				if err != nil || !ok {
					return err
				}
				e := events.Entry{Kind: events.EntryVoided, At: morning.AddDate(1, 0, 0), RecordedAt: morning.AddDate(1, 0, 0), ID: seeded("void"), Data: &events.EntryVoidedData{Entry: last.ID.String()}}
				return tx.Append(&e)
			})
		})
	}},
	{"rebuild", func(path, _, _ string) error {
		return with(path, false, func(b *Book) error { return b.Rebuild() })
	}},
	{"salvage", func(path, _, dir string) error {
		opened := events.Entry{At: morning.AddDate(2, 0, 0), RecordedAt: morning.AddDate(2, 0, 0), ID: seeded("salvage"), Book: seeded("book of salvage")}
		_, err := Salvage(path, filepath.Join(dir, "saved.db"), options, opened)
		return err
	}},
}

// reported is a report as an error.
func reported(r Report) error {
	if r.OK {
		return nil
	}
	return fmt.Errorf("%w: %s", events.ErrDamaged, r.Problems[0].Text)
}

func with(path string, readOnly bool, f func(*Book) error) error {
	b, err := Open(path, Options{Folder: tally{}, ReadOnly: readOnly})
	if err != nil {
		return err
	}
	return errors.Join(f(b), b.Close())
}

func mergeFiles(into, from string) error {
	return with(into, false, func(b *Book) error {
		return with(from, true, func(other *Book) error { _, err := b.Merge(other, nil); return err })
	})
}

// everyLook asks everything that looks ask, of every thing.
func everyLook(tx *Tx) error {
	errs := []error{}
	for _, look := range looks {
		errs = append(errs, look(tx))
	}
	for _, k := range []events.EntityKind{events.Book, events.Picture, events.Box, events.Bath, events.Session, events.Camera, events.Strip, events.Sitter} {
		entities, err := tx.Entities(k)
		errs = append(errs, err)
		for _, t := range entities {
			for _, q := range []events.Query{{Stream: t.ID}, {Box: t.ID}, {Bath: t.ID}, {Session: t.ID}, {Cites: t.ID}} {
				_, err := tx.Entries(q)
				errs = append(errs, err)
			}
		}
		_, err = tx.Views(events.ViewQuery{Kind: k})
		errs = append(errs, err)
	}
	_, err := tx.Entries(events.Query{})
	return errors.Join(append(errs, err)...)
}

// ends runs f and fails the test when it does not end.
func ends(t testing.TB, what string, f func() error) error {
	t.Helper()
	done := make(chan error, 1)
	go func() { done <- f() }()
	select {
	case err := <-done:
		return err
	case <-time.After(walkLimit):
		require.FailNow(t, "does not end", what)
		return nil
	}
}

// walkAll has a damaged file verified and walked in every way: everything ends, and where verify calls it whole, a copy
// and a joining go well. It says whether verify called it whole.
func walkAll(t testing.TB, what string, raw, whole []byte) bool {
	t.Helper()
	dir, err := os.MkdirTemp(t.TempDir(), "")
	require.NoError(t, err)
	defer os.RemoveAll(dir)
	path, other := filepath.Join(dir, "book.db"), filepath.Join(dir, "whole.db")
	lay := func() {
		for _, p := range []string{path, other} {
			os.Remove(p + "-wal")
			os.Remove(p + "-shm")
		}
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		require.NoError(t, os.WriteFile(other, whole, 0o600))
	}
	lay()
	var r Report
	require.NoError(t, ends(t, what+": verify", func() (err error) {
		r, err = VerifyFile(path, options, VerifyOptions{})
		return err
	}), what)
	for _, w := range walks {
		lay()
		err := ends(t, what+": "+w.name, func() error { return w.do(path, other, dir) })
		if r.OK {
			assert.NoError(t, err, "%s: %s of a book that verifies", what, w.name)
		}
		if w.name == "backup" || w.name == "merge from" || w.name == "merge into" {
			assert.Equal(t, r.OK, err == nil, "%s: %s takes what verifies, and nothing else: %v", what, w.name, err)
		}
	}
	return r.OK
}

// place is one byte of the file, and whose.
type place struct {
	at   int
	what string
}

// rowids finds the bytes of the numbers of all rows of the entries, in the order of their numbers.
func rowids(t testing.TB, raw []byte) (out [][]place) {
	t.Helper()
	byRow := map[int64][]place{}
	eachCell(t, raw, func(page []byte, base int, r rawfile.CarvedRow) {
		if len(r.Values) != 14 {
			return
		}
		_, n := rawfile.Varint(page, r.Where.At)
		_, m := rawfile.Varint(page, r.Where.At+n)
		for i := range m {
			byRow[r.Rowid] = append(byRow[r.Rowid], place{base + r.Where.At + n + i, fmt.Sprintf("number of entry %d, byte %d", r.Rowid, i)})
		}
	})
	for seq := int64(1); byRow[seq] != nil; seq++ {
		out = append(out, byRow[seq])
	}
	return out
}

// eachCell goes through the rows of every table of a closed file, with the page of each and where the page begins.
func eachCell(t testing.TB, raw []byte, f func(page []byte, base int, r rawfile.CarvedRow)) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, os.WriteFile(path, raw, 0o600))
	q, err := rawfile.OpenQuarry(path)
	require.NoError(t, err)
	defer q.Close()
	require.NoError(t, q.Each(false, func(r rawfile.CarvedRow) error {
		f(q.Page(r.Where.Page), int(r.Where.Page-1)*q.PageSize, r)
		return nil
	}))
}

// keyBytes finds every byte that says where something is found: the heads and the cell pointers of all pages, the length,
// number, header and whole numbers of each row, and every row of an index, in which nothing else stands.
func keyBytes(t testing.TB, raw []byte) (out []place) {
	t.Helper()
	const size = 4096
	for base := 0; base < len(raw); base += size {
		head := base
		if base == 0 {
			head = 100
		}
		page := fmt.Sprintf("page %d", base/size+1)
		kind := raw[head]
		width := map[byte]int{0x0d: 8, 0x0a: 8, 0x05: 12, 0x02: 12}[kind]
		if width == 0 {
			continue // overflow of a long row
		}
		cells := int(binary.BigEndian.Uint16(raw[head+3:]))
		for at := head; at < head+width+2*cells; at++ {
			out = append(out, place{at, page + ", head"})
		}
		content := base + int(binary.BigEndian.Uint16(raw[head+5:]))
		if kind != 0x0d {
			for at := content; at < base+size; at++ {
				out = append(out, place{at, page + ", index"})
			}
		}
	}
	eachCell(t, raw, func(page []byte, base int, r rawfile.CarvedRow) {
		at := r.Where.At
		_, n := rawfile.Varint(page, at)
		_, m := rawfile.Varint(page, at+n)
		header, _ := rawfile.Varint(page, at+n+m)
		add := func(from, count int, what string) {
			for i := range count {
				out = append(out, place{base + from + i, fmt.Sprintf("row %d of %d columns on page %d, %s", r.Rowid, len(r.Values), r.Where.Page, what)})
			}
		}
		add(at, n+m+int(header), "length, number, header")
		body := at + n + m + int(header)
		for at, k := at+n+m+1, 0; k < len(r.Values); k++ {
			serial, wide := rawfile.Varint(page, at)
			at += wide
			length := map[int64]int{1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}[serial]
			if length > 0 {
				add(body, length, fmt.Sprintf("column %d", k))
			}
			if serial >= 12 {
				length = int(serial-12) / 2
			}
			body += length
		}
	})
	return slices.DeleteFunc(out, func(p place) bool { return p.at >= len(raw) })
}

// joinedBook is a closed book in which another was joined and both went on, so that every table has rows.
func joinedBook(t testing.TB) []byte {
	t.Helper()
	b := seasonBook(t)
	other := create(t)
	sh := newHand(t, other, "studio")
	sh.season()
	merge(t, b, other)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	h.do(&events.SheetJudgedData{Sheet: "2026-001n@2", Verdict: "redo"}, &events.SheetDriedData{Sheet: "2026-001n"})
	require.NoError(t, b.Close())
	return []byte(fileBytes(t, b.Path()))
}

// A book whose last rows bear other numbers, one bit off: nothing waits for ever, and the damage is named.
func TestEveryBitOfTheLastNumbers(t *testing.T) {
	b := seasonBook(t)
	h := newHand(t, b, "more")
	h.at = morning.AddDate(0, 0, 1)
	h.batch(notes(130)...) // past 127, so that a number takes two bytes
	require.NoError(t, b.Close())
	raw, whole := []byte(fileBytes(t, b.Path())), season()
	require.True(t, walkAll(t, "untouched", raw, whole))
	rows := rowids(t, raw)
	require.Len(t, rows, 157)
	n := 0
	for _, row := range rows[len(rows)-rounds(1, 12):] {
		for _, p := range row {
			for bit := range 8 {
				raw[p.at] ^= 1 << bit
				assert.False(t, walkAll(t, fmt.Sprintf("%s, bit %d", p.what, bit), raw, whole), "%s, bit %d", p.what, bit)
				raw[p.at] ^= 1 << bit
				n++
			}
		}
	}
	t.Logf("%d flips, %d walks each", n, len(walks)+1)
}

func notes(n int) (out []events.Data) {
	for i := range n {
		out = append(out, &events.NoteWrittenData{About: "2026-001", Text: fmt.Sprint("act ", i)})
	}
	return out
}

// A single bit wrong in anything by which rows are found: nothing waits for ever, nothing panics, and what verify calls
// whole can be copied and joined.
func TestEveryWalkEndsWhateverKeyIsDamaged(t *testing.T) {
	raw, whole := joinedBook(t), season()
	require.True(t, walkAll(t, "untouched", raw, whole))
	places := keyBytes(t, raw)
	require.Greater(t, len(places), 5000)
	step := max(1, len(places)*8/rounds(20, 400))
	n := 0
	for i := 0; i < len(places)*8; i += step {
		p, bit := places[i/8], i%8
		raw[p.at] ^= 1 << bit
		if walkAll(t, fmt.Sprintf("%s, bit %d", p.what, bit), raw, whole) {
			t.Logf("%s, bit %d: verify calls it whole", p.what, bit)
		}
		raw[p.at] ^= 1 << bit
		n++
	}
	t.Logf("%d of %d flips, %d walks each", n, len(places)*8, len(walks)+1)
}
