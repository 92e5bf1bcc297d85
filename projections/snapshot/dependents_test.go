package snapshot_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// a season in small: what stands on what.
const standing = `book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32
camera.described 2026-05-01T08:02:00 "camera":"dory","focal_mm":150,"f_widest":5.6,"f_smallest":32
camera.described 2026-05-01T08:03:00 "camera":"dory","focal_mm":180,"f_widest":5.6,"f_smallest":32
paper.received 2026-05-01T08:04:00 "box":"box-1","name":"quay","base":"rc","width_mm":90,"height_mm":120,"sheets":25,"index":3
paper.cut 2026-05-01T08:05:00 "box":"box-1","sheets":2,"into":"halves","parts":2,"width_mm":45,"height_mm":120
paper.spoiled 2026-05-01T08:06:00 "box":"halves","sheets":1
bath.mixed 2026-05-01T08:07:00 "bath":"dev-1","role":"developer","name":"Amber","volume_ml":1000,"time_s":60
bath.tested 2026-05-01T08:08:00 "bath":"dev-1","test":"temperature","value":19
session.opened 2026-05-01T09:00:00 "session":"mole","camera":"skiff"
light.metered 2026-05-01T09:01:00 "on":"scene","mode":"reflected","f":8,"time_s":4,"index":3
light.metered 2026-05-01T09:02:00 "on":"scene","mode":"incident","lux":4000
sheet.exposed 2026-05-01T09:03:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-01T09:04:00 "sheet":"2026-001n","bath":"dev-1","time_s":60
sheet.reprinted 2026-05-01T09:05:00 "picture":"2026-001","box":"halves","time_s":8,"f":11,"sheet":"2026-001p1"
sheet.judged 2026-05-01T09:06:00 "sheet":"2026-001p1","verdict":"keep"
sheet.exposed 2026-05-01T09:07:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"again":"2026-001"
sheet.exposed 2026-05-01T09:08:00 "picture":"2026-002","sheet":"2026-002n","box":"box-1","f":8,"time_s":4
sheet.developed 2026-05-01T09:09:00 "sheet":"2026-001p2","bath":"dev-1","time_s":60
sheet.judged 2026-05-01T09:10:00 "sheet":"2026-001p2","verdict":"reject","symptoms":["blank"]
session.closed 2026-05-01T10:00:00 "session":"mole"`

func TestStandingOn(t *testing.T) {
	b := booktest.FromActs(t, standing)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		var all []events.Entry
		require.NoError(t, tx.Each(func(e events.Entry) error { all = append(all, e); return nil }))
		snap := snapshot.New(tx, booktest.Recorded.AddDate(9, 0, 0))
		minutes := func(entries []events.Entry) []string {
			out := []string{}
			for _, e := range entries {
				out = append(out, e.At.Format("15:04"))
			}
			return out
		}
		for _, c := range []struct {
			of          string   // the entry, by its minute
			direct, all []string // what depends on it, and what stands on that
		}{
			{"08:01", []string{"09:00", "09:01", "09:02", "09:03", "09:05", "09:07", "09:08"}, nil},
			{"08:02", []string{}, []string{}}, // the later description of the same camera holds the name
			{"08:04", []string{"08:05", "09:03", "09:07", "09:08"}, []string{"08:05", "08:06", "09:03", "09:04", "09:05", "09:06", "09:07", "09:08", "09:09", "09:10"}},
			{"08:05", []string{"08:06", "09:05"}, []string{"08:06", "09:05", "09:06"}},
			{"08:07", []string{"08:08", "09:04", "09:09"}, []string{"08:08", "09:04", "09:09", "09:10"}},
			{"08:08", []string{}, []string{}},
			{"09:01", []string{}, []string{}}, // a later reading serves
			{"09:02", []string{"09:03", "09:07", "09:08"}, []string{"09:03", "09:04", "09:05", "09:06", "09:07", "09:08", "09:09", "09:10"}},
			{"09:03", []string{"09:04", "09:05", "09:06", "09:07", "09:09", "09:10"}, nil},
			{"09:04", []string{}, []string{}}, // its exposure holds the sheet
			{"09:05", []string{"09:06"}, []string{"09:06"}},
			{"09:07", []string{}, []string{}}, // the second exposure of the same sheet holds the picture
			{"09:08", []string{}, []string{}},
			{"09:09", []string{"09:10"}, []string{"09:10"}}, // never exposed: that it was developed is all there is of it
			{"10:00", []string{}, []string{}},
		} {
			t.Run(c.of, func(t *testing.T) {
				for _, e := range all {
					if e.At.Format("15:04") != c.of {
						continue
					}
					on, err := snap.Dependents(e)
					require.NoError(t, err)
					assert.Equal(t, c.direct, minutes(on))
					if c.all != nil {
						on, err = snap.AllDependents(e)
						require.NoError(t, err)
						assert.Equal(t, c.all, minutes(on))
					}
				}
			})
		}
		// Both exposures of a sheet gone, nothing holds the picture.
		on, err := snap.AllDependents(all[16], all[17])
		require.NoError(t, err)
		assert.Empty(t, on)
		return nil
	}))
}

// A negative that went into the developer without ever being exposed is judged by hand as well; taken back, it is gone.
func TestANegativeNeverExposedStandsOnItsDevelopment(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, `sheet.developed 2026-05-02T10:00:00 "sheet":"2026-001n","bath":"dev-1","time_s":60`)
	write := func(n int, data events.Data) error {
		e := booktest.ByHand(t, n, data)
		return b.Write(func(tx *sqlite.Tx) error {
			_, err := acts.Write(tx, &e, acts.WriteOptions{})
			return err
		})
	}
	judged := &events.SheetJudgedData{Sheet: "2026-001n", Verdict: "reject", Symptoms: []string{"blank"}}
	require.NoError(t, write(1, judged))
	var found []events.Entry
	require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
		found, err = tx.Entries(events.Query{Kinds: []events.Kind{events.SheetDeveloped}})
		return err
	}))
	require.Len(t, found, 1)
	require.NoError(t, write(2, &events.EntryVoidedData{Entry: found[0].ID.String()}))
	require.ErrorContains(t, write(3, judged), `the picture "2026-001" was taken back`)
}

// Amendments and voids have a state, too.
func TestAsItStands(t *testing.T) {
	b := booktest.FromActs(t, standing)
	write := func(id events.ID, data events.Data) events.ID {
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
			e := events.Entry{Kind: data.Kind(), At: booktest.Recorded, RecordedAt: booktest.Recorded, ID: id, Data: data}
			_, err := acts.Write(tx, &e, acts.WriteOptions{})
			return err
		}))
		return id
	}
	state := func(id events.ID) (e events.Entry) {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
			e, err = snapshot.New(tx, booktest.Recorded).AsItCounts(id)
			return err
		}))
		return e
	}
	var shot events.Entry
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		found, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}, Limit: 1})
		shot = found[0]
		return err
	}))
	set, err := events.SetValue("time_s", 5.0)
	require.NoError(t, err)
	amended := write(events.ID{0xa1}, &events.EntryAmendedData{Entry: shot.ID.String(), Set: events.Set{set}})
	assert.Equal(t, 5.0, state(shot.ID).Data.(*events.SheetExposedData).TimeS)
	assert.True(t, state(amended).Voided.IsZero())
	void := write(events.ID{0xa2}, &events.EntryVoidedData{Entry: amended.String()})
	assert.Equal(t, void, state(amended).Voided)
	assert.Equal(t, events.EntryAmended, state(amended).Kind)
	assert.Equal(t, 4.0, state(shot.ID).Data.(*events.SheetExposedData).TimeS)
	undone := write(events.ID{0xa3}, &events.EntryVoidedData{Entry: void.String()})
	assert.Equal(t, undone, state(void).Voided)
	assert.True(t, state(amended).Voided.IsZero())
	assert.Equal(t, 5.0, state(shot.ID).Data.(*events.SheetExposedData).TimeS)
	gone := write(events.ID{0xa4}, &events.EntryVoidedData{Entry: shot.ID.String()})
	assert.Equal(t, gone, state(shot.ID).Voided)
}

// What stands on a camera is found however many acts carry it: they are gone through by the page of two thousand.
func TestAllThatCarriesACameraStandsOnIt(t *testing.T) {
	const many = 2100
	lines := `book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32`
	for i := range many {
		lines += fmt.Sprintf("\nlight.metered 2026-05-01T%02d:%02d:%02d \"on\":\"scene\",\"mode\":\"incident\",\"lux\":4000,\"camera\":\"skiff\"", 9+i/3600, i/60%60, i%60)
	}
	booktest.Look(t, booktest.FromActs(t, lines), func(snap *snapshot.Snapshot) {
		described, err := snap.R.Entries(events.Query{Kinds: []events.Kind{events.CameraDescribed}, Limit: 1})
		require.NoError(t, err)
		found, err := snap.Dependents(described[0])
		require.NoError(t, err)
		assert.Len(t, found, many)
	})
}
