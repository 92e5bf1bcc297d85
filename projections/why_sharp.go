package projections

import (
	"fmt"
	"math"

	"traybook/calc"
	"traybook/events"
)

// coc is the circle of confusion of the camera in use.
func (l *sheetLog) coc() float64 {
	if l.camera != nil {
		return orF(l.camera.CocMM, calc.COC)
	}
	return calc.COC
}

// blurs makes a deviation that shows as lack of sharpness, on a negative's prints too.
func (r *replay) blurs(l *sheetLog, cause string, entries []string, by map[string]float64) *deviation {
	v := &deviation{on: l}
	v.Cause, v.Entries = cause, entries
	v.shows = func(symptom string, seen *sheetLog) float64 {
		switch {
		case seen == l:
			return by[symptom]
		case l.sheet.Generation == Negative:
			return by[symptom] * l.through()
		}
		return 0
	}
	return r.add(v)
}

var (
	byFocus  = map[string]float64{"out-of-focus": 1, "soft": 0.8, "part-soft": 0.5}
	byDepth  = map[string]float64{"part-soft": 1, "out-of-focus": 0.7, "soft": 0.4}
	byMotion = map[string]float64{"moved": 1, "shaken": 0.5, "soft": 0.4}
	afloat   = map[string]float64{"moved": 1, "shaken": 0.9, "soft": 0.4}
)

// focused holds the rail against the subject, and the depth against the nearest and farthest that matter.
func (r *replay) focused(l *sheetLog) error {
	if l.exposure == nil || l.camera == nil {
		return nil
	}
	if err := r.railBad(l); err != nil {
		return err
	}
	if x, ok := l.exposure.Data.(*events.SheetReprintedData); ok {
		r.copyFocus(l, x)
		return nil
	}
	x := l.exposure.Data.(*events.SheetExposedData)
	focal, n, c := l.camera.FocalMM, calc.ExactF(x.F), l.coc()
	set := x.FocusedMM
	if set == nil && x.ExtensionMM != nil && *x.ExtensionMM > 0 {
		if u, err := calc.SubjectDistance(focal, *x.ExtensionMM/focal); err == nil {
			set = &u
		}
	}
	if set != nil && x.SubjectMM != nil {
		if blur, err := calc.FocusBlur(focal, n, *set, *x.SubjectMM); err == nil && blur > c {
			v := r.blurs(l, "focus-shifted", idsOf(l.exposure), byFocus)
			v.Done, v.CalledFor, v.Unit = set, x.SubjectMM, "mm"
			v.Text = fmt.Sprintf("the rail was set for %s m and the subject stood at %s m: a blur of %s mm at f/%s, where %s passes for sharp", Number(*set/1000), Number(*x.SubjectMM/1000), Number(blur), Number(x.F), Number(c))
			v.Next = "focus on the subject itself with a loupe, lock the rail, and look again before the holder goes in"
		}
	}
	at := x.SubjectMM
	if at == nil {
		at = set
	}
	if at == nil {
		return nil
	}
	worst, where := 0.0, 0.0
	for _, edge := range []*float64{x.NearMM, x.FarMM} {
		if edge == nil {
			continue
		}
		if blur, err := calc.FocusBlur(focal, n, *at, *edge); err == nil && blur > worst {
			worst, where = blur, *edge
		}
	}
	if worst <= c*1.02 {
		return nil
	}
	v := r.blurs(l, "depth-short", idsOf(l.exposure), byDepth)
	need := x.F * worst / c
	if mark, err := calc.NearestMark(need); err == nil {
		need = mark
	}
	v.Done, v.CalledFor, v.Unit = new(x.F), new(twoPlaces(need)), "f"
	v.Text = fmt.Sprintf("at f/%s what stood at %s m is blurred by %s mm, where %s passes for sharp", Number(x.F), Number(where/1000), Number(worst), Number(c))
	v.Next = fmt.Sprintf("stop down to about f/%s, or focus between the nearest and the farthest that matter", Number(need))
	return nil
}

// copyFocus holds the extension measured at a copy against the one its magnification wants.
func (r *replay) copyFocus(l *sheetLog, x *events.SheetReprintedData) {
	if x.ExtensionMM == nil || x.Magnification == nil || l.x.f == 0 {
		return
	}
	want, err := calc.Extension(l.camera.FocalMM, *x.Magnification)
	if err != nil {
		return
	}
	blur, err := calc.RailBlur(*x.ExtensionMM-want, calc.ExactF(l.x.f), *x.Magnification)
	if err != nil || blur <= l.coc() {
		return
	}
	v := r.blurs(l, "focus-shifted", idsOf(l.exposure), byFocus)
	v.Done, v.CalledFor, v.Unit = x.ExtensionMM, new(want), "mm"
	v.Text = fmt.Sprintf("the rail stood %s mm out and the copy wanted %s: a blur of %s mm", Number(*x.ExtensionMM), Number(want), Number(blur))
	v.Next = "at 1:1 the lens stands one focal length beyond its infinity mark; check the copy square"
}

// moved holds the subject's motion against the time.
func (r *replay) moved(l *sheetLog) error {
	if l.exposure == nil {
		return nil
	}
	x, ok := l.exposure.Data.(*events.SheetExposedData)
	if !ok || x.Motion == "" && x.MotionMMS == nil || l.step.Magnification <= 0 && l.magnification(x) <= 0 {
		return nil
	}
	m := l.magnification(x)
	kind, known := calc.MotionOf(x.Motion)
	if !known {
		kind = calc.Motion{AmplitudeMM: math.Inf(1)}
	}
	if x.MotionMMS != nil {
		kind.SpeedMMS = *x.MotionMMS
		if kind.AmplitudeMM == 0 {
			kind.AmplitudeMM = math.Inf(1)
		}
	}
	blur, err := kind.Blur(m, x.TimeS)
	if err != nil || blur <= l.coc() {
		return nil
	}
	by := byMotion
	if x.Motion == "afloat" {
		by = afloat
	}
	v := r.blurs(l, "subject-motion", idsOf(l.exposure), by)
	v.Done, v.Unit = new(x.TimeS), "s"
	still, err := kind.StillS(m, l.coc())
	how := "nothing shorter than a moment holds it still"
	if err == nil && !math.IsInf(still, 1) {
		if v.CalledFor = new(twoPlaces(still)); still < 0.1 { // two places would call for nothing
			v.CalledFor = new(math.Round(still*1e4) / 1e4)
		}
		how = "it stays sharp for " + Seconds(still)
	}
	word := x.Motion
	if word == "" {
		word = Number(*x.MotionMMS) + " mm/s"
	}
	v.Text = fmt.Sprintf("the subject (%s) moved %s mm on the paper in %s; %s", word, Number(blur), Seconds(x.TimeS), how)
	v.Next = "a shorter time at a wider aperture, a rest for head and hands, or a greater distance"
	return nil
}

// magnification of an exposure, whether or not a reading served it.
func (l *sheetLog) magnification(x *events.SheetExposedData) float64 {
	if l.step.Magnification > 0 || l.camera == nil {
		return l.step.Magnification
	}
	return sceneMagnification(l.camera.FocalMM, x)
}
