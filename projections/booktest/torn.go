package booktest

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

// Tear asks a book as of a moment, zero for the whole of it, once for each question that f puts to the book, each time
// with that question unanswered, and holds that f says so instead of taking what it could not read for what is not there.
func Tear(t *testing.T, b *sqlite.Book, asOf time.Time, f func(*snapshot.Snapshot) error) {
	t.Helper()
	tear(t, b, asOf, f, false)
}

// TearFirst is Tear for a book that puts many like questions: of those that come by the same calls only the first goes
// unanswered.
func TearFirst(t *testing.T, b *sqlite.Book, asOf time.Time, f func(*snapshot.Snapshot) error) {
	t.Helper()
	tear(t, b, asOf, f, true)
}

func tear(t *testing.T, b *sqlite.Book, asOf time.Time, f func(*snapshot.Snapshot) error, firstOnly bool) {
	t.Helper()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		whole := &eventstest.Torn{Log: tx}
		require.NoError(t, f(snapshot.New(whole, asOf)))
		fails := whole.First
		for n := 1; !firstOnly && n <= whole.Asked; n++ {
			fails = append(fails, n)
		}
		for _, n := range fails {
			err := f(snapshot.New(&eventstest.Torn{Log: tx, Fails: n}, asOf))
			assert.ErrorIs(t, err, eventstest.ErrTorn, "question %d of %d", n, whole.Asked)
		}
		return nil
	}))
}

// Met is eventstest.Met for what looks at a snapshot.
type Met struct{ eventstest.Met }

// Look runs f on a snapshot of a book as of a moment, and gives what it says; it holds that f says so where a question that
// came by a new call goes unanswered.
func (m *Met) Look(t testing.TB, r eventstest.Log, asOf time.Time, f func(*snapshot.Snapshot) error) error {
	t.Helper()
	return m.Tear(t, r, func(r *eventstest.Torn) error { return f(snapshot.New(r, asOf)) })
}

// Try runs f, which writes, in transactions that are taken back, and gives what it says; it holds that f says so where a
// question that came by a new call goes unanswered.
func (m *Met) Try(t testing.TB, b *sqlite.Book, f func(*eventstest.Torn) error) error {
	t.Helper()
	errBack := errors.New("nothing of it shall stay")
	return m.Tear(t, nil, func(r *eventstest.Torn) (err error) {
		require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error { r.Log = tx; err = f(r); return errBack }), errBack)
		return err
	})
}
