package projections_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections"
)

// acts makes a book from acts written one a line: kind, a space, the time in Oslo, a space, the data.
func acts(t testing.TB, text ...string) *sqlite.Book {
	t.Helper()
	b := newBook(t)
	add(t, b, text...)
	return b
}

// add writes more acts into a book, each text in one import.
func add(t testing.TB, b *sqlite.Book, texts ...string) {
	t.Helper()
	for _, text := range texts {
		var lines []projections.ImportLine
		for i, row := range strings.Split(strings.TrimSpace(text), "\n") {
			parts := strings.SplitN(strings.TrimSpace(row), " ", 3)
			require.Len(t, parts, 3, row)
			l, err := events.ParseLine([]byte(fmt.Sprintf(`{"kind":%q,"at":"%s+02:00","data":{%s}}`, parts[0], parts[1], parts[2])))
			require.NoError(t, err, row)
			lines = append(lines, projections.ImportLine{Line: l, Number: i + 1})
		}
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
			_, err := projections.ImportPlain(tx, lines, recorded, events.ID{1}, events.ID{2}, nil)
			return err
		}))
	}
}

// look runs f on a book as of a time in Oslo, "" for everything.
func look(t testing.TB, b *sqlite.Book, asOf string, f func(d *projections.Desk)) {
	t.Helper()
	var at time.Time
	if asOf != "" {
		at = oslo(t, asOf)
	}
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		f(projections.NewDesk(tx, at))
		return nil
	}))
}

func oslo(t testing.TB, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text+"+02:00")
	require.NoError(t, err)
	return at
}

// asJSON gives what a script would read.
func asJSON(t testing.TB, v any) map[string]any {
	t.Helper()
	raw, err := json.Marshal(v)
	require.NoError(t, err)
	var out map[string]any
	require.NoError(t, json.Unmarshal(raw, &out))
	return out
}

// harbour is a camera, a box of a hundred sheets of 100 × 125 mm (80 to the square metre), a litre of developer and
// one of fixer, and a session.
const harbour = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"quay-box","focal_mm":135,"f_widest":5.6,"f_smallest":32,"copy_f":11
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3
session.opened 2026-05-02T09:00:00 "session":"mole","camera":"quay-box","place":"the mole","lat":59.9,"lon":10.7
bath.mixed 2026-05-02T09:01:00 "bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"capacity_m2":1,"life_h":8,"session":"mole"
bath.mixed 2026-05-02T09:02:00 "bath":"fix-1","role":"fixer","name":"plain fixer","volume_ml":1000,"time_s":60,"capacity_m2":1,"life_h":24,"session":"mole"`

// picture is one negative, exposed at minute m after ten and finished.
func picture(n, m int, subject string) string {
	return fmt.Sprintf(`
sheet.exposed 2026-05-02T10:%02d:00 "picture":"2026-%03d","box":"box-1","f":8,"time_s":4,"subject":%q,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:%02d:10 "sheet":"2026-%03dn","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:%02d:20 "sheet":"2026-%03dn","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:%02d:30 "sheet":"2026-%03dn","changes":4,"volume_ml":1000,"session":"mole"`, m, n, subject, m, n, m, n, m, n)
}

func box(t testing.TB, d *projections.Desk, name string) projections.BoxLine {
	t.Helper()
	r, err := d.Stock(true)
	require.NoError(t, err)
	for _, b := range r.Boxes {
		if b.Box == name {
			return b
		}
	}
	t.Fatalf("no box %s in %v", name, r.Boxes)
	return projections.BoxLine{}
}

func bath(t testing.TB, d *projections.Desk, name string) projections.BathLine {
	t.Helper()
	r, err := d.Baths(true)
	require.NoError(t, err)
	for _, b := range r.Baths {
		if b.Bath == name {
			return b
		}
	}
	t.Fatalf("no bath %s in %v", name, r.Baths)
	return projections.BathLine{}
}

// A box that was filled twice from one other costs a sheet what a part of that one's sheets costs.
func TestPaperCutTwiceCostsWhatItsSheetsCost(t *testing.T) {
	b := acts(t, harbour, `paper.received 2026-05-02T10:00:00 "box":"wide","name":"wide","base":"rc","width_mm":180,"height_mm":240,"sheets":10,"cost":100,"currency":"NOK"
paper.cut 2026-05-02T10:05:00 "box":"wide","sheets":2,"into":"small","parts":4,"width_mm":90,"height_mm":120
paper.cut 2026-05-02T10:06:00 "box":"wide","sheets":3,"into":"small","parts":4,"width_mm":90,"height_mm":120
paper.spoiled 2026-05-02T10:07:00 "box":"small","sheets":4`)
	look(t, b, "2026-05-03T10:00:00", func(d *projections.Desk) {
		year, err := d.Year(2026, d.Causes)
		require.NoError(t, err)
		require.Len(t, year.Costs, 1)
		assert.Equal(t, 10.0, year.Costs[0].Paper, "four parts of one sheet of ten for 100")
	})
}

// What was taken back or put right later had gone through a bath as it was known at the time.
func TestABathIsAsUsedAsItWasKnownToBe(t *testing.T) {
	b := acts(t, harbour, picture(1, 0, "mole")+picture(2, 5, "quay"))
	var exposed, half string
	look(t, b, "2026-05-02T12:00:00", func(d *projections.Desk) {
		for name, id := range map[string]*string{"2026-001": &exposed, "2026-002": &half} {
			h, err := d.History(name, false)
			require.NoError(t, err)
			*id = h.Picture.Sheets[0].Entries[0].ID
		}
		assert.Equal(t, 2.0/80, bath(t, d, "fix-1").AreaM2)
	})
	add(t, b, `entry.voided 2026-05-04T09:00:00 "entry":"`+exposed+`"
entry.amended 2026-05-04T09:01:00 "entry":"`+half+`","set":{"part":0.5}`)
	look(t, b, "2026-05-02T12:00:00", func(d *projections.Desk) {
		assert.Equal(t, 2.0/80, bath(t, d, "fix-1").AreaM2, "nobody knew of it then")
	})
	look(t, b, "2026-05-05T12:00:00", func(d *projections.Desk) {
		assert.Equal(t, 0.5/80, bath(t, d, "fix-1").AreaM2)
	})
}

func TestStockCountsPartsCutsSpoilsAndCounts(t *testing.T) {
	b := acts(t, harbour,
		`sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"part":0.5
strip.exposed 2026-05-02T10:02:00 "strip":"s1","box":"box-1","on":"scene","times_s":[2,4,8],"part":0.25
sheet.exposed 2026-05-02T10:03:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4
paper.spoiled 2026-05-02T10:04:00 "box":"box-1","sheets":2
paper.cut 2026-05-02T10:05:00 "box":"box-1","sheets":5,"into":"small","parts":4,"width_mm":50,"height_mm":62
sheet.exposed 2026-05-02T10:06:00 "picture":"2026-003","box":"small","f":8,"time_s":4`)
	look(t, b, "2026-05-03T10:00:00", func(d *projections.Desk) {
		whole := box(t, d, "box-1")
		assert.Equal(t, 100-1-0.5-0.25-2-5, whole.SheetsLeft, "a sheet exposed twice counts once, parts as parts")
		assert.Equal(t, 100.0, whole.Received)
		assert.Equal(t, 1.75, whole.Exposed)
		assert.Equal(t, 2.0, whole.Spoiled, "the cut ones apart")
		small := box(t, d, "small")
		assert.Equal(t, 19.0, small.SheetsLeft)
		assert.Equal(t, "box-1", *small.CutFrom)
		assert.Equal(t, 50.0, *small.WidthMM)
		assert.Equal(t, 3.0, *small.Index, "the cut paper is the same paper")
	})
	add(t, b, `paper.counted 2026-05-04T10:00:00 "box":"box-1","sheets":80
sheet.exposed 2026-05-05T10:00:00 "picture":"2026-004","box":"box-1","f":8,"time_s":4`)
	look(t, b, "2026-05-06T10:00:00", func(d *projections.Desk) {
		assert.Equal(t, 79.0, box(t, d, "box-1").SheetsLeft, "a count overrules what was reckoned before it")
	})
	look(t, b, "2026-05-03T10:00:00", func(d *projections.Desk) {
		assert.Equal(t, 91.25, box(t, d, "box-1").SheetsLeft, "as of before the count")
	})
}

func TestRunsOutAtTheRateOfNinetyDays(t *testing.T) {
	b := acts(t, harbour, picture(1, 0, "ferry"), picture(2, 1, "ferry"))
	look(t, b, "2026-05-03T10:00:00", func(d *projections.Desk) {
		l := box(t, d, "box-1")
		// 2 sheets in 90 days; 98 are left: 98 · 45 days = 4410 days.
		assert.Equal(t, oslo(t, "2026-05-03T10:00:00").AddDate(0, 0, 4410).Format("2006-01-02"), *l.RunsOut)
	})
	look(t, b, "2026-09-01T10:00:00", func(d *projections.Desk) {
		assert.Nil(t, box(t, d, "box-1").RunsOut, "nothing was used for ninety days")
		stock, err := d.Stock(false)
		require.NoError(t, err)
		j := asJSON(t, stock)["boxes"].([]any)[0].(map[string]any)
		require.Contains(t, j, "runs_out")
		assert.Nil(t, j["runs_out"])
		assert.Equal(t, 98.0, j["sheets_left"])
	})
}

func TestAnEmptyBoxIsListedWithAllAndWhenItHeldPaper(t *testing.T) {
	b := acts(t, harbour, `
paper.received 2026-05-02T08:00:00 "box":"two","name":"last two","base":"rc","width_mm":100,"height_mm":125,"sheets":2
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"two","f":8,"time_s":4`, `
sheet.exposed 2026-05-03T10:00:00 "picture":"2026-002","box":"two","f":8,"time_s":4
sheet.exposed 2026-05-09T10:00:00 "picture":"2026-003","box":"box-1","f":8,"time_s":4`)
	names := func(asOf string, all bool) (out []string) {
		look(t, b, asOf, func(d *projections.Desk) {
			r, err := d.Stock(all)
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
	b := acts(t, harbour, picture(1, 0, "ferry"), picture(2, 1, "ferry"), `
sheet.developed 2026-05-02T10:30:00 "sheet":"2026-001n","bath":"dev-1","time_s":30,"session":"mole"
bath.topped 2026-05-02T10:31:00 "bath":"dev-1","volume_ml":500,"with":"water"
session.closed 2026-05-02T12:01:00 "session":"mole"`)
	look(t, b, "2026-05-04T12:00:00", func(d *projections.Desk) {
		l := bath(t, d, "dev-1")
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
	add(t, b, `bath.moved 2026-05-05T10:00:00 "bath":"dev-1","to":"tray"
bath.moved 2026-05-05T14:00:00 "bath":"dev-1","to":"bottle"`)
	look(t, b, "2026-05-05T12:00:00", func(d *projections.Desk) { assert.InDelta(t, 5, bath(t, d, "dev-1").AgeH, 1e-9) })
	look(t, b, "2026-05-06T12:00:00", func(d *projections.Desk) { assert.InDelta(t, 7, bath(t, d, "dev-1").AgeH, 1e-9) })
	add(t, b, `bath.moved 2026-05-07T10:00:00 "bath":"dev-1","to":"tray"`)
	look(t, b, "2026-05-07T11:30:00", func(d *projections.Desk) { assert.Equal(t, "old", bath(t, d, "dev-1").State) })
}

func TestWhichBathsAreListed(t *testing.T) {
	b := acts(t, harbour, picture(1, 0, "ferry"), `
bath.mixed 2026-03-01T09:00:00 "bath":"toner-1","role":"toner","name":"old toner","volume_ml":500
bath.mixed 2026-03-02T09:00:00 "bath":"dev-0","role":"developer","name":"old developer","volume_ml":500
sheet.toned 2026-05-02T11:00:00 "sheet":"2026-001n","bath":"toner-1"
bath.discarded 2026-05-02T20:00:00 "bath":"dev-1","to":"the waste can"`)
	names := func(asOf string, all bool) (out []string) {
		look(t, b, asOf, func(d *projections.Desk) {
			r, err := d.Baths(all)
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
	look(t, b, "2026-05-03T09:00:00", func(d *projections.Desk) {
		assert.Equal(t, "discarded", bath(t, d, "dev-1").State)
		assert.Nil(t, bath(t, d, "toner-1").Used, "no limit is known")
	})
}

func TestABathCallsForMoreAsItIsUsed(t *testing.T) {
	b := acts(t, harbour, picture(1, 0, "ferry"))
	before, after := 0.0, 0.0
	look(t, b, "2026-05-02T09:30:00", func(d *projections.Desk) { before = *bath(t, d, "fix-1").TimeS })
	var many []string
	for n := 2; n <= 50; n++ {
		many = append(many, picture(n, n-1, "ferry"))
	}
	add(t, b, strings.Join(many, ""))
	look(t, b, "2026-05-02T11:30:00", func(d *projections.Desk) {
		l := bath(t, d, "fix-1")
		after = *l.TimeS
		assert.InDelta(t, 0.625, *l.Used, 1e-9)
		assert.Equal(t, "working", l.State)
		assert.Equal(t, 30.0, *l.SheetsLeft)
	})
	assert.Equal(t, 60.0, before, "a fresh bath at its own temperature calls for its own time")
	assert.Greater(t, after, before)
}
