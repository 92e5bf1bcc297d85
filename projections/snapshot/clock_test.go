package snapshot_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// What a running clock says: of a cap and of a sheet in a tray, before it began, on its day and on another, with a plan and
// without.
func TestARunningClockSaysWhatIsDone(t *testing.T) {
	began := booktest.Oslo(t, "2026-05-02T14:46:00")
	in := func(d time.Duration) time.Time { return began.Add(d) }
	for _, c := range []struct {
		data events.ClockStartedData
		now  time.Time
		want string
	}{
		{events.ClockStartedData{Act: "expose", CountInS: new(3.0), PlannedS: new(4.0)}, in(61 * time.Second), "the cap was lifted at 14:46:03 (58 s ago, 4 s planned)"},
		{events.ClockStartedData{Act: "expose", CountInS: new(3.0)}, in(2 * time.Second), "the cap comes off at 14:46:03"},
		{events.ClockStartedData{Act: "expose"}, in(0), "the cap was lifted at 14:46:00 (0 s ago)"},
		{events.ClockStartedData{Act: "reprint", Picture: "2026-009"}, in(10 * time.Second), "the cap was lifted for a print of 2026-009 at 14:46:00 (10 s ago)"},
		{events.ClockStartedData{Act: "reprint", Picture: "2026-009", CountInS: new(20.0)}, in(10 * time.Second), "the cap comes off for a print of 2026-009 at 14:46:20"},
		{events.ClockStartedData{Act: "develop", Sheet: "2026-009n", Bath: "dev-1", PlannedS: new(111.0)}, in(58*time.Second + 400*time.Millisecond), "2026-009n in the developer dev-1 since 14:46:00 (58 s of 111 s)"},
		{events.ClockStartedData{Act: "rinse", Sheet: "2026-009n"}, in(58*time.Second + 600*time.Millisecond), "2026-009n in the rinse since 14:46:00 (59 s)"},
		{events.ClockStartedData{Act: "fix", Sheet: "2026-009n", Bath: "fix-1"}, in(-time.Second), "2026-009n in the fixer fix-1 since 14:46:00, which this clock has not reached: it is behind"},
		{events.ClockStartedData{Act: "wash", Sheet: "2026-009n"}, in(24 * time.Hour), "2026-009n in the wash since 2026-05-02 14:46 (24 h)"},
		{events.ClockStartedData{Act: "wash", Sheet: "2026-009n"}, in(9*time.Hour + 13*time.Minute), "2026-009n in the wash since 14:46:00 (9 h 13 min)"},
		{events.ClockStartedData{Act: "wash", Sheet: "2026-009n"}, began.AddDate(1, 0, 0), "2026-009n in the wash since 2026-05-02 14:46 (365 days)"},
	} {
		assert.Equal(t, c.want, snapshot.ClockRuns(events.Entry{At: began, Data: &c.data}, c.now))
	}
}

// A clock runs until an act that counts names it, from its press on and not before; the acts are found within the two
// minutes in which they can begin, and a clock of long ago is lost.
func TestAClockRunsUntilAnActNamesIt(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
clock.started 2026-05-02T10:00:00 "act":"expose","box":"box-1","f":8,"planned_s":4,"session":"mole","camera":"quay-box"
sheet.exposed 2026-05-02T10:00:03 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
clock.started 2026-05-02T10:01:00 "act":"develop","sheet":"2026-001n","bath":"dev-1","session":"mole"
clock.started 2026-05-02T10:05:00 "act":"fix","sheet":"2026-001n","bath":"fix-1","session":"mole"`)
	var clocks []events.Entry
	look := func(now string, f func(snap *snapshot.Snapshot)) {
		booktest.LookAt(t, b, now, f)
	}
	look("", func(snap *snapshot.Snapshot) {
		found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.ClockStarted}})
		require.NoError(t, err)
		clocks = found
	})
	require.Len(t, clocks, 3)
	acts := `
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole","clock":"` + clocks[1].ID.String() + `"
sheet.exposed 2026-05-02T10:02:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box","clock":"` + clocks[0].ID.String() + `"
sheet.fixed 2026-05-02T10:07:01 "sheet":"2026-001n","bath":"fix-1","time_s":60,"session":"mole","clock":"` + clocks[2].ID.String() + `"`
	running := func(now string) (out []string) {
		look(now, func(snap *snapshot.Snapshot) {
			at := booktest.Oslo(t, "2026-05-02T12:00:00")
			if now != "" {
				at = booktest.Oslo(t, now)
			}
			got, err := snap.RunningClocks(at)
			require.NoError(t, err)
			for _, e := range got {
				out = append(out, e.Data.(*events.ClockStartedData).Act)
			}
		})
		return out
	}
	assert.Equal(t, []string{"expose", "develop", "fix"}, running(""))
	assert.Equal(t, []string{"expose", "develop"}, running("2026-05-02T10:03:00"))
	assert.Equal(t, []string{"expose", "develop", "fix"}, running("2026-05-16T09:59:00"))
	assert.Equal(t, []string{"develop", "fix"}, running("2026-05-16T10:00:30"), "one of more than fourteen days ago is lost")
	booktest.AddActs(t, b, acts)
	assert.Empty(t, running(""))
	assert.Equal(t, []string{"expose"}, running("2026-05-02T10:01:30"), "the act that ends it has not come yet")
	look("", func(snap *snapshot.Snapshot) {
		for i, want := range []int{1, 1, 0} {
			by, err := snap.ClockEndedBy(clocks[i])
			require.NoError(t, err)
			assert.Len(t, by, want, "the last begins later than two minutes after the press")
		}
		all, err := snap.Entries(events.Query{})
		require.NoError(t, err)
		left := snapshot.WithoutEnded(all)
		assert.Len(t, left, len(all)-3)
		for i := range all {
			if all[i].Kind == events.SheetDeveloped {
				all[i].Voided = events.ID{1}
			}
		}
		assert.Len(t, snapshot.WithoutEnded(all), len(all)-2, "an act that was taken back ended none")
		assert.Equal(t, all[:2], snapshot.WithoutEnded(all[:2]))
	})
}

// What the book lists and does not hold is damage; every other error stays what it is.
func TestWhatIsListedAndNotThere(t *testing.T) {
	_, err := snapshot.Listed(1, snapshot.NoSuch(events.Box, "box-9"))
	require.ErrorIs(t, err, events.ErrDamaged)
	v, err := snapshot.Listed(1, nil)
	require.NoError(t, err)
	assert.Equal(t, 1, v)
	_, err = snapshot.Listed(1, events.ErrNewer)
	require.ErrorIs(t, err, events.ErrNewer)
	b := booktest.FromActs(t, booktest.Harbour)
	for asOf, want := range map[string]string{"": "nothing is written of nowhere", "2026-05-02T12:00:00": "nothing was written of nowhere by 2026-05-02 12:00"} {
		booktest.LookAt(t, b, asOf, func(snap *snapshot.Snapshot) {
			assert.ErrorContains(t, snap.NothingOf(events.Entity{ID: 9999, Kind: events.Box, Name: "nowhere"}), want)
		})
	}
	var none *snapshot.Box
	assert.False(t, none.DirectPositive())
	assert.False(t, (&snapshot.Box{}).DirectPositive())
	assert.False(t, (&snapshot.Box{Received: &events.PaperReceivedData{}}).DirectPositive())
	assert.True(t, (&snapshot.Box{Received: &events.PaperReceivedData{Works: "direct-positive"}}).DirectPositive())
}

// The pictures of a sitter stand by year and number, and none that shows another by now.
func TestThePicturesOfASitterStandByNumber(t *testing.T) {
	lines := booktest.Harbour
	for _, n := range []string{"2026-010", "2026-009", "2025-100", "2026-100"} {
		lines += `
sheet.exposed 2026-05-02T10:10:00 "picture":"` + n + `","box":"box-1","f":8,"time_s":4,"sitter":"Ane Quay","session":"mole","camera":"quay-box"`
	}
	lines += `
sheet.exposed 2026-05-02T10:20:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"sitter":"Ole Light","session":"mole","camera":"quay-box"
sheet.delivered 2026-05-02T10:40:30 "sheet":"2026-001n","to":"sitter-1"`
	b := booktest.FromActs(t, lines)
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		got, err := snap.PicturesOf("sitter-1")
		require.NoError(t, err)
		assert.Equal(t, []string{"2025-100", "2026-001", "2026-009", "2026-010", "2026-100"}, got)
		got, err = snap.PicturesOf("sitter-9")
		require.NoError(t, err)
		assert.Empty(t, got)
	})
}

// An act with its time belongs to a clock of its kind, sheet and aperture that was pressed within the two minutes before.
func TestWhichClockAnActFits(t *testing.T) {
	pressed := booktest.Oslo(t, "2026-05-02T14:46:10")
	in := func(d time.Duration) time.Time { return pressed.Add(d) }
	cap := events.ClockStartedData{Act: "expose", F: new(8.0), CountInS: new(3.0)}
	again := events.ClockStartedData{Act: "reprint", Picture: "2026-009", F: new(11.0)}
	tray := events.ClockStartedData{Act: "develop", Sheet: "2026-009n"}
	minute := pressed.Truncate(time.Minute)
	for name, c := range map[string]struct {
		clock events.ClockStartedData
		act   events.Data
		at    time.Time
		began time.Time
		fits  bool
	}{
		"a cap at its aperture":             {cap, &events.SheetExposedData{F: 8}, in(3 * time.Second), in(3 * time.Second), true},
		"a cap at another aperture":         {cap, &events.SheetExposedData{F: 11}, in(3 * time.Second), in(3 * time.Second), false},
		"a cap whose act names no aperture": {cap, &events.SheetExposedData{}, in(3 * time.Second), in(3 * time.Second), true},
		"a cap whose clock names none":      {events.ClockStartedData{Act: "expose"}, &events.SheetExposedData{F: 11}, in(0), in(0), true},
		"a cap in its minute":               {cap, &events.SheetExposedData{F: 8}, minute, in(3 * time.Second), true},
		"a cap before it was pressed":       {cap, &events.SheetExposedData{F: 8}, in(-time.Second), in(-time.Second), false},
		"a cap at the last moment":          {cap, &events.SheetExposedData{F: 8}, in(2 * time.Minute), in(2 * time.Minute), true},
		"a cap too late":                    {cap, &events.SheetExposedData{F: 8}, in(2*time.Minute + time.Second), in(2*time.Minute + time.Second), false},
		"a print of the picture":            {again, &events.SheetReprintedData{Picture: "2026-009", F: new(11.0)}, in(0), in(0), true},
		"a print of another picture":        {again, &events.SheetReprintedData{Picture: "2026-010", F: new(11.0)}, in(0), in(0), false},
		"a print at another aperture":       {again, &events.SheetReprintedData{Picture: "2026-009", F: new(8.0)}, in(0), in(0), false},
		"a print that names nothing":        {again, &events.SheetReprintedData{}, in(0), in(0), true},
		"a tray with the sheet":             {tray, &events.SheetDevelopedData{Sheet: "2026-009n"}, in(0), in(0), true},
		"a tray with another sheet":         {tray, &events.SheetDevelopedData{Sheet: "2026-010n"}, in(0), in(0), false},
		"another tray":                      {tray, &events.SheetFixedData{Sheet: "2026-009n"}, in(0), in(0), false},
	} {
		began, fits := snapshot.ClockFits(events.Entry{At: pressed, Data: &c.clock}, c.act, c.at)
		assert.Equal(t, c.fits, fits, name)
		assert.True(t, c.began.Equal(began), "%s: %v", name, began)
	}
}

// counting is a book that counts what it is asked for entries, and gives.
type counting struct {
	*sqlite.Tx
	asked, given int
}

func (c *counting) Entries(q events.Query) ([]events.Entry, error) {
	e, err := c.Tx.Entries(q)
	c.asked, c.given = c.asked+1, c.given+len(e)
	return e, err
}

// Where no clock was started nothing is read to find that none runs.
func TestWithoutAClockNoActIsReadForIt(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "net mender"))
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		c := &counting{Tx: tx}
		running, err := snapshot.New(c, time.Time{}).RunningClocks(booktest.Oslo(t, "2026-05-02T12:00:00"))
		require.NoError(t, err)
		assert.Empty(t, running)
		assert.Zero(t, c.given)
		return nil
	}))
}
