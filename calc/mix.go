package calc

import "math"

// Dilute is the concentrate and the water, millilitres, for a total of a
// dilution of parts of concentrate (more than 0) plus parts of water (0 or
// more), 1+9 being 1 and 9. The total is more than 0, up to 1e6. Published: the
// trade's notation.
func Dilute(concentrateParts, waterParts, totalML float64) (concentrateML, waterML float64, err error) {
	if err := firstError(
		above("parts of concentrate", concentrateParts, 0, 1e6, ""),
		within("parts of water", waterParts, 0, 1e6, ""),
		above("total", totalML, 0, 1e6, "ml"),
	); err != nil {
		return 0, 0, err
	}
	parts := concentrateParts + waterParts
	return totalML * (concentrateParts / parts), totalML * (waterParts / parts), nil
}

// DiluteStrength is the concentrate of strength from and the water, millilitres,
// that make a total of strength to: C1·V1 = C2·V2. Both strengths in the same
// measure, from more than 0 and to not over from. Published.
func DiluteStrength(from, to, totalML float64) (concentrateML, waterML float64, err error) {
	if err := firstError(
		above("strength of the concentrate", from, 0, 1e6, ""),
		within("strength wanted", to, 0, from, ""),
		above("total", totalML, 0, 1e6, "ml"),
	); err != nil {
		return 0, 0, err
	}
	concentrateML = totalML * (to / from)
	return concentrateML, totalML - concentrateML, nil
}

// CrissCross is the parts of two liquids of strengths a and b that make the
// strength c between them: (c − b) parts of a to (a − c) of b. Published: the
// criss-cross of the handbooks.
func CrissCross(a, b, c float64) (partsA, partsB float64, err error) {
	if err := firstError(
		within("first strength", a, 0, 1e6, ""),
		within("second strength", b, 0, 1e6, ""),
		within("strength wanted", c, math.Min(a, b), math.Max(a, b), ""),
		above("difference of the strengths", math.Abs(a-b), 0, 1e6, ""),
	); err != nil {
		return 0, 0, err
	}
	return math.Abs(c - b), math.Abs(a - c), nil
}

// GramsFor is the weight in grams for a total in millilitres of a solution of so
// many percent, weight in volume (0 to 200). Published.
func GramsFor(percent, totalML float64) (float64, error) {
	if err := firstError(
		within("strength in percent", percent, 0, 200, "%"),
		within("total", totalML, 0, 1e6, "ml"),
	); err != nil {
		return 0, err
	}
	return percent / 100 * totalML, nil
}
