package sqlite

import (
	"context"
	"database/sql/driver"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// fault makes the disk fail once: at the first statement or row that comes by a call, some way above it. calls are those by
// which something came, one for each that brought one along by which nothing had come before: whoever fails at each of them
// has had every call that asks the file answer with an error. Two goroutines may ask, in any order.
type fault struct {
	sync.Mutex
	at    uintptr // 0 for none
	turn  int     // fails at the question of this number as well, counted from 1; 0 for none
	asked int
	fired bool
	wrong bool // the disk does not fail: it gives that row of a table with a text for its last number
	still bool // a book that is only looked at was opened as it stands, since it could not be opened otherwise
	met   map[uintptr]bool
	calls []uintptr
}

var errDisk = sqlite3.Error{Code: sqlite3.ErrIoErr}

func (f *fault) due() bool {
	f.Lock()
	defer f.Unlock()
	f.asked++
	var above [64]uintptr
	calls := above[:runtime.Callers(2, above[:])]
	if f.met != nil {
		first := uintptr(0)
		for _, call := range calls {
			if !f.met[call] && first == 0 {
				first = call
			}
			f.met[call] = true
		}
		if first != 0 {
			f.calls = append(f.calls, first)
		}
	}
	if f.fired || f.turn != f.asked && (f.at == 0 || !slices.Contains(calls, f.at)) {
		return false
	}
	f.fired = true
	return true
}

// waitAsBefore is asked after an erasure has come to its end or has told its failure: with another answer nothing changes.
var waitAsBefore = fmt.Sprintf("PRAGMA busy_timeout=%d", busyTimeoutMS)

type faulty struct {
	*sqlite3.SQLiteConn
	f *fault
}

func (c faulty) QueryContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Rows, error) {
	if !c.f.wrong && c.f.due() {
		return nil, errDisk
	}
	if c.f.wrong && strings.HasPrefix(q, "PRAGMA ") { // what answers is no table
		return c.SQLiteConn.QueryContext(ctx, q, args)
	}
	rows, err := c.SQLiteConn.QueryContext(ctx, q, args)
	if err != nil {
		return nil, err
	}
	return faultyRows{rows.(*sqlite3.SQLiteRows), c.f}, nil
}

func (c faulty) ExecContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Result, error) {
	if q != waitAsBefore && !c.f.wrong && c.f.due() {
		return nil, errDisk
	}
	return c.SQLiteConn.ExecContext(ctx, q, args)
}

type faultyRows struct {
	*sqlite3.SQLiteRows
	f *fault
}

func (r faultyRows) Next(dest []driver.Value) error {
	if !r.f.wrong && r.f.due() {
		return errDisk
	}
	err := r.SQLiteRows.Next(dest)
	if !r.f.wrong || err != nil {
		return err
	}
	for i, v := range slices.Backward(dest) {
		if _, number := v.(int64); number {
			if r.f.due() {
				dest[i] = "quay"
			}
			break
		}
	}
	return nil
}

// faultyDriver opens every book over a disk that fails when f says so.
type faultyDriver struct {
	driver.Driver
	f *fault
}

func (d faultyDriver) Open(dsn string) (driver.Conn, error) {
	d.f.still = d.f.still || strings.Contains(dsn, "immutable")
	conn, err := d.Driver.Open(dsn)
	if err != nil {
		return nil, err
	}
	return faulty{conn.(*sqlite3.SQLiteConn), d.f}, nil
}

// on runs do over a disk that fails when f says so. No test runs beside it.
func (f *fault) on(do func() error) error {
	whole := drv
	defer func() { drv = whole }()
	drv = faultyDriver{whole, f}
	return do()
}

// opened opens a closed book for f.
func opened(path string, o Options, f func(b *Book) error) error {
	b, err := Open(path, o)
	if err != nil {
		return err
	}
	defer b.Close()
	return f(b)
}

// reading and writing are opened for a look and for one write.
func reading(path string, f func(tx *Tx) error) error {
	return opened(path, options, func(b *Book) error { return b.Read(f) })
}

func writing(path string, f func(tx *Tx) error) error {
	return opened(path, options, func(b *Book) error { return b.Write(f) })
}

// closed gives the file of a book that is closed by it.
func closed(t *testing.T, b *Book) string {
	t.Helper()
	require.NoError(t, b.Close())
	return b.Path()
}

// Wherever the disk fails, or gives a row that no table can hold, that is told and nothing of what was begun is left: at the
// first statement and row of every place that asks for one.
func TestADiskThatFails(t *testing.T) {
	studioBook := create(t)
	sh := newHand(t, studioBook, "studio")
	sh.season()
	require.NoError(t, studioBook.Write(func(tx *Tx) error {
		for _, name := range []string{"Ylva", "Runa", "Asta"} {
			if _, err := tx.AddSitter(name, ""); err != nil {
				return err
			}
		}
		for i, path := range []string{"", "scans/Runa on the mole.jpg"} {
			if err := tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash{7, byte(i)}, JPEG: []byte{0xff, 0xd8}, Width: 1, Height: 1, Path: path}); err != nil {
				return err
			}
		}
		return tx.SetSitter(events.SitterRow{Ref: "sitter-9", Name: "Runa of the mole"})
	}))
	sh.do(&events.SitterConsentedData{Sitter: "sitter-9", To: "show"})
	// A stone that knows no name again costs nothing to hold against one.
	erase := func(b *Book, h *hand, ref string, laid ...events.SitterErasedData) error {
		return b.EraseSitter(ref, func(*Tx) error { return nil }, func(tx *Tx) error {
			for _, d := range append(laid, events.SitterErasedData{Sitter: ref}) {
				e := h.entry(&d)
				if err := tx.Append(&e); err != nil {
					return err
				}
			}
			return nil
		})
	}
	studio := closed(t, studioBook)
	lines := strings.Join(exported(t, seasonBook(t)), "")

	// Another book, in which the same numbers stand for others, who bore other names before.
	harbourBook := seasonBook(t)
	require.NoError(t, harbourBook.Write(func(tx *Tx) error {
		for _, name := range []string{"Tora", "Asta", "Liv"} {
			if _, err := tx.AddSitter(name, ""); err != nil {
				return err
			}
		}
		return tx.SetSitter(events.SitterRow{Ref: "sitter-8", Name: "Tora Dahl"})
	}))
	harbour := closed(t, harbourBook)

	joinedBook := seasonBook(t)
	require.NoError(t, opened(studio, options, func(o *Book) error { _, err := joinedBook.Merge(o, nil); return err }))
	h := newHand(t, joinedBook, "late")
	h.at = morning.AddDate(0, 0, 1)
	require.NoError(t, erase(joinedBook, h, "sitter-8"))
	h.batch(&events.EntryVoidedData{Batch: seeded("batchharbour13").String()}, &events.NoteWrittenData{About: "box-1", Text: "wind"})
	h.do(&events.PaperReceivedData{Box: "box-9", Name: "low paper", Base: "rc", WidthMM: 102, HeightMM: 127, Sheets: 3})
	joined := closed(t, joinedBook)

	// A copy that went on by itself: it voids what both hold, and erases who is known to both.
	apart := filepath.Join(t.TempDir(), "apart.db")
	copyBook(t, joined, apart)
	require.NoError(t, opened(apart, options, func(b *Book) error {
		require.NoError(t, b.Write(func(tx *Tx) error { return tx.SetMeta("own_chain", "") }))
		h := newHand(t, b, "apart")
		h.at = morning.AddDate(0, 0, 2)
		h.begin()
		h.do(&events.EntryVoidedData{Entry: seeded("harbour9").String()}, &events.EntryVoidedData{Batch: seeded("batchharbour9").String()},
			&events.PaperSpoiledData{Box: "box-9", Sheets: 1}, &events.NoteWrittenData{About: "strip-1", Text: "tide"})
		h.batch(&events.NoteWrittenData{About: "strip-1", Text: "ebb"}, &events.NoteWrittenData{About: "box-9", Text: "flood"})
		var laid []events.SitterErasedData
		require.NoError(t, b.Read(func(tx *Tx) (err error) { laid, err = tx.LayStones("sitter-9", seeded("salt")); return err }))
		require.Len(t, laid, 2)
		return erase(b, h, "sitter-9", laid...)
	}))

	acts := func(h *hand) (out []events.Entry) {
		h.at = morning.AddDate(0, 0, 3)
		for _, d := range []events.Data{
			&events.SheetExposedData{Picture: "2026-050", Box: "box-1@2", F: 8, TimeS: 5, Sheet: "2026-050n", PlannedBox: "box-1"},
			&events.SheetJudgedData{Sheet: "2026-001n@2", Verdict: "keep"},
			&events.SheetExposedData{Picture: "2026-051", Box: "box-9", F: 8, TimeS: 5, Sheet: "2026-051n"},
			&events.SheetDevelopedData{Sheet: "2026-051n", Bath: "dev-1", TimeS: 60, Carried: events.Carried{Session: "mole-day", Camera: "mole-camera"}},
			&events.NoteWrittenData{About: seeded("studio9").String(), Text: "x"},
			&events.EntryVoidedData{Entry: seeded("studio20").String()}, &events.EntryVoidedData{Entry: seeded("harbour23").String()},
			&events.EntryVoidedData{Batch: seeded("batchlate1").String()},
			&events.EntryVoidedData{Batch: seeded("batchharbour9").String()},
			&events.EntryAmendedData{Entry: seeded("harbour9").String(), Set: events.Set{{Name: "time_s", Value: []byte("7")}}},
		} {
			e := h.entry(d)
			if out = append(out, e); d.Kind() == events.EntryVoided {
				out = append(out, h.entry(&events.EntryVoidedData{Entry: e.ID.String()}))
			}
		}
		for i, batch := range []events.ID{seeded("batchharbour20"), seeded("batch of its own")} { // the first is void
			picture := fmt.Sprintf("2026-05%d", 2+i)
			e := h.entry(&events.SheetExposedData{Picture: picture, Box: "box-9", F: 8, TimeS: 5, Sheet: picture + "n"})
			e.Batch = batch
			again := h.entry(&events.NoteWrittenData{About: "box-9", Text: "late"})
			again.Batch = batch
			out = append(out, e, h.entry(&events.EntryVoidedData{Batch: batch.String()}), again)
		}
		return out
	}
	appended := func(many bool) func(tx *Tx) error {
		return func(tx *Tx) error {
			if many {
				tx.Many()
			}
			for _, e := range acts(newHand(t, nil, "new")) {
				if err := tx.Append(&e); err != nil {
					return err
				}
			}
			for _, look := range looks { // of what is not folded yet
				if err := look(tx); err != nil {
					return err
				}
			}
			return nil
		}
	}
	tampered := func(from string, statements ...string) string {
		path := filepath.Join(t.TempDir(), "book.db")
		copyBook(t, from, path)
		spoilt.Store(path, true)
		tamper(t, path, statements...)
		return path
	}
	harmed := tampered(joined, "DELETE FROM view WHERE stream IN (3,5)", "UPDATE view SET stream=9000 WHERE stream=7", "UPDATE entry SET box=NULL, session=1, stream=2 WHERE seq=12",
		"DELETE FROM cite WHERE seq=(SELECT min(seq) FROM cite)", "DELETE FROM correction WHERE seq=(SELECT min(seq) FROM correction)", "UPDATE entity SET name='quay' WHERE id=4")
	gaps := tampered(joined, "DELETE FROM sitter WHERE ref='sitter-9'", "DELETE FROM entry WHERE seq IN (10, 40)", "UPDATE entry SET body='{}' WHERE seq=20", "INSERT INTO meaning SELECT 2, 'mole-camera', id FROM entry WHERE seq=29")

	met := map[bool]map[uintptr]bool{false: {}, true: {}}
	for _, c := range []struct {
		name, book string
		lasts      bool // what was written stays where the disk fails later
		do         func(path string) error
	}{
		{"export", joined, false, func(path string) error {
			return reading(path, func(tx *Tx) error { return exportLines(tx, discard{}) })
		}},
		{"thumbnails", studio, false, func(path string) error {
			return reading(path, func(tx *Tx) error { return tx.EachThumbnail(func(events.Thumbnail) error { return nil }) })
		}},
		{"sitters", studio, false, func(path string) error {
			return writing(path, func(tx *Tx) error {
				_, err := tx.AddSitter("Asta", "")
				if err == nil {
					_, _, err = tx.Erased("Ylva")
				}
				if err == nil {
					err = tx.SetSitter(events.SitterRow{Ref: "sitter-8", Name: "Ylva of the quay"})
				}
				if err == nil {
					err = tx.SetMeta("zone", "UTC")
				}
				return err
			})
		}},
		{"erasure", studio, true, func(path string) error {
			return opened(path, options, func(b *Book) error {
				h := newHand(t, nil, "gone")
				h.at = morning.AddDate(0, 0, 3)
				return erase(b, h, "sitter-9")
			})
		}},
		{"looks", joined, false, func(path string) error {
			return reading(path, func(tx *Tx) error {
				for _, look := range looks {
					if err := look(tx); err != nil {
						return err
					}
				}
				return nil
			})
		}},
		{"looks at old views", joined, false, func(path string) error {
			return opened(path, Options{Folder: tally{version: 2}}, func(b *Book) error {
				return b.Read(func(tx *Tx) error { _, err := tx.Views(events.ViewQuery{Kind: events.Picture}); return err })
			})
		}},
		{"act", joined, false, func(path string) error { return writing(path, appended(false)) }},
		{"many acts", joined, false, func(path string) error { return writing(path, appended(true)) }},
		{"acts in parts", joined, false, func(path string) error {
			return opened(path, options, func(b *Book) error {
				return b.InParts(func(p *Parts) error {
					if err := p.Dream(func() error { return p.Write(appended(false)) }); err != nil {
						return err
					}
					return p.Write(appended(false))
				})
			})
		}},
		{"import", closed(t, create(t)), false, func(path string) error {
			return opened(path, options, func(b *Book) error {
				_, err := importWhole(b, events.ReadLines(strings.NewReader(lines)), nil)
				return err
			})
		}},
		{"merge", harbour, false, func(path string) error {
			return opened(path, options, func(b *Book) error {
				return opened(joined, Options{ReadOnly: true}, func(o *Book) error { _, err := b.Merge(o, nil); return err })
			})
		}},
		{"merge of a copy that went on", joined, true, func(path string) error {
			return opened(path, options, func(b *Book) error {
				return opened(apart, Options{ReadOnly: true}, func(o *Book) error { _, err := b.Merge(o, nil); return err })
			})
		}},
		{"merge into a copy that went on", apart, true, func(path string) error {
			return opened(path, options, func(b *Book) error {
				return opened(joined, Options{ReadOnly: true}, func(o *Book) error { _, err := b.Merge(o, nil); return err })
			})
		}},
		{"rebuild", joined, false, func(path string) error { return opened(path, options, (*Book).Rebuild) }},
		{"rebuild of what is harmed", harmed, false, func(path string) error { return opened(path, options, (*Book).Rebuild) }},
		{"verify", joined, false, func(path string) error {
			r, err := VerifyFile(path, options, VerifyOptions{})
			if err == nil && !r.OK {
				err = damaged("")
			}
			return err
		}},
		{"verify of what is harmed", harmed, false, func(path string) error { _, err := VerifyFile(path, options, VerifyOptions{}); return err }},
		{"verify of gaps", gaps, false, func(path string) error { _, err := VerifyFile(path, options, VerifyOptions{}); return err }},
		{"backup", joined, false, func(path string) error {
			return opened(path, options, func(b *Book) error { return b.Backup(path + ".copy") })
		}},
		{"backup in the place of another", joined, false, func(path string) error {
			copyBook(t, joined, path+".copy")
			defer os.Remove(path + ".copy")
			return opened(path, options, func(b *Book) error { return b.BackupOver(path + ".copy") })
		}},
		{"what a copy holds", joined, false, func(path string) error {
			return opened(path, options, func(b *Book) error { return b.Supersedes(studio) })
		}},
		{"salvage", gaps, false, func(path string) error {
			_, err := Salvage(path, path+".saved", options, events.Entry{At: morning, RecordedAt: morning, Zone: "Europe/Oslo", ID: seeded("salvage"), Book: seeded("book of salvage")})
			return err
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "book.db")
			spoilt.Store(path, true)
			anew := func() {
				for _, name := range beside(t, dir) {
					require.NoError(t, os.RemoveAll(filepath.Join(dir, name)))
				}
				copyBook(t, c.book, path)
			}
			run := func(f *fault) error { return f.on(func() error { return c.do(path) }) }
			for _, wrong := range []bool{false, true} {
				if wrong && strings.HasPrefix(c.name, "verify of ") {
					continue // what it finds is its answer
				}
				anew()
				count := &fault{met: met[wrong], wrong: wrong}
				require.NoError(t, run(count))
				anew()
				reached := 0
				for n, call := range count.calls {
					f, err := &fault{}, error(nil)
					for tried := 0; !f.fired && tried < 5; tried++ { // what two goroutines share may have been done by the other
						f = &fault{at: call, wrong: wrong}
						if err = run(f); !f.fired {
							require.NoError(t, err)
							anew()
						}
					}
					if !f.fired {
						continue
					}
					reached++
					if !f.still {
						assert.True(t, isTrouble(err) || wrong && err != nil, "the failure at %d of %d was passed over: %v", n, len(count.calls), err)
						assert.Equal(t, []string{"book.db"}, beside(t, dir), "what the failure at %d left", n)
					}
					if f.still || c.lasts {
						anew()
					}
				}
				require.GreaterOrEqual(t, 10*reached, 9*len(count.calls), "of %d", len(count.calls))
				if fileBytes(t, path) != fileBytes(t, c.book) {
					after := everything(t, path)
					anew()
					assert.Equal(t, everything(t, path), after)
				}
			}
		})
	}
}

// beside are the names in a folder.
func beside(t *testing.T, dir string) (names []string) {
	t.Helper()
	all, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, f := range all {
		names = append(names, f.Name())
	}
	return names
}

// everything is what a closed book says, and what verify finds wrong with it.
func everything(t *testing.T, path string) (out string) {
	t.Helper()
	require.NoError(t, opened(path, Options{Folder: tally{}, ReadOnly: true}, func(b *Book) error {
		r, err := b.Verify(VerifyOptions{})
		out = fmt.Sprint(told(t, b), r.Problems)
		return err
	}))
	return out
}

// looks are the questions that acts and look-backs ask, each with its error.
var looks = []func(tx *Tx) error{
	func(tx *Tx) error {
		boxes, err := tx.Entities(events.Box)
		if err == nil {
			_, err = tx.ViewsOf(boxes)
		}
		return err
	},
	func(tx *Tx) error { _, _, err := tx.Entity("2026-001@2"); return err },
	func(tx *Tx) error { _, err := tx.EntityByID(3); return err },
	func(tx *Tx) error { _, err := tx.Entities(events.Box); return err },
	func(tx *Tx) error { _, err := tx.Entries(events.Query{Stream: 3}); return err },
	func(tx *Tx) error { _, err := tx.Views(events.ViewQuery{Kind: events.Picture}); return err },
	func(tx *Tx) error { _, _, err := tx.View(events.Entity{ID: 3}); return err },
	func(tx *Tx) error { _, err := tx.LargestNumber("2026-"); return err },
	func(tx *Tx) error { _, err := tx.Find("abcd"); return err },
	func(tx *Tx) error { _, err := tx.Batch("abcd"); return err },
	func(tx *Tx) error { _, err := tx.StreamOf(seeded("harbour1")); return err },
	func(tx *Tx) error { _, err := tx.Heads(); return err },
	func(tx *Tx) error { _, _, err := tx.LastOwn(true); return err },
	func(tx *Tx) error { _, err := tx.Count(); return err },
	func(tx *Tx) error { _, _, err := tx.Thumbnail(events.Hash{7}); return err },
	func(tx *Tx) error { _, err := tx.Meta("zone"); return err },
	func(tx *Tx) error { _, err := tx.HasOwnChain(); return err },
	func(tx *Tx) error { _, err := tx.Sitters(); return err },
	func(tx *Tx) error { _, err := tx.FormerNames(); return err },
	func(tx *Tx) error { _, err := tx.LayStones("sitter-99", events.ID{}); return err },
	func(tx *Tx) error { _, err := tx.ScrubPending(); return err },
	func(tx *Tx) error { _, err := tx.LastSeq(); return err },
	func(tx *Tx) error { _, err := tx.NewestRecorded(); return err },
	func(tx *Tx) error { _, err := tx.RecordedAhead(morning.Add(-48 * time.Hour)); return err },
	func(tx *Tx) error { _, err := tx.Holds(seeded("harbour1"), events.Hash{}); return err },
	func(tx *Tx) error { _, err := tx.Holds(seeded("harbour1"), events.Hash{1}); return err },
	func(tx *Tx) error { _, err := tx.ViewsOf([]events.Entity{{ID: 3}, {ID: 9}}); return err },
	func(tx *Tx) error {
		_, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}, Counted: true})
		return err
	},
}

// What covers a refused commit leaves the layout of the file as it is: another version may have made it.
func TestARefusedCommitLeavesTheLayout(t *testing.T) {
	b := create(t)
	spoilt.Store(b.Path(), true) // no book has the layout 0
	_, err := b.db.Exec("PRAGMA user_version=0")
	require.NoError(t, err)
	write := func(f *fault) error {
		e := newHand(t, nil, "harbour").entry(&events.BookOpenedData{Zone: "Europe/Oslo"})
		return f.on(func() error { return writing(b.Path(), func(tx *Tx) error { return tx.Append(&e) }) })
	}
	count := &fault{}
	require.NoError(t, write(count))
	b = create(t)
	spoilt.Store(b.Path(), true)
	_, err = b.db.Exec("PRAGMA user_version=0")
	require.NoError(t, err)
	require.ErrorContains(t, write(&fault{turn: count.asked}), "the disk failed", "the last statement is COMMIT")
	var layout int
	require.NoError(t, b.db.QueryRow("PRAGMA user_version").Scan(&layout))
	assert.Zero(t, layout)
}
