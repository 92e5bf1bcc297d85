package acts_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Where a time cannot be called for, or only in part, the step says so and what to write down.
func TestStepsSayWhatTheyLack(t *testing.T) {
	const scene = `
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole"`
	const copied = `
light.metered 2026-05-02T10:30:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","picture":"2026-001"
sheet.reprinted 2026-05-02T10:31:00 "picture":"2026-001","box":"box-1","time_s":20,"session":"mole"`
	const developed = `
sheet.developed 2026-05-02T10:05:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"`
	for _, c := range []struct {
		name, text string // the book after its beginning
		from, to   string // what is changed in the whole
		sheet      string
		developing bool    // the step is the development, not the exposure
		calledFor  float64 // seconds, 0 for none
		warns      string
	}{
		{name: "all is written", text: scene, sheet: "2026-001n", calledFor: 4},
		{name: "a box without an index", text: scene, from: `"sheets":100,"index":3`, to: `"sheets":100`, sheet: "2026-001n", warns: "the box has no index and no ISO P, so no time can be called for: rate it with `traybook paper rate`"},
		// P ÷ 100: what calc guesses the index of an untried box to be.
		{name: "the maker's ISO P in its place", text: scene, from: `"sheets":100,"index":3`, to: `"sheets":100,"iso_p":300`, sheet: "2026-001n", calledFor: 4},
		{name: "no aperture of the copy", text: scene + developed + copied, from: `,"copy_f":11`, to: ``, sheet: "2026-001p1", warns: "no aperture is written for the copy, and the camera has none (copy_f): no time can be called for"},
		{name: "the camera's aperture of the copy", text: scene + developed + copied, sheet: "2026-001p1", calledFor: 20},
		{name: "a developer without a time", text: scene + developed, from: `"time_s":60,"capacity_m2":1,"life_h":8`, to: `"capacity_m2":1`, sheet: "2026-001n", developing: true},
		{name: "a developer too cold", text: scene + developed, from: `"bath":"dev-1","time_s":60,"session"`, to: `"bath":"dev-1","time_s":60,"temp_c":9,"session"`, sheet: "2026-001n", developing: true,
			warns: "no time is called for below 10 °C, where a developer is too cold to work; warm the bath"},
		{name: "a developer that this very sheet will spend", text: scene + developed, from: `"capacity_m2":1,"life_h":8`, to: `"capacity_m2":0.0125`, sheet: "2026-001n", developing: true, calledFor: 60},
		{name: "a developer past its life", text: scene + developed, from: `"life_h":8`, to: `"life_h":1`, sheet: "2026-001n", developing: true, calledFor: 60, warns: "dev-1 is past its life; mix fresh"},
		{name: "a developer poured away before", text: scene + developed + `
bath.discarded 2026-05-02T10:04:00 "bath":"dev-1"`, sheet: "2026-001n", developing: true, calledFor: 60, warns: "dev-1 was discarded before this"},
		{name: "the paper's own time in the developer", text: scene + developed, from: `"sheets":100,"index":3`, to: `"sheets":100,"index":3,"develop_s":90`, sheet: "2026-001n", developing: true, calledFor: 90},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := booktest.Harbour + c.text
			require.Contains(t, text, c.from)
			b := booktest.FromActs(t, strings.ReplaceAll(text, c.from, c.to))
			booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
				p, s, err := snap.SheetByName(c.sheet)
				require.NoError(t, err)
				e := *s.Exposure()
				if c.developing {
					e = s.Developed[0]
				}
				step, err := calledfor.StepOf(snap, p, e)
				require.NoError(t, err)
				if c.calledFor == 0 {
					assert.Nil(t, step.CalledForS)
				} else if assert.NotNil(t, step.CalledForS) {
					assert.InDelta(t, c.calledFor, *step.CalledForS, 0.02*c.calledFor)
				}
				if c.warns == "" {
					assert.Empty(t, step.Warnings)
				} else {
					assert.Contains(t, wording.Texts(step.Warnings), c.warns)
				}
			})
		})
	}
}

// What is done in an odd order is written all the same, and the answer says what surprises.
func TestWhatSurprisesIsSaid(t *testing.T) {
	const exposed = booktest.Harbour + `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole"`
	const developed = exposed + `
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"`
	const closed = exposed + `
session.closed 2026-05-02T12:00:00 "session":"mole"`
	for _, c := range []struct {
		name, book string
		data       events.Data
		says       string // "" for nothing
	}{
		{"developed", exposed, &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60}, ""},
		{"developed twice", developed, &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60}, "2026-001n was developed already at "},
		{"exposed twice", exposed, &events.SheetExposedData{Picture: "2026-001", Sheet: "2026-001n", Box: "box-1", F: 8, TimeS: 4}, "2026-001n was exposed already at "},
		{"fixed", developed, &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60}, ""},
		{"fixed before it is developed", exposed, &events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60}, "2026-001n goes into the fixer without having been developed"},
		{"washed before it is fixed", developed, &events.SheetWashedData{Sheet: "2026-001n"}, "2026-001n is washed without having been fixed"},
		{"kept", developed, &events.SheetJudgedData{Sheet: "2026-001n", Verdict: "keep"}, ""},
		{"kept before it is developed", exposed, &events.SheetJudgedData{Sheet: "2026-001n", Verdict: "keep"}, "2026-001n is kept without having been developed"},
		{"thrown away undeveloped", exposed, &events.SheetJudgedData{Sheet: "2026-001n", Verdict: "reject"}, ""},
		{"closed twice", closed, &events.SessionClosedData{Session: "mole"}, "mole was closed already at "},
		{"into a bath that was poured away", exposed + `
bath.discarded 2026-05-02T10:00:30 "bath":"dev-1"`, &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60}, "dev-1 was discarded "},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, c.book)
			e := booktest.ByHand(t, 1, c.data)
			e.At = booktest.Oslo(t, "2026-05-02T13:00:00")
			e.RecordedAt = e.At
			a, err := writtenTo(t, b, e)
			require.NoError(t, err)
			said := strings.Join(wording.Texts(a.Warnings), "\n")
			if c.says == "" {
				for _, odd := range []string{"without having been", "already at", "was discarded"} {
					assert.NotContains(t, said, odd)
				}
				return
			}
			assert.Contains(t, said, c.says)
		})
	}
}
