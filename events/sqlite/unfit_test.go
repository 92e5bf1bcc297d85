package sqlite

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// unfitBook is a season with one act among the others that its rules would not take today, kept as an older program kept
// it: its hash stands.
func unfitBook(t *testing.T, from, to string) (*Book, events.Entry) {
	b := seasonBook(t)
	h := newHand(t, b, "unfit")
	h.at = h.at.AddDate(0, 0, 9)
	e := h.entry(&events.SheetDriedData{Sheet: "2026-001n"})
	require.NoError(t, b.Write(func(tx *Tx) error {
		require.NoError(t, tx.chains.load())
		own := tx.chains.own
		head := tx.chains.heads[own]
		e.Book, e.BookSeq, e.Branch, e.V = head.Book, head.BookSeq+1, own, 1
		require.NoError(t, e.Seal(head.Hash))
		bent := strings.Replace(string(e.Stored), from, to, 1)
		require.NotEqual(t, string(e.Stored), bent)
		old, err := events.Decode([]byte(bent))
		require.NoError(t, err)
		old.Prev, old.Hash, old.Branch = head.Hash, events.HashOf(head.Hash, []byte(bent)), own
		e = old
		return tx.insert(&old, tx.meanings.byChain)
	}))
	h.do(&events.SheetDriedData{Sheet: "2026-001n", Text: "the one after"})
	return b, e
}

func TestABookThatHoldsAnUnfitEntry(t *testing.T) {
	for name, c := range map[string]struct{ from, to, rule string }{
		"a year": {`"at":"2026-`, `"at":"1700-`, "at: the year 1700 is outside 1800 to 9000"},
		"a zone": {`"zone":"Europe/Oslo"`, `"zone":"Europe/Nowhere"`, `zone: "Europe/Nowhere" is no time zone such as Europe/Oslo`},
		"a key":  {`"data":{`, `"data":{"text":"","colour":"red",`, "sheet.dried: colour is not a field of this kind"},
	} {
		t.Run(name, func(t *testing.T) {
			b, e := unfitBook(t, c.from, c.to)
			r := verified(t, b)
			require.Len(t, r.Notes, 1)
			assert.Contains(t, r.Notes[0], e.ID.String()[:8])
			assert.Contains(t, r.Notes[0], "breaks a rule: "+c.rule)
			assert.Contains(t, strings.Join(exported(t, b), ""), string(e.Stored[:len(e.Stored)-1]))
			require.NoError(t, b.Rebuild())
			verified(t, b)

			// No door of another book lets it in.
			fresh := create(t)
			_, err := imported(fresh, exported(t, b)...)
			var unfit *events.UnfitError
			require.ErrorAs(t, err, &unfit)
			other := create(t)
			newHand(t, other, "other").begin()
			before := told(t, other)
			_, err = other.Merge(b, nil)
			require.ErrorAs(t, err, &unfit)
			assert.ErrorContains(t, err, "traybook salvage")
			assert.Equal(t, before, told(t, other))

			// Salvage mends the book: all but that act, which it tells whole.
			total := verified(t, b).Events
			saved, s := rescue(t, b.Path())
			assert.EqualValues(t, total-1, s.Kept+s.Rewritten)
			assert.EqualValues(t, 1, s.Missing)
			require.Len(t, s.Problems, 1)
			assert.Equal(t, ProblemRule, s.Problems[0].Kind)
			assert.Equal(t, e.ID.String(), s.Problems[0].Entry)
			assert.Contains(t, s.Problems[0].Text, string(e.Stored))
			assert.Empty(t, verified(t, saved).Notes)
			back := create(t)
			_, err = imported(back, exported(t, saved)...)
			require.NoError(t, err)
			verified(t, back)
			merge(t, other, saved)
		})
	}
}

// An act of a zone whose clocks showed seconds of an offset is found where its line says, and another that follows it is
// never recorded before it.
func TestOffsetsWithSeconds(t *testing.T) {
	for _, zone := range []string{"Europe/Amsterdam", "Africa/Monrovia", "Europe/Dublin"} {
		t.Run(zone, func(t *testing.T) {
			place, err := time.LoadLocation(zone)
			require.NoError(t, err)
			b := create(t)
			h := newHand(t, b, "x")
			h.at = time.Date(1905, 5, 3, 10, 0, 0, 0, place)
			_, offset := h.at.Zone()
			require.NotZero(t, offset%60, "this zone had whole minutes")
			h.begin()
			for range 4 {
				e := h.entry(&events.MomentMarkedData{})
				e.RecordedAt = e.RecordedAt.Add(-time.Hour) // the clock was put back
				require.NoError(t, b.Write(func(tx *Tx) error { return tx.Append(&e) }))
				e = h.entry(&events.MomentMarkedData{})
				e.RecordedAt = e.RecordedAt.UTC()
				require.NoError(t, b.Write(func(tx *Tx) error { return tx.Append(&e) }))
			}
			verified(t, b)
			back := create(t)
			_, err = imported(back, exported(t, b)...)
			require.NoError(t, err)
			assert.Equal(t, exported(t, b), exported(t, back))
			verified(t, back)
		})
	}
}
