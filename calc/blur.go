package calc

import "math"

// LightNM is the wavelength in nanometres for which diffraction is calculated:
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
// where the subject would be sharp. Derived from similar triangles; at the limits
// that Figure gives it is the circle of confusion.
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

// Motion is how something moves while the cap is off: with a speed in mm/s up
// to an amplitude in mm, infinite where nothing bounds it.
type Motion struct{ SpeedMMS, AmplitudeMM float64 }

// MotionSpread is how much more slowly a sitter may move than a kind of motion
// says: a third of its speed is as likely as all of it. Our own model.
const MotionSpread = 3.0

// motions are our own model of sitters and boats; each is a default. A boat at
// its moorings sways about as fast as somebody standing shifts, further out.
var motions = [...]struct {
	kind string
	Motion
}{
	{"rest", Motion{0, 0}},
	{"seated", Motion{5, 5}},
	{"standing", Motion{15, 15}},
	{"child", Motion{50, 50}},
	{"walking", Motion{1400, math.Inf(1)}},
	{"afloat", Motion{100, 300}},
}

// MotionOf is the motion of a kind: rest, seated, standing, child, walking,
// afloat. ok is false for any other word.
func MotionOf(kind string) (m Motion, ok bool) {
	for _, k := range motions {
		if k.kind == kind {
			return k.Motion, true
		}
	}
	return Motion{}, false
}

// Blur is the blur in mm on the paper at magnification m in timeS seconds:
// m × min(speed × t, amplitude). Speed × m × t is derived; the bound is our own
// model. A speed or amplitude below 0 or a time not more than 0 is a
// *RangeError.
func (mo Motion) Blur(m, timeS float64) (float64, error) {
	if err := firstError(mo.check(), within("magnification", m, 0, 1e4, ""), checkTime(timeS)); err != nil {
		return 0, err
	}
	return m * math.Min(mo.SpeedMMS*timeS, mo.AmplitudeMM), nil
}

// BlurRange is Blur for a third of the speed and for all of it: who sits, shifts
// more or less, and nothing tells how much.
func (mo Motion) BlurRange(m, timeS float64) (low, high float64, err error) {
	if high, err = mo.Blur(m, timeS); err != nil {
		return 0, 0, err
	}
	mo.SpeedMMS /= MotionSpread
	low, err = mo.Blur(m, timeS)
	return low, high, err
}

// StillS is the longest time in seconds in which the blur at magnification m
// stays within blur mm; +Inf where it never grows beyond. Derived from Blur.
func (mo Motion) StillS(m, blur float64) (float64, error) {
	if err := firstError(mo.check(), checkMag(m), above("blur", blur, 0, 1e6, "mm")); err != nil {
		return 0, err
	}
	if mo.SpeedMMS == 0 || m*mo.AmplitudeMM <= blur {
		return math.Inf(1), nil
	}
	return blur / (m * mo.SpeedMMS), nil
}

func (mo Motion) check() error {
	amplitude := mo.AmplitudeMM
	if math.IsInf(amplitude, 1) {
		amplitude = 0
	}
	return firstError(within("speed", mo.SpeedMMS, 0, 1e7, "mm/s"), within("amplitude", amplitude, 0, maxLengthMM, "mm"))
}

// MotionBlur is Blur for a kind; a kind that MotionOf does not know blurs
// nothing.
func MotionBlur(kind string, m, timeS float64) (float64, error) {
	mo, _ := MotionOf(kind)
	return mo.Blur(m, timeS)
}
