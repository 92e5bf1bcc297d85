package calledfor

import (
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// depthSlack is how far beyond the circle of confusion a blur still passes for sharp: numbers on a lens are rounded.
const depthSlack = 1.02

// Depth is how the nearest and the farthest thing that matter come out of an exposure.
type Depth struct {
	AtMM    float64 // what the rail was set for
	WhereMM float64 // the one of the two that is blurred more
	BlurMM  float64 // by so much
	CocMM   float64 // what passes for sharp
	NeedF   float64 // the mark at which it would
}

// DepthOf works out the depth of an exposure with a lens. short is false where all that matters is sharp, or nothing says
// how far it stood.
func DepthOf(lens *events.CameraDescribedData, x *events.SheetExposedData, atMM *float64) (d Depth, short bool) {
	if atMM == nil || x.F == 0 {
		return d, false
	}
	d = Depth{AtMM: *atMM, CocMM: snapshot.ValueOr(lens.CocMM, calc.COC)}
	for _, edge := range []*float64{x.NearMM, x.FarMM} {
		if edge == nil {
			continue
		}
		if blur, err := calc.FocusBlur(lens.FocalMM, calc.ExactF(x.F), *atMM, *edge); err == nil && blur > d.BlurMM {
			d.BlurMM, d.WhereMM = blur, *edge
		}
	}
	if d.BlurMM <= d.CocMM*depthSlack {
		return d, false
	}
	d.NeedF = x.F * d.BlurMM / d.CocMM
	if mark, err := calc.NearestMark(d.NeedF); err == nil {
		d.NeedF = mark
	}
	return d, true
}

// MotionOf is how the subject of an exposure moved, and the word for it; said is false where nobody said.
func MotionOf(x *events.SheetExposedData) (m calc.Motion, word string, said bool) {
	m, known := calc.MotionOf(x.Motion)
	if !known {
		m = calc.Motion{AmplitudeMM: math.Inf(1)}
	}
	word = x.Motion
	if x.MotionMMS != nil {
		m.SpeedMMS = *x.MotionMMS
		if m.AmplitudeMM == 0 {
			m.AmplitudeMM = math.Inf(1)
		}
		if word == "" {
			word = wording.Number(*x.MotionMMS) + " mm/s"
		}
	}
	return m, word, x.Motion != "" || x.MotionMMS != nil
}
