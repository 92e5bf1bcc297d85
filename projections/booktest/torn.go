package booktest

import (
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
