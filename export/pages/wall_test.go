package pages

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/events/eventstest"
	"traybook/export/page"
)

var wallDay = time.Date(2026, 5, 3, 9, 0, 0, 0, time.UTC)

func wholeWall() Wall {
	return Wall{
		Created:  wallDay,
		Baths:    []WallBath{{Name: "dev-1", BathCall: calc.BathCall{NominalS: 60, NominalC: 20, Q10: 2, Used: 0.4}}, {Name: "fix-1", BathCall: calc.BathCall{Fixer: true, NominalS: 120, NominalC: 20, Q10: 2}}},
		Rail:     &WallRail{FocalMM: 135, F: 8, COCMM: 0.2, Pupil: 1},
		Papers:   []WallPaper{{Name: "box-1", Index: 3}},
		Filters:  []WallFilter{{Name: "yellow", Factor: 4}},
		Cautions: []string{"Acid into water, never water into acid."},
	}
}

func TestWallStands(t *testing.T) {
	first, err := wholeWall().PDF()
	require.NoError(t, err)
	second, err := wholeWall().PDF()
	require.NoError(t, err)
	assert.True(t, bytes.Equal(first, second), "the same sheets are the same bytes")
	assert.Equal(t, 3, bytes.Count(first, []byte("/Type /Page\n")), "what has room follows on the same sheet")
	_, err = Wall{Created: wallDay}.PDF()
	assert.ErrorContains(t, err, "nothing to put on the wall")
	_, err = Wall{Created: wallDay, Baths: []WallBath{{Name: "dev-1", BathCall: calc.BathCall{NominalS: -1, NominalC: 20, Q10: 2}}}}.PDF()
	assert.Error(t, err)
}

func TestWallTimes(t *testing.T) {
	b := WallBath{BathCall: calc.BathCall{NominalS: 60, NominalC: 20, Q10: 2}}
	for _, c := range []struct {
		celsius float64
		want    string
	}{{20, "60 s"}, {14, "91 s"}, {26, "40 s"}, {12, "104 s"}, {10, "2 min"}, {9.9, "too cold"}} { // derived: 60 · 2^((20 − T)/10)
		got, err := b.cell(c.celsius)
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	b.Fixer = true
	got, err := b.cell(10)
	require.NoError(t, err)
	assert.Equal(t, "2 min", got)
}

// The ways drawn are the replay's own.
func TestQuadrantsFollowTheReplay(t *testing.T) {
	for _, g := range quadrantCases(t) {
		tones := g.Tones()
		for _, z := range tones.Zones {
			p := Quadrants{Tones: g}.path(z.Zone, tones.CopyStops)
			assert.InDelta(t, z.Negative, p.negative, 1e-9)
			assert.InDelta(t, z.Print, p.print, 1e-9)
		}
		pdf, err := Quadrants{Created: wallDay, Tones: g, Words: "paper of P 500"}.PDF()
		require.NoError(t, err)
		assert.Equal(t, 1, bytes.Count(pdf, []byte("/Type /Page\n")))
	}
	_, err := Quadrants{Created: wallDay, Tones: calc.TwoGenerations{Neg: calc.SheetModel{Flare: math.NaN()}}}.PDF()
	assert.Error(t, err)
}

func quadrantCases(t *testing.T) []calc.TwoGenerations {
	curve := func(r float64) calc.Curve {
		c, err := calc.NewCurve(2, r, calc.DefaultDmin, calc.DefaultDmaxGlossy)
		require.NoError(t, err)
		return c
	}
	plain := calc.TwoGenerations{Neg: calc.NewSheet(curve(110), calc.CameraFlare), Print: calc.NewSheet(curve(160), calc.CopyFlare)}
	off := plain
	off.Neg.ExposureStops, off.Neg.PreFlashShare = 0.7, 0.5
	off.Print.ExposureStops, off.Print.PreFlashShare = -0.4, 0.6
	return []calc.TwoGenerations{plain, off}
}

func TestTheWallShowsTheStopsOfTheLens(t *testing.T) {
	require.Equal(t, []float64{5.6, 8, 11, 16, 22, 32, 45}, WallApertures(5.6, 45))
	require.Equal(t, []float64{8, 11, 16, 22, 32, 45, 64}, WallApertures(1.4, 64), "no more than the sheet holds")
	require.Equal(t, []float64{8, 11}, WallApertures(6.3, 11.3))
	require.Empty(t, WallApertures(6.3, 7))
	w := Wall{Size: "A4", Created: wallDay, Papers: []WallPaper{{Name: "Harbour", Index: 3}}, Apertures: WallApertures(1.4, 64)}
	_, err := w.PDF()
	require.NoError(t, err)
}

// No cell of a table for the wall is cut: its type is as small as its words need, and a name longer than that breaks.
func TestTheWallCutsNoWord(t *testing.T) {
	names := []string{"yellow, box-1", "orange for the sails against the evening sky, box-12", strings.Repeat("ä deep red glass ", 9)}
	for n := range names {
		w := Wall{Created: wallDay}
		for i, name := range names[:n+1] {
			w.Filters = append(w.Filters, WallFilter{name, 2.5 * float64(1+i)})
		}
		parts, err := w.filters()
		require.NoError(t, err)
		d := page.New(page.Options{Created: wallDay})
		table := fitted(d, parts[0].table, 180)
		for i, c := range table.Columns {
			for _, r := range table.Rows {
				whole := d.Width(page.Set(table.Size, page.Regular), r.Cells[i]) <= c.Width
				assert.True(t, whole || c.Wrap && c.Width >= 20, "%q in %.0f mm", r.Cells[i], c.Width)
			}
		}
		assert.Equal(t, n > 1, table.Size == wallTableLeast)
	}
}

func TestTheTitleOfATableForTheWallIsWhole(t *testing.T) {
	name := strings.Repeat("warm-toned baryta of the harbour ", 3) + "of last spring"
	pdf, err := Wall{Created: wallDay, Papers: []WallPaper{{Name: name, Index: 3}}}.PDF()
	require.NoError(t, err)
	assert.Contains(t, eventstest.PDFStructure(pdf), "Times at index 3: "+name)
}
