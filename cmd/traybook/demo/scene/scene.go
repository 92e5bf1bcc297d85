// Package scene draws the harbour of the demo as its sheets show it: a scene in light, put through the two generations
// of the tone model with what each sheet's log says was done to it, so that a sheet that failed looks failed in its way.
// Everything is drawn by rule; no photograph is in it.
package scene

import (
	"hash/fnv"
	"image"
	"math"
	"math/rand/v2"
	"sync"

	"traybook/calc"
)

// Facts are what the log says of one sheet.
type Facts struct {
	Name    string // of the picture: the same name draws the same scene
	Subject string
	Sitter  bool // someone sat for it
	Tones   calc.TwoGenerations
	Print   bool // the print of it; otherwise the negative
	Clouds  bool // they show: a filter held the sky back
	Upright bool // the long side stands

	// As shares of the sheet's longer side.
	Blur    float64 // the plane of the subject out of focus
	Shake   float64 // the whole picture moved
	Motion  float64 // the subject moved
	Double  bool    // two exposures on one negative
	OneSide float64 // light at one edge of the negative, times the threshold exposure
	Milky   float64 // 0 … 1, silver left by an exhausted fixer
	Stain   float64 // 0 … 1
	Mottled float64 // 0 … 1, uneven development
}

const (
	longSide, shortSide = 600, 450
	border              = 0.045 // white margin as a share of the longer side
)

// Render draws the scan of a sheet, grey, with its white border.
func Render(f Facts) *image.Gray {
	w, h := longSide, shortSide
	if f.Upright {
		w, h = h, w
	}
	light := exposed(f, w, h)
	seed := seedOf(f.Name + "sheet")
	rng := rand.New(rand.NewPCG(seed, 2))
	curve, sheet := f.Tones.Neg.Curve, f.Tones.Neg
	if f.Print {
		curve, sheet = f.Tones.Print.Curve, f.Tones.Print
	}
	lut := tables(f)
	patches := blotches(rng, w, h)
	margin := int(border * longSide)
	img := image.NewGray(image.Rect(0, 0, w, h))
	grey := greys()
	for y := range h {
		for x := range w {
			var d float64
			if x < margin || y < margin || x >= w-margin || y >= h-margin {
				d = sheet.Border()
			} else {
				at := x
				if !f.Print {
					at = w - 1 - x // paper faces the lens: its picture is mirrored
				}
				bucket := min(at*len(lut)/w, len(lut)-1)
				d = lut[bucket].of(float64(light.z[y*w+at]))
				d -= f.Mottled * 0.25 * patches[y*w+x] * (d - curve.Dmin)
				if edge := edgeShare(x, y, w, h); f.Milky > 0 {
					d += f.Milky * (0.25*edge + 0.12) * (1 - (d-curve.Dmin)/(curve.Dmax-curve.Dmin))
				}
			}
			d += f.Stain*0.16*(0.7+0.6*patches[y*w+x]) + 0.006*rng.NormFloat64()
			img.Pix[y*img.Stride+x] = grey[min(max(int((d-curve.Dmin+1)*1000+0.5), 0), len(grey)-1)]
		}
	}
	return img
}

// exposed is the light that reached the negative, upright and the right way round.
func exposed(f Facts, w, h int) *canvas {
	seed := seedOf(f.Name)
	still := newCanvas(w, h, 0)
	moving := draw(still, motifOf(f.Subject, f.Sitter), rand.New(rand.NewPCG(seed, 1)), f.Clouds)
	side := float64(max(w, h)) / float64(h) // the longer side in heights
	steps := 1
	if px := f.Motion * float64(max(w, h)); px > 1 {
		steps = min(2+int(px/2), 12)
	}
	layers, shares := make([]*canvas, steps), make([]float64, steps)
	for i := range layers {
		dx := 0.0
		if steps > 1 {
			dx = f.Motion * side * (float64(i)/float64(steps-1) - 0.5)
		}
		layers[i], shares[i] = still.clone(), 1/float64(steps)
		moving(layers[i], dx)
	}
	out := mix(shares, layers)
	if f.Double {
		again := newCanvas(w, h, 0)
		draw(again, motifOf(f.Subject, f.Sitter), rand.New(rand.NewPCG(seed+1, 1)), f.Clouds)(again, 0.08)
		out = mix([]float64{0.5, 0.5}, []*canvas{out, again})
	}
	px := f.Blur * float64(max(w, h))
	out.blur(0.8+px, 0.8+px)
	shake := f.Shake * float64(max(w, h))
	out.blur(shake, shake*0.6)
	return out
}

func seedOf(name string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(name))
	return h.Sum64()
}

// table is the density of each tone of the scene.
type table []float64

const (
	tableFrom, tableTo = calc.FirstZone, calc.LastZone
	perStop            = 16
)

// tables are those of upright slices of the sheet, from left to right: one, or several where light came in at one edge.
func tables(f Facts) []table {
	n := 1
	if f.OneSide > 0 {
		n = 60
	}
	out := make([]table, n)
	for i := range out {
		g := f.Tones
		at := float64(i) / float64(n)
		g.Neg.LeakShare += f.OneSide * math.Exp(-at*9)
		out[i] = tableOf(g, f.Print)
	}
	return out
}

func tableOf(g calc.TwoGenerations, print bool) table {
	t := make(table, (tableTo-tableFrom)*perStop+1)
	zones := g.Tones().Zones
	for i := range t {
		z := float64(tableFrom) + float64(i)/perStop
		if !print {
			t[i] = g.Neg.Negative(z)
			continue
		}
		k := min(int(z-tableFrom), len(zones)-2)
		part := z - tableFrom - float64(k)
		t[i] = zones[k].Print*(1-part) + zones[k+1].Print*part
	}
	return t
}

func (t table) of(z float64) float64 {
	at := (math.Max(tableFrom, math.Min(tableTo, z)) - tableFrom) * perStop
	i := min(int(at), len(t)-2)
	part := at - float64(i)
	return t[i]*(1-part) + t[i+1]*part
}

// blotches are soft patches from about −1 to 1.
func blotches(rng *rand.Rand, w, h int) []float64 {
	const cells = 9
	var knots [cells + 1][cells + 1]float64
	for i := range knots {
		for j := range knots[i] {
			knots[i][j] = 2*rng.Float64() - 1
		}
	}
	out := make([]float64, w*h)
	for y := range h {
		fy := float64(y) / float64(h) * cells
		j := min(int(fy), cells-1)
		v := smooth(fy - float64(j))
		for x := range w {
			fx := float64(x) / float64(w) * cells
			i := min(int(fx), cells-1)
			u := smooth(fx - float64(i))
			out[y*w+x] = (knots[j][i]*(1-u)+knots[j][i+1]*u)*(1-v) + (knots[j+1][i]*(1-u)+knots[j+1][i+1]*u)*v
		}
	}
	return out
}

func smooth(t float64) float64 { return t * t * (3 - 2*t) }

// greys are the coded values of densities over the paper's white, in thousandths from −1 to 4.
var greys = sync.OnceValue(func() *[5000]uint8 {
	t := new([5000]uint8)
	for i := range t {
		t[i] = coded(math.Pow(10, 1-float64(i)/1000))
	}
	return t
})

// edgeShare is 0 in the middle and 1 in a corner.
func edgeShare(x, y, w, h int) float64 {
	dx, dy := 2*float64(x)/float64(w)-1, 2*float64(y)/float64(h)-1
	return dx * dx * dy * dy
}

// coded is the sRGB value of a reflectance of 0 … 1 (IEC 61966-2-1), the paper's white a little below the scanner's.
func coded(v float64) uint8 {
	v = math.Max(0, math.Min(1, v*0.93))
	if v <= 0.0031308 {
		return uint8(255*12.92*v + 0.5)
	}
	return uint8(255*(1.055*math.Pow(v, 1/2.4)-0.055) + 0.5)
}

func cosTurn(t float64) float64 { return math.Cos(2 * math.Pi * t) }

func sinTurn(t float64) float64 { return math.Sin(2 * math.Pi * t) }
