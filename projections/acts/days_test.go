package acts_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// saidOf does one act as a hand does it, an exposure planned first, and gives the codes of what was said.
func saidOf(tx *sqlite.Tx, e events.Entry) ([]string, error) {
	var said []wording.Warning
	if e.Kind == events.SheetExposed || e.Kind == events.SheetReprinted {
		snap := snapshot.New(tx, e.At)
		plan := e
		plan.Data = events.Clone(e.Data)
		switch x := plan.Data.(type) { // its time is not known yet
		case *events.SheetExposedData:
			x.TimeS = 0
		case *events.SheetReprintedData:
			x.TimeS = 0
		}
		planned, step, err := acts.Plan(snap, plan)
		if err != nil {
			return nil, err
		}
		before, err := acts.BeforeExposure(snap, planned, step)
		if err != nil {
			return nil, err
		}
		said = append(before, step.Warnings...)
	}
	a, err := acts.Write(tx, &e, acts.WriteOptions{})
	var codes []string
	for _, w := range append(said, a.Warnings...) {
		codes = append(codes, w.Of.Code)
	}
	slices.Sort(codes)
	return slices.Compact(codes), err
}

// Twenty days written by hand, of four seasons and two cameras, with what a master would have said beside each act: nothing
// that he would say is missed, and no more than one warning in fifty acts is one that he would not give.
func TestTwentyDaysAreWarnedOfAsAMasterWould(t *testing.T) {
	days, all := booktest.Days(t)
	require.Len(t, days, 20)
	b := booktest.FromActs(t, booktest.DaysOpened)
	var missed, falsely []string
	wanted := 0
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		for _, x := range all {
			said, err := saidOf(tx, x.Entry)
			require.NoError(t, err, x.Name)
			wanted += len(x.Wants)
			for _, code := range x.Wants {
				if !slices.Contains(said, code) {
					missed = append(missed, x.Name+": "+code+": "+x.Reason)
				}
			}
			for _, code := range said {
				if !slices.Contains(x.Wants, code) {
					falsely = append(falsely, x.Name+": "+code)
				}
			}
		}
		return nil
	}))
	t.Logf("%d acts, %d warnings wanted, %d missed, %d false:\n%s", len(all), wanted, len(missed), len(falsely), strings.Join(falsely, "\n"))
	assert.GreaterOrEqual(t, len(all), 400)
	assert.GreaterOrEqual(t, wanted, 30)
	assert.Empty(t, missed, "a master would have spoken")
	assert.LessOrEqual(t, len(falsely)*50, len(all), "a master would have kept silent")
}
