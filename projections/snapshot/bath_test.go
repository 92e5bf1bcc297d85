package snapshot_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// trays is a developer for 0.1 m² that lives 8 h in the tray, mixed at 9 in the session of the mole; a sheet is 0.0125 m².
const trays = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3
session.opened 2026-05-02T08:50:00 "session":"mole","camera":"skiff"
bath.mixed 2026-05-02T09:00:00 "bath":"dev-1","role":"developer","name":"Amber","volume_ml":1000,"time_s":60,"capacity_m2":0.1,"life_h":8,"session":"mole"`

// shot exposes a picture of the mole in the morning.
func shot(n int, more string) string {
	return fmt.Sprintf("\n"+`sheet.exposed 2026-05-02T09:10:%02d "picture":"2026-%03d","box":"box-1","f":8,"time_s":4,"session":"mole"%s`, n, n, more)
}

// developed puts a sheet into dev-1.
func developed(clock, sheet, more string) string {
	return fmt.Sprintf("\n"+`sheet.developed 2026-05-02T%s "sheet":%q,"bath":"dev-1","time_s":60%s`, clock, sheet, more)
}

func ageAt(t *testing.T, snap *snapshot.Snapshot, bath, clock string, before bool, without string) snapshot.BathAge {
	t.Helper()
	b, err := snap.Bath(bath)
	require.NoError(t, err)
	a, err := snap.AgeOf(b, booktest.Oslo(t, clock), before, without)
	require.NoError(t, err)
	return a
}

// The paper that a bath has seen: each sheet once however often it lay in it, parts as parts, strips as their boxes have them;
// before a moment or until it; without the sheet that is asked for.
func TestWhatABathHasSeen(t *testing.T) {
	b := booktest.FromActs(t, trays+shot(1, "")+shot(2, `,"part":0.5`)+shot(3, "")+`
strip.exposed 2026-05-02T09:11:00 "strip":"s1","box":"box-1","on":"scene","f":8,"times_s":[2,4],"part":0.25,"session":"mole"
strip.exposed 2026-05-02T09:12:00 "strip":"s2","box":"box-1","on":"scene","f":8,"times_s":[2,4],"session":"mole"
strip.read 2026-05-02T09:50:00 "strip":"s1","bath":"dev-1","best":1`+
		developed("10:00:00", "2026-001n", "")+developed("10:10:00", "2026-002n", "")+developed("10:20:00", "2026-001n", "")+developed("10:30:00", "2026-003n", "")+`
strip.read 2026-05-02T10:40:00 "strip":"s2","bath":"dev-1","best":1`)
	const day = "2026-05-02T"
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for _, c := range []struct {
			at      string
			before  bool
			without string
			sheets  float64
			last    string
		}{
			{"09:49:00", false, "", 0, ""},
			{"09:50:00", false, "", 0.25, "09:50"},
			{"10:00:00", true, "", 0.25, "09:50"},
			{"10:00:00", false, "", 1.25, "10:00"},
			{"10:15:00", false, "", 1.75, "10:10"},
			{"10:20:00", true, "2026-001n", 0.75, "10:10"}, // it lay in it before: that does not count against it
			{"10:25:00", false, "", 1.75, "10:20"},
			{"10:25:00", false, "2026-001n", 0.75, "10:10"},
			{"10:35:00", false, "", 2.75, "10:30"},
			{"10:35:00", false, "2026-002n", 2.25, "10:30"},
			{"10:35:00", false, "2026-003n", 1.75, "10:20"},
			{"10:45:00", false, "s2", 2.75, "10:30"},
			{"10:45:00", false, "2026-009n", 3.75, "10:40"},
		} {
			a := ageAt(t, snap, "dev-1", day+c.at, c.before, c.without)
			assert.InDelta(t, c.sheets*0.0125, a.AreaM2, 1e-9, c)
			assert.InDelta(t, c.sheets*0.125, a.Used, 1e-9, c)
			last := ""
			if !a.LastUse.IsZero() {
				last = a.LastUse.Format("15:04")
			}
			assert.Equal(t, c.last, last, c)
		}
	})
	booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error { return age(snap, "dev-1", booktest.Oslo(t, day+"11:00:00")) })
	booktest.Tear(t, b, booktest.Oslo(t, day+"10:05:00"), func(snap *snapshot.Snapshot) error { return age(snap, "dev-1", booktest.Oslo(t, day+"10:05:00")) })
	// As of ten past ten the half sheet was a whole one, and so it is again when that is amended later.
	booktest.LookAt(t, b, day+"10:05:00", func(snap *snapshot.Snapshot) {
		assert.InDelta(t, 1.25*0.0125, ageAt(t, snap, "dev-1", day+"10:05:00", false, "").AreaM2, 1e-9)
	})
}

func age(snap *snapshot.Snapshot, bath string, at time.Time) error {
	b, err := snap.Bath(bath)
	if err == nil {
		_, err = snap.AgeOf(b, at, false, "")
	}
	return err
}

// A sheet that was said only later to be a half was a whole one as of then.
func TestABathThenSawASheetAsItWasThen(t *testing.T) {
	b := booktest.FromActs(t, trays+shot(1, "")+developed("10:00:00", "2026-001n", ""))
	var exposed events.Entry
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}})
		require.NoError(t, err)
		exposed = found[0]
	})
	booktest.AddActs(t, b, `entry.amended 2026-05-02T11:00:00 "entry":"`+exposed.ID.String()+`","set":{"part":0.5}`)
	seen := func(asOf string) (area float64) {
		booktest.LookAt(t, b, asOf, func(snap *snapshot.Snapshot) { area = ageAt(t, snap, "dev-1", "2026-05-02T10:30:00", false, "").AreaM2 })
		return area
	}
	assert.InDelta(t, 0.0125, seen("2026-05-02T10:30:00"), 1e-9)
	assert.InDelta(t, 0.00625, seen("2026-05-02T11:30:00"), 1e-9)
	assert.InDelta(t, 0.00625, seen(""), 1e-9)
	booktest.Tear(t, b, booktest.Oslo(t, "2026-05-02T10:30:00"), func(snap *snapshot.Snapshot) error { return age(snap, "dev-1", snap.AsOf) })
}

// The hours in the open tray: from the mixing, until it is bottled or its session ends, again from a use or a move back.
func TestTheHoursInTheTray(t *testing.T) {
	b := booktest.FromActs(t, trays+shot(1, "")+shot(2, "")+`
bath.moved 2026-05-02T10:00:00 "bath":"dev-1","to":"bottle"
bath.moved 2026-05-02T12:00:00 "bath":"dev-1","to":"tray"
bath.moved 2026-05-02T12:30:00 "bath":"dev-1","to":"tray"
bath.moved 2026-05-02T13:00:00 "bath":"dev-1","to":"carried"`+
		developed("14:00:00", "2026-001n", `,"session":"mole"`)+`
session.closed 2026-05-02T15:00:00 "session":"mole"
session.opened 2026-05-03T09:00:00 "session":"pier","camera":"skiff"
sheet.developed 2026-05-03T10:00:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"pier"
session.closed 2026-05-03T11:00:00 "session":"pier"
bath.moved 2026-05-04T08:00:00 "bath":"dev-1","to":"tray"
bath.discarded 2026-05-04T10:00:00 "bath":"dev-1"`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for _, c := range []struct {
			at     string
			tray   float64
			in     bool
			bottle float64 // hours
		}{
			{"2026-05-02T08:59:00", 0, false, 0},
			{"2026-05-02T09:00:00", 0, true, 0},
			{"2026-05-02T09:30:00", 0.5, true, 0},
			{"2026-05-02T11:00:00", 1, false, 1},
			{"2026-05-02T12:45:00", 1.75, true, 2},
			{"2026-05-02T13:30:00", 2, false, 2.5},
			{"2026-05-02T14:30:00", 2.5, true, 3},
			{"2026-05-02T16:00:00", 3, false, 4},
			{"2026-05-03T10:30:00", 3.5, true, 22},
			{"2026-05-03T11:00:00", 4, false, 22}, // at the very end of the session it goes out
			{"2026-05-04T09:00:00", 5, true, 43},
			{"2026-05-04T10:00:00", 6, false, 43},
			{"2026-05-08T10:00:00", 6, false, 43}, // there is no bath any more
		} {
			a := ageAt(t, snap, "dev-1", c.at, false, "")
			assert.InDelta(t, c.tray, a.TrayH, 1e-9, c.at)
			assert.Equal(t, c.in, a.InTray, c.at)
			assert.InDelta(t, c.bottle/24, a.BottleDays, 1e-9, c.at)
			assert.Equal(t, 8.0, a.LifeH)
			assert.Equal(t, c.at >= "2026-05-04T10", a.State == snapshot.Discarded, c.at)
		}
	})
	booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
		return age(snap, "dev-1", booktest.Oslo(t, "2026-05-04T09:00:00"))
	})
}

// What a bath is at a moment: by its share, its hours, its days in the bottle, its date; the worst said first.
func TestTheStateOfABath(t *testing.T) {
	for _, c := range []struct {
		name, mixed, acts, at, want string
		expired                     bool // past the date on it
	}{
		{"fresh", ``, "", "2026-05-02T10:00:00", "fresh", false},
		{"working", `,"capacity_m2":0.05`, shot(1, "") + developed("09:30:00", "2026-001n", ""), "2026-05-02T10:00:00", "working", false},
		{"spent", `,"capacity_m2":0.0125`, shot(1, "") + developed("09:30:00", "2026-001n", ""), "2026-05-02T10:00:00", "exhausted", false},
		{"old in the tray", `,"life_h":1`, "", "2026-05-02T10:30:00", "past its tray life", false},
		{"a developer lives eight hours", ``, "", "2026-05-02T17:30:00", "past its tray life", false}, // common practice, see calc.DeveloperTrayH
		{"a day in a bottle for half a day", `,"bottle_days":0.5`, "\n" + `bath.moved 2026-05-02T09:30:00 "bath":"dev-1","to":"bottle"`, "2026-05-03T09:00:00", "past its tray life", false},
		{"a day in a bottle for two", `,"bottle_days":2`, "\n" + `bath.moved 2026-05-02T09:30:00 "bath":"dev-1","to":"bottle"`, "2026-05-03T09:00:00", "fresh", false},
		{"on its last day", `,"expires":"2026-05-02"`, "", "2026-05-02T10:00:00", "fresh", false},
		{"a day late", `,"expires":"2026-05-01"`, "", "2026-05-02T10:00:00", "past its tray life", true},
		{"in its last month", `,"expires":"2026-05"`, "", "2026-05-02T10:00:00", "fresh", false},
		{"a month late", `,"expires":"2026-04"`, "", "2026-05-02T10:00:00", "past its tray life", true},
		{"a year late", `,"expires":"2025"`, "", "2026-05-02T10:00:00", "past its tray life", true},
		{"spent before old", `,"capacity_m2":0.0125,"expires":"2025"`, shot(1, "") + developed("09:30:00", "2026-001n", ""), "2026-05-02T10:00:00", "exhausted", true},
		{"discarded before all", `,"expires":"2025"`, "\n" + `bath.discarded 2026-05-02T10:00:00 "bath":"dev-1"`, "2026-05-02T10:00:00", "discarded", true},
		{"not yet discarded", ``, "\n" + `bath.discarded 2026-05-02T10:01:00 "bath":"dev-1"`, "2026-05-02T10:00:00", "fresh", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			head := trays[:len(trays)-len(`,"capacity_m2":0.1,"life_h":8,"session":"mole"`)] + c.mixed + `,"session":"mole"`
			booktest.Look(t, booktest.FromActs(t, head+c.acts), func(snap *snapshot.Snapshot) {
				a := ageAt(t, snap, "dev-1", c.at, false, "")
				assert.Equal(t, c.want, a.State)
				assert.Equal(t, c.expired, a.Expired)
			})
		})
	}
}

// What is added to a bath brings its share of the capacity, water none, and what is told goes before both.
func TestWhatIsAddedToABath(t *testing.T) {
	b := booktest.FromActs(t, trays+`
bath.replenished 2026-05-02T10:00:00 "bath":"dev-1","volume_ml":500,"with":"fresh"
bath.replenished 2026-05-02T11:00:00 "bath":"dev-1","volume_ml":250,"with":"water"
bath.replenished 2026-05-02T12:00:00 "bath":"dev-1","volume_ml":100,"with":"replenisher","capacity_m2":0.2
bath.mixed 2026-05-02T09:00:00 "bath":"dev-2","role":"developer","name":"Amber","volume_ml":500
bath.mixed 2026-05-02T09:00:00 "bath":"rinse","role":"water","name":"sea","volume_ml":500`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		bath, err := snap.Bath("dev-1")
		require.NoError(t, err)
		for clock, want := range map[string][2]float64{"09:59:00": {1000, 0.1}, "10:00:00": {1500, 0.15}, "11:30:00": {1750, 0.15}, "12:30:00": {1850, 0.35}} {
			at := "2026-05-02T" + clock
			assert.InDelta(t, want[0], bath.VolumeAt(booktest.Oslo(t, at)), 1e-9, clock)
			assert.InDelta(t, want[1], ageAt(t, snap, "dev-1", at, false, "").CapacityM2, 1e-9, clock)
		}
		a := ageAt(t, snap, "dev-2", "2026-05-02T10:00:00", false, "")
		assert.Equal(t, []float64{0.5, 8}, []float64{a.CapacityM2, a.LifeH}) // a square metre a litre, eight hours: common practice
		a = ageAt(t, snap, "rinse", "2026-05-02T10:00:00", false, "")
		assert.Equal(t, []float64{0, 0, 0}, []float64{a.CapacityM2, a.LifeH, a.Used})
	})
}

// A clearing time tells what a fixer has seen, log2 of now over half its nominal time; what came since is added.
func TestAClearingTimeOverrulesTheCount(t *testing.T) {
	b := booktest.FromActs(t, trays+shot(1, "")+shot(2, "")+`
bath.mixed 2026-05-02T09:01:00 "bath":"fix-1","role":"fixer","name":"plain","volume_ml":1000,"time_s":60,"capacity_m2":0.05
bath.tested 2026-05-02T09:30:00 "bath":"fix-1","test":"clearing-time","value":30
sheet.fixed 2026-05-02T10:00:00 "sheet":"2026-001n","bath":"fix-1","time_s":60
bath.tested 2026-05-02T10:30:00 "bath":"fix-1","test":"clearing-time","value":42.426407
bath.tested 2026-05-02T10:31:00 "bath":"fix-1","test":"temperature","value":22
sheet.fixed 2026-05-02T11:00:00 "sheet":"2026-002n","bath":"fix-1","time_s":60`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for clock, want := range map[string]float64{"09:15:00": 0, "10:15:00": 0.25, "10:45:00": 0.5, "11:15:00": 0.75} {
			assert.InDelta(t, want, ageAt(t, snap, "fix-1", "2026-05-02T"+clock, false, "").Used, 1e-6, clock)
		}
		// 30 s of 30 s fresh is nothing used, then one sheet of a quarter.
		assert.InDelta(t, 0, ageAt(t, snap, "fix-1", "2026-05-02T10:00:00", true, "").Used, 1e-9)
	})
}

// A bath keeps the temperature that was measured last, by a test or beside an act in it, for four hours.
func TestTheTemperatureOfABath(t *testing.T) {
	b := booktest.FromActs(t, `book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
paper.received 2026-05-01T08:01:00 "box":"box-1","name":"paper","base":"rc","width_mm":90,"height_mm":120,"sheets":10
bath.mixed 2026-05-02T09:00:00 "bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"temp_c":21
sheet.developed 2026-05-02T10:00:00 "sheet":"2026-001n","bath":"dev-1","time_s":60
bath.tested 2026-05-02T10:10:00 "bath":"dev-1","test":"temperature","value":18
sheet.developed 2026-05-02T10:20:00 "sheet":"2026-002n","bath":"dev-1","time_s":60
sheet.developed 2026-05-02T10:30:00 "sheet":"2026-003n","bath":"dev-1","time_s":60,"temp_c":16
strip.exposed 2026-05-02T10:31:00 "strip":"strip-1","box":"box-1","on":"scene","f":8,"times_s":[1,2]
strip.read 2026-05-02T10:40:00 "strip":"strip-1","bath":"dev-1","temp_c":15,"best":1
bath.tested 2026-05-02T10:50:00 "bath":"dev-1","test":"temperature","value":14
sheet.developed 2026-05-02T10:50:00 "sheet":"2026-004n","bath":"dev-1","time_s":60,"temp_c":13
sheet.developed 2026-05-02T10:55:00 "sheet":"2026-005n","bath":"dev-1","time_s":60`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for clock, want := range map[string]snapshot.BathTemp{
			"10:09:59": {C: 21},
			"10:10:00": {C: 18, Measured: booktest.Oslo(t, "2026-05-02T10:10:00")},
			"10:29:59": {C: 18, Measured: booktest.Oslo(t, "2026-05-02T10:10:00")},
			"10:31:00": {C: 16, Measured: booktest.Oslo(t, "2026-05-02T10:30:00")},
			"10:41:00": {C: 15, Measured: booktest.Oslo(t, "2026-05-02T10:40:00")},
			"10:51:00": {C: 13, Measured: booktest.Oslo(t, "2026-05-02T10:50:00")}, // of one minute the act, which came after the test
			"14:50:00": {C: 13, Measured: booktest.Oslo(t, "2026-05-02T10:50:00")},
			"14:50:01": {C: 21, Measured: booktest.Oslo(t, "2026-05-02T10:50:00"), Doubtful: true},
		} {
			got := ageAt(t, snap, "dev-1", "2026-05-02T"+clock, false, "").Temp
			assert.True(t, want.Measured.Equal(got.Measured), "%s: %s", clock, got.Measured)
			want.Measured = got.Measured
			assert.Equal(t, want, got, clock)
			assert.Equal(t, want.C < 21, got.Known(), clock)
		}
		assert.Equal(t, 18.0, ageAt(t, snap, "dev-1", "2026-05-02T10:30:00", true, "").Temp.C, "the sheet that goes in brings no temperature of its own")
	})
}

// The last instant of a day, a month, a year.
func TestTheEndOfADate(t *testing.T) {
	for text, want := range map[string]string{"2026-02-28": "2026-03-01T00:00:00Z", "2026-02": "2026-03-01T00:00:00Z", "2025": "2026-01-01T00:00:00Z"} {
		next, err := time.Parse(time.RFC3339, want)
		require.NoError(t, err)
		assert.Equal(t, next.Add(-time.Nanosecond), snapshot.EndOfDate(text, time.UTC))
	}
	assert.True(t, snapshot.EndOfDate("2026-99", time.UTC).IsZero())
}
