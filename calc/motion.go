package calc

import "math"

// Motion is how something moves while the cap is off: with a speed in mm/s up
// to an amplitude in mm, infinite where nothing bounds it.
type Motion struct{ SpeedMMS, AmplitudeMM float64 }

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
