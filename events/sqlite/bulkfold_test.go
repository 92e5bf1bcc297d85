package sqlite

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/projections/acts"
)

// mendedLife is a life with what a hand does to it afterwards: entries voided, voids voided, amendments voided, boxes
// cut and the pieces used, notes on things long folded, readings added to old sessions.
func mendedLife(t *testing.T, n int, seed uint64) []events.Line {
	var raw bytes.Buffer
	_, err := eventstest.WriteLife(&raw, n, seed)
	require.NoError(t, err)
	var lines []events.Line
	var ids []events.ID // of what can be voided: acts on sheets and readings, voids, amendments
	r := rand.New(rand.NewPCG(seed, 3))
	add := func(l events.Line, kind, data string) {
		var id events.ID
		for i := range id {
			id[i] = byte(r.Uint32())
		}
		text := fmt.Sprintf(`{"kind":"%s","at":"%s","data":%s,"id":"%s"}`, kind, events.FormatTime(l.At), data, id)
		x, err := events.ParseLine([]byte(text))
		require.NoError(t, err, text)
		x.N = len(lines) + 1
		lines = append(lines, x)
		if kind == "entry.voided" || kind == "entry.amended" {
			ids = append(ids, id)
		}
	}
	boxes, pictures, sessions, cut := []string{}, []string{}, []string{}, 0
	for l, err := range events.ReadLines(&raw) {
		require.NoError(t, err)
		l.N = len(lines) + 1
		lines = append(lines, l)
		switch x := l.Data.(type) {
		case *events.PaperReceivedData:
			boxes = append(boxes, x.Box)
		case *events.SheetExposedData:
			pictures = append(pictures, x.Picture)
		case *events.SessionOpenedData:
			sessions = append(sessions, x.Session)
		case *events.SheetWashedData, *events.SheetJudgedData, *events.SheetReprintedData, *events.LightMeteredData, *events.EntryAmendedData:
			ids = append(ids, l.ID)
		}
		if len(pictures) == 0 || len(boxes) == 0 || r.IntN(12) > 0 {
			continue
		}
		switch r.IntN(5) {
		case 0, 1:
			add(l, "entry.voided", fmt.Sprintf(`{"entry":"%s"}`, ids[len(ids)-1-r.IntN(min(len(ids), 2+r.IntN(300)))]))
		case 2:
			cut++
			add(l, "paper.cut", fmt.Sprintf(`{"box":"%s","sheets":1,"into":"cut-%d","parts":4,"width_mm":45,"height_mm":60}`, boxes[len(boxes)-1], cut))
			add(l, "sheet.reprinted", fmt.Sprintf(`{"picture":"%s","box":"cut-%d","time_s":4,"f":11}`, pictures[r.IntN(len(pictures))], cut))
		case 3:
			about := [][]string{pictures, boxes, sessions}[r.IntN(3)]
			add(l, "note.written", fmt.Sprintf(`{"about":"%s","text":"looked at again"}`, about[r.IntN(len(about))]))
		case 4:
			add(l, "light.metered", fmt.Sprintf(`{"on":"scene","mode":"reflected","f":8,"time_s":3,"index":4,"session":"%s"}`, sessions[r.IntN(len(sessions))]))
		}
	}
	return lines
}

// Whatever is folded from memory while many entries come in, and whatever was let go of in between, the kept views are
// those that the file gives. Verify folds every one of them from the file.
func TestViewsFoldedFromMemoryAreThoseOfTheFile(t *testing.T) {
	idle, look := idleAfter, lookEvery
	t.Cleanup(func() { idleAfter, lookEvery = idle, look })
	for seed, bounds := range [][2]int64{{8192, 1024}, {1, 1}, {60, 7}, {300, 16}} {
		t.Run(fmt.Sprint(bounds), func(t *testing.T) {
			idleAfter, lookEvery = bounds[0], bounds[1]
			b := create(t)
			p := acts.NewImportBuffer(nil)
			for _, l := range mendedLife(t, 1500, uint64(seed)) {
				require.NoError(t, p.Add(l))
			}
			half := p.Len()
			require.NoError(t, b.Write(func(tx *Tx) error {
				_, err := acts.ImportBuffered(tx, p, lifeEnds, events.ID{1}, events.ID{2}, nil)
				return err
			}))
			verified(t, b)
			before := keptViews(t, b)
			require.NoError(t, b.Rebuild())
			verified(t, b)
			assert.Equal(t, before, keptViews(t, b))
			assert.Greater(t, half, 1500)
			// A second file adds to things that the book holds; then its whole batch is taken back.
			p = acts.NewImportBuffer(nil)
			for i := range 60 {
				text := fmt.Sprintf(`{"kind":"note.written","at":"2030-01-01T10:00:%02dZ","data":{"about":"box-%d","text":"counted %d"}}`, i, i%3+1, i)
				l, err := events.ParseLine([]byte(text))
				require.NoError(t, err)
				l.N = i + 1
				require.NoError(t, p.Add(l))
			}
			require.NoError(t, b.Write(func(tx *Tx) error {
				_, err := acts.ImportBuffered(tx, p, lifeEnds, events.ID{3}, events.ID{4}, nil)
				return err
			}))
			verified(t, b)
			e := events.Entry{Kind: events.EntryVoided, At: lifeEnds, RecordedAt: lifeEnds, ID: events.ID{5}, Data: &events.EntryVoidedData{Batch: events.ID{3}.String()}}
			require.NoError(t, b.Write(func(tx *Tx) error { return tx.Append(&e) }))
			verified(t, b)
			require.NoError(t, b.Rebuild())
			verified(t, b)
		})
	}
}

// Whole lines come in the same way.
func TestWholeLinesAreFoldedFromMemoryToo(t *testing.T) {
	idle, look := idleAfter, lookEvery
	t.Cleanup(func() { idleAfter, lookEvery = idle, look })
	idleAfter, lookEvery = 40, 5
	b := create(t)
	p := acts.NewImportBuffer(nil)
	for _, l := range mendedLife(t, 1500, 9) {
		require.NoError(t, p.Add(l))
	}
	require.NoError(t, b.Write(func(tx *Tx) error {
		_, err := acts.ImportBuffered(tx, p, lifeEnds, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	var whole bytes.Buffer
	require.NoError(t, b.Read(func(tx *Tx) error { return exportLines(tx, &whole) }))
	other := create(t)
	_, err := importWhole(other, events.ReadLines(&whole), nil)
	require.NoError(t, err)
	verified(t, other)
	assert.Equal(t, keptViews(t, b), keptViews(t, other))
}

// keptViews gives every kept view by the name of its thing.
func keptViews(t *testing.T, b *Book) map[string]string {
	out := map[string]string{}
	require.NoError(t, b.Read(func(tx *Tx) error {
		for _, k := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera, events.Book} {
			views, err := tx.Views(events.ViewQuery{Kind: k})
			if err != nil {
				return err
			}
			for _, v := range views {
				name := v.Entity.Name
				v.Entity = events.Entity{}
				raw, err := json.Marshal(v)
				if err != nil {
					return err
				}
				out[name] = string(raw)
			}
		}
		return nil
	}))
	require.NotEmpty(t, out)
	return out
}
