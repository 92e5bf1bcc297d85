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
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		whole := &eventstest.Torn{Log: tx}
		require.NoError(t, f(snapshot.New(whole, asOf)))
		for n := range whole.Asked {
			err := f(snapshot.New(&eventstest.Torn{Log: tx, Fails: n + 1}, asOf))
			assert.ErrorIs(t, err, eventstest.ErrTorn, "question %d of %d", n+1, whole.Asked)
		}
		return nil
	}))
}
