package snapshot_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

func TestCasesShowCalledForDoneAndDeviation(t *testing.T) {
	for _, c := range []struct {
		file, sheet      string
		calledFor, stops float64
	}{
		{"negative-bellows-factor-forgotten", "2026-001n", 10.39, -0.792}, // m = 180/(750-180): (1+m)² = 1.731
		{"print-wrong-aperture", "2026-001p1", 10, 2},
		{"good-picture", "2026-001n", 5.81, 0},
		{"good-picture", "2026-001p1", 20, 0},
	} {
		t.Run(c.file+"/"+c.sheet, func(t *testing.T) {
			b := booktest.FromFile(t, "../../testdata/cases/"+c.file+".ndjson")
			require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
				snap := snapshot.New(tx, time.Time{})
				p, s, err := snap.SheetByName(c.sheet)
				require.NoError(t, err)
				step, err := calledfor.StepOf(snap, p, *s.Exposure())
				require.NoError(t, err)
				require.NotNil(t, step.CalledForS)
				require.InDelta(t, c.calledFor, *step.CalledForS, 0.01*c.calledFor)
				require.InDelta(t, c.stops, *step.DeviationStops, 0.01)
				return nil
			}))
		})
	}
}
