package report_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// asJSON gives what a script would read.
func asJSON(t testing.TB, v any) map[string]any {
	t.Helper()
	raw, err := json.Marshal(v)
	require.NoError(t, err)
	var out map[string]any
	require.NoError(t, json.Unmarshal(raw, &out))
	return out
}

func box(t testing.TB, snap *snapshot.Snapshot, name string) report.BoxLine {
	t.Helper()
	r, err := report.Stock(snap, true)
	require.NoError(t, err)
	for _, b := range r.Boxes {
		if b.Box == name {
			return b
		}
	}
	t.Fatalf("no box %s in %v", name, r.Boxes)
	return report.BoxLine{}
}

func bath(t testing.TB, snap *snapshot.Snapshot, name string) report.BathLine {
	t.Helper()
	r, err := report.Baths(snap, true)
	require.NoError(t, err)
	for _, b := range r.Baths {
		if b.Bath == name {
			return b
		}
	}
	t.Fatalf("no bath %s in %v", name, r.Baths)
	return report.BathLine{}
}

// A box that was filled twice from one other costs a sheet what a part of that one's sheets costs.
func TestPaperCutTwiceCostsWhatItsSheetsCost(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, `paper.received 2026-05-02T10:00:00 "box":"wide","name":"wide","base":"rc","width_mm":180,"height_mm":240,"sheets":10,"cost":100,"currency":"NOK"
paper.cut 2026-05-02T10:05:00 "box":"wide","sheets":2,"into":"small","parts":4,"width_mm":90,"height_mm":120
paper.cut 2026-05-02T10:06:00 "box":"wide","sheets":3,"into":"small","parts":4,"width_mm":90,"height_mm":120
paper.spoiled 2026-05-02T10:07:00 "box":"small","sheets":4`)
	booktest.LookAt(t, b, "2026-05-03T10:00:00", func(snap *snapshot.Snapshot) {
		year, err := report.Year(snap, 2026, report.Causes(snap))
		require.NoError(t, err)
		require.Len(t, year.Costs, 1)
		assert.Equal(t, 10.0, year.Costs[0].Paper, "four parts of one sheet of ten for 100")
	})
}

// What was taken back or put right later had gone through a bath as it was known at the time.
func TestABathIsAsUsedAsItWasKnownToBe(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "mole")+booktest.Picture(2, 5, "quay"))
	var exposed, half string
	booktest.LookAt(t, b, "2026-05-02T12:00:00", func(snap *snapshot.Snapshot) {
		for name, id := range map[string]*string{"2026-001": &exposed, "2026-002": &half} {
			h, err := report.HistoryOf(snap, name, false)
			require.NoError(t, err)
			*id = h.Picture.Sheets[0].Entries[0].ID
		}
		assert.Equal(t, 2.0/80, bath(t, snap, "fix-1").AreaM2)
	})
	booktest.AddActs(t, b, `entry.voided 2026-05-04T09:00:00 "entry":"`+exposed+`"
entry.amended 2026-05-04T09:01:00 "entry":"`+half+`","set":{"part":0.5}`)
	booktest.LookAt(t, b, "2026-05-02T12:00:00", func(snap *snapshot.Snapshot) {
		assert.Equal(t, 2.0/80, bath(t, snap, "fix-1").AreaM2, "nobody knew of it then")
	})
	booktest.LookAt(t, b, "2026-05-05T12:00:00", func(snap *snapshot.Snapshot) {
		assert.Equal(t, 0.5/80, bath(t, snap, "fix-1").AreaM2)
	})
}

func TestStockCountsPartsCutsSpoilsAndCounts(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour,
		`sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"part":0.5
strip.exposed 2026-05-02T10:02:00 "strip":"s1","box":"box-1","on":"scene","times_s":[2,4,8],"part":0.25
sheet.exposed 2026-05-02T10:03:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4
paper.spoiled 2026-05-02T10:04:00 "box":"box-1","sheets":2
paper.cut 2026-05-02T10:05:00 "box":"box-1","sheets":5,"into":"small","parts":4,"width_mm":50,"height_mm":62
sheet.exposed 2026-05-02T10:06:00 "picture":"2026-003","box":"small","f":8,"time_s":4`)
	booktest.LookAt(t, b, "2026-05-03T10:00:00", func(snap *snapshot.Snapshot) {
		whole := box(t, snap, "box-1")
		assert.Equal(t, 100-1-0.5-0.25-2-5, whole.SheetsLeft, "a sheet exposed twice counts once, parts as parts")
		assert.Equal(t, 100.0, whole.Received)
		assert.Equal(t, 1.75, whole.Exposed)
		assert.Equal(t, 2.0, whole.Spoiled, "the cut ones apart")
		small := box(t, snap, "small")
		assert.Equal(t, 19.0, small.SheetsLeft)
		assert.Equal(t, "box-1", *small.CutFrom)
		assert.Equal(t, 50.0, *small.WidthMM)
		assert.Equal(t, 3.0, *small.Index, "the cut paper is the same paper")
	})
	booktest.AddActs(t, b, `paper.counted 2026-05-04T10:00:00 "box":"box-1","sheets":80
sheet.exposed 2026-05-05T10:00:00 "picture":"2026-004","box":"box-1","f":8,"time_s":4`)
	booktest.LookAt(t, b, "2026-05-06T10:00:00", func(snap *snapshot.Snapshot) {
		assert.Equal(t, 79.0, box(t, snap, "box-1").SheetsLeft, "a count overrules what was calculated before it")
	})
	booktest.LookAt(t, b, "2026-05-03T10:00:00", func(snap *snapshot.Snapshot) {
		assert.Equal(t, 91.25, box(t, snap, "box-1").SheetsLeft, "as of before the count")
	})
}

func TestRunsOutAtTheRateOfNinetyDays(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "ferry"), booktest.Picture(2, 1, "ferry"))
	booktest.LookAt(t, b, "2026-05-03T10:00:00", func(snap *snapshot.Snapshot) {
		l := box(t, snap, "box-1")
		// 2 sheets in 90 days; 98 are left: 98 · 45 days = 4410 days.
		assert.Equal(t, booktest.Oslo(t, "2026-05-03T10:00:00").AddDate(0, 0, 4410).Format("2006-01-02"), *l.RunsOut)
	})
	booktest.LookAt(t, b, "2026-09-01T10:00:00", func(snap *snapshot.Snapshot) {
		assert.Nil(t, box(t, snap, "box-1").RunsOut, "nothing was used for ninety days")
		stock, err := report.Stock(snap, false)
		require.NoError(t, err)
		j := asJSON(t, stock)["boxes"].([]any)[0].(map[string]any)
		require.Contains(t, j, "runs_out")
		assert.Nil(t, j["runs_out"])
		assert.Equal(t, 98.0, j["sheets_left"])
	})
}

func TestAnEmptyBoxIsListedWithAllAndWhenItHeldPaper(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, `
paper.received 2026-05-02T08:00:00 "box":"two","name":"last two","base":"rc","width_mm":100,"height_mm":125,"sheets":2
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"two","f":8,"time_s":4`, `
sheet.exposed 2026-05-03T10:00:00 "picture":"2026-002","box":"two","f":8,"time_s":4
sheet.exposed 2026-05-09T10:00:00 "picture":"2026-003","box":"box-1","f":8,"time_s":4`)
	names := func(asOf string, all bool) (out []string) {
		booktest.LookAt(t, b, asOf, func(snap *snapshot.Snapshot) {
			r, err := report.Stock(snap, all)
			require.NoError(t, err)
			for _, l := range r.Boxes {
				out = append(out, l.Box)
			}
		})
		return out
	}
	assert.Equal(t, []string{"box-1"}, names("", false))
	assert.Equal(t, []string{"box-1", "two"}, names("", true))
	assert.Equal(t, []string{"box-1", "two"}, names("2026-05-02T12:00:00", false), "it held one sheet then")
	assert.Equal(t, []string{"box-1"}, names("2026-05-03T12:00:00", false))
	assert.Equal(t, []string{"box-1"}, names("2026-05-01T12:00:00", false), "it had not come in yet")
}

func TestBathAreaHoursAndState(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "ferry"), booktest.Picture(2, 1, "ferry"), `
sheet.developed 2026-05-02T10:30:00 "sheet":"2026-001n","bath":"dev-1","time_s":30,"session":"mole"
bath.replenished 2026-05-02T10:31:00 "bath":"dev-1","volume_ml":500,"with":"water"
session.closed 2026-05-02T12:01:00 "session":"mole"`)
	booktest.LookAt(t, b, "2026-05-04T12:00:00", func(snap *snapshot.Snapshot) {
		l := bath(t, snap, "dev-1")
		assert.InDelta(t, 2*0.0125, l.AreaM2, 1e-12, "a sheet counts once in a bath")
		assert.Equal(t, 1.0, *l.CapacityM2, "water brings no capacity")
		assert.InDelta(t, 0.025, *l.Used, 1e-9)
		assert.InDelta(t, 3, l.AgeH, 1e-9, "the closed session bottled it")
		assert.False(t, l.InTray)
		assert.Equal(t, "fresh", l.State)
		assert.Equal(t, 78.0, *l.SheetsLeft)
		j := asJSON(t, l)
		for _, key := range []string{"bath", "role", "state", "area_m2", "capacity_m2", "used", "age_h", "life_h", "time_s"} {
			assert.Contains(t, j, key)
		}
		assert.Equal(t, 8.0, j["life_h"])
	})
	booktest.AddActs(t, b, `bath.moved 2026-05-05T10:00:00 "bath":"dev-1","to":"tray"
bath.moved 2026-05-05T14:00:00 "bath":"dev-1","to":"bottle"`)
	booktest.LookAt(t, b, "2026-05-05T12:00:00", func(snap *snapshot.Snapshot) { assert.InDelta(t, 5, bath(t, snap, "dev-1").AgeH, 1e-9) })
	booktest.LookAt(t, b, "2026-05-06T12:00:00", func(snap *snapshot.Snapshot) { assert.InDelta(t, 7, bath(t, snap, "dev-1").AgeH, 1e-9) })
	booktest.AddActs(t, b, `bath.moved 2026-05-07T10:00:00 "bath":"dev-1","to":"tray"`)
	booktest.LookAt(t, b, "2026-05-07T11:30:00", func(snap *snapshot.Snapshot) { assert.Equal(t, calc.BathPastLife, bath(t, snap, "dev-1").State) })
}

func TestWhichBathsAreListed(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "ferry"), `
bath.mixed 2026-03-01T09:00:00 "bath":"toner-1","role":"toner","name":"old toner","volume_ml":500
bath.mixed 2026-03-02T09:00:00 "bath":"dev-0","role":"developer","name":"old developer","volume_ml":500
sheet.toned 2026-05-02T11:00:00 "sheet":"2026-001n","bath":"toner-1"
bath.discarded 2026-05-02T20:00:00 "bath":"dev-1","to":"the waste can"`)
	names := func(asOf string, all bool) (out []string) {
		booktest.LookAt(t, b, asOf, func(snap *snapshot.Snapshot) {
			r, err := report.Baths(snap, all)
			require.NoError(t, err)
			for _, l := range r.Baths {
				out = append(out, l.Bath)
			}
		})
		return out
	}
	assert.Equal(t, []string{"toner-1", "fix-1"}, names("2026-05-03T09:00:00", false), "dev-0 was neither mixed nor used of late, dev-1 is gone")
	assert.Equal(t, []string{"toner-1", "dev-0", "dev-1", "fix-1"}, names("2026-05-03T09:00:00", true))
	assert.Equal(t, []string{"toner-1", "dev-1", "fix-1"}, names("2026-05-02T12:00:00", false), "before it was discarded")
	assert.Empty(t, names("2026-08-03T09:00:00", false))
	booktest.LookAt(t, b, "2026-05-03T09:00:00", func(snap *snapshot.Snapshot) {
		assert.Equal(t, "discarded", bath(t, snap, "dev-1").State)
		assert.Nil(t, bath(t, snap, "toner-1").Used, "no limit is known")
	})
}

func TestABathCallsForMoreAsItIsUsed(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "ferry"))
	before, after := 0.0, 0.0
	booktest.LookAt(t, b, "2026-05-02T09:30:00", func(snap *snapshot.Snapshot) { before = *bath(t, snap, "fix-1").TimeS })
	var many []string
	for n := 2; n <= 50; n++ {
		many = append(many, booktest.Picture(n, n-1, "ferry"))
	}
	booktest.AddActs(t, b, strings.Join(many, ""))
	booktest.LookAt(t, b, "2026-05-02T11:30:00", func(snap *snapshot.Snapshot) {
		l := bath(t, snap, "fix-1")
		after = *l.TimeS
		assert.InDelta(t, 0.625, *l.Used, 1e-9)
		assert.Equal(t, "working", l.State)
		assert.Equal(t, 30.0, *l.SheetsLeft)
	})
	assert.Equal(t, 60.0, before, "a fresh bath at its own temperature calls for its own time")
	assert.Greater(t, after, before)
}
