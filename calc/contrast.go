package calc

import "math"

const (
	// OrdinarySceneRange is the log10 range of light taken for a scene of which
	// nobody metered shadow and light: five stops. Our own model.
	OrdinarySceneRange = 1.5
	// ContrastSlack is how far a paper's R/100 may lie from the log10 range
	// offered to it before it is called too harsh or too soft. Our own model.
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

// FlareFromRanges is the share of the brightest tone that turns one log10 range
// of light (more than 0 to 10) into a smaller one (more than 0). Derived.
func FlareFromRanges(before, after float64) (float64, error) {
	if err := firstError(
		above("log10 range of the scene", before, 0, 10, ""),
		above("log10 range after flare", after, 0, before, ""),
	); err != nil {
		return 0, err
	}
	a, b := math.Pow(10, before), math.Pow(10, after)
	flare := (a - b) / (a * (b - 1))
	if err := within("flare", flare, 0, 1, ""); err != nil {
		return 0, err
	}
	return flare, nil
}

// MeanGradient is the density range a negative makes of a log10 range of light,
// density ÷ (scene − flare, both log10). Published standard model, as quoted in
// a public text.
func MeanGradient(densityRange, scene, flareLoss float64) (float64, error) {
	if err := firstError(
		within("density range", densityRange, 0, 5, ""),
		within("loss by flare", flareLoss, 0, 5, ""),
		within("log10 range of the scene less flare", scene-flareLoss, 0.01, 10, ""),
	); err != nil {
		return 0, err
	}
	return densityRange / (scene - flareLoss), nil
}

// PaperFit says whether a paper suits the range of light offered to it.
type PaperFit int

// What PaperSuits answers.
const (
	PaperFits PaperFit = iota
	PaperTooHarsh
	PaperTooSoft
)

// PaperSuits holds a paper's range against the log10 range of light offered to
// it: to a negative the scene's range after flare, to a print the negative's
// net density range. The paper's R/100 is taken with its flash, phi of the
// threshold (0 to 0.99). Over ContrastSlack below the offer it is too harsh,
// over ContrastSlack above it too soft. excess is the offer less R/100, + where
// the paper is the harder. Our own model upon the matching rule of ISO 6846.
func PaperSuits(offered, r, phi float64) (fit PaperFit, excess float64, err error) {
	if err := within("log10 range offered", offered, 0, 10, ""); err != nil {
		return PaperFits, 0, err
	}
	flashed, err := FlashedR(r, phi)
	if err != nil {
		return PaperFits, 0, err
	}
	excess = offered - flashed/100
	const hair = 1e-9
	switch {
	case excess > ContrastSlack+hair:
		fit = PaperTooHarsh
	case excess < -ContrastSlack-hair:
		fit = PaperTooSoft
	}
	return fit, excess, nil
}
