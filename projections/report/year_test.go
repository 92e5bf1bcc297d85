package report_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// worked develops, fixes and washes a sheet: a minute each in the log. fixS and changes are what was done; 60 s and 4
// changes are called for in fresh baths.
func worked(s *booktest.Story, sheet string, fixS, changes int) {
	s.Tell("sheet.developed", `"sheet":%q,"bath":"dev-1","time_s":60`, sheet)
	s.Tell("sheet.fixed", `"sheet":%q,"bath":"fix-1","time_s":%d`, sheet, fixS)
	if changes > 0 {
		s.Tell("sheet.washed", `"sheet":%q,"changes":%d,"volume_ml":1000,"soak_s":30`, sheet, changes)
	}
}

// smallYear is one picture of 2025 and three of 2026, whose sums are calculated by hand in the test.
func smallYear() *booktest.Story {
	s := booktest.NewStory()
	s.Tell("paper.received", `"box":"box-1","name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":50,"index":3,"cost":100,"currency":"NOK"`)
	s.Tell("bath.mixed", `"bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"capacity_m2":1.08,"cost":30,"currency":"NOK"`)
	s.Tell("bath.mixed", `"bath":"fix-1","role":"fixer","name":"rapid fixer","volume_ml":1000,"time_s":60,"capacity_m2":0.54,"cost":20,"currency":"NOK"`)
	at := s.At

	s.At = at.AddDate(-1, 0, 0) // the picture of the year before: its baths were not written
	s.Tell("sheet.exposed", `"picture":"2025-001","box":"box-1","f":8,"time_s":4`)
	s.Tell("sheet.reprinted", `"picture":"2025-001","box":"box-1","f":11,"time_s":20`)
	s.Tell("sheet.judged", `"sheet":"2025-001p1","verdict":"keep"`)
	s.Tell("sheet.delivered", `"sheet":"2025-001p1"`)

	s.At = at
	s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"light":"sun","picture":"2026-001"`) // 10:05
	s.Tell("sheet.exposed", `"picture":"2026-001","box":"box-1","f":8,"time_s":4`)
	worked(s, "2026-001n", 80, 4)
	s.Tell("sheet.judged", `"sheet":"2026-001n","verdict":"keep"`)
	s.Tell("sheet.reprinted", `"picture":"2026-001","box":"box-1","f":11,"time_s":20`)
	worked(s, "2026-001p1", 80, 4) // washed at 10:14 for 2 min
	s.Tell("sheet.judged", `"sheet":"2026-001p1","verdict":"keep"`)
	s.Tell("sheet.delivered", `"sheet":"2026-001p1"`)

	s.At = at.Add(2 * time.Hour)
	s.Tell("sheet.exposed", `"picture":"2026-002","box":"box-1","f":8,"time_s":4,"light":"shade","sitter":"sitter-1"`)
	worked(s, "2026-002n", 80, 0)
	s.Tell("sheet.tested", `"sheet":"2026-002n","test":"hypo","result":"clear"`)
	s.Tell("sheet.judged", `"sheet":"2026-002n","verdict":"keep"`)
	s.Tell("sheet.reprinted", `"picture":"2026-002","box":"box-1","f":11,"time_s":20`)
	s.Tell("sheet.judged", `"sheet":"2026-002p1","verdict":"redo","symptoms":["too-light"],"stops":1`)
	s.Tell("sheet.reprinted", `"picture":"2026-002","box":"box-1","f":11,"time_s":40`)
	worked(s, "2026-002p2", 30, 1)
	s.Tell("sheet.judged", `"sheet":"2026-002p2","verdict":"keep"`)
	s.Tell("sitter.consented", `"sitter":"sitter-1","to":"keep"`)
	s.Tell("sitter.consented", `"sitter":"sitter-1","to":"show","until":"2026-06"`)

	s.Tell("sheet.exposed", `"picture":"2026-003","box":"box-1","f":8,"time_s":4,"light":"shade"`)
	s.Tell("sheet.judged", `"sheet":"2026-003n","verdict":"reject","symptoms":["blank"]`)

	s.Tell("strip.exposed", `"strip":"strip-1","box":"box-1","on":"scene","times_s":[2,4],"part":0.5`)
	s.Tell("paper.spoiled", `"box":"box-1","sheets":1`)
	s.Tell("bath.discarded", `"bath":"dev-1","to":"sink"`)
	s.Tell("bath.discarded", `"bath":"fix-1","to":"waste depot"`)

	s.At = time.Date(2027, 1, 1, 0, 30, 0, 0, time.FixedZone("", 2*3600)) // still 2026 in UTC, another year here
	s.Tell("paper.spoiled", `"box":"box-1","sheets":7`)
	return s
}

func causesOfSmallYear(picture string) ([]report.CauseShare, error) {
	if picture == "2026-002" {
		return []report.CauseShare{{Cause: "bellows-factor-forgotten", Sheet: "2026-002n", Explains: 0.75}, {Cause: "developer-cold", Sheet: "2026-002n", Explains: 0.125}}, nil
	}
	return nil, nil
}

func yearOf(t *testing.T, b *sqlite.Book, year int, asOf time.Time) (r report.YearReport) {
	t.Helper()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
		r, err = beside(t, snapshot.New(tx, asOf), func(snap *snapshot.Snapshot) (report.YearReport, error) {
			return report.Year(snap, year, causesOfSmallYear)
		})
		return err
	}))
	return r
}

func TestASnapshotThatIsClearedTellsTheSame(t *testing.T) {
	b := smallYear().Book(t)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		roomy, crowded := snapshot.New(tx, time.Time{}), booktest.Crowded(snapshot.New(tx, time.Time{}))
		want, err := report.Year(roomy, 2026, report.Causes(roomy))
		require.NoError(t, err)
		got, err := report.Year(crowded, 2026, report.Causes(crowded))
		require.NoError(t, err)
		require.Equal(t, want, got)

		p, err := crowded.Picture("2026-001")
		require.NoError(t, err)
		again, err := crowded.Picture("2026-001")
		require.NoError(t, err)
		require.Same(t, p, again, "what lies open is not read again")
		crowded.Tidy()
		anew, err := crowded.Picture("2026-001")
		require.NoError(t, err)
		require.NotSame(t, p, anew)
		require.Equal(t, p, anew)
		return nil
	}))
}

func TestYearAddsUpAsByHand(t *testing.T) {
	r := yearOf(t, smallYear().Book(t), 2026, time.Time{})

	assert.Equal(t, 3, r.Pictures)
	assert.Equal(t, 6, r.Sheets, "2 + 3 + 1")
	assert.Equal(t, 6.0, r.PaperSheets)
	assert.Equal(t, 0.5, r.StripSheets)
	assert.Equal(t, 1.0, r.SpoiledSheets, "the seven of New Year's night are next year's")
	assert.Equal(t, 2, r.FailedSheets)
	assert.Equal(t, 2, r.FirstPrintsJudged)
	assert.Equal(t, 1, r.FirstPrintsKept)
	assert.Equal(t, 0.5, *r.FirstKeptShare)
	assert.Equal(t, 2, r.KeptPrints)
	assert.Equal(t, 1, r.DeliveredPrints)
	assert.Equal(t, 7.5, *r.SheetsPerDelivered)
	require.Len(t, r.Costs, 1)
	assert.Equal(t, report.YearCost{Currency: "NOK", Paper: 15, Baths: 50, Total: 65, PerKept: r.Costs[0].PerKept}, r.Costs[0], "7.5 sheets of 2 crowns")
	assert.Equal(t, 32.5, *r.Costs[0].PerKept)

	assert.Equal(t, []report.CauseLine{
		{Cause: "unexplained", Sheets: 1, Explains: 1.125, Money: []report.Money{{Currency: "NOK", Amount: 2}}},
		{Cause: "bellows-factor-forgotten", Sheets: 1, Explains: 0.75, Money: []report.Money{{Currency: "NOK", Amount: 2}}},
		{Cause: "developer-cold", Sheets: 0, Explains: 0.125, Money: []report.Money{}},
	}, r.Causes)
	assert.Equal(t, []report.SymptomLine{{Symptom: "blank", Sheets: 1}, {Symptom: "too-light", Sheets: 1}}, r.Symptoms)
}

// What the boxes held at the year's start and what came is what went and what is left, with what was never exposed; by hand.
func TestTheSheetsOfAYearAddUpWithItsBoxes(t *testing.T) {
	s := booktest.NewStory()
	at := s.At
	s.At = at.AddDate(-1, 0, 0)
	s.Tell("paper.received", `"box":"box-1","name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":50,"index":3,"cost":100,"currency":"NOK"`)
	s.Tell("sheet.exposed", `"picture":"2025-001","box":"box-1","f":8,"time_s":4`)
	s.At = at
	s.Tell("paper.received", `"box":"box-2","name":"old paper","base":"fb","width_mm":180,"height_mm":240,"sheets":10,"index":3`)
	s.Tell("paper.cut", `"box":"box-2","sheets":2,"into":"box-3","parts":4,"width_mm":90,"height_mm":120`)
	s.Tell("bath.mixed", `"bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":60`)
	s.Tell("holder.loaded", `"holder":"h1","box":"box-1","sheets":2`)
	s.Tell("sheet.exposed", `"picture":"2026-001","box":"box-1","f":8,"time_s":4,"holder":"h1"`)
	s.Tell("holder.loaded", `"holder":"h2","box":"box-1"`)
	s.Tell("sheet.exposed", `"picture":"2026-002","box":"box-1","f":8,"time_s":4,"holder":"h2"`)
	s.Tell("sheet.developed", `"sheet":"2026-003n","time_s":60`)
	s.Tell("strip.exposed", `"strip":"strip-1","box":"box-1","on":"scene","times_s":[2,4],"part":0.5`)
	s.Tell("paper.spoiled", `"box":"box-3","sheets":1`)
	s.Tell("sheet.reprinted", `"picture":"2025-001","box":"box-1","f":11,"time_s":20`)
	s.Tell("paper.counted", `"box":"box-1","sheets":43`) // 49 less three and a half: two and a half are missing
	s.Tell("sheet.exposed", `"picture":"2026-004","box":"box-1","f":8,"time_s":4`)
	s.At = at.AddDate(1, 0, 0)
	s.Tell("sheet.exposed", `"picture":"2027-001","box":"box-1","f":8,"time_s":4,"holder":"h1"`)
	b := s.Book(t)

	r := yearOf(t, b, 2026, time.Time{})
	m := r.Boxes
	assert.Equal(t, snapshot.Movements{Start: 49, Came: 18, Pictures: 4, Strips: 0.5, Spoiled: 1, Cut: 2, Missing: 2.5, Left: 57}, m)
	assert.Equal(t, m.Start+m.Came, m.Pictures+m.Strips+m.Spoiled+m.Cut+m.Missing+m.Left)
	assert.Equal(t, 2.5, r.MissingSheets)
	assert.Equal(t, 1, r.UnexposedSheets, "developed, and exposed by nobody")
	assert.Equal(t, 1, r.LoadedSheets, "one of the two in h1")
	assert.Equal(t, 1.0+1, r.UnpricedSheets, "the spoiled one of the paper without a price, and the one of no box")
	assert.Equal(t, []report.YearCost{{Currency: "NOK", Paper: 12, Total: 12}}, r.Costs, "three pictures, half a sheet and what is missing, of 2 crowns")
	assert.Nil(t, r.SheetsPerDelivered)

	before := yearOf(t, b, 2025, time.Time{}).Boxes
	assert.Equal(t, snapshot.Movements{Came: 50, Pictures: 1, Left: 49}, before)
	assert.Equal(t, snapshot.Movements{Start: 43 - 1, Pictures: 1, Left: 41}, yearOf(t, b, 2027, time.Time{}).Boxes)
}

func TestYearTellsTimesLightsAndHours(t *testing.T) {
	r := yearOf(t, smallYear().Book(t), 2026, time.Time{})
	require.NotNil(t, r.Minutes)
	assert.Equal(t, report.Minutes{Median: 11, Quickest: 11, Slowest: 11, Prints: 1}, *r.Minutes, "10:05 to the end of the wash at 10:16; the second picture has no reading")
	type split struct {
		key                           string
		pictures, sheets, kept, fails int
	}
	brief := func(ss []report.Split) (out []split) {
		for _, s := range ss {
			out = append(out, split{s.Key, s.Pictures, s.Sheets, s.Kept, s.Failed})
		}
		return out
	}
	assert.Equal(t, []split{{"quay paper", 3, 6, 4, 2}}, brief(r.ByPaper))
	assert.Equal(t, []split{{"shade", 2, 4, 2, 2}, {"sun", 1, 2, 2, 0}}, brief(r.ByLight))
	assert.Equal(t, []split{{"10", 1, 2, 2, 0}, {"12", 2, 4, 2, 2}}, brief(r.ByHour))
	assert.Equal(t, 11.0, *r.ByLight[1].Minutes)
	assert.Nil(t, r.ByLight[0].Minutes)
	assert.Equal(t, 0.5, *r.ByLight[0].KeptShare)
}

// The first print in hand is the one that left the water first, whichever was exposed first.
func TestTheFirstPrintInHandIsTheFirstOutOfTheWater(t *testing.T) {
	for name, fixed := range map[string][2]string{"the first is fixed first": {"07", "20"}, "the second is fixed first": {"20", "07"}} {
		t.Run(name, func(t *testing.T) {
			b := booktest.FromActs(t, booktest.Harbour, `
light.metered 2026-05-02T10:00:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.reprinted 2026-05-02T10:02:00 "picture":"2026-001","sheet":"2026-001p1","box":"box-1","f":11,"time_s":20,"session":"mole"
sheet.reprinted 2026-05-02T10:04:00 "picture":"2026-001","sheet":"2026-001p2","box":"box-1","f":11,"time_s":20,"session":"mole"
sheet.fixed 2026-05-02T10:`+fixed[0]+`:00 "sheet":"2026-001p1","bath":"fix-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:`+fixed[1]+`:00 "sheet":"2026-001p2","bath":"fix-1","time_s":60,"session":"mole"
sheet.judged 2026-05-02T10:40:00 "sheet":"2026-001p1","verdict":"keep"
sheet.judged 2026-05-02T10:41:00 "sheet":"2026-001p2","verdict":"keep"`)
			r := yearOf(t, b, 2026, time.Time{})
			require.NotNil(t, r.Minutes)
			assert.Equal(t, report.Minutes{Median: 8, Quickest: 8, Slowest: 8, Prints: 1}, *r.Minutes, "10:00 to the end of the fixer at 10:08")
		})
	}
}

func TestYearTellsBathsAndWhatMayNotLast(t *testing.T) {
	r := yearOf(t, smallYear().Book(t), 2026, time.Time{})
	require.Len(t, r.Baths, 2)
	assert.Equal(t, "dev-1", r.Baths[0].Bath)
	assert.InDelta(t, 4*0.0108/1.08, *r.Baths[0].Used, 1e-9, "four sheets of 9 × 12 cm")
	assert.InDelta(t, 4*0.0108/0.54, *r.Baths[1].Used, 1e-9)
	require.Len(t, r.SpentFixer, 1)
	assert.Equal(t, "waste depot", *r.SpentFixer[0].To)
	assert.Equal(t, 1000.0, r.SpentFixer[0].VolumeML)
	require.Len(t, r.BathRoles, 2)
	assert.Equal(t, "developer", r.BathRoles[0].Role)

	require.Len(t, r.MayNotLast, 1, "the negative without a wash was tested clear")
	assert.Equal(t, "2026-002p2", r.MayNotLast[0].Sheet)
	require.Len(t, r.MayNotLast[0].Why, 2)
	assert.Contains(t, r.MayNotLast[0].Why[0], "fixed 0.48 × its called-for time")
	assert.Contains(t, r.MayNotLast[0].Why[1], "washed 0.25 × the called-for wash")

	require.Len(t, r.Undelivered, 1)
	assert.Equal(t, report.Undelivered{Picture: "2026-002", Sheets: []string{"2026-002p2"}, Sitter: r.Undelivered[0].Sitter}, r.Undelivered[0])
	assert.Equal(t, []report.ConsentMissing{{Picture: "2026-002", Sitter: "sitter-1", Missing: []string{"show", "publish"}}}, r.ConsentMissing,
		"the consent to show ended with June")
}

func TestYearStandsBesideTheYearBefore(t *testing.T) {
	b := smallYear().Book(t)
	r := yearOf(t, b, 2026, time.Time{})
	require.NotNil(t, r.Before)
	assert.Equal(t, 2025, r.Before.Year)
	assert.Equal(t, 2.0, *r.Before.SheetsPerDelivered)
	require.NotEmpty(t, r.Changes)
	assert.Equal(t, "pictures", r.Changes[0].What)
	assert.Equal(t, [2]float64{1, 3}, [2]float64{*r.Changes[0].Was, *r.Changes[0].Is})
	for _, c := range []struct{ what, text string }{{"pictures", "0.126"}, {"share of first prints kept", "13 %"}, {"cost per kept print NOK", "0.13"}} {
		was, is := report.YearChange{What: c.what, Is: new(0.126)}.Texts()
		assert.Equal(t, "–", was)
		assert.Equal(t, c.text, is)
	}

	first := yearOf(t, b, 2025, time.Time{})
	assert.Nil(t, first.Before, "nothing was written in 2024")
	assert.Equal(t, 1, first.Pictures)
	assert.Equal(t, *r.Before, first.YearFigures, "the figures of a year do not depend on which year is asked for")
	empty := yearOf(t, b, 1999, time.Time{})
	assert.Equal(t, 0, empty.Pictures)
	assert.Nil(t, empty.Minutes)
}

func TestYearAsOfAnEarlierDay(t *testing.T) {
	noon := time.Date(2026, 5, 2, 11, 0, 0, 0, time.FixedZone("", 2*3600))
	r := yearOf(t, smallYear().Book(t), 2026, noon)
	assert.Equal(t, 1, r.Pictures)
	assert.Equal(t, 2, r.Sheets)
	assert.Equal(t, 0, r.FailedSheets)
	assert.Empty(t, r.Baths)
	assert.Empty(t, r.Causes)
}

// asked counts what a snapshot asks of a book.
type asked struct {
	*sqlite.Tx
	views, entries int
}

func (a *asked) Views(q events.ViewQuery) ([]events.View, error) {
	v, err := a.Tx.Views(q)
	a.views += len(v)
	return v, err
}

func (a *asked) Entries(q events.Query) ([]events.Entry, error) {
	e, err := a.Tx.Entries(q)
	a.entries += len(e)
	return e, err
}

// A year in a long book reads as much as the same year in a book of its own, and of its boxes all that they gave.
func TestYearReadsNoMoreInALongBook(t *testing.T) {
	life := func(from, to int) *booktest.Story {
		s := booktest.NewStory()
		for year := from; year <= to; year++ {
			s.At = time.Date(year, 6, 1, 9, 0, 0, 0, time.UTC)
			s.Tell("paper.received", `"box":"lot-%d","name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":50,"index":3`, year)
			s.Tell("bath.mixed", `"bath":"tank-%d","role":"developer","name":"print developer","volume_ml":1000,"time_s":60`, year)
			for n := 1; n <= 10; n++ {
				name := fmt.Sprintf("%d-%03d", year, n)
				s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"picture":%q`, name)
				s.Tell("sheet.exposed", `"picture":%q,"box":"lot-%d","f":8,"time_s":4`, name, year)
				s.Tell("sheet.developed", `"sheet":"%sn","bath":"tank-%d","time_s":60`, name, year)
				s.Tell("sheet.judged", `"sheet":"%sn","verdict":"keep"`, name)
			}
			s.Tell("bath.discarded", `"bath":"tank-%d"`, year)
		}
		return s
	}
	read := func(s *booktest.Story) (a asked) {
		require.NoError(t, s.Book(t).Read(func(tx *sqlite.Tx) error {
			a.Tx = tx
			_, err := report.Year(snapshot.New(&a, time.Time{}), 2026, nil)
			return err
		}))
		return a
	}
	short, long := read(life(2025, 2026)), read(life(1997, 2026))
	assert.Equal(t, short.views, long.views)
	assert.Equal(t, short.entries, long.entries)
	assert.Positive(t, long.entries)
}

// What two goroutines see of a year's pictures, in whatever parts, is counted as one would.
func TestAYearByTwoIsTheYear(t *testing.T) {
	booked := booktest.Season(t)
	require.NoError(t, booked.ReadTwice(func(one, other *sqlite.Tx) error {
		snap := snapshot.New(one, time.Time{})
		want, err := report.Year(snap, 2026, report.Causes(snap))
		require.NoError(t, err)
		require.Greater(t, want.FailedSheets, 3)
		got, err := report.YearByTwo(snapshot.New(one, time.Time{}), snapshot.New(other, time.Time{}), 2026)
		require.NoError(t, err)
		require.Equal(t, want, got)
		return nil
	}))
}
