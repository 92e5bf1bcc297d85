package calc

import "math"

// LightNM is the wavelength in nanometres for which diffraction is reckoned:
// the middle of the visible. Common practice. Blue-sensitive paper sees about
// 450, a fifth better.
const LightNM = 550.0

// AiryUM is the diameter in micrometres of the disc that diffraction makes of a
// point: 2.44·λ·N·(1+m), N the exact aperture (ExactF of a mark), λ = LightNM.
// Published: Rayleigh's criterion, of which a table at 589.3 nm is checked.
func AiryUM(n, m float64) (float64, error) {
	if err := firstError(checkN(n), within("magnification", m, 0, 1e4, "")); err != nil {
		return 0, err
	}
	return 2.44 * LightNM / 1000 * n * (1 + m), nil
}

// RayleighLines is the finest pattern in lines per mm that a perfect lens
// resolves at exact aperture n and a wavelength in nm: 1/(1.22·λ·N). Published:
// theoretical resolving-power table.
func RayleighLines(n, wavelengthNM float64) (float64, error) {
	if err := firstError(checkN(n), within("wavelength", wavelengthNM, 100, 2000, "nm")); err != nil {
		return 0, err
	}
	return 1e6 / (1.22 * wavelengthNM * n), nil
}

// RailBlur is the blur in mm on the paper when the lens stands off mm wrong on
// its rail: off/(N·(1+m)), N·(1+m) being the aperture times v/f. The sign of off
// does not matter. Derived from similar triangles; at RailTolerance it is the
// circle of confusion.
func RailBlur(off, n, m float64) (float64, error) {
	if err := firstError(within("rail setting", off, -1e6, 1e6, "mm"), checkN(n), within("magnification", m, 0, 1e4, "")); err != nil {
		return 0, err
	}
	return math.Abs(off) / (n * (1 + m)), nil
}

// FocusBlur is the blur in mm on the paper of something at subject mm when the
// rail is set for focused mm: the lens opening f/N times the miss |v−v'| ÷ v, v
// where the subject would be sharp. Derived from similar triangles; NearFar are
// the distances at which it is the circle of confusion.
func FocusBlur(focal, n, focused, subject float64) (float64, error) {
	set, err1 := ImageDistance(focal, focused)
	sharp, err2 := ImageDistance(focal, subject)
	if err := firstError(err1, err2, checkN(n)); err != nil {
		return 0, err
	}
	return focal / n * math.Abs(set-sharp) / sharp, nil
}

// ApertureOfLeastBlur is the exact aperture at which the blur of a depth and
// that of diffraction, added in quadrature, are least: √(Δ/2.44λ)/(1+m), where
// both are equal. Δ is the miss in mm on the rail side, half the spread between
// the sharp images of the nearest and the farthest thing that matters. Derived
// from RailBlur, AiryUM and BlurSum.
func ApertureOfLeastBlur(missMM, m float64) (float64, error) {
	if err := firstError(above("miss on the rail", missMM, 0, 1e6, "mm"), within("magnification", m, 0, 1e4, "")); err != nil {
		return 0, err
	}
	return math.Sqrt(missMM/(2.44*LightNM*1e-6)) / (1 + m), nil
}
