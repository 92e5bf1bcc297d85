package sqlite

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
)

// asker asks one transaction again and again, and holds each answer against that of one which has been asked nothing.
type asker struct {
	t      *testing.T
	tx     *Tx
	asked  []events.Query
	sought []string
}

func (a *asker) ask(q events.Query) {
	_, err := a.tx.Entries(q)
	require.NoError(a.t, err)
	a.asked = append(a.asked, q)
}

func (a *asker) seek(prefix string) {
	_, err := a.tx.Find(prefix)
	require.NoError(a.t, err)
	a.sought = append(a.sought, prefix)
}

func (a *asker) askAgain(what string) {
	fresh := newTx(a.tx.b, a.tx.file, a.tx.file)
	for _, q := range a.asked {
		want, err := fresh.ask(q)
		require.NoError(a.t, err)
		got, err := a.tx.Entries(q)
		require.NoError(a.t, err)
		require.Equal(a.t, events.FoldAll(want), events.FoldAll(got), "%s: %+v", what, q)
		require.Len(a.t, got, len(want), "%s: %+v", what, q)
	}
	for _, prefix := range a.sought {
		low, high, _ := idRange(prefix)
		want, err := fresh.file.entries("SELECT "+entryColumns+" FROM entry e WHERE e.id BETWEEN ? AND ? ORDER BY e.seq LIMIT 100", low[:], high[:])
		require.NoError(a.t, err)
		got, err := a.tx.Find(prefix)
		require.NoError(a.t, err)
		require.Equal(a.t, want, got, "%s: %s", what, prefix)
	}
	held := 0
	for _, answers := range a.tx.remembered.answers {
		for _, out := range answers {
			held += len(out) + 1
		}
	}
	require.Equal(a.t, held, a.tx.remembered.held)
	require.LessOrEqual(a.t, held, mostRemembered)
}

// about gives the ways to ask about a thing.
func about(id int64) []events.Query {
	return []events.Query{{Stream: id}, {Box: id}, {Bath: id}, {Session: id}, {Cites: id}}
}

// Whatever a transaction writes, what it remembers is what the file says: in a life whose entries are voided, brought back,
// amended, and voided by the batch.
func TestWhatIsRememberedIsWhatTheFileSays(t *testing.T) {
	for seed, many := range []bool{false, true} {
		t.Run(fmt.Sprint("many ", many), func(t *testing.T) {
			b := create(t)
			r := rand.New(rand.NewPCG(uint64(seed), 5))
			var ids, batches []events.ID
			for lines := mendedLife(t, 300, uint64(seed)+40); len(lines) > 0; {
				now := lines[:min(25, len(lines))]
				lines = lines[len(now):]
				batch := seeded(fmt.Sprint("batch", len(lines)))
				require.NoError(t, b.Write(func(tx *Tx) error {
					if many {
						tx.Many()
					}
					a := &asker{t: t, tx: tx}
					for i, l := range now {
						a.askSome(r, ids)
						e := l.Entry
						e.RecordedAt, e.Batch, e.Book = lifeEnds, batch, events.ID{9}
						if x, ok := e.Data.(*events.SheetReprintedData); ok && x.Sheet == "" {
							x.Sheet = events.Sheet(x.Picture, fmt.Sprint("p", 100+len(lines)+i))
						}
						require.NoError(t, tx.Append(&e))
						a.askAgain(string(e.Kind))
						ids = append(ids, e.ID)
						if len(batches) == 0 || r.IntN(30) > 0 {
							continue
						}
						v := events.Entry{Kind: events.EntryVoided, At: e.At, RecordedAt: lifeEnds, ID: seeded(fmt.Sprint("void", len(lines), i)),
							Data: &events.EntryVoidedData{Batch: batches[r.IntN(len(batches))].String()}}
						require.NoError(t, tx.Append(&v))
						a.askAgain("void of a batch")
						ids = append(ids, v.ID)
					}
					return nil
				}))
				batches = append(batches, batch)
			}
		})
	}
}

// askSome asks some things about what the book has names for, in some of the ways that there are.
func (a *asker) askSome(r *rand.Rand, ids []events.ID) {
	for range 4 {
		q := events.Query{}
		for _, kind := range []events.EntityKind{events.Box, events.Bath, events.Session, events.Picture, events.Camera} {
			things, err := a.tx.Entities(kind)
			require.NoError(a.t, err)
			if len(things) > 0 && r.IntN(3) == 0 {
				q = about(things[len(things)-1-r.IntN(min(3, len(things)))].ID)[r.IntN(5)]
			}
		}
		if questionOf(q) == questionOf(events.Query{}) { // of the whole book
			q.Newest, q.Limit = true, 3
		}
		q.Counted = r.IntN(2) == 0
		switch r.IntN(4) {
		case 0:
			q.Kinds = []events.Kind{events.SheetExposed, events.SheetDeveloped, events.PaperCut}[r.IntN(3):]
		case 1:
			q.Newest, q.Limit = true, 1+r.IntN(3)
		}
		a.ask(q)
	}
	if len(ids) > 0 {
		a.seek(ids[len(ids)-1-r.IntN(min(30, len(ids)))].String())
		a.seek(seeded(fmt.Sprint("void", r.IntN(700), r.IntN(25))).String()) // may come
	}
	if n := len(a.asked); n > 16 {
		a.asked, a.sought = a.asked[n-16:], a.sought[max(0, len(a.sought)-4):]
	}
}

// The same in a joined book, where an act may change what the names mean in what was asked before.
func TestWhatIsRememberedOfAJoinedBook(t *testing.T) {
	b, other := seasonBook(t), create(t)
	newHand(t, other, "studio").season()
	merge(t, b, other)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	require.NoError(t, b.Write(func(tx *Tx) error {
		a := &asker{t: t, tx: tx}
		a.ask(events.Query{Newest: true, Limit: 5})
		for _, name := range []string{"box-1", "box-1@2", "dev-1", "dev-1@2", "mole-day", "mole-day@2", "2026-001", "2026-001@2", "2026-002@2"} {
			thing, ok, err := tx.Entity(name)
			require.NoError(t, err)
			require.True(t, ok, name)
			for _, q := range about(thing.ID) {
				a.ask(q)
				q.Counted = true
				a.ask(q)
			}
		}
		for _, d := range []events.Data{
			&events.SheetExposedData{Picture: "2026-050", Box: "box-1@2", F: 8, TimeS: 5, Sheet: "2026-050n", PlannedBox: "box-1"},
			&events.SheetDevelopedData{Sheet: "2026-001n@2", Bath: "dev-1", TimeS: 60},
			&events.StripExposedData{Strip: "strip-9", Box: "box-1", On: "scene", TimesS: []float64{2, 4}, Picture: "2026-002@2"},
			&events.NoteWrittenData{About: "2026-001", Text: "x"},
			&events.NoteWrittenData{About: seeded("studio9").String(), Text: "x"},
			&events.EntryVoidedData{Entry: seeded("studio9").String()},
			&events.EntryVoidedData{Batch: seeded("batchharbour9").String()},
			&events.EntryAmendedData{Entry: seeded("studio10").String(), Set: events.Set{{Name: "time_s", Value: []byte("61")}}},
		} {
			e := h.entry(d)
			require.NoError(t, tx.Append(&e))
			a.askAgain(string(e.Kind))
		}
		return nil
	}))
}

// Who goes through a long book does not fill the memory with it.
func TestWhatIsRememberedIsBounded(t *testing.T) {
	var r remembered
	asked := 0
	for i := range 40 {
		q := question{on: spot{"stream", int64(i)}}
		for range 2 {
			_, err := r.of(q, func() ([]events.Entry, error) { asked++; return make([]events.Entry, 200*i), nil })
			require.NoError(t, err)
		}
		require.LessOrEqual(t, r.held, mostRemembered)
		require.Equal(t, 200*i <= mostRemembered, len(r.answers[q.on]) == 1, "what is larger than the memory is not remembered")
	}
	assert.Equal(t, 40+40-mostRemembered/200-1, asked, "nothing that is remembered is asked again")
}

// What a hand types asks the store for little, and for nothing twice. The season is the one of `traybook demo`.
func TestATypedActAsksFewQuestions(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, CreateFilled(path, Options{Folder: snapshot.Folder{}}, nil))
	b := shapeBook(t, path)
	season, err := os.Open("../../cmd/traybook/demo/season.ndjson")
	require.NoError(t, err)
	defer season.Close()
	p := acts.NewImportBuffer(nil)
	for line, err := range events.ReadLines(season) {
		require.NoError(t, err)
		require.NoError(t, p.Add(line))
	}
	now := time.Date(2026, 8, 9, 15, 40, 0, 0, time.UTC)
	require.NoError(t, b.Write(func(tx *Tx) error {
		_, err := acts.ImportBuffered(tx, p, now, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	for i, c := range []struct {
		most int
		data events.Data
	}{
		{44, &events.SheetExposedData{F: 8, TimeS: 4.6, Subject: "mate"}},
		{46, &events.SheetDevelopedData{Sheet: "2026-039n", TimeS: 90}},
	} {
		heard := heardOf(t, b, func(tx *Tx) {
			e := events.Entry{Kind: c.data.Kind(), At: now, RecordedAt: now, Zone: "Europe/Oslo", ID: events.ID{3, byte(i)}, Data: c.data}
			_, err := acts.Write(tx, &e, acts.WriteOptions{})
			require.NoError(t, err)
		})
		n := 0
		for _, times := range heard {
			n += times
		}
		assert.LessOrEqual(t, n, c.most, "%s", c.data.Kind())
		assert.Greater(t, n, 20)
	}
}
