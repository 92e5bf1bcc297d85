package projections

import (
	"fmt"
	"math"
	"time"

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
	v.Done, v.CalledFor, v.Unit = ptr(x.F), ptr(twoPlaces(need)), "f"
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
	v.Done, v.CalledFor, v.Unit = x.ExtensionMM, ptr(want), "mm"
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
	v.Done, v.Unit = ptr(x.TimeS), "s"
	still, err := kind.StillS(m, l.coc())
	how := "nothing shorter than a moment holds it still"
	if err == nil && !math.IsInf(still, 1) {
		v.CalledFor = ptr(twoPlaces(still))
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

// How long a bad check of the camera holds: backwards, a leak that is found was there before; forwards, until a good
// check, at the longest. Common practice.
const (
	leakBefore = 30 * 24 * time.Hour
	leakAfter  = 365 * 24 * time.Hour
)

var leakWhat = map[string]string{"light": "light", "bellows": "light", "holder": "light", "sleeve": "light", "safelight": "safelight", "rail": "rail", "copy-square": "square"}

// badCheck finds the check that tells of a sheet's exposure: the latest before it, else the first after it, among those
// of one sort; nil where that one was good or lies too far away.
func (r *replay) badCheck(l *sheetLog, sort string) (*events.Entry, error) {
	name := l.x.camera
	if name == "" && l.camera != nil {
		name = l.camera.Camera
	}
	if l.exposure == nil || name == "" {
		return nil, nil
	}
	cam, err := quiet(r.d.Camera(name))
	if err != nil || cam == nil {
		return nil, err
	}
	before := map[string]*events.Entry{} // by part and holder
	after := map[string]*events.Entry{}
	var order []string
	for i := range cam.Checks {
		e := &cam.Checks[i]
		x := e.Data.(*events.CameraCheckedData)
		if leakWhat[x.What] != sort || x.Holder != "" && x.Holder != l.x.holder {
			continue
		}
		key := x.What + "/" + x.Holder
		if before[key] == nil && after[key] == nil {
			order = append(order, key)
		}
		if !e.At.After(l.exposure.At) {
			before[key] = e
		} else if after[key] == nil {
			after[key] = e
		}
	}
	bad := func(e *events.Entry) bool { return e != nil && e.Data.(*events.CameraCheckedData).Result == "bad" }
	for _, key := range order {
		if b := before[key]; bad(b) && l.exposure.At.Sub(b.At) <= leakAfter {
			return b, nil
		}
		if a := after[key]; bad(a) && a.At.Sub(l.exposure.At) <= leakBefore {
			return a, nil
		}
	}
	return nil, nil
}

// leaked tells a camera, bellows, holder or sleeve that let light in, or a safelight that was none.
func (r *replay) leaked(l *sheetLog) error {
	for _, sort := range []string{"light", "safelight"} {
		e, err := r.badCheck(l, sort)
		if err != nil || e == nil {
			if err != nil {
				return err
			}
			continue
		}
		own := map[string]float64{"edge-fog": 1, "streaks-dark": 0.95, "grey-fog": 0.8, "part-reversed": 0.6, "black": 0.6, "one-side-light": 0.3, "too-dark": 0.4, "dense": 0.4, "veiled-whites": 0.4, "spots-dark": 0.3, "flat": 0.3}
		through := map[string]float64{"streaks-light": 0.95, "weak-blacks": 0.6, "edge-fog": 0.7, "one-side-light": 0.6, "flat": 0.3, "light-corners": 0.4, "spots-white": 0.3}
		if sort == "safelight" {
			own = map[string]float64{"grey-fog": 0.9, "veiled-whites": 0.6, "edge-fog": 0.4, "flat": 0.3}
			through = map[string]float64{"weak-blacks": 0.6, "flat": 0.3}
		}
		v := &deviation{on: l}
		v.Cause, v.Entries = "camera-leak", idsOf(e, l.exposure)
		v.shows = func(symptom string, seen *sheetLog) float64 {
			if seen == l {
				return own[symptom]
			}
			if l.sheet.Generation == Negative {
				return through[symptom]
			}
			return 0
		}
		x := e.Data.(*events.CameraCheckedData)
		what := x.What
		if what == "light" {
			what = "light-tightness"
		}
		v.Unit = ""
		v.Text = fmt.Sprintf("the %s of %s was found bad on %s", what, x.Camera, e.At.Format("2006-01-02"))
		if x.Holder != "" {
			v.Text = fmt.Sprintf("holder %s of %s was found bad on %s", x.Holder, x.Camera, e.At.Format("2006-01-02"))
		}
		v.Next = "sit inside with the cap on for five minutes and look for light; tape what shows, and check again"
		r.add(v)
	}
	return nil
}

// railBad tells a rail that was found bad, for what it was set for is then not known; and a copy that stood askew.
func (r *replay) railBad(l *sheetLog) error {
	e, err := r.badCheck(l, "rail")
	if err != nil {
		return err
	}
	if e != nil {
		v := r.blurs(l, "focus-shifted", idsOf(e, l.exposure), map[string]float64{"out-of-focus": 0.7, "soft": 0.6, "part-soft": 0.3})
		v.Text = fmt.Sprintf("the rail was found bad on %s", e.At.Format("2006-01-02"))
		v.Next = "mend the rail, and check its marks with a loupe at two distances"
	}
	if l.sheet.Generation == Negative {
		return nil
	}
	if e, err = r.badCheck(l, "square"); err != nil || e == nil {
		return err
	}
	v := r.blurs(l, "focus-shifted", idsOf(e, l.exposure), map[string]float64{"part-soft": 0.8, "soft": 0.6, "out-of-focus": 0.6})
	v.Text = fmt.Sprintf("the copy square was found bad on %s: negative and paper did not stand parallel", e.At.Format("2006-01-02"))
	v.Next = "square the copy board to the rail, and focus on two opposite corners"
	return nil
}

// contrast holds the paper's range against the range of light offered to it.
func (r *replay) contrast(l *sheetLog) error {
	if l.exposure == nil || l.ideal.Curve.Falling {
		return nil
	}
	offered := r.offered(l)
	flash := l.x.flash
	if flash >= 1 {
		return nil // a veil, told by itself
	}
	fit, excess, err := calc.PaperSuits(offered, l.paper.ISOR, min(flash, 0.99))
	if err != nil {
		return nil
	}
	symptom := map[calc.PaperFit]string{calc.PaperTooHarsh: "harsh", calc.PaperTooSoft: "flat"}[fit]
	if symptom == "" {
		return nil
	}
	v := &deviation{on: l, quiet: true}
	v.Cause, v.Entries = map[string]string{"harsh": "paper-too-harsh", "flat": "paper-too-soft"}[symptom], idsOf(l.exposure)
	if len(l.box.entriesOrNone()) > 0 {
		v.Entries = append(v.Entries, l.box.Entries[0].ID.String())
	}
	ratio := "range"
	r0 := (offered - excess) * 100
	v.Done, v.CalledFor, v.Unit = ptr(math.Round(r0)), ptr(math.Round(offered*100)), ratio
	v.Text = fmt.Sprintf("%s of %s has a range of R%s where R%s is offered to it", l.noun(), l.sheet.Box, Number(math.Round(r0)), Number(math.Round(offered*100)))
	v.Next = "a softer filter or paper, or a flash below the threshold"
	if symptom == "flat" {
		v.Next = "a harder filter or paper, or less flash"
	}
	plain, _, err := calc.PaperSuits(offered, l.paper.ISOR, 0)
	if err == nil && flash > 0 && symptom == "flat" && plain != calc.PaperTooSoft {
		v.Cause = "flash-excess"
		v.Done, v.CalledFor, v.Unit = ptr(twoPlaces(flash)), nil, "thresholds"
		v.Text = fmt.Sprintf("%s was flashed with %s of the threshold, which makes R%s of its R%s where R%s is offered", l.noun(), Number(flash), Number(math.Round(r0)), Number(l.paper.ISOR), Number(math.Round(offered*100)))
	}
	if planned, err := quiet(r.d.Box(l.x.plannedBox)); err == nil && planned != nil && l.x.plannedBox != l.sheet.Box {
		other := planned.PaperFor(l.exposure.At, l.sheet.Generation, l.x.filter, "")
		if fit, _, err := calc.PaperSuits(offered, other.ISOR, min(flash, 0.99)); err == nil && symptom != map[calc.PaperFit]string{calc.PaperTooHarsh: "harsh", calc.PaperTooSoft: "flat"}[fit] {
			v.Cause = "wrong-paper"
			v.Text = fmt.Sprintf("%s was planned on %s (R%s) and came from %s (R%s), where R%s is offered", l.noun(), l.x.plannedBox, Number(other.ISOR), l.sheet.Box, Number(l.paper.ISOR), Number(math.Round(offered*100)))
			v.Next = "write the box on the holder when it is loaded"
		}
	}
	strength := clamp01(0.5 + (math.Abs(excess)-calc.ContrastSlack)/0.6)
	v.shows = func(s string, seen *sheetLog) float64 {
		switch {
		case seen != l && l.sheet.Generation == Positive:
			return 0
		case s == symptom:
			return strength
		case s == "weak-blacks" && symptom == "flat" && seen == l:
			return strength / 2 // a paper too soft does not reach its black
		}
		return 0
	}
	r.add(v)
	return nil
}

func (b *Box) entriesOrNone() []events.Entry {
	if b == nil {
		return nil
	}
	return b.Entries
}

// offered is the log10 range of light that is offered to a sheet: to a negative the scene's, to a print the negative's
// net densities over that range.
func (r *replay) offered(l *sheetLog) float64 {
	span := r.sceneRange()
	if l.sheet.Generation == Negative {
		flare := calc.CameraFlare
		if x, ok := l.exposure.Data.(*events.SheetExposedData); ok && x.Flare != nil {
			flare = *x.Flare
		}
		after, err := calc.RangeAfterFlare(span, flare)
		if err != nil {
			return span
		}
		return after
	}
	if r.neg == nil {
		return calc.OrdinarySceneRange
	}
	n := r.neg.ideal
	for _, v := range r.deviations {
		if v.on == r.neg && v.apply != nil && v.primary == nil {
			v.apply(&n)
		}
	}
	stops := span / math.Log10(2)
	high := min(stops/2, calc.SceneLightest)
	return math.Abs(n.Negative(high) - n.Negative(high-stops))
}

// sceneRange is the scene's range of light: from readings of its shadows and lights, else an ordinary one.
func (r *replay) sceneRange() float64 {
	if r.neg == nil || r.neg.exposure == nil {
		return calc.OrdinarySceneRange
	}
	candidates := r.p.Entries
	if r.neg.x.session != "" {
		if s, err := quiet(r.d.Session(r.neg.x.session)); err == nil && s != nil {
			candidates = append(append([]events.Entry{}, s.Readings...), candidates...)
		}
	}
	of := func(words ...string) (float64, bool) {
		e := latest(candidates, *r.neg.exposure, func(x *events.LightMeteredData) bool {
			return x.On == "scene" && (x.Of == words[0] || x.Of == words[len(words)-1]) && r.neg.exposure.At.Sub(at(candidates, x)) <= 2*time.Hour
		})
		if e == nil {
			return 0, false
		}
		ev, err := ReadingOf(metered(e)).EV100()
		return ev, err == nil
	}
	shadow, ok1 := of("shadow")
	light, ok2 := of("light", "lightest")
	if !ok1 || !ok2 || light <= shadow {
		return calc.OrdinarySceneRange
	}
	return (light - shadow) * math.Log10(2)
}

// at is when a reading among entries was taken.
func at(entries []events.Entry, x *events.LightMeteredData) time.Time {
	for i := range entries {
		if entries[i].Data == events.Data(x) {
			return entries[i].At
		}
	}
	return time.Time{}
}
