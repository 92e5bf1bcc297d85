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

// MixStrength is the strength of two liquids poured together: the mean of their
// strengths weighed by volume. Published: C1·V1 + C2·V2 = C·V.
func MixStrength(strength1, volume1ML, strength2, volume2ML float64) (float64, error) {
	if err := firstError(
		within("first strength", strength1, 0, 1e6, ""),
		within("second strength", strength2, 0, 1e6, ""),
		within("first volume", volume1ML, 0, 1e6, "ml"),
		within("second volume", volume2ML, 0, 1e6, "ml"),
		within("volume of both", volume1ML+volume2ML, 1e-6, 2e6, "ml"),
	); err != nil {
		return 0, err
	}
	share := volume1ML / (volume1ML + volume2ML)
	return strength1*share + strength2*(1-share), nil
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

// PercentSolution is the strength in percent, weight in volume, of a weight in
// grams made up to a volume in millilitres. Published.
func PercentSolution(grams, totalML float64) (float64, error) {
	if err := firstError(
		within("weight", grams, 0, 1e6, "g"),
		within("total", totalML, 1e-6, 1e6, "ml"),
	); err != nil {
		return 0, err
	}
	return 100 * (grams / totalML), nil
}

// GramsFor is the weight in grams for a total in millilitres of a solution of so
// many percent, weight in volume (0 to 200): the inverse of PercentSolution.
func GramsFor(percent, totalML float64) (float64, error) {
	if err := firstError(
		within("strength in percent", percent, 0, 200, "%"),
		within("total", totalML, 0, 1e6, "ml"),
	); err != nil {
		return 0, err
	}
	return percent / 100 * totalML, nil
}

// GrainsPerOunce is the avoirdupois ounce that the old books make up to a fluid
// ounce.
const GrainsPerOunce = 437.5

// FluidOuncesPerPint is the imperial pint.
const FluidOuncesPerPint = 20.0

// GrainsFor is the weight in grains for a volume in fluid ounces of a solution
// of so many percent (0 to 200) as the old books calculate it: an ounce by weight
// to an ounce by measure. Published: Percentage Solutions, Studio Light 1918;
// Henley, Twentieth Century Formulas.
func GrainsFor(percent, fluidOunces float64) (float64, error) {
	if err := firstError(
		within("strength in percent", percent, 0, 200, "%"),
		within("volume", fluidOunces, 0, 1e6, "fl oz"),
	); err != nil {
		return 0, err
	}
	return percent / 100 * GrainsPerOunce * fluidOunces, nil
}
