package scene

import (
	"math"
	"math/rand/v2"
	"sync"
)

// canvas is a drawing in light: each point in stops from the mid-tone of the scene.
type canvas struct {
	w, h int
	z    []float32
}

func newCanvas(w, h int, z float64) *canvas {
	c := &canvas{w, h, make([]float32, w*h)}
	for i := range c.z {
		c.z[i] = float32(z)
	}
	return c
}

func (c *canvas) clone() *canvas {
	return &canvas{c.w, c.h, append([]float32(nil), c.z...)}
}

// point is a place in shares of the height, x from the left, y from the top, so that one drawing fits every size.
type point struct{ x, y float64 }

func (c *canvas) px(v float64) float64 { return v * float64(c.h) }

// each calls f for the points of a box in shares of the height.
func (c *canvas) each(x0, y0, x1, y1 float64, f func(x, y float64, z *float32)) {
	for y := max(0, int(c.px(y0))); y < min(c.h, int(c.px(y1))+1); y++ {
		for x := max(0, int(c.px(x0))); x < min(c.w, int(c.px(x1))+1); x++ {
			f((float64(x)+0.5)/float64(c.h), (float64(y)+0.5)/float64(c.h), &c.z[y*c.w+x])
		}
	}
}

func (c *canvas) rect(x0, y0, x1, y1, z float64) {
	c.each(x0, y0, x1, y1, func(x, y float64, p *float32) {
		if x >= x0 && x < x1 && y >= y0 && y < y1 {
			*p = float32(z)
		}
	})
}

// fade fills a band from one tone to another, downwards.
func (c *canvas) fade(y0, y1, top, bottom float64) {
	c.each(0, y0, 1e3, y1, func(_, y float64, p *float32) {
		if y >= y0 && y < y1 {
			*p = float32(top + (bottom-top)*(y-y0)/(y1-y0))
		}
	})
}

func (c *canvas) ellipse(cx, cy, rx, ry, z float64) {
	c.each(cx-rx, cy-ry, cx+rx, cy+ry, func(x, y float64, p *float32) {
		if dx, dy := (x-cx)/rx, (y-cy)/ry; dx*dx+dy*dy <= 1 {
			*p = float32(z)
		}
	})
}

// ball is lit from the upper left.
func (c *canvas) ball(cx, cy, rx, ry, z float64) {
	c.each(cx-rx, cy-ry, cx+rx, cy+ry, func(x, y float64, p *float32) {
		dx, dy := (x-cx)/rx, (y-cy)/ry
		if r := dx*dx + dy*dy; r <= 1 {
			*p = float32(z + 1.1*(-0.6*dx-0.6*dy) - 0.5*r*r)
		}
	})
}

// cloud is a soft patch added to what is there.
func (c *canvas) cloud(cx, cy, rx, ry, dz float64) {
	c.each(cx-2*rx, cy-2*ry, cx+2*rx, cy+2*ry, func(x, y float64, p *float32) {
		dx, dy := (x-cx)/rx, (y-cy)/ry
		*p += float32(dz * math.Exp(-1.5*(dx*dx+dy*dy)))
	})
}

// polygon fills the area within the points.
func (c *canvas) polygon(z float64, points ...point) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range points {
		x0, y0, x1, y1 = math.Min(x0, p.x), math.Min(y0, p.y), math.Max(x1, p.x), math.Max(y1, p.y)
	}
	c.each(x0, y0, x1, y1, func(x, y float64, p *float32) {
		inside := false
		for i, j := 0, len(points)-1; i < len(points); j, i = i, i+1 {
			a, b := points[i], points[j]
			if (a.y > y) != (b.y > y) && x < (b.x-a.x)*(y-a.y)/(b.y-a.y)+a.x {
				inside = !inside
			}
		}
		if inside {
			*p = float32(z)
		}
	})
}

// line is a stroke of a width from point to point.
func (c *canvas) line(z, width float64, points ...point) {
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		length := math.Max(math.Hypot(b.x-a.x, b.y-a.y), 1e-9)
		nx, ny := -(b.y-a.y)/length*width/2, (b.x-a.x)/length*width/2
		c.polygon(z, point{a.x + nx, a.y + ny}, point{b.x + nx, b.y + ny}, point{b.x - nx, b.y - ny}, point{a.x - nx, a.y - ny})
	}
}

// grain roughens a band: waves, stones, boards.
func (c *canvas) grain(rng *rand.Rand, y0, y1, amount, wide float64) {
	step := max(1, int(c.px(wide)))
	for y := max(0, int(c.px(y0))); y < min(c.h, int(c.px(y1))); y++ {
		v := 0.0
		for x := range c.w {
			if x%step == 0 {
				v = amount * rng.NormFloat64()
			}
			c.z[y*c.w+x] += float32(v)
		}
	}
}

// blur spreads light, not stops, over a width in pixels: three passes of a box come near to a soft disc.
func (c *canvas) blur(wide, high float64) {
	if wide < 0.5 && high < 0.5 {
		return
	}
	light := make([]float64, len(c.z))
	for i, z := range c.z {
		light[i] = lightOf(z)
	}
	for range 3 {
		boxed(light, c.w, c.h, 1, c.w, wide/2)
		boxed(light, c.h, c.w, c.w, 1, high/2)
	}
	for i, v := range light {
		c.z[i] = float32(math.Log2(v))
	}
}

// boxed averages n points, step apart, of each of many lines over a radius, whose fraction counts.
func boxed(v []float64, n, many, step, next int, radius float64) {
	if radius < 0.25 {
		return
	}
	whole := int(radius)
	rest := radius - float64(whole)
	line := make([]float64, n)
	for l := range many {
		at := func(i int) float64 { return line[min(max(i, 0), n-1)] }
		for i := range n {
			line[i] = v[l*next+i*step]
		}
		sum := 0.0
		for i := -whole; i <= whole; i++ {
			sum += at(i)
		}
		for i := range n {
			v[l*next+i*step] = (sum + rest*(at(i-whole-1)+at(i+whole+1))) / (2*radius + 1)
			sum += at(i+whole+1) - at(i-whole)
		}
	}
}

// lights are 2^z in steps of a hundredth of a stop, from lightsFrom.
var lights = sync.OnceValue(func() *[2400]float64 {
	t := new([2400]float64)
	for i := range t {
		t[i] = math.Exp2(lightsFrom + float64(i)/100)
	}
	return t
})

const lightsFrom = -14

func lightOf(z float32) float64 {
	t := lights()
	return t[min(max(int((z-lightsFrom)*100+0.5), 0), len(t)-1)]
}

// mix puts several exposures on top of each other, each with its share of the light.
func mix(shares []float64, layers []*canvas) *canvas {
	if len(layers) == 1 {
		return layers[0]
	}
	out := newCanvas(layers[0].w, layers[0].h, 0)
	for i := range out.z {
		sum := 0.0
		for j, l := range layers {
			sum += shares[j] * lightOf(l.z[i])
		}
		out.z[i] = float32(math.Log2(math.Max(sum, 1e-6)))
	}
	return out
}
