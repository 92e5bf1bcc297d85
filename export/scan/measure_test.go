package scan

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// d is a reflectance by its density relative to a border of 0.8.
func d(density float64) float64 { return 0.8 * math.Pow(10, -density) }

// wedge is a print of five equal steps of density.
func wedge(x, _ float64) float64 {
	return d([]float64{0.10, 0.30, 0.60, 1.00, 1.40}[min(4, int(5*x))])
}

func TestSRGB(t *testing.T) {
	// IEC 61966-2-1; the value of code 128 is the formula's, by hand:
	// ((128/255 + 0.055)/1.055)^2.4 = 0.21586.
	assert.InDelta(t, 0.21586, srgb[128], 0.00001)
	assert.Equal(t, 0.0, srgb[0])
	assert.InDelta(t, 1.0, srgb[255], 1e-12)
	for i, v := range srgb {
		assert.InDelta(t, float64(i)/255, coded(v), 1e-6) // the two branches meet within this
	}
}

func TestMeasureAWedge(t *testing.T) {
	for name, size := range map[string][2]int{"scan": {1500, 1200}, "small scan": {600, 500}} {
		t.Run(name, func(t *testing.T) {
			m, err := Measure(printScan(size[0], size[1], 60, 0.8, wedge))
			require.NoError(t, err)
			assert.InDelta(t, 0.8, m.Border, 0.01)
			assert.InDelta(t, 0.10, m.White, 0.01)
			assert.InDelta(t, 0.60, m.Mid, 0.01)
			assert.InDelta(t, 1.40, m.Black, 0.02)
			assert.InDelta(t, 0, m.EdgeVeil, 0.005)
			assert.InDelta(t, 0, m.BorderEvenness, 0.01)
			// Left half against right half of the wedge: mean of two and a half steps each.
			l, r := (d(.1)+d(.3)+d(.6)/2)/2.5, (d(1)+d(1.4)+d(.6)/2)/2.5
			assert.InDelta(t, math.Log2(l/r), m.Evenness, 0.06)
			assert.True(t, m.Picture.In(image.Rect(58, 58, size[0]-58, size[1]-58)), "%v", m.Picture)
			assert.Greater(t, m.Picture.Dx(), (size[0]-120)*95/100)
		})
	}
}

// The numbers are relative: a scan at half the light tells the same.
func TestMeasureIsRelativeToTheBorder(t *testing.T) {
	m, err := Measure(printScan(1200, 1000, 50, 0.45, func(x, y float64) float64 { return wedge(x, y) / 0.8 * 0.45 }))
	require.NoError(t, err)
	assert.InDelta(t, 0.45, m.Border, 0.01)
	assert.InDelta(t, 0.60, m.Mid, 0.01)
	assert.InDelta(t, 1.40, m.Black, 0.04)
}

func TestMeasureInColourAndInAnyPlace(t *testing.T) {
	g := printScan(1200, 1000, 50, 0.8, wedge)
	big := image.NewRGBA(image.Rect(-100, -100, 1400, 1200))
	for y := range 1000 {
		for x := range 1200 {
			big.Set(x, y, g.At(x, y))
		}
	}
	want, err := Measure(g)
	require.NoError(t, err)
	got, err := Measure(big.SubImage(g.Bounds()))
	require.NoError(t, err)
	assert.Equal(t, want.Picture, got.Picture)
	assert.InDelta(t, want.Mid, got.Mid, 1e-9)
	assert.InDelta(t, want.Sharpness, got.Sharpness, 1e-9)
}

func TestEvenness(t *testing.T) {
	// A flat sheet whose light falls by one stop from left to right, evenly in
	// stops: the halves' means lie half of it apart.
	m, err := Measure(printScan(1200, 1000, 50, 0.8, func(x, _ float64) float64 { return d(0.5) * math.Exp2(-x) }))
	require.NoError(t, err)
	assert.InDelta(t, 0.5, m.Evenness, 0.02)
	m, err = Measure(printScan(1200, 1000, 50, 0.8, func(float64, float64) float64 { return d(0.5) }))
	require.NoError(t, err)
	assert.InDelta(t, 0, m.Evenness, 0.01)
}

func TestEdgeVeilAndBorderEvenness(t *testing.T) {
	scan := printScan(1200, 1000, 80, 0.8, wedge)
	veiled := uint8(math.Round(255 * coded(d(0.08))))
	for y := range 1000 {
		for x := range 40 { // the outer half of the left border
			scan.Pix[y*scan.Stride+x] = veiled
		}
	}
	m, err := Measure(scan)
	require.NoError(t, err)
	assert.InDelta(t, 0.08, m.EdgeVeil, 0.01)
	assert.InDelta(t, 0.60, m.Mid, 0.01, "the veil does not move the white")

	scan = printScan(1200, 1000, 80, 0.8, wedge)
	for y := range 80 {
		for x := range 1200 {
			scan.Pix[y*scan.Stride+x] = uint8(math.Round(255 * coded(0.8*math.Exp2(-0.2))))
		}
	}
	m, err = Measure(scan)
	require.NoError(t, err)
	assert.InDelta(t, 0.2, m.BorderEvenness, 0.02)
}

func TestSharpnessFallsWithBlur(t *testing.T) {
	last := 2.0
	for _, width := range []float64{0, 4, 12, 40} { // thousandths of the picture
		m, err := Measure(printScan(1200, 1000, 50, 0.8, func(x, _ float64) float64 {
			edge := math.Mod(x*10, 1) - 0.5 // ten edges
			if width > 0 {
				edge = max(-0.5, min(0.5, edge/(width/100)))
			}
			if width == 0 {
				edge = math.Copysign(0.5, edge)
			}
			return d(0.7 + edge)
		}))
		require.NoError(t, err)
		assert.Less(t, m.Sharpness, last*0.75, "blur of %v", width)
		last = m.Sharpness
	}
	m, err := Measure(printScan(900, 700, 50, 0.8, wedge))
	require.NoError(t, err)
	assert.Zero(t, m.Sharpness, "too small to say")
}

func TestDustAndGrainMoveLittle(t *testing.T) {
	scan := printScan(2400, 2000, 100, 0.8, wedge)
	r := rand.New(rand.NewPCG(3, 4))
	for i, v := range scan.Pix {
		scan.Pix[i] = uint8(max(0, min(255, int(v)+r.IntN(9)-4)))
	}
	for range 300 {
		scan.SetGray(r.IntN(2400), r.IntN(2000), color.Gray{uint8(255 * r.IntN(2))})
	}
	m, err := Measure(scan)
	require.NoError(t, err)
	assert.InDelta(t, 0.10, m.White, 0.02)
	assert.InDelta(t, 0.60, m.Mid, 0.02)
	assert.InDelta(t, 1.40, m.Black, 0.05)
	assert.InDelta(t, 0, m.EdgeVeil, 0.01)
}

func TestNothingToMeasure(t *testing.T) {
	flat := func(v float64) func(float64, float64) float64 { return func(float64, float64) float64 { return v } }
	for name, c := range map[string]struct {
		scan *image.Gray
		says string
	}{
		"too small":       {printScan(99, 200, 10, 0.8, wedge), "at least 100"},
		"no border":       {printScan(1200, 1000, 0, 0.8, wedge), "no even white border"},
		"thin border":     {printScan(1200, 1000, 3, 0.8, wedge), "no even white border"},
		"black border":    {printScan(1200, 1000, 50, 0.02, wedge), "no even white border"},
		"grey border":     {printScan(1200, 1000, 50, 0.3, flat(0.1)), "no even white border"},
		"blank":           {printScan(1200, 1000, 50, 0.8, flat(0.8)), "no even white border"},
		"all white":       {printScan(1200, 1000, 50, 1, flat(1)), "no even white border"},
		"all black":       {image.NewGray(image.Rect(0, 0, 1000, 1000)), "no even white border"},
		"a speck of dust": {printScan(1200, 1000, 600, 0.8, wedge), "no even white border"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Measure(c.scan)
			require.ErrorContains(t, err, c.says)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
	_, err := Measure(printScan(1200, 1000, 0, 0.8, wedge))
	require.ErrorIs(t, err, ErrNoBorder)
}

// A line belongs to the picture when more than a tenth of it is darker than the border, and not by a speck of dust.
func TestThePictureBeginsWhereATenthIsDark(t *testing.T) {
	const side, edge = 200, 20
	p := plane{side, side, make([]float64, side*side)}
	for i := range p.pix {
		p.pix[i] = 0.8
	}
	row := func(y, dark int) {
		for x := range dark {
			p.pix[y*side+edge+x] = 0.3
		}
	}
	for y := edge; y < side-edge; y++ {
		row(y, side-2*edge)
	}
	row(edge-1, side/10+1)
	row(edge-2, side/10)
	row(side-edge, side/10+1)
	row(side-edge+1, side/10)
	r, ok := p.inside(0.8, 5)
	assert.True(t, ok)
	assert.Equal(t, image.Rect(edge, edge-1, side-edge, side-edge+1), r)
}
