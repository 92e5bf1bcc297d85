package sqlite

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

func exported(t testing.TB, b *Book) []string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, b.Read(func(tx *Tx) error { return exportLines(tx, &out) }))
	return strings.SplitAfter(strings.TrimSuffix(out.String(), "\n"), "\n")
}

func imported(b *Book, lines ...string) (Imported, error) {
	return importWhole(b, events.ReadLines(strings.NewReader(strings.Join(lines, ""))), nil)
}

// Ten lines in any language check an export.
func TestExportChecksByHand(t *testing.T) {
	b := seasonBook(t)
	prev := strings.Repeat("0", 64)
	lines := exported(t, b)
	require.Len(t, lines, 27)
	for _, line := range lines {
		line = strings.TrimSuffix(line, "\n")
		cut := strings.LastIndex(line, `,"prev"`)
		sum := sha256.Sum256([]byte("traybook-entry-1\n" + prev + "\n" + line[:cut] + "}"))
		hash := hex.EncodeToString(sum[:])
		assert.Equal(t, `,"prev":"`+prev+`","hash":"`+hash+`"}`, line[cut:])
		prev = hash
	}
}

func TestImportWhole(t *testing.T) {
	b := seasonBook(t)
	lines := exported(t, b)
	n := int64(len(lines))

	t.Run("into an empty book, again, and cut in two", func(t *testing.T) {
		for _, cut := range []int{0, 1, 13, 26, 27} {
			c := create(t)
			if cut > 0 {
				got, err := imported(c, lines[:cut]...)
				require.NoError(t, err)
				assert.Equal(t, Imported{Added: int64(cut)}, got)
			}
			got, err := imported(c, lines...)
			require.NoError(t, err)
			assert.Equal(t, Imported{Added: n - int64(cut), Known: int64(cut)}, got)
			got, err = imported(c, lines...)
			require.NoError(t, err)
			assert.Equal(t, Imported{Known: n}, got)
			assert.Equal(t, lines, exported(t, c))
			assert.Equal(t, told(t, b), told(t, c))
			steady(t, c)
		}
	})
	t.Run("refuses", func(t *testing.T) {
		other := create(t)
		newHand(t, other, "studio").season()
		theirs := exported(t, other)
		for _, c := range []struct {
			name  string
			into  func() *Book
			lines []string
			want  string
		}{
			{"a gap", func() *Book { return create(t) }, slices.Concat(lines[:10], lines[11:]), "line 11: it belongs to a chain that this book does not hold; `traybook merge` joins two books"},
			{"a middle", func() *Book { return create(t) }, lines[3:], "line 1: it belongs to a chain that this book does not hold"},
			{"a stranger's chain", func() *Book { return seasonBook(t) }, theirs, "line 1: it belongs to a chain that this book does not hold; `traybook merge` joins two books"},
			{"the same line twice", func() *Book { return create(t) }, slices.Concat(lines[:5], lines[4:5]), "line 6: the same line stands twice"},
			{"a changed line", func() *Book { return create(t) }, []string{lines[0], strings.Replace(lines[1], "180", "181", 1)}, "line 2: the line was changed: its hash is"},
			{"a cut line", func() *Book { return create(t) }, []string{lines[0], lines[1][:200]}, "line 2: the line is not whole JSON; it may have been cut off"},
			{"a plain line", func() *Book { return create(t) }, []string{`{"kind":"book.opened","at":"2026-05-03T14:05:10+02:00","data":{"zone":"UTC"}}`}, "line 1: the line has no hash; lines without one are taken in as acts"},
		} {
			t.Run(c.name, func(t *testing.T) {
				into := c.into()
				before := told(t, into)
				_, err := imported(into, c.lines...)
				require.Error(t, err)
				assert.Contains(t, err.Error(), c.want)
				assert.Equal(t, before, told(t, into), "whole or not at all")
			})
		}
	})
	t.Run("links", func(t *testing.T) {
		for _, c := range []struct {
			name string
			make func(e *events.Entry)
			want string
		}{
			{"book_seq skips", func(e *events.Entry) { e.BookSeq++ }, "line 28: its place in the chain is broken: its book_seq is 29, after 27"},
			{"recorded before", func(e *events.Entry) { e.RecordedAt = morning }, "line 28: its place in the chain is broken: it was recorded before the entry that it follows"},
			{"another book in the middle", func(e *events.Entry) { e.Book = seeded("b") }, "line 28: its place in the chain is broken: its book_seq is 28, it should be 1"},
			{"begins without an opening", func(e *events.Entry) { e.Book, e.BookSeq = seeded("b"), 1 }, "line 28: its place in the chain is broken: a chain begins with book.opened, not with sheet.dried"},
			{"a root in the middle of its count", func(e *events.Entry) { e.Prev = events.Hash{} }, "line 28: its place in the chain is broken: it begins a chain with book_seq 28"},
		} {
			t.Run(c.name, func(t *testing.T) {
				last, err := events.ParseLine([]byte(strings.TrimSpace(lines[26])))
				require.NoError(t, err)
				e := last.Entry
				e.Kind, e.Data, e.ID, e.Prev = events.SheetDried, &events.SheetDriedData{Sheet: "2026-001n"}, seeded("new"), last.Hash
				e.BookSeq++
				c.make(&e)
				require.NoError(t, e.Seal(e.Prev))
				_, err = imported(create(t), append(slices.Clone(lines), "\n"+string(e.AppendLine(nil)))...)
				assert.EqualError(t, err, c.want)
			})
		}
	})
	t.Run("progress", func(t *testing.T) {
		var heard int64
		_, err := importWhole(create(t), func(yield func(events.Line, error) bool) {
			for l, err := range events.ReadLines(strings.NewReader(strings.Join(lines, ""))) {
				if !yield(l, err) {
					return
				}
			}
		}, func(n int64) { heard = n })
		require.NoError(t, err)
		assert.Zero(t, heard, "too few to tell")
	})
}

// A file made from another lengthens none of the chains it was given.
func TestOwnChainOfAFileMadeFromAnother(t *testing.T) {
	b := seasonBook(t)
	lines := exported(t, b)
	head := verified(t, b).Head
	restored := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, b.Backup(restored))
	read := create(t)
	_, err := imported(read, lines...)
	require.NoError(t, err)
	for name, c := range map[string]*Book{"import": read, "backup": open(t, restored)} {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, c.Read(func(tx *Tx) error {
				has, err := tx.HasOwnChain()
				assert.False(t, has)
				return err
			}))
			h := newHand(t, c, "new owner")
			h.at = morning.AddDate(0, 0, 1)
			act := h.entry(&events.SheetDriedData{Sheet: "2026-001n"})
			assert.EqualError(t, c.Write(func(tx *Tx) error { return tx.Append(&act) }), "the file has no chain of its own yet; a book.opened must come first")
			opened := h.entry(&events.BookOpenedData{Zone: "Europe/Oslo"})
			for range 2 { // the second time it is open already
				require.NoError(t, c.Write(func(tx *Tx) error {
					if err := tx.EnsureOwn(opened); err != nil {
						return err
					}
					act.ID = h.entry(&events.BookOpenedData{}).ID
					return tx.Append(&act)
				}))
			}
			r := verified(t, c)
			require.Len(t, r.Heads, 2)
			assert.Equal(t, head.Hash, r.Heads[0].Hash)
			assert.Equal(t, seeded("book of new owner"), r.Head.Book)
			assert.EqualValues(t, 3, r.Head.BookSeq)
			line, err := events.ParseLine([]byte(strings.TrimSpace(exported(t, c)[27])))
			require.NoError(t, err)
			assert.Equal(t, head.Hash, line.Prev)
			steady(t, c)

			// The first book takes that in, and goes on: a chain that left it in the middle.
			took := open(t, seasonFile(t))
			newHand(t, took, "more").do(&events.NoteWrittenData{About: "dev-1", Text: "x"})
			got, err := imported(took, exported(t, c)...)
			require.NoError(t, err)
			assert.Equal(t, Imported{Added: 3, Known: 27}, got)
			steady(t, took)
		})
	}
	taken := open(t, seasonFile(t))
	again := newHand(t, taken, "harbour").entry(&events.BookOpenedData{Zone: "UTC"})
	again.ID = seeded("again")
	require.NoError(t, taken.Write(func(tx *Tx) error { require.NoError(t, tx.SetMeta("own_chain", "")); return nil }))
	assert.EqualError(t, taken.Write(func(tx *Tx) error { return tx.Append(&again) }), "the new chain bears the name of one that the file was given")
}

func TestBackup(t *testing.T) {
	b := seasonBook(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "copy.db")
	// What a dead run left is cleared away; what looks otherwise is not ours.
	litter := filepath.Join(dir, ".traybook-part-123")
	require.NoError(t, os.Mkdir(litter, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(litter, "book.db"), []byte("x"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(litter, "book.db-journal"), []byte("x"), 0o600))
	keep := filepath.Join(dir, ".copy.db.part-1")
	require.NoError(t, os.WriteFile(keep, []byte("x"), 0o600))
	alive, err := newTemp(filepath.Join(dir, "another.db"))
	require.NoError(t, err)
	defer alive.discard()

	require.NoError(t, b.Backup(path))
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	var left []string
	for _, n := range names {
		left = append(left, n.Name())
	}
	assert.Equal(t, []string{".copy.db.part-1", filepath.Base(alive.part.Dir), "copy.db"}, left)
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	c := open(t, path)
	assert.Equal(t, told(t, b), told(t, c))
	assert.Equal(t, exported(t, b), exported(t, c))
	steady(t, c)

	assert.ErrorContains(t, b.Backup(path), "is there already; name another place")
	assert.ErrorContains(t, b.Backup(filepath.Join(dir, "none", "copy.db")), "nothing can be written in")
	b.Close()
	damaged := seasonFile(t)
	tamper(t, damaged, `UPDATE entry SET body=replace(body,'"time_s":60','"time_s":61') WHERE seq=10`)
	err = open(t, damaged).Backup(filepath.Join(dir, "second.db"))
	assert.ErrorIs(t, err, events.ErrDamaged)
	assert.ErrorContains(t, err, "a damaged copy helps nobody")
	assert.NoFileExists(t, filepath.Join(dir, "second.db"))
	names, err = os.ReadDir(dir)
	require.NoError(t, err)
	for _, n := range names {
		assert.NotContains(t, n.Name(), "second")
	}
}

// A copy of a book that is being written is a state that it had.
func TestBackupBesideAWriter(t *testing.T) {
	b := seasonBook(t)
	other := open(t, b.Path())
	h := newHand(t, other, "late")
	h.at = morning.AddDate(0, 0, 1)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range 20 {
			e := h.entry(&events.SheetDriedData{Sheet: "2026-001n"})
			assert.NoError(t, other.Write(func(tx *Tx) error { return tx.Append(&e) }))
		}
	}()
	dir := t.TempDir()
	for i := range 5 {
		path := filepath.Join(dir, string(rune('a'+i)))
		require.NoError(t, b.Backup(path))
		verified(t, open(t, path))
	}
	<-done
	verified(t, b)
}

// More than is held in memory at once: views are folded while the import goes on, and are what a refold gives.
func TestImportOfMany(t *testing.T) {
	const n = 12000
	b := create(t)
	var heard int64
	got, err := importWhole(b, events.ReadLines(bytes.NewReader(lifeLines(n))), func(n int64) { heard = n })
	require.NoError(t, err)
	assert.EqualValues(t, n, got.Added)
	assert.EqualValues(t, n, heard)
	verified(t, b)
	require.NoError(t, b.Rebuild())
	verified(t, b)
}

// A whole line comes as it was sealed, and no hand checked what it names: a rank of nothing is no rank.
func TestImportWholeOfANameWithTheRankZero(t *testing.T) {
	b := seasonBook(t)
	var head Head
	require.NoError(t, b.Read(func(tx *Tx) error {
		heads, err := tx.Heads()
		head = heads[0]
		return err
	}))
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	e := h.entry(&events.SheetDriedData{Sheet: "2026-001n@0"})
	e.V, e.Book, e.BookSeq = events.Version, head.Book, head.BookSeq+1
	require.NoError(t, e.Seal(head.Hash))
	got, err := imported(b, strings.TrimSuffix(string(e.Stored), "}")+fmt.Sprintf(`,"prev":"%s","hash":"%s"}`, e.Prev, e.Hash))
	require.NoError(t, err)
	assert.Equal(t, Imported{Added: 1}, got)
	verified(t, b)
}
