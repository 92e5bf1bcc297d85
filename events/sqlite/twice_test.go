package sqlite

import (
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
)

// Two looks see the same though somebody wrote between the one and the other.
func TestTwoLooksSeeOneState(t *testing.T) {
	b := seasonBook(t)
	reading, err := Open(b.path, Options{ReadOnly: true})
	require.NoError(t, err)
	defer reading.Close()
	h := newHand(t, b, "a")
	h.at = morning.AddDate(0, 0, 1)
	seen := func(tx *Tx) int64 {
		n, err := tx.LastSeq()
		require.NoError(t, err)
		return n
	}
	require.NoError(t, reading.ReadTwice(func(one, other *Tx) error {
		was := seen(one)
		require.Equal(t, was, seen(other))
		h.do(&events.NoteWrittenData{About: "mole-day", Text: "a word"})
		require.Equal(t, was, seen(one), "it does not move")
		require.NoError(t, other.file.again())
		require.Equal(t, was+1, seen(other))
		require.NoError(t, seeAlike(one.file, other.file, b.path))
		require.Equal(t, was+1, seen(one))
		require.Equal(t, was+1, seen(other))
		return nil
	}))
}

// A book on a medium that cannot be written is read by two looks as well.
func TestTwoLooksAtABookThatCannotBeWritten(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Close())
	still, err := connectMode(b.path, Options{ReadOnly: true}, "immutable")
	require.NoError(t, err)
	defer still.Close()
	require.NoError(t, still.ReadTwice(func(one, other *Tx) error {
		was, err := one.LastSeq()
		require.NoError(t, err)
		is, err := other.LastSeq()
		require.Equal(t, was, is)
		return err
	}))
}
