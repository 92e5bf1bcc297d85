package why

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// How long a bad check of the camera holds: backwards, a leak that is found was there on the same outing, and no sheet that
// was kept since speaks against it; forwards, until a good check, at the longest. Common practice.
const (
	leakBefore = 3 * 24 * time.Hour
	leakAfter  = 365 * 24 * time.Hour
)

var leakWhat = map[string]string{"light": "light", "bellows": "light", "holder": "light", "sleeve": "light", "safelight": "safelight", "rail": "rail", "copy-square": "square"}

// badCheck finds the check that tells of a sheet's exposure: the latest before it, else the first after it, among those
// of one sort; nil where that one was good or lies too far away.
func (r *replay) badCheck(l *calledfor.SheetLog, sort string) (*events.Entry, error) {
	name := l.X.Camera
	if name == "" && l.Camera != nil {
		name = l.Camera.Camera
	}
	if l.Exposure == nil || name == "" {
		return nil, nil
	}
	cam, err := wording.IgnoreMissing(r.d.Camera(name))
	if err != nil || cam == nil {
		return nil, err
	}
	before := map[string]*events.Entry{} // by part and holder
	after := map[string]*events.Entry{}
	var order []string
	for i := range cam.Checks {
		e := &cam.Checks[i]
		x := e.Data.(*events.CameraCheckedData)
		if leakWhat[x.What] != sort || x.Holder != "" && x.Holder != l.X.Holder {
			continue
		}
		key := x.What + "/" + x.Holder
		if before[key] == nil && after[key] == nil {
			order = append(order, key)
		}
		if !e.At.After(l.Exposure.At) {
			before[key] = e
		} else if after[key] == nil {
			after[key] = e
		}
	}
	bad := func(e *events.Entry) bool { return e != nil && e.Data.(*events.CameraCheckedData).Result == "bad" }
	for _, key := range order {
		if b := before[key]; bad(b) && l.Exposure.At.Sub(b.At) <= leakAfter {
			return b, nil
		}
		if a := after[key]; bad(a) && a.At.Sub(l.Exposure.At) <= leakBefore {
			tight, err := r.keptBetween(l, a.At)
			if err != nil {
				return nil, err
			}
			if !tight {
				return a, nil
			}
		}
	}
	return nil, nil
}

// keptBetween says whether a sheet that the same camera made between this one and a moment was kept: what was found bad then
// was not bad yet.
func (r *replay) keptBetween(l *calledfor.SheetLog, until time.Time) (bool, error) {
	all, err := (&court{r: r, l: l}).neighbours()
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(all, func(n neighbour) bool {
		return n.at.After(l.Exposure.At) && n.at.Before(until) && n.camera == cameraOf(l)
	}), nil
}

// What a leak draws besides the veil that the tones tell, on its own sheet and through a negative in its print: an edge, a streak
// where light came in at one place; of a sleeve, a veil over what lies in the tray, which has no edge within. Directions are
// published (edges and streaks: Dictionary of Photography, art. Light Fog); the weights are our own.
var (
	leakMarks    = map[string]float64{"edge-fog": 1, "streaks-dark": 0.8, "solarised": 0.6, "all-black": 0.6, "one-side-light": 0.3, "spots-dark": 0.3}
	leakThrough  = map[string]float64{"streaks-light": 0.8, "edge-fog": 0.7, "one-side-light": 0.6, "light-corners": 0.4, "spots-white": 0.3, "weak-blacks": 0.6}
	sleeveMarks  = map[string]float64{"edge-fog": 0.7, "all-black": 0.5, "solarised": 0.5}
	sleeveBehind = map[string]float64{"edge-fog": 0.4, "weak-blacks": 0.6}
	lampMarks    = map[string]float64{"edge-fog": 0.4}
	lampThrough  = map[string]float64{"weak-blacks": 0.6}
)

// leakUsual is how many times what an eye sees of a veil a leak is expected to lay on a sheet that was found by a sheet laid out
// for it. Our own model.
const leakUsual = 3.0

// leaked tells a camera, bellows, holder or sleeve that let light in, or a safelight that was none. A check says that it does;
// how much it did to this sheet say the sheets of the box that were in the same camera while it was bad.
func (r *replay) leaked(l *calledfor.SheetLog) error {
	for _, sort := range []string{"light", "safelight"} {
		e, err := r.badCheck(l, sort)
		if err != nil || e == nil {
			if err != nil {
				return err
			}
			continue
		}
		x := e.Data.(*events.CameraCheckedData)
		marks, through := leakMarks, leakThrough
		switch {
		case x.What == "sleeve":
			marks, through = sleeveMarks, sleeveBehind
		case sort == "safelight":
			marks, through = lampMarks, lampThrough
		}
		bad, err := r.whileBad(l, e)
		if err != nil {
			return err
		}
		size := math.Log(leakUsual)
		seen := alsoOf(marks, "grey-fog", "fogged-highlights")
		others, err := r.sharers(l, size, seen, bad)
		if err != nil {
			return err
		}
		itself := r.itself(l, size, seen, through)
		chance, by := leaking.control(itself, others)
		v := &deviation{on: l}
		if itself.fell { // else nobody saw that it did anything here
			veil := leakUsual * math.Exp(by) * seenVeil
			v.beyond = func(m *calc.SheetModel) { m.FogShare += lightOf(m.Curve, veil) }
		}
		v.Cause, v.Entries, v.most = "light-leak", idsOf(e, l.Exposure), just(chance)
		v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
			if seen == l {
				return marks[symptom]
			}
			if l.Sheet.Generation == snapshot.Negative {
				return through[symptom]
			}
			return 0
		}
		what := x.What
		if what == "light" {
			what = "light-tightness"
		}
		v.Unit = ""
		v.Text = fmt.Sprintf("the %s of %s was found bad on %s", what, x.Camera, e.At.Format("2006-01-02"))
		if x.Holder != "" {
			v.Text = fmt.Sprintf("holder %s of %s was found bad on %s", x.Holder, x.Camera, e.At.Format("2006-01-02"))
		}
		v.Next = "leave a half-covered sheet in the camera for five minutes with the cap on, and develop it: what darkens shows the leak; tape it"
		r.add(v)
	}
	return nil
}

// lightOf is the light that lays a veil of so much density on a paper, as a share of its threshold exposure.
func lightOf(c calc.Curve, veil float64) float64 {
	const most = 0.9 // of what a paper can give
	at, err := c.LogH(c.Dmin + min(veil, most*(c.Dmax-c.Dmin)))
	if err != nil {
		return 0
	}
	return math.Pow(10, at) / c.Ht()
}

// alsoOf is a set of symptoms with some more.
func alsoOf(of map[string]float64, more ...string) map[string]float64 {
	out := maps.Clone(of)
	for _, s := range more {
		out[s] = 1
	}
	return out
}

// whileBad says of another sheet whether it was exposed in the same camera, and of a holder in that, while a leak that tells
// of this one was there: since it was found or this sheet was made, until it was found good.
func (r *replay) whileBad(l *calledfor.SheetLog, bad *events.Entry) (func(*otherSheet) bool, error) {
	x := bad.Data.(*events.CameraCheckedData)
	cam, err := r.d.Camera(x.Camera)
	if err != nil {
		return nil, err
	}
	from, good := bad.At, time.Time{}
	if l.Exposure.At.Before(from) {
		from = l.Exposure.At
	}
	for _, e := range cam.Checks {
		if c := e.Data.(*events.CameraCheckedData); c.What == x.What && c.Holder == x.Holder && c.Result == "good" && e.At.After(bad.At) && (good.IsZero() || e.At.Before(good)) {
			good = e.At
		}
	}
	return func(o *otherSheet) bool {
		e, like := o.log.Sheet.Exposure(), calledfor.ExposureOf(o.log.Sheet)
		if e == nil || e.At.Before(from) || !good.IsZero() && !e.At.Before(good) || x.Holder != "" && like.Holder != x.Holder {
			return false
		}
		camera := like.Camera
		if camera == "" {
			camera = o.picture.Camera
		}
		return camera == x.Camera
	}, nil
}

// railBad tells a rail that was found bad, for what it was set for is then not known; and a copy that stood askew.
func (r *replay) railBad(l *calledfor.SheetLog) error {
	e, err := r.badCheck(l, "rail")
	if err != nil {
		return err
	}
	if e != nil {
		v := r.blurs(l, "focus-shifted", idsOf(e, l.Exposure), map[string]float64{"out-of-focus": 0.7, "soft": 0.6, "part-soft": 0.3})
		v.Text = fmt.Sprintf("the rail was found bad on %s", e.At.Format("2006-01-02"))
		v.Next = "mend the rail, and check its marks with a loupe at two distances"
	}
	if l.Sheet.Generation == snapshot.Negative {
		return nil
	}
	if e, err = r.badCheck(l, "square"); err != nil || e == nil {
		return err
	}
	v := r.blurs(l, "focus-shifted", idsOf(e, l.Exposure), map[string]float64{"part-soft": 0.8, "soft": 0.6, "out-of-focus": 0.6})
	v.Text = fmt.Sprintf("the copy square was found bad on %s: negative and paper did not stand parallel", e.At.Format("2006-01-02"))
	v.Next = "square the copy board to the rail, and focus on two opposite corners"
	return nil
}
