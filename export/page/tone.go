package page

import (
	"fmt"
	"image/color"
	"math"
	"strconv"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// GreyOf returns the grey, 0 to 1, that stands on the page for a reflection
// density above the paper's white: the reflectance 10^-density, encoded as
// sRGB does (IEC 61966-2-1), which viewers and printers take a grey to be. A
// density below 0 is white.
func GreyOf(density float64) float64 {
	if !(density > 0) {
		return 1
	}
	r := math.Pow(10, -density)
	if r <= 0.0031308 {
		return 12.92 * r
	}
	return 1.055*math.Pow(r, 1/2.4) - 0.055
}

// GreyScale draws a strip of patches of the given reflection densities, left
// to right, within a thin frame. With labels, one for each patch, the strip
// leaves the foot of the box to them. It is told as a picture with the
// densities in words.
func (d *Doc) GreyScale(box Rect, densities []float64, labels []string) {
	if len(densities) == 0 {
		return
	}
	words := make([]string, len(densities))
	for i, density := range densities {
		if i < len(labels) {
			words[i] = labels[i] + ": "
		}
		if math.IsNaN(density) {
			words[i] += "not known"
		} else {
			words[i] += strconv.FormatFloat(density, 'f', 2, 64)
		}
	}
	d.Figure(box, "Grey scale of the densities "+strings.Join(words, ", "), func() { d.greyScale(box, densities, labels) })
}

func (d *Doc) greyScale(box Rect, densities []float64, labels []string) {
	strip := box
	small := Set(5.5, Regular).Centred()
	if labels != nil {
		strip.H -= LineHeight(small.Size)
	}
	w := strip.W / float64(len(densities))
	for i, density := range densities {
		patch := Rect{strip.X + float64(i)*w, strip.Y, w, strip.H}
		if math.IsNaN(density) { // not known: an open patch
			d.Cross(patch.X+w/2, patch.Y+patch.H/2, math.Min(w, patch.H)*0.4, Pen{Width: 0.15, Grey: 0.5})
		} else {
			d.Fill(patch, GreyOf(density))
		}
		if i < len(labels) {
			d.Text(patch.X, strip.Bottom(), w, small, labels[i])
		}
	}
	d.Box(strip, Pen{Width: 0.15, Grey: 0.4})
}

// Deviation draws how far a thing was done from what was called for: a tick in
// the middle for "as called for", a stroke every stop, and a bar to the right
// for more, to the left for less. stops is the base-2 logarithm of done over
// called for; span is how many stops the scale shows to each side. A bar beyond
// the scale ends in an arrowhead. When stops is no number the scale stays
// empty, and is not told.
func (d *Doc) Deviation(box Rect, stops, span float64) {
	draw := func() { d.deviation(box, stops, span) }
	by := "more"
	if stops < 0 {
		by = "less"
	}
	switch off := math.Abs(stops); {
	case math.IsNaN(off):
		d.Decoration(draw)
	case off < 0.05:
		d.Figure(box, "as called for", draw)
	default:
		d.Figure(box, fmt.Sprintf("%.1f stops %s than called for", off, by), draw)
	}
}

func (d *Doc) deviation(box Rect, stops, span float64) {
	if !(span > 0) {
		span = 2
	}
	mid, y := box.X+box.W/2, box.Y+box.H/2
	perStop := box.W / 2 / span
	d.Line(box.X, y, box.Right(), y, Pen{Width: 0.12, Grey: 0.6})
	for s := 1.0; s <= span+1e-9; s++ {
		for _, x := range []float64{mid - s*perStop, mid + s*perStop} {
			d.Line(x, y-box.H*0.25, x, y+box.H*0.25, Pen{Width: 0.12, Grey: 0.6})
		}
	}
	if !math.IsNaN(stops) {
		shown := math.Max(-span, math.Min(span, stops))
		half := box.H * 0.3
		end := mid + shown*perStop
		if shown != stops {
			tip := math.Copysign(math.Min(half*1.6, box.W/4), shown)
			d.Polygon([]Point{{end - tip, y - box.H/2}, {end, y}, {end - tip, y + box.H/2}}, 0.15)
			end -= tip
		}
		d.Fill(Rect{math.Min(mid, end), y - half, math.Abs(end - mid), 2 * half}, 0.15)
	}
	d.Line(mid, box.Y, mid, box.Bottom(), Pen{Width: 0.3})
}

// The QR symbol (ISO/IEC 18004): a quiet zone of four modules on each side,
// and no module so small that a hand-held reader loses it (common practice, no
// source).
const (
	quiet      = 4
	leastSizes = 0.25 // mm
)

// QR draws a QR symbol of level M for the text in a square of the given side,
// quiet zone included, on white. Keep the text to ASCII: the symbol holds
// UTF-8, and some readers take other letters for another code.
func (d *Doc) QR(x, y, size float64, text string) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		d.fail(fmt.Errorf("a QR code for %q cannot be made (%v): use a shorter text", Clean(text), err))
		return
	}
	n := code.Bounds().Dx()
	module := size / float64(n+2*quiet)
	if !(module >= leastSizes) {
		d.fail(fmt.Errorf("a QR code for %q needs %.1f mm and has %.1f mm: give it more room or less text",
			Clean(text), leastSizes*float64(n+2*quiet), size))
		return
	}
	// One path for all of it, so that no white hair stands between modules.
	var path Path
	for row := range n {
		for col := 0; col < n; col++ {
			from := col
			for col < n && isBlack(code.At(col, row)) {
				col++
			}
			if col > from {
				path.Rect(Rect{x + float64(quiet+from)*module, y + float64(quiet+row)*module, float64(col-from) * module, module})
			}
		}
	}
	square := Rect{x, y, size, size}
	d.Figure(square, "QR code of "+text, func() {
		d.Fill(square, 1)
		d.FillPath(&path, 0)
	})
}

func isBlack(c color.Color) bool {
	r, _, _, _ := c.RGBA()
	return r < 1<<15
}
