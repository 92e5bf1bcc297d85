package report_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

func today(t testing.TB, snap *snapshot.Snapshot) report.TodayReport {
	t.Helper()
	r, err := beside(t, snap, func(snap *snapshot.Snapshot) (report.TodayReport, error) { return report.Today(snap, false) })
	require.NoError(t, err)
	return r
}

func wants(r report.TodayReport) (out []string) {
	for _, w := range r.Wants {
		out = append(out, w.About+" "+w.What)
	}
	return out
}

const busy = booktest.Harbour + `
session.opened 2026-05-01T20:00:00 "session":"nameless","camera":"quay-box"
session.closed 2026-05-01T22:00:00 "session":"nameless"
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":11,"time_s":4,"subject":"ferry mate","session":"mole"
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:03:00 "sheet":"2026-001n","bath":"fix-1","time_s":60,"session":"mole"
sheet.exposed 2026-05-02T10:10:00 "picture":"2026-002","box":"box-1","f":11,"time_s":4,"session":"mole"
sheet.developed 2026-05-02T10:11:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"mole"
sheet.judged 2026-05-02T10:20:00 "sheet":"2026-002n","verdict":"redo"
sheet.exposed 2026-05-02T10:30:00 "picture":"2026-003","box":"box-1","f":11,"time_s":4,"subject":"net mender","session":"mole"
sheet.exposed 2026-05-02T10:40:00 "picture":"2026-004","box":"box-1","f":11,"time_s":4,"session":"mole"
moment.marked 2026-05-02T10:45:00 "session":"mole"
moment.marked 2026-05-02T10:46:00 "session":"mole"
strip.exposed 2026-05-02T10:46:00 "strip":"s1","box":"box-1","on":"scene","times_s":[2,4,8],"session":"mole"`

// Where all pictures numbered last are dated ahead, what was worked on within a fortnight is looked through, and no less is told.
func TestTodayFindsWhatWaitsBehindPicturesDatedAhead(t *testing.T) {
	var ahead strings.Builder
	for n := range 45 {
		fmt.Fprintf(&ahead, `
sheet.exposed 2026-09-02T10:%02d:00 "picture":"2026-%03d","box":"box-1","f":11,"time_s":4,"session":"mole"`, n, 101+n)
	}
	told := func(b *sqlite.Book) (r report.TodayReport) {
		booktest.LookAt(t, b, "2026-05-06T13:00:00", func(snap *snapshot.Snapshot) { r = today(t, snap) }) // days after
		return r
	}
	plain, behind := told(booktest.FromActs(t, busy)), told(booktest.FromActs(t, busy+ahead.String()))
	require.Len(t, plain.Unfinished, 2)
	assert.Equal(t, plain.Unfinished, behind.Unfinished)
	assert.Equal(t, plain.Waiting, behind.Waiting)
}

func TestTodayIsThePageOneOpensAfterLunch(t *testing.T) {
	b := booktest.FromActs(t, busy)
	booktest.LookAt(t, b, "2026-05-02T13:00:00", func(snap *snapshot.Snapshot) {
		r := today(t, snap)
		require.Len(t, r.Sessions, 1)
		assert.Equal(t, "mole", r.Sessions[0].Session)
		require.Len(t, r.Waiting, 2)
		assert.Equal(t, "2026-003n", r.Waiting[0].Sheet, "the oldest first")
		assert.Equal(t, 2.5*3600, r.Waiting[0].WaitsS)
		require.Len(t, r.Unfinished, 2)
		assert.Equal(t, "2026-001n", r.Unfinished[0].Sheet)
		assert.Equal(t, "wash", r.Unfinished[0].Needs)
		assert.Equal(t, "fix", r.Unfinished[1].Needs)
		require.Len(t, r.Baths, 2)
		assert.InDelta(t, 8-3.9833, *r.Baths[0].PastLifeInH, 0.001)
		assert.Equal(t, 78.0, *r.Baths[0].SheetsLeft)
		require.Len(t, r.Paper, 1)
		assert.Equal(t, 95.0, r.Paper[0].SheetsLeft)
		require.NotNil(t, r.Light)
		assert.Equal(t, 11.0, r.Light.F, "the aperture used last")
		assert.Equal(t, 3.0, *r.Light.Index)
		assert.InDelta(t, 45, r.Light.Now.AltitudeDeg, 3, "a May noon near 60° N")
		require.NotNil(t, r.Light.Now.TimeS)
		assert.Greater(t, *r.Light.InAnHour.TimeS, 0.0)
		assert.Equal(t, "2026-05-02T14:00:00+02:00", r.Light.InAnHour.At)
		require.NotNil(t, r.Strip)
		assert.Equal(t, "scene", r.Strip.On)
		assert.ElementsMatch(t, []string{
			"2026-001n not judged",
			"2026-002n to be done again, and nothing says why",
			"2026-002 without subject or sitter",
			"2026-004 without subject or sitter",
			r.Wants[4].About + " marked at 10:45 and not filled in",
			"nameless without a place",
			"s1 exposed and not read",
		}, wants(r))
	})
}

func TestTodayAsOfAnEarlierMoment(t *testing.T) {
	b := booktest.FromActs(t, busy)
	booktest.LookAt(t, b, "2026-05-02T10:35:00", func(snap *snapshot.Snapshot) {
		r := today(t, snap)
		require.Len(t, r.Waiting, 1)
		assert.Equal(t, "2026-003n", r.Waiting[0].Sheet)
		assert.NotContains(t, wants(r), "s1 exposed and not read")
	})
	booktest.LookAt(t, b, "2026-05-02T10:00:30", func(snap *snapshot.Snapshot) {
		r := today(t, snap)
		require.Len(t, r.Waiting, 1, "it waited then, and does no longer")
		assert.Equal(t, "2026-001n", r.Waiting[0].Sheet)
		assert.Empty(t, r.Unfinished)
	})
	booktest.LookAt(t, b, "2026-05-02T10:02:00", func(snap *snapshot.Snapshot) {
		r := today(t, snap)
		assert.Empty(t, r.Waiting)
		require.Len(t, r.Unfinished, 1)
		assert.Equal(t, "fix", r.Unfinished[0].Needs)
	})
	booktest.LookAt(t, b, "2026-05-01T21:00:00", func(snap *snapshot.Snapshot) {
		r := today(t, snap)
		require.Len(t, r.Sessions, 1)
		assert.Equal(t, "nameless", r.Sessions[0].Session, "a session that was open then")
		assert.Nil(t, r.Light, "its place is not known")
	})
}

func TestTheNextStripGoesFromNegativeToPrint(t *testing.T) {
	b := booktest.FromActs(t, busy)
	strip := func() (out *report.StripAdvice) {
		booktest.LookAt(t, b, "2026-05-20T13:00:00", func(snap *snapshot.Snapshot) { out = today(t, snap).Strip })
		return out
	}
	assert.Equal(t, "scene", strip().On)
	booktest.AddActs(t, b, `paper.rated 2026-05-03T10:00:00 "box":"box-1","index":4,"generation":"negative"`)
	assert.Equal(t, "negative", strip().On)
	booktest.AddActs(t, b, `paper.rated 2026-05-03T11:00:00 "box":"box-1","index":5,"generation":"positive"`)
	assert.Nil(t, strip())
}

func TestTodayInAnEmptyBookAndAtNight(t *testing.T) {
	b := booktest.FromActs(t, `book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"`)
	booktest.LookAt(t, b, "2026-05-02T13:00:00", func(snap *snapshot.Snapshot) {
		r := today(t, snap)
		j := asJSON(t, r)
		for _, key := range []string{"sessions", "waiting", "unfinished", "baths", "paper", "wants_words"} {
			assert.Equal(t, []any{}, j[key], key)
		}
		assert.Nil(t, j["light"])
	})
	b = booktest.FromActs(t, booktest.Harbour)
	booktest.LookAt(t, b, "2026-05-03T00:30:00", func(snap *snapshot.Snapshot) {
		r := today(t, snap)
		require.NotNil(t, r.Light)
		assert.Less(t, r.Light.Now.AltitudeDeg, 0.0)
		assert.Equal(t, 8.0, r.Light.F, "none was used yet")
		assert.Equal(t, "box-1", *r.Light.Box)
	})
}

// A kept negative waits for its print until there is one that is not to be done again; a direct positive never waits. What
// bears neither subject nor sitter wants words, but for what was thrown away.
func TestTodayTellsWhatIsToBePrintedAndNamed(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
paper.received 2026-05-02T08:00:00 "box":"box-9","name":"Direct","base":"rc","works":"direct-positive","width_mm":90,"height_mm":120,"sheets":10
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":11,"time_s":4,"subject":"ferry mate","session":"mole"
sheet.judged 2026-05-02T10:05:00 "sheet":"2026-001n","verdict":"keep"
sheet.exposed 2026-05-02T10:10:00 "picture":"2026-002","box":"box-1","f":11,"time_s":4,"subject":"net mender","session":"mole"
sheet.judged 2026-05-02T10:15:00 "sheet":"2026-002n","verdict":"keep"
sheet.reprinted 2026-05-02T10:16:00 "picture":"2026-002","sheet":"2026-002p1","box":"box-1","f":11,"time_s":8,"session":"mole"
sheet.exposed 2026-05-02T10:20:00 "picture":"2026-003","box":"box-1","f":11,"time_s":4,"session":"mole"
sheet.judged 2026-05-02T10:25:00 "sheet":"2026-003n","verdict":"reject"
sheet.exposed 2026-05-02T10:30:00 "picture":"2026-004","box":"box-9","f":11,"time_s":4,"session":"mole"
sheet.judged 2026-05-02T10:35:00 "sheet":"2026-004n","verdict":"keep"`)
	subject := "ferry mate"
	first := report.ToPrint{Sheet: "2026-001n", Subject: &subject}
	look := func(want ...report.ToPrint) {
		booktest.LookAt(t, b, "2026-05-02T13:00:00", func(snap *snapshot.Snapshot) {
			r := today(t, snap)
			assert.Equal(t, want, r.ToPrint)
			var unnamed []string
			for _, w := range r.Wants {
				if w.What == "without subject or sitter" {
					unnamed = append(unnamed, w.About+": "+w.Do)
				}
			}
			assert.Equal(t, []string{"2026-004: traybook captions"}, unnamed)
		})
	}
	look(first)
	booktest.AddActs(t, b, `sheet.judged 2026-05-02T10:40:00 "sheet":"2026-002p1","verdict":"redo"`)
	mender := "net mender"
	look(first, report.ToPrint{Sheet: "2026-002n", Subject: &mender})
}
