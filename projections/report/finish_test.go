package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// An evening: one sheet has only a wash at the roadside, one was dried as it came from the fixer, one was fixed too short,
// one is done, one was thrown away, one is tested clear of hypo in spite of its short wash.
const evening = booktest.Harbour + `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60
sheet.fixed 2026-05-02T10:03:00 "sheet":"2026-001n","bath":"fix-1","time_s":60
sheet.washed 2026-05-02T10:05:00 "sheet":"2026-001n","changes":1,"volume_ml":1000,"soak_s":10
sheet.exposed 2026-05-02T11:00:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T11:01:00 "sheet":"2026-002n","bath":"dev-1","time_s":60
sheet.fixed 2026-05-02T11:03:00 "sheet":"2026-002n","bath":"fix-1","time_s":60
sheet.dried 2026-05-02T11:05:00 "sheet":"2026-002n"
sheet.exposed 2026-05-02T12:00:00 "picture":"2026-003","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T12:01:00 "sheet":"2026-003n","bath":"dev-1","time_s":60
sheet.fixed 2026-05-02T12:03:00 "sheet":"2026-003n","bath":"fix-1","time_s":20
sheet.washed 2026-05-02T12:10:00 "sheet":"2026-003n","changes":5,"volume_ml":1000,"soak_s":120
sheet.exposed 2026-05-02T13:00:00 "picture":"2026-004","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T13:01:00 "sheet":"2026-004n","bath":"dev-1","time_s":60
sheet.fixed 2026-05-02T13:03:00 "sheet":"2026-004n","bath":"fix-1","time_s":60
sheet.washed 2026-05-02T13:10:00 "sheet":"2026-004n","changes":5,"volume_ml":1000,"soak_s":120
sheet.exposed 2026-05-02T14:00:00 "picture":"2026-005","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T14:01:00 "sheet":"2026-005n","bath":"dev-1","time_s":60
sheet.fixed 2026-05-02T14:03:00 "sheet":"2026-005n","bath":"fix-1","time_s":60
sheet.judged 2026-05-02T14:05:00 "sheet":"2026-005n","verdict":"reject","symptoms":["thin"]
sheet.exposed 2026-05-02T15:00:00 "picture":"2026-006","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-02T15:01:00 "sheet":"2026-006n","bath":"dev-1","time_s":60
sheet.fixed 2026-05-02T15:03:00 "sheet":"2026-006n","bath":"fix-1","time_s":60
sheet.washed 2026-05-02T15:10:00 "sheet":"2026-006n","changes":1,"volume_ml":1000,"soak_s":10
sheet.tested 2026-05-02T16:00:00 "sheet":"2026-006n","test":"hypo","result":"clear"`

func TestTheEveningsListNamesWhatHadTooLittle(t *testing.T) {
	b := booktest.FromActs(t, evening)
	booktest.LookAt(t, b, "2026-05-02T20:00:00", func(snap *snapshot.Snapshot) {
		var got []string
		for _, u := range today(t, snap).Unfinished {
			text := u.Needs + " " + u.Sheet
			if u.Why != nil {
				text += ": " + *u.Why
			}
			got = append(got, text)
		}
		assert.Equal(t, []string{
			"wash again 2026-001n: washed 0.083 × the called-for wash",
			"wash 2026-002n: no washing is written",
			"fix again 2026-003n: fixed 0.33 × its called-for time",
		}, got)
		for what, want := range map[string][]string{
			report.Unwashed: {"2026-001n", "2026-002n"},
			report.Undried:  {"2026-001n", "2026-003n", "2026-004n", "2026-006n"},
			report.Unjudged: {"2026-001n", "2026-002n", "2026-003n", "2026-004n", "2026-006n"},
		} {
			names, err := beside(t, snap, func(snap *snapshot.Snapshot) ([]string, error) { return report.Lacking(snap, what) })
			require.NoError(t, err)
			assert.Equal(t, want, names, "%s", what)
		}
	})
	booktest.LookAt(t, b, "2026-07-02T20:00:00", func(snap *snapshot.Snapshot) {
		names, err := report.Lacking(snap, report.Unwashed)
		require.NoError(t, err)
		assert.Empty(t, names, "two months later")
	})
}
