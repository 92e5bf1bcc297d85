package scan

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	stddraw "image/draw"
	"math"
	"slices"
)

// measureSide is the longer side, in pixels, to which a scan is averaged
// before it is measured: dust and the grain of the paper go under.
const measureSide = 1000

// floor bounds what a scan of 8 bits can tell from black: below one level of
// 255, coded, lies D 3.5 and nothing that can be measured.
const floor = 1.0 / 255 / 12.92

// Measures is what the scan of a print with its white border tells.
//
// What the numbers are worth: densities are relative to the border of the same
// scan, so neither the paper's tint nor the scanner's exposure enters; but they
// trust that the scanner wrote plain sRGB, with no automatic contrast, no
// sharpening and no colour profile of its own, and that nothing was clipped.
// Flare in a flatbed makes blacks read 0.1 to 0.3 too light beside large whites
// (common practice, no source). They serve to compare prints scanned the same
// way and to suggest a judgement, not to replace a densitometer or an eye.
type Measures struct {
	// Picture is what was found inside the border, in pixels of the scan as
	// stored.
	Picture image.Rectangle
	// Border is the linear reflectance of the border's white as scanned, 0 to 1
	// of the scanner's own white. At 1 it is clipped and the densities are too
	// low by an unknown amount.
	Border float64
	// White, Mid and Black are relative densities, −log10(reflectance ÷ that of
	// the border), of the lightest tone (lighter than it: 1 pixel in 200), the
	// median, and the darkest tone (darker than it: 1 pixel in 200).
	White, Mid, Black float64
	// Evenness is how far the mean light of the four quarters of the picture
	// lies apart, in stops. It means light fall-off or uneven development only
	// where the subject itself is even; of any other picture it says as much
	// about the subject.
	Evenness float64
	// BorderEvenness is the same of the four sides of the border: what of it
	// the scanner, or fog on the paper, has to answer for.
	BorderEvenness float64
	// EdgeVeil is the relative density of the outer half of the border on its
	// darkest side: fog that came in over the paper's edge. A veil of more than
	// 0.1 on one side hides the border, and the scan counts as one without.
	EdgeVeil float64
	// Sharpness is the steepest 1 in 100 of the changes between neighbouring
	// points one thousandth of the longer side apart, as a share of the whole
	// step from Black to White, both as the eye sees them (coded values): 1 is
	// an edge as sharp as can be, a soft picture has 0.1. It depends on the
	// subject, so it compares prints of one negative. 0 when the scan is
	// smaller than 1000 pixels.
	Sharpness float64
}

// ErrNoBorder is returned by Measure for a scan without a white border to
// measure against.
var ErrNoBorder = errors.New("no even white border around the picture: scan the whole print, then crop to just inside the paper's edge")

// Measure measures the scan of a print.
//
// Errors: ErrNoBorder; a scan smaller than 100 pixels on a side; a picture that
// is nowhere darker than its border.
func Measure(img image.Image) (m Measures, err error) {
	defer recovered(&err)
	b := img.Bounds()
	if b.Dx() < 100 || b.Dy() < 100 {
		return m, fmt.Errorf("the scan is %d × %d pixels: at least 100 on a side are needed to measure it", b.Dx(), b.Dy())
	}
	p := linear(img, within(b.Dx(), b.Dy(), measureSide))
	ring := max(2, min(p.w, p.h)/100) // a hundredth of the shorter side
	white := quantile(p.ringOf(ring), 0.5)
	inside, ok := p.inside(white, ring)
	if !ok {
		return m, ErrNoBorder
	}

	var sides [4]float64 // medians of the whole border on each side
	var outer [4]float64 // and of its outer half
	var all []float64
	for i, r := range p.border(inside) {
		all = append(all, p.values(r[0])...)
		sides[i] = quantile(p.values(r[0]), 0.5)
		outer[i] = quantile(p.values(r[1]), 0.5)
	}
	m.Border = quantile(all, 0.9)
	darkest, _ := extremes(outer[:])
	m.EdgeVeil = math.Max(0, density(darkest, m.Border))
	least, most := extremes(sides[:])
	m.BorderEvenness = math.Log2(most / least)

	// A point's width inside the edge of the picture, where paper and picture mix.
	inside = inside.Inset(max(1, min(inside.Dx(), inside.Dy())/100))
	tones := p.values(inside)
	m.White = density(quantile(tones, 0.995), m.Border)
	m.Mid = density(quantile(tones, 0.5), m.Border)
	m.Black = density(quantile(tones, 0.005), m.Border)
	if m.Black < 0.02 {
		return m, errors.New("the picture is nowhere darker than its border: this is a blank sheet")
	}
	var quarters [4]float64
	for i, q := range quartersOf(inside) {
		quarters[i] = mean(p.values(q))
	}
	least, most = extremes(quarters[:])
	m.Evenness = math.Log2(most / least)
	if max(p.w, p.h) >= measureSide {
		m.Sharpness = p.sharpness(inside, tones)
	}
	m.Picture = image.Rect(inside.Min.X*b.Dx()/p.w, inside.Min.Y*b.Dy()/p.h,
		inside.Max.X*b.Dx()/p.w, inside.Max.Y*b.Dy()/p.h).Add(b.Min)
	return m, nil
}

// density is relative to white; what is darker than a scan can tell reads as
// the darkest it can.
func density(reflectance, white float64) float64 {
	return -math.Log10(math.Max(reflectance, floor) / math.Max(white, floor))
}

// plane holds linear reflectances, 0 to 1 of the scanner's white.
type plane struct {
	w, h int
	pix  []float64
}

// srgb is the linear value of each coded one, by IEC 61966-2-1.
var srgb = func() (t [256]float64) {
	for i := range t {
		v := float64(i) / 255
		if v <= 0.04045 {
			t[i] = v / 12.92
		} else {
			t[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return t
}()

// coded is the sRGB value of a linear one, both 0 to 1.
func coded(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// linear averages a picture's luminance (Rec. 709 weights, those of sRGB) as
// light, not as code: the mean of black and white is then half the light.
func linear(img image.Image, size image.Point) plane {
	b := img.Bounds()
	p := plane{size.X, size.Y, make([]float64, size.X*size.Y)}
	counts := make([]int, size.X)
	band := image.NewRGBA(image.Rect(0, 0, b.Dx(), 1))
	for y := range size.Y {
		y0, y1 := y*b.Dy()/size.Y, (y+1)*b.Dy()/size.Y
		clear(counts)
		row := p.pix[y*p.w : (y+1)*p.w]
		for line := y0; line < y1; line++ {
			stddraw.Draw(band, band.Bounds(), image.NewUniform(color.White), image.Point{}, stddraw.Src)
			stddraw.Draw(band, band.Bounds(), img, image.Pt(b.Min.X, b.Min.Y+line), stddraw.Over)
			for x := range b.Dx() {
				at := x * size.X / b.Dx()
				i := 4 * x
				row[at] += 0.2126*srgb[band.Pix[i]] + 0.7152*srgb[band.Pix[i+1]] + 0.0722*srgb[band.Pix[i+2]]
				counts[at]++
			}
		}
		for x, n := range counts {
			row[x] /= float64(n)
		}
	}
	return p
}

func (p plane) at(x, y int) float64 { return p.pix[y*p.w+x] }

func (p plane) values(r image.Rectangle) []float64 {
	v := make([]float64, 0, r.Dx()*r.Dy())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		v = append(v, p.pix[y*p.w+r.Min.X:y*p.w+r.Max.X]...)
	}
	return v
}

// quantile is the value below which the share q of the values lies. It sorts
// its argument.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	return v[int(q*float64(len(v)-1)+0.5)]
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

func extremes(v []float64) (least, most float64) {
	least, most = v[0], v[0]
	for _, x := range v {
		least, most = math.Min(least, x), math.Max(most, x)
	}
	return math.Max(least, floor), math.Max(most, floor)
}
