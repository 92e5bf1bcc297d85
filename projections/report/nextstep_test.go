package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// What is told after an act, and what the page of the day asks for, is one work.
func TestTheNextStepIsOne(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole"`)
	for _, c := range []struct{ act, next, needs string }{
		{`sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"`, "rinse: traybook rinse; then fix: traybook fix 60s", "fix"},
		{`sheet.rinsed 2026-05-02T10:02:00 "sheet":"2026-001n","time_s":20,"session":"mole"`, "fix: traybook fix 60s", "fix"},
		{`sheet.fixed 2026-05-02T10:03:00 "sheet":"2026-001n","bath":"fix-1","time_s":60,"session":"mole"`, "wash: traybook wash 4 changes 30s", "wash"},
		{`sheet.judged 2026-05-02T10:04:00 "sheet":"2026-001n","verdict":"reject"`, "find out why: traybook why 2026-001", ""},
		{`sheet.fixed 2026-05-02T10:05:00 "sheet":"2026-001n","bath":"fix-1","time_s":60,"session":"mole"`, "", ""},
	} {
		booktest.AddActs(t, b, c.act)
		booktest.LookAt(t, b, "2026-05-02T11:00:00", func(snap *snapshot.Snapshot) {
			newest, err := snap.R.Entries(events.Query{Newest: true, Limit: 1})
			require.NoError(t, err)
			a, err := acts.AnswerTo(snap.R, newest[0])
			require.NoError(t, err)
			assert.Equal(t, c.next, a.Next, c.act)
			r := today(t, snap)
			if c.needs == "" {
				assert.Empty(t, r.Unfinished, c.act)
				return
			}
			require.Len(t, r.Unfinished, 1, c.act)
			assert.Equal(t, c.needs, r.Unfinished[0].Needs, c.act)
		})
	}
}
