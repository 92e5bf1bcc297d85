package scene

import (
	"math/rand/v2"
	"strings"
)

// motif is what a subject is drawn as.
type motif int

const (
	harbour motif = iota
	sitter
	inside
	still
)

// motifWords tell a motif by words of the subject, the first that fits.
var motifWords = []struct {
	motif motif
	words []string
}{
	{still, []string{"rope", "gauge", "shelf", "cup", "float", "keel", "hands", "cat", "lamp"}},
	{sitter, []string{"keeper", "children", "mate,", "berntine", "ingrid", "clerk", "crew", "tor-h", "engineer", "pilots", "children", "winners"}},
	{inside, []string{"saloon", "pipes", "crankcase", "loft"}},
}

func motifOf(subject string, hasSitter bool) motif {
	lower := strings.ToLower(subject)
	for _, m := range motifWords {
		for _, w := range m.words {
			if strings.Contains(lower, w) {
				return m.motif
			}
		}
	}
	if hasSitter {
		return sitter
	}
	return harbour
}

// draw draws what stands still, and gives what draws what may move, shifted by a share of the height.
func draw(c *canvas, m motif, rng *rand.Rand, clouds bool) (moving func(c *canvas, dx float64)) {
	wide := float64(c.w) / float64(c.h)
	switch m {
	case sitter:
		return drawSitter(c, rng, wide)
	case inside:
		return drawInside(c, rng, wide)
	case still:
		return drawStill(c, rng, wide)
	}
	return drawHarbour(c, rng, wide, clouds)
}

func drawBackdrop(c *canvas, rng *rand.Rand, wide, horizon float64, clouds bool) {
	c.fade(0, horizon, 1.7, 2.3)
	if clouds {
		for range 7 {
			c.cloud(rng.Float64()*wide, rng.Float64()*horizon*0.8, 0.1+0.15*rng.Float64(), 0.03+0.04*rng.Float64(), 0.7)
		}
	}
	hills := []point{{0, horizon}}
	for x := 0.0; x <= wide+0.1; x += wide / 9 {
		hills = append(hills, point{x, horizon - 0.02 - 0.07*rng.Float64()})
	}
	c.polygon(0.6, append(hills, point{wide + 0.1, horizon})...)
	c.fade(horizon, 1, 1.0, -0.7)
	c.grain(rng, horizon, 1, 0.14, 0.05)
}

func drawMole(c *canvas, rng *rand.Rand, wide, horizon float64) {
	x := wide * (0.1 + 0.2*rng.Float64())
	c.polygon(-0.6, point{0, horizon + 0.045}, point{0, horizon - 0.005}, point{x + 0.05, horizon + 0.005}, point{x + 0.08, horizon + 0.045})
	c.polygon(1.3, point{x - 0.018, horizon}, point{x - 0.012, horizon - 0.14}, point{x + 0.012, horizon - 0.14}, point{x + 0.018, horizon})
	c.rect(x-0.017, horizon-0.09, x+0.017, horizon-0.06, -1.2)
	c.rect(x-0.02, horizon-0.148, x+0.02, horizon-0.138, -1.6)
	c.rect(x-0.009, horizon-0.172, x+0.009, horizon-0.148, 0.4)
	c.polygon(-1.8, point{x - 0.014, horizon - 0.172}, point{x, horizon - 0.19}, point{x + 0.014, horizon - 0.172})
}

func drawHarbour(c *canvas, rng *rand.Rand, wide float64, clouds bool) func(*canvas, float64) {
	horizon := 0.4 + 0.06*rng.Float64()
	drawBackdrop(c, rng, wide, horizon, clouds)
	drawMole(c, rng, wide, horizon)
	quay := 0.82 + 0.04*rng.Float64()
	drawQuay(c, rng, wide, quay)
	at, size := wide*(0.45+0.15*rng.Float64()), 0.8+0.4*rng.Float64()
	return func(c *canvas, dx float64) { drawFerry(c, at+dx, horizon+0.17, size) }
}

func drawQuay(c *canvas, rng *rand.Rand, wide, top float64) {
	c.polygon(0.1, point{0, 1.01}, point{0, top}, point{wide * 0.55, top + 0.03}, point{wide + 0.1, top + 0.1}, point{wide + 0.1, 1.01})
	for y := top + 0.05; y < 1; y += 0.05 {
		c.line(-0.8, 0.004, point{0, y}, point{wide, y + 0.06})
	}
	for x := 0.02; x < wide; x += 0.13 + 0.05*rng.Float64() {
		c.line(-0.7, 0.003, point{x, top + 0.03}, point{x - 0.06, 1})
	}
	x := wide * (0.15 + 0.1*rng.Float64())
	c.ellipse(x, top+0.075, 0.05, 0.014, -1.9)
	c.rect(x-0.028, top-0.02, x+0.028, top+0.07, -2.1)
	c.ball(x, top-0.022, 0.042, 0.022, -1.2)
	for i := range 4 {
		c.ellipse(x+0.17, top+0.085-0.012*float64(i), 0.05-0.004*float64(i), 0.016, -0.2+0.5*float64(i%2))
	}
	c.ellipse(x+0.17, top+0.04, 0.016, 0.005, -1.8)
}

// drawFerry draws a small passenger steamer, x its middle, y its waterline.
func drawFerry(c *canvas, x, y, size float64) {
	s := func(v float64) float64 { return v * size }
	p := func(dx, dy float64) point { return point{x + s(dx), y + s(dy)} }
	for i := range 6 { // the reflection
		c.rect(x-s(0.38-0.03*float64(i)), y+s(0.012*float64(i)), x+s(0.38-0.03*float64(i)), y+s(0.012*float64(i)+0.006), -1.5+0.2*float64(i))
	}
	c.polygon(-2.4, p(-0.42, -0.10), p(0.46, -0.13), p(0.38, 0), p(-0.38, 0))
	c.line(1.6, s(0.012), p(-0.42, -0.098), p(0.455, -0.126))
	c.polygon(1.9, p(-0.3, -0.10), p(-0.3, -0.17), p(0.22, -0.18), p(0.26, -0.115))
	for i := range 8 {
		c.rect(x+s(-0.27+0.06*float64(i)), y-s(0.155), x+s(-0.24+0.06*float64(i)), y-s(0.128), -2)
	}
	c.polygon(2.1, p(0.02, -0.175), p(0.02, -0.235), p(0.18, -0.24), p(0.19, -0.178))
	c.rect(x+s(0.035), y-s(0.225), x+s(0.165), y-s(0.2), -1.7)
	c.polygon(-1.4, p(-0.12, -0.17), p(-0.11, -0.32), p(-0.04, -0.32), p(-0.04, -0.17))
	c.rect(x-s(0.115), y-s(0.295), x-s(0.04), y-s(0.27), 1.5)
	c.line(-1.2, s(0.008), p(0.3, -0.12), p(0.3, -0.42))
	c.line(-1.2, s(0.004), p(0.3, -0.41), p(0.1, -0.24))
	c.line(-1.2, s(0.004), p(0.3, -0.41), p(0.45, -0.13))
	for i := range 5 {
		c.cloud(x-s(0.1+0.07*float64(i)), y-s(0.36+0.035*float64(i)), s(0.05+0.02*float64(i)), s(0.03+0.01*float64(i)), -1.0)
	}
}

func drawSitter(c *canvas, rng *rand.Rand, wide float64) func(*canvas, float64) {
	drawBackdrop(c, rng, wide, 0.36, false)
	drawFerry(c, wide*0.85, 0.47, 0.6)
	// A boarded wall to lean at, and the stones of the quay.
	edge := wide * (0.5 + 0.15*rng.Float64())
	c.rect(0, 0.05, edge, 0.8, -0.9)
	for x := 0.0; x < edge; x += 0.06 {
		c.line(-1.9, 0.004, point{x, 0.05}, point{x, 0.8})
	}
	c.rect(0, 0.02, edge+0.02, 0.06, -1.7)
	c.rect(edge*0.15, 0.16, edge*0.45, 0.42, -2.3)
	c.line(0.6, 0.012, point{edge * 0.15, 0.29}, point{edge * 0.45, 0.29})
	c.line(0.6, 0.012, point{edge * 0.3, 0.16}, point{edge * 0.3, 0.42})
	drawQuay(c, rng, wide, 0.78)
	at := edge + 0.02*rng.Float64()
	coat := -2.6 + 0.8*rng.Float64()
	cap := rng.IntN(2) == 0
	return func(c *canvas, dx float64) { drawFigure(c, at+dx, coat, cap) }
}

// drawFigure is someone standing, seen to the knee.
func drawFigure(c *canvas, x, coat float64, cap bool) {
	p := func(dx, y float64) point { return point{x + dx, y} }
	c.polygon(coat, p(-0.2, 1.01), p(-0.17, 0.5), p(-0.07, 0.41), p(0.07, 0.41), p(0.17, 0.5), p(0.2, 1.01))
	c.polygon(coat+0.5, p(-0.17, 0.5), p(-0.23, 0.8), p(-0.17, 0.82), p(-0.11, 0.55))
	c.polygon(coat+0.3, p(0.17, 0.5), p(0.23, 0.8), p(0.17, 0.82), p(0.11, 0.55))
	c.ball(x-0.2, 0.83, 0.032, 0.035, -0.1)
	c.ball(x+0.2, 0.83, 0.032, 0.035, -0.2)
	c.polygon(1.4, p(-0.04, 0.42), p(0, 0.55), p(0.04, 0.42))
	c.line(-2.2, 0.02, p(0, 0.44), p(0.005, 0.55))
	for y := 0.6; y < 0.95; y += 0.1 {
		c.ball(x+0.015, y, 0.011, 0.011, 0.2)
	}
	c.rect(x-0.035, 0.36, x+0.035, 0.43, -0.5)
	c.ball(x, 0.29, 0.078, 0.105, 0.1)
	for _, side := range []float64{-1, 1} {
		c.ellipse(x+side*0.03, 0.275, 0.012, 0.006, -2)
		c.line(-1.7, 0.007, point{x + side*0.045, 0.255}, point{x + side*0.016, 0.252})
		c.ellipse(x+side*0.078, 0.29, 0.012, 0.025, -0.4)
	}
	c.line(-0.9, 0.006, p(0.002, 0.28), p(0.012, 0.315), p(-0.006, 0.32))
	c.line(-1.3, 0.008, p(-0.025, 0.35), p(0.025, 0.348))
	if cap {
		c.polygon(-2.3, p(-0.095, 0.235), p(-0.085, 0.17), p(0.07, 0.16), p(0.095, 0.225))
		c.polygon(-2.8, p(-0.1, 0.24), p(-0.11, 0.252), p(0.02, 0.238), p(0.08, 0.228))
	} else {
		c.polygon(-1.9, p(-0.082, 0.29), p(-0.078, 0.2), p(0, 0.172), p(0.078, 0.2), p(0.082, 0.29), p(0.06, 0.225), p(-0.05, 0.228))
	}
}

func drawInside(c *canvas, rng *rand.Rand, wide float64) func(*canvas, float64) {
	c.fade(0, 1, -2.6, -1.8)
	c.rect(wide*0.62, 0.1, wide*0.86, 0.42, 2.6) // a window on the harbour
	c.line(-1.5, 0.015, point{wide * 0.74, 0.1}, point{wide * 0.74, 0.42})
	c.line(-1.5, 0.015, point{wide * 0.62, 0.26}, point{wide * 0.86, 0.26})
	for range 6 {
		y, r := 0.08+0.8*rng.Float64(), 0.015+0.035*rng.Float64()
		c.each(0, y-r, wide, y+r, func(_, at float64, p *float32) {
			d := (at - y) / r
			*p = float32(0.4 - 2.2*(d+0.4)*(d+0.4))
		})
	}
	x, r := wide*(0.25+0.1*rng.Float64()), 0.13
	c.ellipse(x, 0.4, r+0.02, r+0.02, -0.4)
	c.ellipse(x, 0.4, r, r, 1.7)
	for i := range 11 {
		a := point{x + r*0.85*cosTurn(float64(i)/14+0.4), 0.4 - r*0.85*sinTurn(float64(i)/14+0.4)}
		b := point{x + r*0.7*cosTurn(float64(i)/14+0.4), 0.4 - r*0.7*sinTurn(float64(i)/14+0.4)}
		c.line(-2, 0.008, a, b)
	}
	c.grain(rng, 0, 1, 0.08, 0.02)
	return func(c *canvas, dx float64) {
		c.line(-2.2, 0.01, point{x + dx, 0.4}, point{x + dx - r*0.55, 0.4 - r*0.45})
		c.ball(x+dx, 0.4, 0.015, 0.015, 0)
	}
}

func drawStill(c *canvas, rng *rand.Rand, wide float64) func(*canvas, float64) {
	c.fade(0, 0.6, 0.3, -0.5)
	c.fade(0.6, 1, 0.9, -0.1)
	for y := 0.64; y < 1; y += 0.09 {
		c.line(-1.2, 0.005, point{0, y}, point{wide, y - 0.02})
	}
	c.grain(rng, 0.6, 1, 0.1, 0.3)
	n := 3 + rng.IntN(3)
	for i := range n {
		x := wide * (float64(i) + 0.5 + 0.3*rng.Float64()) / float64(n)
		r := 0.06 + 0.05*rng.Float64()
		c.cloud(x+0.04, 0.72, r*1.3, 0.035, -1.6)
		if i%2 == 0 {
			c.ball(x, 0.72-r, r, r, -0.9+2*rng.Float64())
			continue
		}
		c.rect(x-r*0.7, 0.72-2.2*r, x+r*0.7, 0.72, -1.6+2*rng.Float64())
		c.rect(x-r*0.5, 0.72-1.8*r, x+r*0.5, 0.72-1.3*r, 1.5)
		c.ellipse(x, 0.72-2.2*r, r*0.7, r*0.18, 0.6)
	}
	return func(c *canvas, dx float64) { // a coil of line
		for i := range 5 {
			c.ellipse(wide*0.5+dx, 0.86-0.018*float64(i), 0.17-0.012*float64(i), 0.035, -0.6+0.9*float64(i%2))
		}
		c.ellipse(wide*0.5+dx, 0.77, 0.06, 0.014, -1.7)
	}
}
