package calc

import "math"

// COC is the circle of confusion in mm that passes for sharp on a sheet seen at
// reading distance and not enlarged. Common practice; a default.
const COC = 0.2

func checkN(n float64) error   { return checkF(n) }
func checkCOC(c float64) error { return above("circle of confusion", c, 0, 100, "mm") }

// COCFor is the circle of confusion in mm for a sheet that will be enlarged:
// its diagonal ÷ divisor, 1500 by default practice, 1730 by the Zeiss formula.
// Published: encyclopaedia article "Zeiss formula".
func COCFor(diagonal, divisor float64) (float64, error) {
	if err := firstError(above("diagonal", diagonal, 0, 1e5, "mm"), within("divisor", divisor, 100, 10000, "")); err != nil {
		return 0, err
	}
	return diagonal / divisor, nil
}

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

// NearFar are the nearest and farthest distances in mm that are sharp within a
// circle c in mm when the lens is focused on subject:
// u(H−f)/(H+u−2f) and u(H−f)/(H−u). From the hyperfocal distance on far is +Inf,
// the one infinity with a meaning. Published: as Hyperfocal, exact form.
func NearFar(focal, n, c, subject float64) (near, far float64, err error) {
	h, err := Hyperfocal(focal, n, c)
	if err := firstError(err, checkSubject(focal, subject)); err != nil {
		return 0, 0, err
	}
	near, far = depthLimits(h, focal, subject)
	return near, far, nil
}

// DepthLimits are the limits of NearFar from a hyperfocal distance, in any one
// unit. With focal 0 they are the simple forms H·s/(H+s) and H·s/(H−s) that
// manuals print. Published: NAVEDTRA 14209; Photographic Lenses FAQ.
func DepthLimits(hyperfocal, focal, subject float64) (near, far float64, err error) {
	if err := firstError(within("focal length", focal, 0, 1e5, "mm"), above("hyperfocal distance", hyperfocal, focal, 1e15, "mm"),
		above("distance to the subject", subject, focal, 1e12, "mm")); err != nil {
		return 0, 0, err
	}
	near, far = depthLimits(hyperfocal, focal, subject)
	return near, far, nil
}

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

// CopyDepth is the whole depth in mm at the subject within a circle c in mm when
// copying at magnification m: 2·N·c·(1+m)/m². Published: close-up form.
func CopyDepth(n, c, m float64) (float64, error) {
	if err := firstError(checkN(n), checkCOC(c), above("magnification", m, 0.001, 1e4, "")); err != nil {
		return 0, err
	}
	return 2 * n * c * (1 + m) / (m * m), nil
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
