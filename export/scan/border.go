package scan

import (
	"image"
	"math"
	"slices"
)

// A border counts as white when it is lighter than this share of the
// scanner's own white, and a point as border when it keeps this share of the
// border's light: 0.1 density less.
const (
	whiteEnough  = 0.4
	borderEnough = 0.8
)

// ringOf is the outermost band of the scan, d points deep.
func (p plane) ringOf(d int) []float64 {
	v := p.values(image.Rect(0, 0, p.w, d))
	v = append(v, p.values(image.Rect(0, p.h-d, p.w, p.h))...)
	v = append(v, p.values(image.Rect(0, d, d, p.h-d))...)
	return append(v, p.values(image.Rect(p.w-d, d, p.w, p.h-d))...)
}

// inside finds the picture: from each side inwards, the first line of which
// more than a tenth is darker than the border. A picture whose whole side is as
// white as the border is found too small there, which moves no measure much.
// ok is false when a side has no border at least ring points deep, or the
// border is not white.
func (p plane) inside(white float64, ring int) (r image.Rectangle, ok bool) {
	if white < whiteEnough {
		return r, false
	}
	limit := white * borderEnough
	dark := func(line image.Rectangle) bool {
		n := 0
		for y := line.Min.Y; y < line.Max.Y; y++ {
			for x := line.Min.X; x < line.Max.X; x++ {
				if p.at(x, y) < limit {
					n++
				}
			}
		}
		return 10*n > line.Dx()*line.Dy()
	}
	r = image.Rect(0, 0, p.w, p.h)
	for r.Min.Y < p.h && !dark(image.Rect(0, r.Min.Y, p.w, r.Min.Y+1)) {
		r.Min.Y++
	}
	for r.Max.Y > r.Min.Y && !dark(image.Rect(0, r.Max.Y-1, p.w, r.Max.Y)) {
		r.Max.Y--
	}
	for r.Min.X < p.w && !dark(image.Rect(r.Min.X, r.Min.Y, r.Min.X+1, r.Max.Y)) {
		r.Min.X++
	}
	for r.Max.X > r.Min.X && !dark(image.Rect(r.Max.X-1, r.Min.Y, r.Max.X, r.Max.Y)) {
		r.Max.X--
	}
	if r.Min.X < ring || r.Min.Y < ring || p.w-r.Max.X < ring || p.h-r.Max.Y < ring {
		return r, false
	}
	return r, r.Dx() >= 10 && r.Dy() >= 10
}

// border gives, for each side of the picture, the strip between it and the
// edge of the scan and the outer half of that strip. The point next to the
// picture, where both mix, is left out.
func (p plane) border(in image.Rectangle) [4][2]image.Rectangle {
	top := func(d int) image.Rectangle { return image.Rect(0, 0, p.w, d) }
	bottom := func(d int) image.Rectangle { return image.Rect(0, p.h-d, p.w, p.h) }
	left := func(d int) image.Rectangle { return image.Rect(0, in.Min.Y, d, in.Max.Y) }
	right := func(d int) image.Rectangle { return image.Rect(p.w-d, in.Min.Y, p.w, in.Max.Y) }
	var strips [4][2]image.Rectangle
	for i, s := range []struct {
		strip func(int) image.Rectangle
		deep  int
	}{{top, in.Min.Y}, {bottom, p.h - in.Max.Y}, {left, in.Min.X}, {right, p.w - in.Max.X}} {
		strips[i] = [2]image.Rectangle{s.strip(s.deep - 1), s.strip(max(1, s.deep/2))}
	}
	return strips
}

func quartersOf(r image.Rectangle) [4]image.Rectangle {
	mx, my := (r.Min.X+r.Max.X)/2, (r.Min.Y+r.Max.Y)/2
	return [4]image.Rectangle{
		image.Rect(r.Min.X, r.Min.Y, mx, my), image.Rect(mx, r.Min.Y, r.Max.X, my),
		image.Rect(r.Min.X, my, mx, r.Max.Y), image.Rect(mx, my, r.Max.X, r.Max.Y),
	}
}

// sharpness is Measures.Sharpness; tones are the sorted values of r.
func (p plane) sharpness(r image.Rectangle, tones []float64) float64 {
	span := coded(quantile(tones, 0.995)) - coded(quantile(tones, 0.005))
	if span <= 0 {
		return 0
	}
	var steps []float64
	for y := r.Min.Y; y < r.Max.Y-1; y++ {
		for x := r.Min.X; x < r.Max.X-1; x++ {
			here := coded(p.at(x, y))
			steps = append(steps, math.Max(math.Abs(coded(p.at(x+1, y))-here), math.Abs(coded(p.at(x, y+1))-here)))
		}
	}
	slices.Sort(steps)
	return math.Min(1, quantile(steps, 0.99)/span)
}
