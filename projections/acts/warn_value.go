package acts

import (
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

const (
	// nearestMM is how near a subject can be; no lens of such a camera has so short a focal length. By our own choice.
	nearestMM = 50.0
	// markSlack is how far an aperture may stand outside the lens's marks: one mark has several names, such as 5.6 and
	// 5.66.
	markSlack = 1.03
)

// The warnings about the figures of an act.
var (
	nearerThanLens = wording.Warns("nearer-than-lens", "{what} {mm} mm from the lens is nearer than a lens reaches; write {mm}m where metres were meant, and --extension for how far the lens is drawn out")
	beyondTheLens  = wording.Warns("beyond-the-lens", "the lens of {camera} goes from f/{widest} to f/{smallest}, and f/{f} lies beyond it")
)

// ValueWarnings are what is odd about the figures of an act, by themselves and by the lens. The act must be filled in.
func ValueWarnings(snap *snapshot.Snapshot, e events.Entry) ([]wording.Warning, error) {
	var out []wording.Warning
	x, ok := e.Data.(*events.SheetExposedData)
	if ok {
		for _, m := range []struct {
			what string
			mm   *float64
		}{{"a subject", x.SubjectMM}, {"the nearest thing", x.NearMM}, {"the farthest thing", x.FarMM}, {"the distance set,", x.FocusedMM}} {
			if m.mm != nil && *m.mm < nearestMM {
				out = append(out, nearerThanLens.Warn(m.what, *m.mm))
			}
		}
	}
	f, camera := apertureOf(e.Data)
	if f == 0 {
		return out, nil
	}
	session := ""
	if c := events.CarriedOf(e.Data); c != nil {
		session = c.Session
	}
	lens, err := wording.IgnoreMissing(calledfor.CameraFor(snap, e, session, camera))
	if err != nil || lens == nil {
		return out, err
	}
	widest, smallest := min(lens.FWidest, lens.FSmallest), max(lens.FWidest, lens.FSmallest)
	if f*markSlack < widest || f > smallest*markSlack {
		out = append(out, beyondTheLens.Warn(lens.Camera, widest, smallest, f))
	}
	return out, nil
}

// apertureOf is the aperture that the camera's own lens was set to, 0 for none, and the camera.
func apertureOf(data events.Data) (f float64, camera string) {
	switch x := data.(type) {
	case *events.SheetExposedData:
		return x.F, x.Camera
	case *events.SheetReprintedData:
		if x.Way == "" || x.Way == "camera" {
			return snapshot.ValueOr(x.F, 0), x.Camera
		}
	case *events.StripExposedData:
		if x.On != "pre-flash" {
			return snapshot.ValueOr(x.F, 0), x.Camera
		}
	}
	return 0, ""
}
