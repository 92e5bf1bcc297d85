package snapshot_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	writing "traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// followed takes acts in one after another with all that is asked between two of them, and stops at what cannot be read.
func followed(r events.Writer, acts []events.Entry, room int) error {
	f := snapshot.NewFollower(r)
	for _, e := range acts {
		snap := f.SnapshotAt(e.At)
		snap.Room = room
		for _, ask := range []func() error{
			func() error {
				_, err := snap.FirstWaiting(func() ([]*snapshot.Sheet, error) { return writing.Waiting(snap) })
				return err
			},
			func() error { _, err := writing.NewestNegative(snap); return err },
			func() error { _, err := snap.LastOpened(e.At); return err },
			func() error {
				s, err := snap.Session("mole")
				if err == nil {
					_, err = snap.PrintsIn(s)
				}
				return err
			},
			func() error {
				b, err := snap.Box("box-1")
				if err == nil {
					_, err = snap.StockOf(b)
				}
				return err
			},
			func() error {
				b, err := snap.Bath("dev-1")
				if err == nil {
					_, err = snap.AgeOf(b, e.At, false, "")
				}
				return err
			},
			func() error { _, err := snap.Picture("2026-001"); return err },
			func() error {
				p, there, err := r.Entity("2026-001")
				if err == nil && there {
					_, _, err = snap.EverOf(p, "n")
				}
				return err
			},
			func() error { return f.Append(r, &e) },
		} {
			if err := ask(); err != nil && !wording.Refused(err) {
				return err
			}
		}
	}
	return nil
}

// A follower says so when a page cannot be read, whatever it was asked and whatever came of it that it keeps.
func TestAFollowerTakesNoPageThatCannotBeReadForAnEmptyOne(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	var acts []events.Entry
	require.NoError(t, booktest.FromActs(t, booktest.Outing).Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { e.Seq = 0; acts = append(acts, e); return nil })
	}))
	acts = acts[:38]
	errBack := errors.New("nothing of it shall stay")
	for _, room := range []int{2000, 3} {
		b := booktest.NewBook(t)
		take := func(r *eventstest.Torn) (err error) {
			require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error {
				r.Log = tx
				for _, who := range []string{"Ane of the mole", "Ole of the light"} {
					if _, err := tx.AddSitter(who, ""); err != nil {
						return err
					}
				}
				err = followed(r, acts, room)
				return errBack
			}), errBack)
			return err
		}
		whole := &eventstest.Torn{}
		require.NoError(t, take(whole))
		for _, n := range whole.First {
			assert.ErrorIs(t, take(&eventstest.Torn{Fails: n}), eventstest.ErrTorn, "room for %d: question %d of %d", room, n, whole.Asked)
		}
	}
}
