package sqlite

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// What halving finds is what a walk through all entries finds, in a chain, in one that grew from it, and in a fork.
func TestTheFirstRecordedIsFound(t *testing.T) {
	b := seasonBook(t)
	c := createAt(t, t.TempDir()+"/copy.db")
	_, err := imported(c, exported(t, b)...)
	require.NoError(t, err)
	for i, book := range []*Book{b, c} { // each goes on by itself, one with its clock set to and fro
		h := newHand(t, book, []string{"a", "b"}[i])
		h.at = morning.AddDate(0, 0, i+1)
		if i == 1 {
			opened := h.entry(&events.BookOpenedData{Zone: "Europe/Oslo"})
			require.NoError(t, book.Write(func(tx *Tx) error { return tx.EnsureOwn(opened) }))
		}
		for _, d := range []time.Duration{0, 40 * time.Hour, -time.Hour, 0, -50 * time.Hour, 300 * time.Hour, 0, -time.Minute} {
			h.at = h.at.Add(d)
			h.do(&events.NoteWrittenData{About: "mole-day", Text: "a word"})
		}
	}
	_, err = b.Merge(c, nil)
	require.NoError(t, err)
	require.NoError(t, b.Read(func(tx *Tx) error {
		var all []events.Entry
		require.NoError(t, tx.Each(func(e events.Entry) error { all = append(all, e); return nil }))
		heads, err := tx.Heads()
		require.NoError(t, err)
		require.Len(t, heads, 2)
		for _, from := range all {
			for _, h := range heads {
				if h.RecordedAt.Before(from.RecordedAt) {
					continue
				}
				var alone, whole events.ID
				row := tx.chains.rows[h.Chain]
				for _, e := range all {
					in := e.Branch == h.Chain
					above := in || e.Branch == row.parent && e.BookSeq <= row.parentSeq
					if late := !e.RecordedAt.Before(from.RecordedAt); late && in && alone.IsZero() {
						alone = e.ID
					} else if late && above && whole.IsZero() && e.Branch == row.parent {
						whole = e.ID
					}
				}
				if whole.IsZero() {
					whole = alone
				}
				got, err := tx.chains.firstRecorded(h.Chain, from.RecordedAt, false)
				require.NoError(t, err)
				assert.Equal(t, alone, got.ID)
				got, err = tx.chains.firstRecorded(h.Chain, from.RecordedAt, true)
				require.NoError(t, err)
				assert.Equal(t, whole, got.ID)
			}
		}
		for _, now := range []time.Time{morning, morning.AddDate(0, 0, 3), morning.AddDate(1, 0, 0)} {
			runs, err := tx.RecordedAhead(now)
			require.NoError(t, err)
			count := map[int64]int64{}
			for _, e := range all {
				if e.RecordedAt.After(now.Add(ClockSlack)) {
					count[e.Branch]++
				}
			}
			for _, r := range runs {
				assert.Equal(t, count[r.Chain], r.Count)
				delete(count, r.Chain)
			}
			assert.Empty(t, count)
		}
		return nil
	}))
}

// A write that was taken back tells nothing; one a little behind is not worth a word; the first one tells.
func TestAClockSetBackIsToldOnce(t *testing.T) {
	b := seasonBook(t)
	var head Head
	require.NoError(t, b.Read(func(tx *Tx) (err error) {
		require.NoError(t, tx.chains.load())
		head = tx.chains.heads[tx.chains.own]
		return nil
	}))
	at := func(d time.Duration) events.Entry {
		h := newHand(t, b, d.String())
		e := h.entry(&events.NoteWrittenData{About: "mole-day", Text: d.String()})
		e.RecordedAt = head.RecordedAt.Add(d)
		return e
	}
	write := func(d time.Duration, err error) {
		e := at(d)
		got := b.Write(func(tx *Tx) error {
			require.NoError(t, tx.Append(&e))
			assert.Equal(t, head.RecordedAt.UnixNano(), e.RecordedAt.UnixNano())
			return err
		})
		require.ErrorIs(t, got, err)
	}
	write(-ClockSlack, nil)
	write(-time.Hour, assert.AnError)
	assert.Nil(t, b.ClockBack())
	write(-2*time.Hour, nil)
	write(-3*time.Hour, nil)
	require.NotNil(t, b.ClockBack())
	assert.Equal(t, 2*time.Hour, b.ClockBack().By)
	assert.True(t, head.RecordedAt.Equal(b.ClockBack().RecordedAt))
}

// A chain that is only begun has no entry that was recorded ahead: what it grew from has.
func TestAChainThatBeginsBeforeWhatItGrewFrom(t *testing.T) {
	b := seasonBook(t)
	last := verified(t, b).Head
	require.NoError(t, b.Write(func(tx *Tx) error { return tx.SetMeta("own_chain", "") }))
	e := newHand(t, b, "copy").entry(&events.BookOpenedData{Zone: "Europe/Oslo"})
	e.RecordedAt = last.RecordedAt.Add(-2 * time.Hour)
	require.NoError(t, b.Write(func(tx *Tx) error { return tx.Append(&e) }))
	require.NotNil(t, b.ClockBack())
	assert.Equal(t, 2*time.Hour, b.ClockBack().By)
	require.NoError(t, b.Read(func(tx *Tx) error {
		found, err := tx.Find(b.ClockBack().Entry.String())
		require.NoError(t, err)
		require.Len(t, found, 1)
		assert.Equal(t, last.Hash, found[0].Hash)
		return nil
	}))
}
