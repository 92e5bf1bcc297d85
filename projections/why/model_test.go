package why_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
)

// Each rule that works by tones has its direction from the model; the rows are those of the handbooks' fault tables.
func TestDirectionsOfFaultsOnTheModel(t *testing.T) {
	type tones = calc.Tones
	more, less, same := "more", "less", "same"
	mid := func(x tones) float64 { return x.Print.Mid }
	negMid := func(x tones) float64 { return x.Neg.Mid }
	blacks := func(x tones) float64 { return x.Print.Black }
	lights := func(x tones) float64 { return x.Zones[1-calc.FirstZone].Print }
	span := func(x tones) float64 { return x.Print.Black - x.Print.Light }
	negSpan := func(x tones) float64 { return x.Neg.Light - x.Neg.Black }
	border := func(x tones) float64 { return x.Print.BorderFog }
	negBorder := func(x tones) float64 { return x.Neg.BorderFog }
	neg := func(put func(*calc.SheetModel)) func(*calc.TwoGenerations) {
		return func(g *calc.TwoGenerations) { put(&g.Neg) }
	}
	pos := func(put func(*calc.SheetModel)) func(*calc.TwoGenerations) {
		return func(g *calc.TwoGenerations) { put(&g.Print) }
	}
	stops := func(v float64) func(*calc.SheetModel) { return func(m *calc.SheetModel) { m.ExposureStops = v } }
	dev := func(v float64) func(*calc.SheetModel) { return func(m *calc.SheetModel) { m.DevRatio = v } }
	flash := func(v float64) func(*calc.SheetModel) { return func(m *calc.SheetModel) { m.PreFlashShare = v } }
	aged := func(months float64) func(*calc.SheetModel) {
		speed, fog, err := calc.AgedPaper(months)
		require.NoError(t, err)
		return func(m *calc.SheetModel) { m.ExposureStops, m.FogDensity = speed, fog }
	}
	for _, c := range []struct {
		fault   string
		put     func(*calc.TwoGenerations)
		metered bool // the copy was read on this negative
		what    string
		measure func(tones) float64
		goes    string
	}{
		{"negative over-exposed", neg(stops(1)), false, "negative", negMid, more},
		{"negative over-exposed", neg(stops(1)), false, "print", mid, less},
		{"negative under-exposed", neg(stops(-1)), false, "negative", negMid, less},
		{"negative under-exposed", neg(stops(-1)), false, "print", mid, more},
		{"negative under-exposed", neg(stops(-1)), false, "lights of the print", lights, more},
		{"negative under-exposed", neg(stops(-1)), false, "span of the negative", negSpan, less},
		{"negative under-exposed, read", neg(stops(-1)), true, "print", mid, same},
		{"negative under-exposed, read", neg(stops(-1)), true, "blacks", blacks, less},
		{"negative under-exposed, read", neg(stops(-1)), true, "lights", lights, more},
		{"negative under-exposed, read", neg(stops(-1)), true, "span", span, less},
		{"negative over-exposed by two, read", neg(stops(2)), true, "print", mid, same},
		{"negative over-exposed by two, read", neg(stops(2)), true, "span", span, less},
		{"print over-exposed", pos(stops(1)), true, "print", mid, more},
		{"print over-exposed", pos(stops(1)), true, "lights", lights, more},
		{"print under-exposed", pos(stops(-1)), true, "print", mid, less},
		{"print under-exposed", pos(stops(-1)), true, "blacks", blacks, less},
		{"negative developed short or cold", neg(dev(0.6)), false, "negative", negMid, less},
		{"negative developed short or cold", neg(dev(0.6)), false, "span of the negative", negSpan, less},
		{"negative developed short or cold", neg(dev(0.6)), false, "print", mid, more},
		{"negative developed short, read", neg(dev(0.6)), true, "span", span, less},
		{"negative developed long or warm", neg(dev(2)), false, "negative", negMid, more},
		{"negative developed long or warm", neg(dev(2)), false, "print", mid, less},
		{"negative developed long", neg(dev(3)), false, "border of the negative", negBorder, more},
		{"print developed short or cold", pos(dev(0.6)), true, "print", mid, less},
		{"print developed short", pos(dev(0.6)), true, "blacks", blacks, less},
		{"print developed short", pos(dev(0.6)), true, "span", span, less},
		{"print developed long", pos(dev(2)), true, "print", mid, more},
		{"print developed long", pos(dev(3)), true, "border", border, more},
		{"development from 0.85 to 1.4", pos(dev(0.9)), true, "print", mid, less},
		{"development from 0.85 to 1.4", pos(dev(1.35)), true, "print", mid, more},
		{"negative pre-flashed over the threshold", neg(flash(2)), false, "border of the negative", negBorder, more},
		{"negative pre-flashed over the threshold", neg(flash(2)), false, "blacks", blacks, less},
		{"print pre-flashed over the threshold", pos(flash(2)), true, "border", border, more},
		{"negative on old paper", neg(aged(60)), false, "border of the negative", negBorder, more},
		{"print on old paper", pos(aged(60)), true, "border", border, more},
		{"print on old paper", pos(func(m *calc.SheetModel) { m.ExposureStops, _, _ = calc.AgedPaper(60) }), true, "print", mid, less},
		{"paper ten months past", pos(aged(10)), true, "border", border, same},
	} {
		t.Run(c.fault+"/"+c.what, func(t *testing.T) {
			curve, err := calc.NewCurve(10./4, 115, calc.DefaultDmin, calc.DefaultDmaxGlossy)
			require.NoError(t, err)
			g := calc.TwoGenerations{Neg: calc.NewSheet(curve, calc.CameraFlare), Print: calc.NewSheet(curve, calc.CopyFlare), CopyMeteredMid: c.metered}
			before := c.measure(g.Tones())
			c.put(&g)
			moved := c.measure(g.Tones()) - before
			switch c.goes {
			case more:
				assert.Greater(t, moved, 0.02, fmt.Sprint(moved))
			case less:
				assert.Less(t, moved, -0.02, fmt.Sprint(moved))
			default:
				assert.InDelta(t, 0, moved, 1e-9)
			}
		})
	}
}
