package sqlite

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// A batch that was taken back counts in none of its streams, also where a stream holds nothing else of any batch; and a void
// that was taken back itself leaves it standing.
func TestAVoidedBatchCountsInNoneOfItsStreams(t *testing.T) {
	b := seasonBook(t)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	h.do(&events.PaperReceivedData{Box: "box-9", Name: "low paper", Base: "rc", WidthMM: 102, HeightMM: 127, Sheets: 3})
	batch := h.batch(&events.NoteWrittenData{About: "box-9", Text: "damp"}, &events.NoteWrittenData{About: "strip-1", Text: "damp"})
	counts := func(want bool, whose string) {
		t.Helper()
		require.NoError(t, b.Read(func(tx *Tx) error {
			for _, name := range []string{"box-9", "strip-1"} {
				stream, ok, err := tx.Entity(name)
				require.NoError(t, err)
				require.True(t, ok)
				for _, counted := range []bool{false, true} {
					es, err := tx.Entries(events.Query{Stream: stream.ID, Counted: counted})
					require.NoError(t, err)
					there := false
					for _, e := range events.Fold(es) {
						there = there || e.Kind == events.NoteWritten && e.Batch == batch
					}
					assert.Equal(t, want, there, "%s in %s, counted %v", whose, name, counted)
				}
			}
			return nil
		}))
	}
	counts(true, "as it was written")
	void := h.do(&events.EntryVoidedData{Batch: batch.String()})
	counts(false, "taken back")
	h.void(void)
	counts(true, "the void taken back")
}
