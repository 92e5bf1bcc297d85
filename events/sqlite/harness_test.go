package sqlite

import (
	"bufio"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
)

// tally is a small pure fold: how many of a stream's own entries count, and how many sheets they brought.
type tally struct{ version int }

func (f tally) Version() int { return max(1, f.version) }

func (f tally) Fold(t events.Entity, r events.Reader) (events.View, error) {
	v := events.View{Entity: t}
	es, err := r.Entries(events.Query{Stream: t.ID})
	if err != nil {
		return v, err
	}
	var kinds []string
	for _, e := range events.Fold(es) {
		kinds = append(kinds, string(e.Kind))
		if v.Rank == 0 {
			v.Rank = e.At.UnixMicro()
		}
		v.Last, v.Open = e.At.UnixMicro(), e.Kind != events.SessionClosed
		if d, ok := e.Data.(*events.PaperReceivedData); ok {
			v.Stock += int64(d.Sheets)
		}
	}
	v.State, err = json.Marshal(map[string]any{"version": f.Version(), "kinds": kinds})
	return v, err
}

var options = Options{Folder: tally{}}

func create(t testing.TB) *Book {
	t.Helper()
	return createAt(t, filepath.Join(t.TempDir(), "book.db"))
}

func createAt(t testing.TB, path string) *Book {
	t.Helper()
	b, err := Create(path, options)
	require.NoError(t, err)
	wholeAtEnd(t, b)
	return b
}

func open(t testing.TB, path string) *Book {
	t.Helper()
	b, err := Open(path, options)
	require.NoError(t, err)
	wholeAtEnd(t, b)
	return b
}

// spoilt are the files that a test damages on purpose. Whoever opens one past the book marks it.
var spoilt sync.Map

// wholeAtEnd closes a book when its test ends and verifies all of it, whatever the test was about.
func wholeAtEnd(t testing.TB, b *Book) {
	t.Helper()
	t.Cleanup(func() {
		b.Close()
		if _, harmed := spoilt.Load(b.Path()); harmed {
			return
		}
		if _, err := os.Stat(b.Path()); err != nil {
			return
		}
		look, err := Open(b.Path(), Options{Folder: b.folder, ReadOnly: true})
		require.NoError(t, err)
		defer look.Close()
		r, err := look.Verify(VerifyOptions{})
		require.NoError(t, err)
		require.True(t, r.OK, "the book is not whole after the test: %v", r.Problems)
	})
}

// hand writes acts, one a minute, with ids and a book made from a seed.
type hand struct {
	t    testing.TB
	b    *Book
	seed string
	n    int
	at   time.Time
}

var morning = time.Date(2026, 5, 3, 9, 0, 0, 0, time.FixedZone("", 7200))

func newHand(t testing.TB, b *Book, seed string) *hand {
	return &hand{t: t, b: b, seed: seed, at: morning}
}

func seeded(s string) (id events.ID) {
	sum := sha256.Sum256([]byte(s))
	copy(id[:], sum[:])
	return id
}

func (h *hand) entry(d events.Data) events.Entry {
	h.n++
	h.at = h.at.Add(time.Minute)
	e := events.Entry{Kind: d.Kind(), At: h.at, Zone: "Europe/Oslo", Data: d, ID: seeded(fmt.Sprint(h.seed, h.n)), RecordedAt: h.at.Add(5 * time.Second)}
	if d.Kind() == events.BookOpened || d.Kind() == events.BookSalvaged {
		e.Book = seeded("book of " + h.seed)
	}
	return e
}

// do writes acts in one transaction each and gives the last.
func (h *hand) do(ds ...events.Data) events.Entry {
	h.t.Helper()
	var e events.Entry
	for _, d := range ds {
		e = h.entry(d)
		require.NoError(h.t, h.b.Write(func(tx *Tx) error { return tx.Append(&e) }))
	}
	return e
}

// batch writes acts in one transaction under one batch.
func (h *hand) batch(ds ...events.Data) events.ID {
	h.t.Helper()
	id := seeded(fmt.Sprint("batch", h.seed, h.n))
	require.NoError(h.t, h.b.Write(func(tx *Tx) error {
		for _, d := range ds {
			e := h.entry(d)
			e.Batch = id
			if err := tx.Append(&e); err != nil {
				return err
			}
		}
		return nil
	}))
	return id
}

func (h *hand) begin() events.Entry {
	return h.do(&events.BookOpenedData{Zone: "Europe/Oslo", Owner: h.seed})
}

func (h *hand) void(e events.Entry) events.Entry {
	return h.do(&events.EntryVoidedData{Entry: e.ID.String()})
}

func (h *hand) amend(e events.Entry, set string) events.Entry {
	var s events.Set
	require.NoError(h.t, json.Unmarshal([]byte(set), &s))
	return h.do(&events.EntryAmendedData{Entry: e.ID.String(), Set: s})
}

func (h *hand) picture(number string) events.Entry {
	day := events.Carried{Session: "mole-day", Camera: "mole-camera"}
	sheet := number + "n"
	x := h.do(&events.SheetExposedData{Picture: number, Box: "box-1", F: 8, TimeS: 5, Sheet: sheet, Subject: "ferry mate " + number, Carried: day})
	h.batch(
		&events.SheetDevelopedData{Sheet: sheet, Bath: "dev-1", TimeS: 60, Carried: day},
		&events.SheetFixedData{Sheet: sheet, Bath: "fix-1", TimeS: 60, Carried: day})
	h.do(&events.SheetJudgedData{Sheet: sheet, Verdict: "keep", Carried: day})
	return x
}

// season writes a small book in which every index has rows: pictures, voids, voided voids, batches, amendments, cites.
func (h *hand) season() {
	num := func(v float64) *float64 { return &v }
	h.begin()
	h.do(
		&events.CameraDescribedData{Camera: "mole-camera", FocalMM: 180, FWidest: 5.6, FSmallest: 32},
		&events.PaperReceivedData{Box: "box-1", Name: "quay paper", Base: "rc", WidthMM: 102, HeightMM: 127, Sheets: 100},
		&events.BathMixedData{Bath: "dev-1", Role: "developer", Name: "print developer", VolumeML: 1000},
		&events.BathMixedData{Bath: "fix-1", Role: "fixer", Name: "rapid fixer", VolumeML: 1000},
		&events.SessionOpenedData{Session: "mole-day", Camera: "mole-camera"},
		&events.PaperCutData{Box: "box-1", Sheets: 1, Into: "box-2", Parts: 4, WidthMM: 51, HeightMM: 63},
		&events.LightMeteredData{On: "scene", Mode: "reflected", F: num(8), TimeS: num(5), Index: num(3), Carried: events.Carried{Session: "mole-day"}})
	x := h.picture("2026-001")
	h.picture("2026-002")
	h.amend(x, `{"time_s":6}`)
	spoiled := h.do(&events.PaperSpoiledData{Box: "box-1", Sheets: 2})
	h.void(h.void(spoiled))
	h.do(&events.EntryVoidedData{Batch: h.batch(
		&events.NoteWrittenData{About: "dev-1", Text: "grey"},
		&events.NoteWrittenData{About: "2026-002n", Text: "wind"}).String()})
	h.do(
		&events.StripExposedData{Strip: "strip-1", Box: "box-2", On: "scene", TimesS: []float64{2, 4}, Picture: "2026-002"},
		&events.SitterConsentedData{Sitter: "sitter-7", To: "show"},
		&events.NoteWrittenData{About: x.ID.String(), Text: "the tide was out"},
		&events.SessionClosedData{Session: "mole-day"})
}

// season is a closed book with a season in it, written once.
var season = sync.OnceValue(func() []byte {
	dir, err := os.MkdirTemp("", "season")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "book.db")
	b, err := Create(path, options)
	if err != nil {
		panic(err)
	}
	newHand(panicking{}, b, "harbour").season()
	if err := b.Close(); err != nil {
		panic(err)
	}
	raw, err := os.ReadFile(path)
	if err != nil {
		panic(err)
	}
	return raw
})

// panicking is a test that ends loudly outside any test.
type panicking struct{ testing.TB }

func (panicking) Helper() {}

func (panicking) Errorf(f string, a ...any) { panic(fmt.Sprintf(f, a...)) }

func (panicking) FailNow() { panic("failed") }

// seasonFile is a season's book, closed.
func seasonFile(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	require.NoError(t, os.WriteFile(path, season(), 0o600))
	return path
}

// seasonBook is a book with a season in it.
func seasonBook(t testing.TB) *Book {
	t.Helper()
	return open(t, seasonFile(t))
}

func verified(t testing.TB, b *Book) Report {
	t.Helper()
	r, err := b.Verify(VerifyOptions{})
	require.NoError(t, err)
	require.True(t, r.OK, "%v", r.Problems)
	return r
}

// told is everything a book says: its things, views and folded entries, for comparing two books.
func told(t testing.TB, b *Book) string {
	t.Helper()
	var out string
	require.NoError(t, b.Read(func(tx *Tx) error {
		for _, k := range []events.EntityKind{events.Book, events.Camera, events.Box, events.Bath, events.Session, events.Holder, events.Strip, events.Sitter, events.Picture} {
			entities, err := tx.Entities(k)
			require.NoError(t, err)
			for _, th := range entities {
				v, ok, err := tx.View(th)
				require.NoError(t, err)
				out += fmt.Sprintf("%s %s view %v %d %d %s\n", k, th.Name, ok, v.Last, v.Stock, v.State)
				for _, q := range []events.Query{{Stream: th.ID}, {Box: th.ID}, {Bath: th.ID}, {Session: th.ID}, {Cites: th.ID}} {
					es, err := tx.Entries(q)
					require.NoError(t, err)
					for _, e := range events.FoldAll(es) {
						raw, err := json.Marshal(e.Data)
						require.NoError(t, err)
						out += fmt.Sprintf("  %d %s %s %s voided %s amended %v\n", e.Seq, e.ID, e.Kind, raw, e.Voided, e.Amended)
					}
				}
			}
		}
		return nil
	}))
	return out
}

func fileBytes(t testing.TB, path string) string {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(raw)
}

// exportLines writes every chain whole as NDJSON.
func exportLines(tx *Tx, w io.Writer) error {
	out := bufio.NewWriterSize(w, 1<<16)
	err := tx.Each(func(e events.Entry) error {
		_, err := out.Write(append(e.AppendLine(nil), '\n'))
		return err
	})
	if err != nil {
		return err
	}
	return out.Flush()
}

// importWhole takes whole lines into a book in one transaction.
func importWhole(b *Book, lines iter.Seq2[events.Line, error], progress func(n int64)) (got Imported, err error) {
	err = b.Write(func(tx *Tx) error {
		got, err = tx.ImportWhole(lines, progress)
		return err
	})
	if err != nil {
		return Imported{}, err
	}
	return got, nil
}

// sitterRef is the reference of the name in the table of sitters, "" where it is not there.
func sitterRef(t testing.TB, tx *Tx, name string) string {
	t.Helper()
	rows, err := tx.Sitters()
	require.NoError(t, err)
	for _, r := range rows {
		if r.Name == name {
			return r.Ref
		}
	}
	return ""
}
