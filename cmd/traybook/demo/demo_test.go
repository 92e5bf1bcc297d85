package demo_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/cmd/traybook/demo"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// slips are the acts of the season that are off on purpose, with how far, in stops of done over called for. Every other
// act of the season is within the scatter of a hand.
var slips = map[string]map[string]float64{ // sheet → act → stops
	"2026-006n":  {"exposure": -1.18}, // extension left out: (1 + 180/440)² = 1.98
	"2026-008n":  {"exposure": -1.26}, // read at 12, exposed at 12; the paper is 5: log2(5/12)
	"2026-012n":  {"develop": -0.55},  // 20 °C's time at 14.5 °C: log2(2^-0.55)
	"2026-014p1": {"develop": -0.9},
	"2026-017n":  {"exposure": -1.32}, // a factor of 2.5
	"2026-019n":  {"exposure": 1.1},
	"2026-022p1": {"exposure": 1},     // f/8 for f/11
	"2026-028n":  {"exposure": -0.74}, // index 3 for 5
	"2026-030p1": {"fix": -0.5},
	"2026-032p1": {"wash": -3.58}, // one change of twelve
	"2026-035n":  {"develop": 1.25},
}

func TestSlipsShowInTheNumbersAndNothingElseDoes(t *testing.T) {
	b := booktest.Season(t)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		snap := snapshot.New(tx, demo.Now())
		things, err := tx.Entities(events.Picture)
		require.NoError(t, err)
		require.Len(t, things, 40)
		seen := 0
		for _, thing := range things {
			p, err := snap.Picture(thing.Name)
			require.NoError(t, err)
			for _, s := range p.Sheets {
				for act, stays := range map[string][]events.Entry{"exposure": s.Exposures[:1], "develop": s.Developed, "fix": s.Fixed, "wash": s.Washed} {
					for _, e := range stays {
						step, err := calledfor.StepOf(snap, p, e)
						require.NoError(t, err)
						want, off := slips[s.Name][act]
						if step.CalledForS == nil {
							require.Equal(t, "2026-035p1", s.Name) // a contact print
							continue
						}
						require.NotNil(t, step.DeviationStops, "%s %s", s.Name, act)
						if off {
							seen++
						}
						require.InDelta(t, want, *step.DeviationStops, 0.16, "%s %s", s.Name, act)
					}
				}
			}
		}
		require.Equal(t, len(slips), seen)
		return nil
	}))
}

func TestTheSeasonHoldsOneOfEachThing(t *testing.T) {
	b := booktest.Season(t)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		snap := snapshot.New(tx, demo.Now())
		for _, c := range []struct {
			name string
			kind events.EntityKind
			n    int
		}{{"boxes", events.Box, 3}, {"baths", events.Bath, 13}, {"sessions", events.Session, 8}, {"sitters", events.Sitter, 7}, {"strips", events.Strip, 1}, {"orders", events.Order, 3}} {
			things, err := tx.Entities(c.kind)
			require.NoError(t, err)
			require.Len(t, things, c.n, c.name)
		}
		rows, err := tx.Sitters()
		require.NoError(t, err)
		require.Len(t, rows, 7)

		box, err := snap.Box("box-1")
		require.NoError(t, err)
		require.InDelta(t, 5, box.PaperFor(demo.Now(), snapshot.Negative, "", "").Index, 0)
		require.InDelta(t, 2.5, box.PaperFor(demo.Now(), snapshot.Negative, "yellow", "").FilterFactor, 0)

		twice, err := snap.Picture("2026-023")
		require.NoError(t, err)
		require.Len(t, twice.NegativeSheet().Exposures, 2)
		mended, err := snap.Picture("2026-036")
		require.NoError(t, err)
		require.Len(t, mended.NegativeSheet().Exposure().Amended, 1)
		home, err := snap.StreamAll(mustThing(t, tx, "2026-034"))
		require.NoError(t, err)
		voided := 0
		for _, e := range home {
			if !e.Voided.IsZero() {
				voided++
			}
		}
		require.Equal(t, 1, voided)

		spent, err := snap.Bath("fix-2")
		require.NoError(t, err)
		age, err := snap.AgeOf(spent, spent.DiscardedAt, true, "")
		require.NoError(t, err)
		require.Greater(t, age.Used, 1.0)
		old, err := snap.Bath("dev-2")
		require.NoError(t, err)
		age, err = snap.AgeOf(old, old.DiscardedAt.Add(-1), true, "")
		require.NoError(t, err)
		require.Equal(t, calc.BathPastLife, age.State)

		waiting, err := acts.Waiting(snap)
		require.NoError(t, err)
		require.Len(t, waiting, 2)
		return nil
	}))
}

func mustThing(t *testing.T, tx *sqlite.Tx, name string) events.Entity {
	t.Helper()
	thing, ok, err := tx.Entity(name)
	require.NoError(t, err)
	require.True(t, ok, name)
	return thing
}

func TestTheSameBookOnEveryRun(t *testing.T) {
	head := func() string {
		var hash string
		require.NoError(t, booktest.Season(t).Read(func(tx *sqlite.Tx) error {
			heads, err := tx.Heads()
			require.Len(t, heads, 1)
			hash = heads[0].Hash.String()
			return err
		}))
		return hash
	}
	require.Equal(t, head(), head())
}
