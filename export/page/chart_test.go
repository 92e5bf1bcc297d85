package page_test

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/export/page"
)

var (
	tickText = regexp.MustCompile(`BT [\d.]+ [\d.]+ Td \(`)
	handle   = regexp.MustCompile(`(?m)^(-?[\d.]+) (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) (-?[\d.]+) c$`)
)

// One tick alone says nothing of a scale: each axis has two at the least, whatever its range.
func TestAnAxisHasTwoTicksAtLeast(t *testing.T) {
	for _, a := range []page.Axis{
		{Min: 0, Max: 0.9}, {Min: 0.3, Max: 0.7}, {Min: 10.96, Max: 11.04}, {Min: 9.1, Max: 5.2}, {Min: 0, Max: 1e6},
		{Min: 3, Max: 4.9, Log: true}, {Min: 1, Max: 900, Log: true}, {Min: 0, Max: 8, Ticks: []float64{4, 12}},
	} {
		t.Run(fmt.Sprint(a), func(t *testing.T) {
			o := options()
			o.Uncompressed = true
			for _, upright := range []bool{false, true} {
				d := page.New(o)
				x, y := a, page.Axis{Max: 1, Hidden: true}
				if upright {
					x, y = y, x
				}
				d.Chart(page.Rect{X: 20, Y: 20, W: 40, H: 12}, x, y)
				assert.GreaterOrEqual(t, len(tickText.FindAll(finished(t, d), -1)), 2)
			}
		})
	}
}

// A curve goes no higher and no lower than the points that it joins, so that it never tells of what was not there.
func TestACurveStaysBetweenItsPoints(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	p := d.Chart(page.Rect{X: 20, Y: 20, W: 80, H: 60}, page.Axis{Max: 10}, page.Axis{Max: 1})
	points := []page.Point{{X: 0, Y: 0}, {X: 1, Y: 0.01}, {X: 2, Y: 0.9}, {X: 2, Y: 0.92}, {X: 5, Y: 0.5}, {X: 9, Y: 0.5}}
	p.Curve(points, page.Pen{})
	curves := handle.FindAllSubmatch(finished(t, d), -1)
	require.Len(t, curves, len(points)-1)
	const height, toPoints = 297, 72 / 25.4
	for i, c := range curves {
		from, to := p.At(points[i].X, points[i].Y).Y, p.At(points[i+1].X, points[i+1].Y).Y
		for _, at := range []int{2, 4, 6} {
			y, err := strconv.ParseFloat(string(c[at]), 64)
			require.NoError(t, err)
			y = height - y/toPoints
			assert.True(t, y >= math.Min(from, to)-0.01 && y <= math.Max(from, to)+0.01, "piece %d reaches %.2f mm, between %.2f and %.2f", i, y, from, to)
		}
	}
	assert.NotContains(t, string(curves[4][0]), "NaN")
}

// Of shares the frame of the whole is as wide for each, and what is over it goes beyond.
func TestSharesStandInTheFrameOfTheWhole(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	d.ShareBars(page.Rect{X: 20, Y: 20, W: 100, H: 20}, []page.Bar{{Label: "a", Value: 0.5, Note: "n"}, {Label: "b", Value: 2, Note: "n"}})
	boxes := regexp.MustCompile(`[\d.]+ [\d.]+ ([\d.]+) -[\d.]+ re (\w)`).FindAllSubmatch(finished(t, d), -1)
	require.Len(t, boxes, 4)
	var w [4]float64
	for i, b := range boxes {
		w[i], _ = strconv.ParseFloat(string(b[1]), 64)
		assert.Equal(t, []string{"f", "S", "f", "S"}[i], string(b[2]))
	}
	assert.InDelta(t, w[1], 2*w[0], 0.1)
	assert.InDelta(t, w[3], w[1], 0.1)
	assert.InDelta(t, w[2], 2*w[3], 0.1)
}

// A table that goes on keeps its title and its heads; no title stands without two rows, and no row alone.
func TestATableKeepsItsTitle(t *testing.T) {
	o := options()
	o.Uncompressed = true
	table := page.Table{Title: "Tests", Columns: []page.Column{{Head: "bath"}}}
	for i := range 5 {
		table.Rows = append(table.Rows, page.Row{Cells: []string{fmt.Sprintf("row%d.", i)}})
	}
	row := (page.LineHeight(7.5) + 1.1)
	first := builtIn.FirstHeight(100, table)
	for rows, want := range map[float64][2]int{ // how many rows there is room for, and how many stand on each page
		1.5: {0, 5}, 2.5: {2, 3}, 3.5: {3, 2}, 4.5: {3, 2}, 5.5: {5, 0},
	} {
		d := page.New(o)
		d.NewPage()
		a := d.Area()
		d.Table(a.X, a.Bottom()-first+(2-rows)*row, 100, table)
		d.NewPage()
		b := finished(t, d)
		stood := [2]int{}
		streams := bytes.Split(b, []byte("endstream"))
		for i := range stood {
			stood[i] = bytes.Count(streams[i], utf16(".")) // a row's last letter
		}
		assert.Equal(t, want, stood, "room for %.1f rows", rows)
		if want[0] > 0 && want[1] > 0 {
			assert.Contains(t, string(streams[1]), string(utf16("Tests,")))
			assert.Equal(t, 1, bytes.Count(streams[1], utf16("bath")), "the head")
		}
	}
}
