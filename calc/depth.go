package calc

import "math"

// COC is the circle of confusion in mm that passes for sharp on a sheet seen at
// reading distance and not enlarged. Common practice; a default.
const COC = 0.2

func checkN(n float64) error   { return checkF(n) }
func checkCOC(c float64) error { return above("circle of confusion", c, 0, 100, "mm") }

// Hyperfocal is the nearest distance in mm which, focused on, leaves infinity
// sharp within a circle c in mm: f²/(N·c)+f. Published: worked example of 35 mm
// at f/11. Army and Navy manuals leave the last f out (2 in, f/8, 0.002 in: near
// limit 10.4 ft, exactly 10.5); the exact form is kept, for it holds at short
// distances too and makes the near limit exactly half of it.
//
// n is taken as it is. Figure gives it the engraved number, where exposure uses
// the exact one behind it, because sources disagree: every published worked
// example of hyperfocal distance allows for the engraved 11 and 2.8 (35 mm at
// f/11 and 0.03 mm: 3.75 m, where 11.314 would give 3.64), while tables of
// exposure and of resolving power use 11.314. The circle of confusion is itself
// agreed on to a tenth at best and a mark is 3 % off at worst, so depth keeps
// company with the examples that a photographer can check it against.
func Hyperfocal(focal, n, c float64) (float64, error) {
	if err := firstError(checkFocal(focal), checkN(n), checkCOC(c)); err != nil {
		return 0, err
	}
	h := focal*focal/(n*c) + focal
	return h, within("hyperfocal distance", h, 0, 1e15, "mm")
}

// depthLimits are the nearest and farthest distances that are sharp when the lens
// of focal length f is focused on u, from its hyperfocal distance h, all in one
// unit: u(h−f)/(h+u−2f) and u(h−f)/(h−u). From the hyperfocal distance on far is
// +Inf, the one infinity with a meaning. Published: as Hyperfocal, exact form;
// with f = 0 they are the simple forms that manuals print (NAVEDTRA 14209;
// Photographic Lenses FAQ).
func depthLimits(h, f, u float64) (near, far float64) {
	near = u * (h - f) / (h + u - 2*f)
	if u >= h {
		return near, math.Inf(1)
	}
	return near, u * (h - f) / (h - u)
}

// FocusBetween is the distance to focus on so that two distances are equally
// sharp: 2·D·d/(D+d), in their unit. Published: NAVEDTRA 14209.
func FocusBetween(near, far float64) (float64, error) {
	if err := firstError(above("near distance", near, 0, maxLengthMM, "mm"), within("far distance", far, near, maxLengthMM, "mm")); err != nil {
		return 0, err
	}
	return 2 * far * near / (far + near), nil
}

// RailTolerance is by how much in mm the lens may stand wrong on its rail, to
// either side, within a circle c in mm: c·N·(1+m). Derived from similar
// triangles between lens and paper.
func RailTolerance(c, n, m float64) (float64, error) {
	if err := firstError(checkCOC(c), checkN(n), within("magnification", m, 0, 1e4, "")); err != nil {
		return 0, err
	}
	return c * n * (1 + m), nil
}
