package main

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
)

// An act of now was done when it was written down, though the clock goes on meanwhile: else an export up to the newest
// entry would leave it out.
func TestAnActHasOneStamp(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "book.db")
	now := time.Date(2026, 5, 3, 14, 5, 0, 0, time.UTC)
	for _, args := range [][]string{
		{"init", "--zone", "Europe/Oslo"}, {"paper", "receive", "9x12cm", "25", "sheets", "rc", "--name", "Harbour"},
		{"note", "box-1", "the tide was out"}, {"mark"}, {"amend", "last", "text=the tide was in"},
	} {
		env, _, errs := testEnv(map[string]string{"TZ": "Europe/Oslo"}, append(args, "--book", path)...)
		env.Now = func() time.Time {
			now = now.Add(7 * time.Millisecond)
			return now
		}
		require.Equal(t, codeDone, run(env), "%v: %s", args, errs)
	}
	b, err := sqlite.Open(path, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	n := 0
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error {
			n++
			assert.Equal(t, e.RecordedAt.UTC(), e.At.UTC(), e.Kind)
			return nil
		})
	}))
	assert.Greater(t, n, 3)
}
