package acts_test

import (
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// hand writes random acts into a book, as a person would: some back-dated, some mended, some taken back.
type hand struct {
	t      *rapid.T
	b      *sqlite.Book
	n      int       // acts tried so far; makes every time and id its own
	now    time.Time // of writing; runs on
	given  map[string]bool
	refuse int
}

var firstMorning = time.Date(2026, 5, 2, 8, 0, 0, 0, time.FixedZone("", 7200))

func newHand(t *rapid.T, path string) *hand {
	b, err := sqlite.Create(path, sqlite.Options{Folder: snapshot.Folder{}})
	require.NoError(t, err)
	h := &hand{t: t, b: b, now: firstMorning, given: map[string]bool{}}
	h.do(&events.BookOpenedData{Zone: "Europe/Oslo"}, 0)
	h.do(&events.CameraDescribedData{Camera: "skiff", FocalMM: 135, FWidest: 5.6, FSmallest: 32, CopyF: new(11.0)}, 0)
	h.do(&events.PaperReceivedData{Name: "Harbour", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 9, Index: new(3.0)}, 0)
	h.do(&events.BathMixedData{Role: "developer", Name: "Amber", VolumeML: 1000, TimeS: new(60.0)}, 0)
	h.do(&events.BathMixedData{Role: "fixer", Name: "Clear", VolumeML: 1000, TimeS: new(60.0)}, 0)
	h.do(&events.SessionOpenedData{Session: "quay"}, 0)
	return h
}

var errRefused = errors.New("refused")

// entry puts data into an envelope with an id and a time of its own.
func (h *hand) entry(data events.Data, back time.Duration) events.Entry {
	h.n++
	h.now = h.now.Add(time.Minute)
	id := events.ID{0xee}
	id[14], id[15] = byte(h.n>>8), byte(h.n)
	at := h.now.Add(-back).Add(time.Duration(h.n) * time.Millisecond)
	return events.Entry{Kind: data.Kind(), At: at, Data: data, ID: id, RecordedAt: h.now, Book: events.ID{0xb0}, Zone: "Europe/Oslo"}
}

// write writes entries at one go; a refusal leaves the book as it was.
func (h *hand) write(f func(tx *sqlite.Tx) error) {
	err := h.b.Write(f)
	var no *wording.Refusal
	if errors.As(err, &no) || errors.Is(err, errRefused) {
		h.refuse++
		return
	}
	require.NoError(h.t, err)
}

func (h *hand) do(data events.Data, back time.Duration) {
	e := h.entry(data, back)
	x, exposes := data.(*events.SheetExposedData)
	numbered := exposes && x.Picture == "" && x.Sheet == ""
	h.write(func(tx *sqlite.Tx) error {
		_, err := acts.Write(tx, &e, acts.WriteOptions{})
		if err == nil && numbered {
			require.False(h.t, h.given[x.Picture], "the number %s was given before", x.Picture)
			h.given[x.Picture] = true
		}
		return err
	})
}

func (h *hand) draw(label string, n int) int { return rapid.IntRange(0, n-1).Draw(h.t, label) }

// name picks a thing of a kind that the book has heard of, taken back or not.
func (h *hand) name(kind events.EntityKind) string {
	var names []string
	require.NoError(h.t, h.b.Read(func(tx *sqlite.Tx) error {
		entities, err := tx.Entities(kind)
		for _, t := range entities {
			names = append(names, t.Name)
		}
		return err
	}))
	if len(names) == 0 {
		return "2026-500" // of no picture; nothing else is ever missing. What follows it stays within a thousand of none
	}
	return names[h.draw("of "+string(kind), len(names))]
}

// act writes one random act.
func (h *hand) act() {
	back := time.Duration(0)
	if h.draw("back-dated", 4) == 0 {
		back = time.Duration(h.draw("minutes back", 40)) * time.Minute
	}
	sheet := func() string {
		return events.Sheet(h.name(events.Picture), []string{"n", "p1", "p2"}[h.draw("part", 3)])
	}
	orNone := func(s string) string { return []string{"", s}[h.draw("named", 2)] }
	times := []float64{2, 4, 8, 60, 90}
	timeS := times[h.draw("time", len(times))]
	switch h.draw("act", 22) {
	case 0:
		h.do(&events.PaperReceivedData{Name: "Quay", Base: "fb", WidthMM: 100, HeightMM: 150, Sheets: h.draw("sheets", 4) + 1, Index: new(4.0)}, back)
	case 1:
		h.do(&events.BathMixedData{Role: "developer", Name: "Amber", VolumeML: 500, TimeS: new(timeS)}, back)
	case 2:
		h.do(&events.SessionOpenedData{Session: fmt.Sprintf("day-%d", h.n)}, 0)
	case 3:
		h.do(&events.LightMeteredData{On: "scene", Mode: "reflected", F: new(8.0), TimeS: new(timeS), Index: new(3.0)}, back)
	case 4:
		h.do(&events.LightMeteredData{On: "negative", Mode: "reflected", F: new(11.0), TimeS: new(timeS), Index: new(3.0), Picture: h.name(events.Picture)}, back)
	case 5, 6, 7, 8:
		h.do(&events.SheetExposedData{F: 8, TimeS: timeS, Box: orNone(h.name(events.Box)), Subject: "ferry"}, back)
	case 9:
		h.do(&events.SheetExposedData{F: 8, TimeS: timeS, Sheet: events.Sheet(h.name(events.Picture), "n")}, back)
	case 10, 11:
		h.do(&events.SheetReprintedData{TimeS: timeS, F: new(11.0), Picture: orNone(h.name(events.Picture))}, back)
	case 12, 13:
		h.do(&events.SheetDevelopedData{Sheet: orNone(sheet()), TimeS: timeS}, back)
	case 14:
		h.do(&events.SheetFixedData{Sheet: orNone(sheet()), TimeS: timeS}, back)
	case 15:
		h.do(&events.SheetWashedData{Sheet: orNone(sheet()), Changes: new(4), VolumeML: new(1000.0)}, back)
	case 16:
		h.do(&events.SheetJudgedData{Sheet: sheet(), Verdict: "keep"}, back)
	case 17:
		h.do(&events.PaperSpoiledData{Box: h.name(events.Box), Sheets: 1}, back)
	case 18:
		h.do(&events.PaperCountedData{Box: h.name(events.Box), Sheets: h.draw("counted", 6)}, back)
	case 19:
		h.do(&events.PaperCutData{Box: h.name(events.Box), Sheets: 1, Into: fmt.Sprintf("cut-%d", h.n), Parts: 2, WidthMM: 45, HeightMM: 120}, back)
	case 20:
		h.do(&events.BathDiscardedData{Bath: h.name(events.Bath)}, back)
	case 21:
		h.do(&events.NoteWrittenData{About: h.name(events.Picture), Text: "calm"}, back)
	}
}

// all gives everything that was written, in the order of arrival.
func (h *hand) all() []events.Entry { return allOf(h.t, h.b) }

func allOf(t require.TestingT, b *sqlite.Book) []events.Entry {
	var out []events.Entry
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { out = append(out, e); return nil })
	}))
	return out
}

// amend mends a random entry.
func (h *hand) amend() {
	all := h.all()
	e := all[h.draw("amended", len(all))]
	sets := []struct {
		field string
		value any
	}{{"time_s", 5.0}, {"f", 11.0}, {"index", 6.0}, {"sheets", 3}, {"verdict", "redo"}, {"text", "mended"}, {"subject", "pilot"}, {"camera", "skiff"}, {"camera", nil},
		{"at", events.FormatTime(e.At.Add(-time.Duration(h.draw("moved", 90)) * time.Minute))}}
	s := sets[h.draw("set", len(sets))]
	f, err := events.SetValue(s.field, s.value)
	require.NoError(h.t, err)
	if _, err := events.Apply(e, events.Set{f}); err != nil || e.Kind == events.BookOpened || e.Kind == events.SessionOpened || e.Kind == events.CameraDescribed {
		return // what fills in other acts stays at its time
	}
	a := h.entry(&events.EntryAmendedData{Entry: e.ID.String(), Set: events.Set{f}}, 0)
	h.write(func(tx *sqlite.Tx) error {
		_, err := acts.Write(tx, &a, acts.WriteOptions{})
		return err
	})
}

// void takes a random entry back with what depends on it, or brings one back.
func (h *hand) void() {
	all := h.all()
	e := all[h.draw("voided", len(all))]
	if e.Kind == events.BookOpened || e.Kind == events.CameraDescribed && h.amendedTo(e.Data.(*events.CameraDescribedData).Camera) {
		return
	}
	batch := events.ID{0xba}
	batch[14], batch[15] = byte(h.n>>8), byte(h.n)
	h.write(func(tx *sqlite.Tx) error {
		snap := snapshot.New(tx, time.Time{})
		target, err := snap.AsItCounts(e.ID)
		require.NoError(h.t, err)
		if !target.Voided.IsZero() {
			return errRefused
		}
		later, err := snap.AllDependents(target)
		require.NoError(h.t, err)
		for _, v := range append(later, target) {
			w := h.entry(&events.EntryVoidedData{Entry: v.ID.String()}, 0)
			w.Batch = batch
			if _, err := acts.Write(tx, &w, acts.WriteOptions{}); err != nil {
				return err
			}
		}
		if e.Kind == events.EntryVoided {
			return h.onlyFirmGround(tx, e)
		}
		return nil
	})
}

// amendedTo says whether some amendment names a camera, though a later one may have taken its place: its line would name what
// is not there.
func (h *hand) amendedTo(camera string) bool {
	return slices.ContainsFunc(h.all(), func(e events.Entry) bool {
		x, ok := e.Data.(*events.EntryAmendedData)
		if !ok {
			return false
		}
		return slices.ContainsFunc(x.Set, func(f events.SetField) bool { return f.Name == "camera" && string(f.Value) == strconv.Quote(camera) })
	})
}

// onlyFirmGround refuses to bring back what stands on something that is still taken back, or what would fill in acts
// that were written without it.
func (h *hand) onlyFirmGround(tx *sqlite.Tx, void events.Entry) error {
	snap := snapshot.New(tx, time.Time{})
	var all []events.Entry
	require.NoError(h.t, tx.Each(func(e events.Entry) error { all = append(all, e); return nil }))
	for _, e := range all {
		if e.Kind == events.EntryVoided || e.Kind == events.EntryAmended {
			continue
		}
		now, err := snap.AsItCounts(e.ID)
		require.NoError(h.t, err)
		if now.Voided.IsZero() {
			if e.ID.String() == void.Data.(*events.EntryVoidedData).Entry && (e.Kind == events.SessionOpened || e.Kind == events.CameraDescribed) {
				return errRefused
			}
			continue
		}
		on, err := snap.AllDependents(now)
		require.NoError(h.t, err)
		if len(on) > 0 {
			return errRefused
		}
	}
	return nil
}

// views gives every kept view that holds something, by the name of its thing, after holding it against a refold.
func views(t require.TestingT, b *sqlite.Book) map[string]events.View {
	out := map[string]events.View{}
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		for _, kind := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera, events.Holder, events.Strip, events.Book} {
			entities, err := tx.Entities(kind)
			require.NoError(t, err)
			for _, entity := range entities {
				kept, ok, err := tx.View(entity)
				require.NoError(t, err)
				require.True(t, ok, entity.Name)
				fresh, err := snapshot.Folder{}.Fold(entity, tx)
				require.NoError(t, err)
				require.Equal(t, string(fresh.State), string(kept.State), entity.Name)
				require.Equal(t, fresh, kept, entity.Name)
				entries, err := snapshot.New(tx, time.Time{}).Stream(entity)
				require.NoError(t, err)
				if len(entries) == 0 && !isCut(t, tx, entity) {
					continue // everything that named it was taken back
				}
				kept.Entity.ID = 0
				out[entity.Name] = kept
			}
		}
		return nil
	}))
	return out
}

// isCut says whether a box came from the cutting of another.
func isCut(t require.TestingT, tx *sqlite.Tx, entity events.Entity) bool {
	found, err := tx.Entries(events.Query{Cites: entity.ID, Kinds: []events.Kind{events.PaperCut}})
	require.NoError(t, err)
	return len(events.Fold(found)) > 0
}

// withoutVoided gives the stored entries that count and their amendments as plain lines.
func withoutVoided(t require.TestingT, b *sqlite.Book) (actsOnly, mends []acts.ImportLine) {
	all := allOf(t, b)
	keep := map[events.ID]bool{}
	for _, e := range events.Fold(all) {
		keep[e.ID] = true
		for _, a := range e.Amended {
			keep[a] = true
		}
	}
	for _, e := range all {
		if !keep[e.ID] {
			continue
		}
		plain := events.Entry{Kind: e.Kind, At: e.At, Zone: e.Zone, Data: events.Clone(e.Data), ID: e.ID, V: e.V}
		l := acts.ImportLine{Line: events.Line{Entry: plain, HasID: true}}
		if e.Kind == events.EntryAmended {
			mends = append(mends, l)
		} else {
			actsOnly = append(actsOnly, l)
		}
	}
	return actsOnly, mends
}

func importInto(t require.TestingT, path string, lines []acts.ImportLine) *sqlite.Book {
	b, err := sqlite.Create(path, sqlite.Options{Folder: snapshot.Folder{}})
	require.NoError(t, err)
	lines = slices.Clone(lines)
	for i := range lines {
		lines[i].Number = i + 1
		lines[i].Data = events.Clone(lines[i].Data)
	}
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportPlain(tx, lines, firstMorning.AddDate(1, 0, 0), events.ID{0xbb}, events.ID{0xb1}, nil)
		return err
	}))
	return b
}

func whole(t require.TestingT, b *sqlite.Book) {
	r, err := b.Verify(sqlite.VerifyOptions{})
	require.NoError(t, err)
	require.True(t, r.OK, "%v", r.Problems)
}

// Whatever is done to a book, its kept views are what its entries fold to; a void equals never having been written; and
// a book made from the lines of another is the same book.
func TestRandomActsAmendmentsVoidsAndImports(t *testing.T) {
	t.Parallel() // most of its time is the disk's
	dir := t.TempDir()
	run := 0
	rapid.Check(t, func(t *rapid.T) {
		run++
		sub := filepath.Join(dir, fmt.Sprint(run))
		require.NoError(t, os.Mkdir(sub, 0o700))
		defer os.RemoveAll(sub)
		h := newHand(t, filepath.Join(sub, "book.db"))
		defer h.b.Close()
		for range rapid.IntRange(1, 24).Draw(t, "acts") {
			switch h.draw("what", 8) {
			case 0:
				h.amend()
			case 1:
				h.void()
			default:
				h.act()
			}
		}
		want := views(t, h.b)
		whole(t, h.b)

		// Every line as it is: the same hashes, the same views.
		copied, err := sqlite.Create(filepath.Join(sub, "copy.db"), sqlite.Options{Folder: snapshot.Folder{}})
		require.NoError(t, err)
		defer copied.Close()
		all := h.all()
		require.NoError(t, copied.Write(func(tx *sqlite.Tx) error {
			_, err := tx.ImportWhole(wholeLines(t, all), nil)
			return err
		}))
		for i, e := range allOf(t, copied) {
			require.Equal(t, all[i].Hash, e.Hash)
		}
		require.Equal(t, want, views(t, copied))
		whole(t, copied)

		// Without what was taken back, in the order of arrival and in another.
		acts, mends := withoutVoided(t, h.b)
		for _, name := range []string{"again.db", "shuffled.db"} {
			lines := append(slices.Clone(acts), mends...)
			if name == "shuffled.db" {
				lines = append(rapid.Permutation(acts).Draw(t, "order"), rapid.Permutation(mends).Draw(t, "order of amendments")...)
			}
			again := importInto(t, filepath.Join(sub, name), lines)
			got := views(t, again)
			whole(t, again)
			require.NoError(t, again.Close())
			require.Equal(t, want, got, name)
		}
	})
}

func wholeLines(t require.TestingT, all []events.Entry) iter.Seq2[events.Line, error] {
	return func(yield func(events.Line, error) bool) {
		for i, e := range all {
			l, err := events.ParseLine(e.AppendLine(nil))
			require.NoError(t, err)
			l.N = i + 1
			if !yield(l, nil) {
				return
			}
		}
	}
}
