package snapshot_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	writing "traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// Which sheet waits at each moment of a book that goes on, for one who follows it and for one who looks at that moment alone:
// 2026-001 was thrown away and is judged anew, 2026-002 waits behind a session that was closed and is not looked for, 2026-003
// waits to this day.
func TestWhichSheetWaitsInABookThatGoesOn(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.judged 2026-05-02T10:30:00 "sheet":"2026-001n","verdict":"reject"
session.opened 2026-05-02T10:40:00 "session":"pier","camera":"quay-box"
sheet.exposed 2026-05-02T10:50:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"session":"pier","camera":"quay-box"
session.closed 2026-05-02T11:10:00 "session":"pier"
sheet.judged 2026-05-02T12:00:00 "sheet":"2026-001n","verdict":"redo"
sheet.developed 2026-05-02T13:00:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"
sheet.developed 2026-05-02T14:00:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"mole"
sheet.exposed 2026-05-02T15:00:00 "picture":"2026-003","box":"box-1","f":8,"time_s":4,"session":"pier","camera":"quay-box"`)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		f := snapshot.NewFollower(tx)
		for _, c := range []struct{ at, waits string }{
			{"09:30", ""}, {"10:10", "2026-001n"}, {"10:35", ""}, {"11:00", "2026-002n"}, {"11:30", ""}, {"12:30", "2026-001n"}, {"13:30", ""}, {"15:30", "2026-003n"},
		} {
			at := booktest.Oslo(t, "2026-05-02T"+c.at+":00")
			fresh := func() ([]*snapshot.Sheet, error) { return writing.Waiting(snapshot.NewForAct(tx, at)) }
			for _, snap := range []*snapshot.Snapshot{f.SnapshotAt(at), snapshot.NewForAct(tx, at)} {
				s, err := snap.FirstWaiting(fresh)
				require.NoError(t, err)
				name := ""
				if s != nil {
					name = s.Name
				}
				assert.Equal(t, c.waits, name, "%s, following %t", c.at, snap.Follows())
			}
		}
		return nil
	}))
}
