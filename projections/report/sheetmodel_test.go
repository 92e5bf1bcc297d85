package report_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// What the log says of a sheet goes into its model: each act alone, and what it changes there.
func TestTonesOf(t *testing.T) {
	const (
		before = booktest.Harbour + `
light.metered 2026-05-02T09:30:00 "on":"scene","mode":"reflected","f":8,"time_s":4,"index":3,"session":"mole"`
		strip = `
strip.exposed 2026-05-02T09:35:00 "strip":"strip-1","box":"box-1","on":"pre-flash","times_s":[1,2,4,8],"part":0.5,"session":"mole"
strip.read 2026-05-02T09:40:00 "strip":"strip-1","threshold":3,"session":"mole"`
		rating = `
paper.rated 2026-05-02T09:45:00 "box":"box-1","threshold_s":4`
		exposed = `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"session":"mole","camera":"quay-box","time_s":`
		again = `
sheet.exposed 2026-05-02T10:02:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"session":"mole","camera":"quay-box","time_s":`
		developed = `
sheet.developed 2026-05-02T10:05:00 "sheet":"2026-001n","bath":"dev-1","session":"mole","time_s":`
		more = `
sheet.developed 2026-05-02T10:07:00 "sheet":"2026-001n","bath":"dev-1","session":"mole","time_s":`
		brighter = `
light.metered 2026-05-02T10:01:00 "on":"scene","mode":"reflected","f":8,"time_s":2,"index":3,"session":"mole"`
	)
	for name, c := range map[string]struct {
		log string
		put func(m *calc.SheetModel) // nil: as called for
	}{
		"as called for":                  {exposed + "4" + developed + "60", nil},
		"not yet developed":              {exposed + "4", nil},
		"a stop too much":                {exposed + "8" + developed + "60", func(m *calc.SheetModel) { m.ExposureStops = 1 }},
		"exposed twice":                  {exposed + "4" + again + "12" + developed + "60", func(m *calc.SheetModel) { m.ExposureStops = 2 }},
		"a second reading":               {exposed + "4" + brighter + developed + "60", func(m *calc.SheetModel) { m.ExposureStops = 1 }},
		"pre-flash as a share":           {exposed + `4,"pre_flash":0.4` + developed + "60", func(m *calc.SheetModel) { m.PreFlashShare = 0.4 }},
		"pre-flash, threshold by strip":  {strip + exposed + `4,"pre_flash_s":2` + developed + "60", func(m *calc.SheetModel) { m.PreFlashShare = 2 / math.Sqrt(2*4) }},
		"pre-flash, threshold by rating": {strip + rating + exposed + `4,"pre_flash_s":2` + developed + "60", func(m *calc.SheetModel) { m.PreFlashShare = 0.5 }},
		"pre-flash, no threshold known":  {exposed + `4,"pre_flash_s":2` + developed + "60", nil},
		"stray light written":            {exposed + `4,"flare":0.03` + developed + "60", func(m *calc.SheetModel) { m.Flare = 0.03 }},
		"half the development":           {exposed + "4" + developed + "30", func(m *calc.SheetModel) { m.DevRatio = 0.5 }},
		"two developments add":           {exposed + "4" + developed + "30" + more + "45", func(m *calc.SheetModel) { m.DevRatio = 1.25 }},
		"so cold that nothing works":     {exposed + "4" + developed + `300,"temp_c":10`, func(m *calc.SheetModel) { m.DevRatio = 0.5 }},
		"a bath past its life":           {exposed + "4" + strings.ReplaceAll(developed, "05-02T10", "05-03T10") + "60", func(m *calc.SheetModel) { m.DevRatio = 0.5 }},
		"a paper past its date": {strings.ReplaceAll(exposed, `"box-1"`, `"old"`) + "4" + developed + "60" + `
paper.received 2026-05-02T09:20:00 "box":"old","name":"old paper","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3,"expires":"2016-04"`,
			func(m *calc.SheetModel) {
				stops, fog, err := calc.AgedPaper(120)
				require.NoError(t, err)
				m.ExposureStops, m.FogDensity = stops, fog
			}},
	} {
		t.Run(name, func(t *testing.T) {
			booktest.LookAt(t, booktest.FromActs(t, before+c.log), "", func(snap *snapshot.Snapshot) {
				p, err := snap.Picture("2026-001")
				require.NoError(t, err)
				tones, err := calledfor.TonesOf(snap, p)
				require.NoError(t, err)
				require.Contains(t, tones, "2026-001n")
				made := tones["2026-001n"].Made.Neg
				want := calc.NewSheet(made.Curve, calc.CameraFlare)
				if c.put != nil {
					c.put(&want)
				}
				const near = 0.02 // the bath has seen the strip, and months differ
				assert.InDelta(t, want.ExposureStops, made.ExposureStops, near)
				assert.InDelta(t, want.PreFlashShare, made.PreFlashShare, 1e-9)
				assert.InDelta(t, want.FogDensity, made.FogDensity, near)
				assert.InDelta(t, want.Flare, made.Flare, 1e-9)
				assert.InDelta(t, want.DevRatio, made.DevRatio, near)
				assert.Equal(t, made.AsCalledFor(), tones["2026-001n"].CalledFor.Neg)
			})
		})
	}
}

// Where the log says too little, nothing is predicted.
func TestTonesOfWhatNobodyCalculateed(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
light.metered 2026-05-02T10:30:00 "on":"scene","mode":"reflected","f":8,"time_s":4,"index":3,"session":"mole"
bath.mixed 2026-05-02T10:35:00 "bath":"dev-2","role":"developer","name":"unknown","volume_ml":500
sheet.exposed 2026-05-02T11:00:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T11:05:00 "sheet":"2026-002n","bath":"dev-2","time_s":60`)
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		for picture, why := range map[string]string{"2026-001": "no reading serves it", "2026-002": "its developer has no time"} {
			p, err := snap.Picture(picture)
			require.NoError(t, err)
			tones, err := calledfor.TonesOf(snap, p)
			require.NoError(t, err)
			assert.Empty(t, tones, why)
		}
	})
}
