package why

import (
	"fmt"
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// coc is the circle of confusion of the camera in use.
func coc(l *calledfor.SheetLog) float64 {
	if l.Camera != nil {
		return snapshot.ValueOr(l.Camera.CocMM, calc.COC)
	}
	return calc.COC
}

// blurs makes a deviation that shows as lack of sharpness, on a negative's prints too.
func (r *replay) blurs(l *calledfor.SheetLog, cause string, entries []string, by map[string]float64) *deviation {
	v := &deviation{on: l}
	v.Cause, v.Entries = cause, entries
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		switch {
		case seen == l:
			return by[symptom]
		case l.Sheet.Generation == snapshot.Negative:
			return by[symptom] * through(l)
		}
		return 0
	}
	return r.add(v)
}

var (
	byFocus  = map[string]float64{"out-of-focus": 1, "soft": 0.8, "part-soft": 0.5}
	byDepth  = map[string]float64{"part-soft": 1, "out-of-focus": 0.7, "soft": 0.4}
	byMotion = map[string]float64{"subject-moved": 1, "camera-shake": 0.5, "soft": 0.4}
	afloat   = map[string]float64{"subject-moved": 1, "camera-shake": 0.9, "soft": 0.4}
)

// focused holds the rail against the subject, and the depth against the nearest and farthest that matter.
func (r *replay) focused(l *calledfor.SheetLog) error {
	if l.Exposure == nil || l.Camera == nil {
		return nil
	}
	if err := r.railBad(l); err != nil {
		return err
	}
	if x, ok := l.Exposure.Data.(*events.SheetReprintedData); ok {
		r.copyFocus(l, x)
		return nil
	}
	x := l.Exposure.Data.(*events.SheetExposedData)
	focal, n, c := l.Camera.FocalMM, calc.ExactF(x.F), coc(l)
	set := x.FocusedMM
	if set == nil && x.ExtensionMM != nil && *x.ExtensionMM > 0 {
		if u, err := calc.SubjectDistance(focal, *x.ExtensionMM/focal); err == nil {
			set = &u
		}
	}
	if set != nil && x.SubjectMM != nil {
		if blur, err := calc.FocusBlur(focal, n, *set, *x.SubjectMM); err == nil && blur > c {
			v := r.blurs(l, "focus-shifted", idsOf(l.Exposure), byFocus)
			v.Done, v.CalledFor, v.Unit = set, x.SubjectMM, "mm"
			v.Text = fmt.Sprintf("the rail was set for %s m and the subject stood at %s m: a blur of %s mm at f/%s, where %s passes for sharp", wording.Number(*set/1000), wording.Number(*x.SubjectMM/1000), wording.Number(blur), wording.Number(x.F), wording.Number(c))
			v.Next = "focus on the subject itself with a loupe, lock the rail, and look again before the holder goes in"
		}
	}
	at := x.SubjectMM
	if at == nil {
		at = set
	}
	d, short := calledfor.DepthOf(l.Camera, x, at)
	if !short {
		return nil
	}
	v := r.blurs(l, "depth-short", idsOf(l.Exposure), byDepth)
	v.Done, v.CalledFor, v.Unit = new(x.F), new(twoPlaces(d.NeedF)), "f"
	v.Text = fmt.Sprintf("at f/%s what stood at %s m is blurred by %s mm, where %s passes for sharp", wording.Number(x.F), wording.Number(d.WhereMM/1000), wording.Number(d.BlurMM), wording.Number(c))
	v.Next = fmt.Sprintf("stop down to about f/%s, or focus between the nearest and the farthest that matter", wording.Number(d.NeedF))
	return nil
}

// copyFocus holds the extension measured at a copy against the one its magnification wants.
func (r *replay) copyFocus(l *calledfor.SheetLog, x *events.SheetReprintedData) {
	if x.ExtensionMM == nil || x.Magnification == nil || l.X.F == 0 {
		return
	}
	want, err := calc.Extension(l.Camera.FocalMM, *x.Magnification)
	if err != nil {
		return
	}
	blur, err := calc.RailBlur(*x.ExtensionMM-want, calc.ExactF(l.X.F), *x.Magnification)
	if err != nil || blur <= coc(l) {
		return
	}
	v := r.blurs(l, "focus-shifted", idsOf(l.Exposure), byFocus)
	v.Done, v.CalledFor, v.Unit = x.ExtensionMM, new(want), "mm"
	v.Text = fmt.Sprintf("the rail stood %s mm out and the copy wanted %s: a blur of %s mm", wording.Number(*x.ExtensionMM), wording.Number(want), wording.Number(blur))
	v.Next = "at 1:1 the lens stands one focal length beyond its infinity mark; check the copy square"
}

// How much of a smear a motion is told to explain at most, and from how many times what passes for sharp so much. Our own.
const (
	movedMost = 0.85
	movedSure = 2.0
)

// moved holds the subject's motion against the time.
func (r *replay) moved(l *calledfor.SheetLog) error {
	if l.Exposure == nil {
		return nil
	}
	x, ok := l.Exposure.Data.(*events.SheetExposedData)
	if !ok {
		return nil
	}
	kind, word, said := calledfor.MotionOf(x)
	m := magnification(l, x)
	if !said || m <= 0 {
		return nil
	}
	least, blur, err := kind.BlurRange(m, x.TimeS)
	if x.MotionMMS != nil { // how fast it was is known
		least = blur
	}
	if err != nil || least <= coc(l) {
		return nil
	}
	moved := wording.Number(blur) + " mm"
	if least < blur {
		moved = wording.Number(least) + " to " + moved
	}
	// How fast a sitter moves is a range, not a figure: the nearer the blur lies to what passes for sharp, the less it explains.
	// Our own model.
	sure := movedMost * clamp01(least/coc(l)/movedSure)
	by := byMotion
	if x.Motion == "afloat" {
		by = afloat
	}
	v := r.blurs(l, "subject-moved", idsOf(l.Exposure), by)
	v.most = just(max(sure, faintest))
	v.Done, v.Unit = new(x.TimeS), "s"
	still, err := kind.StillS(m, coc(l))
	how := "nothing shorter than a moment holds it still"
	if err == nil && !math.IsInf(still, 1) {
		if v.CalledFor = new(twoPlaces(still)); still < 0.1 { // two places would call for nothing
			v.CalledFor = new(math.Round(still*1e4) / 1e4)
		}
		how = "it stays sharp for " + wording.Seconds(still)
	}
	v.Text = fmt.Sprintf("the subject (%s) moved %s on the paper in %s; %s", word, moved, wording.Seconds(x.TimeS), how)
	v.Next = "a shorter time at a wider aperture, a rest for head and hands, or a greater distance"
	return nil
}

// magnification of an exposure, whether or not a reading served it.
func magnification(l *calledfor.SheetLog, x *events.SheetExposedData) float64 {
	if l.Step.Magnification > 0 || l.Camera == nil {
		return l.Step.Magnification
	}
	return calledfor.SceneMagnification(l.Camera.FocalMM, x)
}
