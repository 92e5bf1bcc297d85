package calc

import (
	"math"
	"slices"
)

const (
	cutHair     = 1e-6 // mm: what the conversion of inches may leave behind
	mostCuts    = 250  // places for a cut along one side that are still tried
	wholeLayout = 3    // parts: so few can always be parted by straight cuts, however they lie
)

// MostParts is how many parts of w × h come out of one sheet by straight cuts
// from edge to edge, each part laid either way. ok is false where the parts are
// too small for every cut to be tried.
//
// Sides in millimetres, more than 0. A part that fits neither way gives 0.
//
// Derived: every cut can be moved to a sum of sides of parts without losing one,
// so only those places are tried.
func MostParts(sheetW, sheetH, w, h float64) (most int, ok bool) {
	xs, okX := cutPlaces(sheetW, w, h)
	ys, okY := cutPlaces(sheetH, w, h)
	if !okX || !okY {
		return 0, false
	}
	below := func(places []float64, at float64) int { // the last place that is not beyond
		i, _ := slices.BinarySearch(places, at+cutHair)
		return i - 1
	}
	best := make([][]int, len(xs))
	for i, x := range xs {
		best[i] = make([]int, len(ys))
		for j, y := range ys {
			if w <= x+cutHair && h <= y+cutHair || h <= x+cutHair && w <= y+cutHair {
				best[i][j] = 1
			}
			for k := 1; k < i; k++ {
				best[i][j] = max(best[i][j], best[k][j]+best[below(xs, x-xs[k])][j])
			}
			for k := 1; k < j; k++ {
				best[i][j] = max(best[i][j], best[i][k]+best[i][below(ys, y-ys[k])])
			}
		}
	}
	return best[len(xs)-1][len(ys)-1], true
}

// cutPlaces lists the sums of sides of parts that lie within a side, 0 first.
func cutPlaces(side, w, h float64) ([]float64, bool) {
	out := []float64{0}
	for a := 0.0; a <= side+cutHair; a += w {
		for b := a; b <= side+cutHair; b += h {
			if out = append(out, b); len(out) > mostCuts*mostCuts {
				return nil, false
			}
		}
	}
	slices.Sort(out)
	out = slices.CompactFunc(out, func(a, b float64) bool { return math.Abs(a-b) < cutHair })
	return out, len(out) <= mostCuts
}

// CannotCut reports whether n parts of w × h can come out of one sheet in no
// way at all: one fits neither way, all together are larger than the sheet, or
// so few do not come out by straight cuts.
//
// Sides in millimetres, more than 0.
func CannotCut(sheetW, sheetH, w, h float64, n int) bool {
	fits := w <= sheetW+cutHair && h <= sheetH+cutHair || h <= sheetW+cutHair && w <= sheetH+cutHair
	if !fits || float64(n)*w*h > sheetW*sheetH+cutHair*(sheetW+sheetH) {
		return true
	}
	most, ok := MostParts(sheetW, sheetH, w, h)
	return ok && n <= wholeLayout && most < n
}
