package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func dayOf(t *testing.T, text, at string, ask report.DayAsk) (p report.DayPlan, err error) {
	t.Helper()
	booktest.LookAt(t, booktest.FromActs(t, text), at, func(snap *snapshot.Snapshot) { p, err = report.Day(snap, ask) })
	return p, err
}

// A day in a book of one box: 4 sitters and 2 prints each are 12 sheets, 16 with a quarter that fails, 0.2 m² of 100 × 125 mm.
func TestADayIsPlannedFromTheBook(t *testing.T) {
	text := booktest.Harbour + `
bath.mixed 2026-05-02T09:03:00 "bath":"stop-1","role":"stop","name":"acid stop","volume_ml":500,"time_s":15,"capacity_m2":0.1,"life_h":3,"dilution":"1+1+8"`
	p, err := dayOf(t, text, "2026-05-03T08:00:00", report.DayAsk{Sitters: 4, Prints: 2, Hours: 6})
	require.NoError(t, err)
	assert.Equal(t, []int{12, 4, 8, 16, 4, 0}, []int{p.Negatives + p.Prints, p.Negatives, p.Prints, p.Sheets, p.Spare, p.Judged})
	assert.Equal(t, "box-1", *p.Box)
	assert.InDeltaSlice(t, []float64{0.25, 0.2, 100, 0}, []float64{p.FailShare, p.AreaM2, p.InStock, p.Short}, 1e-9)
	require.Len(t, p.Baths, 3)
	dev, stop, fix := p.Baths[0], p.Baths[1], p.Baths[2]
	assert.Equal(t, []any{"developer", 1, 16, "", 6.0}, []any{dev.Role, dev.Mixings, dev.Sheets, dev.Why, dev.AgeH})
	assert.InDelta(t, 0.2, *dev.UsedByEvening, 1e-9)
	assert.InDelta(t, 66, *dev.EveningS, 1e-9, "60 s · (1 + 0.5 · 0.2)")
	assert.Nil(t, dev.ConcentrateML, "no dilution is written")
	assert.Equal(t, []any{"stop", 2, 8, "its capacity", 3.0}, []any{stop.Role, stop.Mixings, stop.Sheets, stop.Why, stop.AgeH})
	assert.Nil(t, stop.EveningS, "a stop calls for no more")
	assert.InDeltaSlice(t, []float64{100, 400}, []float64{*stop.ConcentrateML, *stop.WaterML}, 1e-9)
	assert.Equal(t, []any{"fixer", 1}, []any{fix.Role, fix.Mixings})
	// 2 l for hands and 0.1 l a sheet; the baths mixed with 1, 2 · 0.4 and 1 l of it; a wash of three times six sheets in four changes.
	assert.InDeltaSlice(t, []float64{3600, 6400, 3000, 12000}, []float64{p.RinseML, p.WaterML, p.SpentML, p.WashML}, 1e-9)
	assert.Equal(t, []string{"16 sheets of paper (box-1)", "developer: print developer", "stop: acid stop, 200 ml of concentrate", "fixer: plain fixer",
		"6.5 l of water, 2 l of it for hands and an eye", "a labelled can of 3 l for what is exhausted"}, p.Pack[:6])
}

// What keeps shorter than the day is mixed again, and a box that holds too little is said to.
func TestADayLongerThanItsBathsAndPaper(t *testing.T) {
	text := strings.ReplaceAll(booktest.Harbour, `"sheets":100`, `"sheets":10`)
	p, err := dayOf(t, text, "2026-05-03T08:00:00", report.DayAsk{Sitters: 4, Prints: 2, Hours: 16.5})
	require.NoError(t, err)
	require.Len(t, p.Baths, 2, "a stop that was never mixed is not used here")
	assert.Equal(t, []any{3, "its life in the tray", 6, 5.5, 8.0}, []any{p.Baths[0].Mixings, p.Baths[0].Why, p.Baths[0].Sheets, p.Baths[0].AgeH, *p.Baths[0].LifeH})
	assert.Equal(t, []float64{10, 6}, []float64{p.InStock, p.Short})
	p, err = dayOf(t, text, "2026-05-03T08:00:00", report.DayAsk{Sitters: 4, Prints: 2, Hours: 16})
	require.NoError(t, err)
	assert.Equal(t, 2, p.Baths[0].Mixings, "sixteen hours are twice eight")
}

// From eight judged sheets on the book's own share of failures counts, each sheet by its last verdict, of ninety days.
func TestADayCountsWhatFailedLately(t *testing.T) {
	var text strings.Builder
	text.WriteString(booktest.Harbour)
	for n := 1; n <= 8; n++ {
		text.WriteString(booktest.Picture(n, n, "ferry mate"))
		verdict := "keep"
		if n <= 2 {
			verdict = "redo"
		}
		text.WriteString("\nsheet.judged 2026-05-02T11:0" + string(rune('0'+n)) + `:00 "sheet":"2026-00` + string(rune('0'+n)) + `n","verdict":"` + verdict + `"`)
	}
	text.WriteString("\n" + `sheet.judged 2026-05-02T12:00:00 "sheet":"2026-002n","verdict":"keep"`)
	for at, want := range map[string][]any{"2026-05-03T08:00:00": {8, 0.125}, "2026-05-02T11:07:30": {0, 0.25}, "2026-08-30T08:00:00": {0, 0.25}} {
		p, err := dayOf(t, text.String(), at, report.DayAsk{Sitters: 1, Prints: 1, Hours: 1})
		require.NoError(t, err)
		assert.Equal(t, want, []any{p.Judged, p.FailShare}, at)
	}
}

func TestADayInAnEmptyBookAndOnesThatCannotBe(t *testing.T) {
	const empty = `book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"`
	p, err := dayOf(t, empty, "2026-05-03T08:00:00", report.DayAsk{Sitters: 3, Prints: 1, Hours: 1})
	require.NoError(t, err)
	assert.Nil(t, p.Box)
	assert.Equal(t, 8.0, p.Short)
	assert.InDelta(t, 8*0.0108, p.AreaM2, 1e-9, "sheets of 90 × 120 mm")
	assert.Len(t, p.Baths, 2)
	for _, c := range []struct {
		ask  report.DayAsk
		code string
	}{
		{report.DayAsk{Sitters: 0, Hours: 1}, "plan-nobody"}, {report.DayAsk{Sitters: 201, Hours: 1}, "plan-nobody"}, {report.DayAsk{Sitters: 200, Hours: 1}, ""}, {report.DayAsk{Sitters: 1, Hours: 1}, ""},
		{report.DayAsk{Sitters: 1, Hours: 0.49}, "plan-hours"}, {report.DayAsk{Sitters: 1, Hours: 24.1}, "plan-hours"}, {report.DayAsk{Sitters: 1, Hours: 0.5}, ""}, {report.DayAsk{Sitters: 1, Hours: 24}, ""},
		{report.DayAsk{Sitters: 1, Hours: 1, Prints: -1}, "plan-prints"}, {report.DayAsk{Sitters: 1, Hours: 1, Prints: 21}, "plan-prints"}, {report.DayAsk{Sitters: 1, Hours: 1, Prints: 20}, ""},
	} {
		_, err := dayOf(t, empty, "2026-05-03T08:00:00", c.ask)
		if c.code == "" {
			assert.NoError(t, err, "%+v", c.ask)
			continue
		}
		no := wording.RefusalIn(err)
		require.NotNil(t, no, "%+v", c.ask)
		assert.Equal(t, c.code, no.Of.Code, "%+v", c.ask)
	}
	_, err = dayOf(t, empty, "2026-05-03T08:00:00", report.DayAsk{Sitters: 1, Hours: 1, Box: "box-9"})
	assert.ErrorContains(t, err, `there is no box "box-9"`)
}
