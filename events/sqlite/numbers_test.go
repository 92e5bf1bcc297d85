package sqlite

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// Inside a write the largest number follows the names that come in, and is what a look at the file finds.
func TestTheLargestNumberFollowsAWrite(t *testing.T) {
	b := seasonBook(t)
	h := newHand(t, b, "numbers")
	rows := []string{"box-", "holder-", "mole-", "box-3", ""}
	ask := func(tx *Tx) map[string]int {
		out := map[string]int{}
		for _, row := range rows {
			n, err := tx.LargestNumber(row)
			require.NoError(t, err)
			out[row] = n
		}
		return out
	}
	var inWrite map[string]int
	require.NoError(t, b.Write(func(tx *Tx) error {
		before := ask(tx)
		assert.Equal(t, 2, before["box-"])
		assert.Equal(t, 0, before["mole-"])
		for _, name := range []string{"box-0031", "box-30", "box-33x", "mole-7", "box-x-9", "box-99999999", "7"} {
			e := h.entry(&events.PaperReceivedData{Box: name, Name: "quay paper", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 10})
			if err := tx.Append(&e); err != nil {
				return err
			}
			if name == "box-30" {
				assert.Equal(t, 31, ask(tx)["box-"], "a smaller number than the last one")
			}
		}
		inWrite = ask(tx)
		return nil
	}))
	require.NoError(t, b.Read(func(tx *Tx) error {
		assert.Equal(t, ask(tx), inWrite)
		return nil
	}))
	assert.Equal(t, map[string]int{"box-": 31, "holder-": inWrite["holder-"], "mole-": 7, "box-3": 0, "": 7}, inWrite)
}
