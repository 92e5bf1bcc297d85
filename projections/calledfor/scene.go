package calledfor

import (
	"math"
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// sceneHolds is how long before an exposure a reading still tells of its scene. Common practice.
const sceneHolds = 2 * time.Hour

// Scene is how far a scene goes, by the readings of it, each as an exposure value at ISO 100; nil where nobody read that tone.
type Scene struct {
	Darkest, Mid, Lightest *float64
	Entries                []events.Entry // those readings, darkest first
}

var (
	ofDarkest  = []string{"shadow", "darkest"}
	ofMid      = []string{"mid", "card", "average", ""}
	ofLightest = []string{"light", "lightest"}
)

// TellsRange says whether a reading of the scene was taken to know how far it goes: of its darkest or its lightest tone,
// with no word of where that tone shall land.
func TellsRange(r *events.LightMeteredData) bool {
	return r.On == "scene" && r.ZoneStops == nil && (slices.Contains(ofDarkest, r.Of) || slices.Contains(ofLightest, r.Of))
}

// SceneAt reads the scene before an act: of each tone the latest reading of the picture, which may be nil, or of the session,
// within two hours. What names no tone is one of the mid-tone, as the book takes it; one that says where it shall land tells
// where the mid-tone lies.
func SceneAt(snap *snapshot.Snapshot, p *snapshot.Picture, act events.Entry, session string) (Scene, error) {
	var from [][]events.Entry
	if p != nil {
		from = append(from, p.Readings["scene"])
	}
	if session != "" {
		s, err := wording.IgnoreMissing(snap.Session(session))
		if err != nil {
			return Scene{}, err
		}
		if s != nil {
			from = append(from, s.ReadingsByUse["scene"])
		}
	}
	var out Scene
	read := func(fits func(*events.LightMeteredData) bool) *float64 {
		e := snapshot.Latest(act, act.At.Add(-sceneHolds), fits, from...)
		if e == nil {
			return nil
		}
		x := snapshot.Metered(e)
		ev, err := ReadingOf(x).EV100()
		if err != nil {
			return nil
		}
		out.Entries = append(out.Entries, *e)
		return &ev
	}
	of := func(words []string) *float64 {
		return read(func(x *events.LightMeteredData) bool { return slices.Contains(words, x.Of) })
	}
	out.Darkest = of(ofDarkest)
	if out.Mid = of(ofMid); out.Mid == nil {
		out.Mid = read(func(x *events.LightMeteredData) bool { return x.ZoneStops != nil })
	}
	if n := len(out.Entries); out.Mid != nil { // where it shall land tells where the mid-tone lies
		out.Mid = new(*out.Mid - snapshot.ValueOr(snapshot.Metered(&out.Entries[n-1]).ZoneStops, 0))
	}
	out.Lightest = of(ofLightest)
	return out, nil
}

// Range is how far the scene goes from its darkest to its lightest tone, in log10 of light; false where nobody read both.
func (s Scene) Range() (float64, bool) {
	if s.Darkest == nil || s.Lightest == nil || *s.Lightest <= *s.Darkest {
		return 0, false
	}
	return (*s.Lightest - *s.Darkest) * math.Log10(2), true
}
