package snapshot_test

import (
	"testing"
	"time"

	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// standsOn asks what would be impossible without a thing, and how its first entries stand.
func standsOn(name string) func(*snapshot.Snapshot) error {
	return func(snap *snapshot.Snapshot) error {
		t, _, err := snap.R.Entity(name)
		if err != nil {
			return err
		}
		own, err := snap.Stream(t)
		if err != nil {
			return err
		}
		if _, err := snap.AllDependents(own[:min(1, len(own))]...); err != nil {
			return err
		}
		for _, e := range own[:min(3, len(own))] {
			if _, err := snap.Dependents(e); err != nil {
				return err
			}
			if _, err := snap.AsItCounts(e.ID); err != nil {
				return err
			}
		}
		return nil
	}
}

// What would be impossible without an act, and how it stands, is not told beside a page that cannot be read.
func TestDependentsAreNotToldBesideAPageThatCannotBeRead(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing)
	for _, name := range []string{"mole", "box-1", "small", "quay-box", "2026-001", "dev-1", "s1", "left"} {
		t.Run(name, func(t *testing.T) { booktest.Tear(t, b, time.Time{}, standsOn(name)) })
	}
}
