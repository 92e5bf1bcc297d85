package calc

import "math"

const (
	// OrdinarySceneRange is the log10 range of light taken for a scene of which
	// nobody metered shadow and light: five stops. Our own model.
	OrdinarySceneRange = 1.5
	// ContrastSlack is how far a paper's R/100 may lie from the log10 range
	// offered to it before it is called too hard or too soft. Our own model.
	ContrastSlack = 0.3
)

// RangeAfterFlare is what stray light, a share of the brightest tone (0 to 1),
// leaves of a log10 range of light (0 to 10): 2.20 and 0.0098 give 1.80.
// Derived.
func RangeAfterFlare(logRange, flare float64) (float64, error) {
	if err := firstError(
		within("log10 range of the scene", logRange, 0, 10, ""),
		within("flare", flare, 0, 1, ""),
	); err != nil {
		return 0, err
	}
	ratio := math.Pow(10, logRange)
	return math.Log10(ratio * (1 + flare) / (1 + flare*ratio)), nil
}

// PaperFit says whether a paper suits the range of light offered to it.
type PaperFit int

// What PaperSuits answers.
const (
	PaperFits PaperFit = iota
	PaperTooHard
	PaperTooSoft
)

// PaperSuits holds a paper's range against the log10 range of light offered to
// it: to a negative the scene's range after flare, to a print the negative's
// net density range. The paper's R/100 is taken with its pre-flash, phi of the
// threshold (0 to 0.99). Over ContrastSlack below the offer it is too hard,
// over ContrastSlack above it too soft. excess is the offer less R/100, + where
// the paper is the harder. Our own model upon the matching rule of ISO 6846.
func PaperSuits(offered, r, phi float64) (fit PaperFit, excess float64, err error) {
	if err := within("log10 range offered", offered, 0, 10, ""); err != nil {
		return PaperFits, 0, err
	}
	flashed, err := PreFlashedR(r, phi)
	if err != nil {
		return PaperFits, 0, err
	}
	excess = offered - flashed/100
	const hair = 1e-9
	switch {
	case excess > ContrastSlack+hair:
		fit = PaperTooHard
	case excess < -ContrastSlack-hair:
		fit = PaperTooSoft
	}
	return fit, excess, nil
}

// PreFlashedR is the ISO range of a paper that got a pre-flash before or after the
// picture: the pre-flash adds phi·Ht to every exposure, so the picture itself needs
// less for the threshold and
//
//	R' = 100·log10((Hs/Ht − φ)/(1 − φ))
//
// phi is the share of the threshold exposure, 0 up to but not 1: from 1 on the
// pre-flash alone is a veil. r runs from 10 to 400. Derived.
func PreFlashedR(r, phi float64) (float64, error) {
	if err := within("ISO range", r, 10, 400, ""); err != nil {
		return 0, err
	}
	if math.IsNaN(phi) || phi < 0 || phi > preFlashMost {
		return 0, &RangeError{Quantity: "share of the threshold pre-flash (from 1 on it veils the sheet)", Value: phi, Min: 0, Max: preFlashMost}
	}
	return 100 * math.Log10((math.Pow(10, r/100)-phi)/(1-phi)), nil
}

// preFlashMost is the greatest share PreFlashedR allows for: closer to 1 the range
// runs away.
const preFlashMost = 0.99

// PreFlashStops is by how many stops, 0 or less, the exposure of a sheet is shortened
// that got a pre-flash of phi of the threshold, so that its mid-tone stays where it
// is: log2(1 − φ·Ht/Hm). From 1 on it is a veil, which no exposure makes up for, and
// 0 as below 0 and for paper that reverses. Derived.
func (c Curve) PreFlashStops(phi float64) float64 {
	if !(phi > 0 && phi < 1) || c.Falling {
		return 0
	}
	return math.Log2(1 - phi*c.htHm)
}

// PreFlashShare is a pre-flash time as a share of the threshold time, the time that
// alone gives the first visible tone. Both in seconds, the threshold more than
// 0.
func PreFlashShare(timeS, thresholdS float64) (float64, error) {
	if err := firstError(
		within("pre-flash time", timeS, 0, 86400, "s"),
		above("threshold time of the pre-flash", thresholdS, 0, 86400, "s"),
	); err != nil {
		return 0, err
	}
	if share := timeS / thresholdS; !math.IsInf(share, 0) {
		return share, nil
	}
	return 0, &RangeError{Quantity: "threshold time of the pre-flash", Value: thresholdS, Min: 0, Max: 86400, Unit: "s", Above: true}
}

// PreFlashThreshold reads the threshold time from a strip of pre-flashes: timesS each
// step's total in seconds, rising, and firstTone the step, from 1, where a tone
// first shows. The threshold lies after the step before and not after firstTone;
// the estimate is their geometric mean, or the step itself where nothing comes
// before it and low is 0.
func PreFlashThreshold(timesS []float64, firstTone int) (estimate, low, high float64, err error) {
	if err := within("step of the threshold", float64(firstTone), 1, float64(len(timesS)), ""); err != nil {
		return 0, 0, 0, err
	}
	last := 0.0
	for _, t := range timesS {
		if err := above("time of a step on the pre-flash strip", t, last, 86400, "s"); err != nil {
			return 0, 0, 0, err
		}
		last = t
	}
	high = timesS[firstTone-1]
	if firstTone == 1 {
		return high, 0, high, nil
	}
	low = timesS[firstTone-2]
	return math.Sqrt(low) * math.Sqrt(high), low, high, nil
}
