package acts

import (
	"cmp"
	"math"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// What a good assistant says before the cap comes off, and only when it matters.
var (
	depthTooShort    = wording.Warns("depth-too-short", "at f/{f} what stands at {m} m is blurred by {blur} mm, where {coc} passes for sharp: f/{need} is the widest that suffices")
	depthBeyondLens  = wording.Warns("depth-beyond-lens", "at f/{f} what stands at {m} m is blurred by {blur} mm, where {coc} passes for sharp, and no aperture of this lens brings both in: focus on {between} m, or move back")
	movesWithin      = wording.Warns("moves-within", "this subject ({motion}) stays sharp for {still:seconds} at this distance, and {time:seconds} is called for: f/{f} would do, or a rest for head and hands")
	movesWhatever    = wording.Warns("moves-whatever", "this subject ({motion}) stays sharp for {still:seconds} at this distance, and {time:seconds} is called for; the lens opens no further: a rest for head and hands, a greater distance, or more light")
	sunHasMoved      = wording.Warns("sun-has-moved", "the light was read {ago} ago, and sun and sky have made it {stops} since: read it again")
	readingOld       = wording.Warns("reading-old", "the light was read {ago} ago: read it again")
	faceToLowSun     = wording.Warns("face-to-low-sun", "the sun stands {altitude}° high: a face turned to it gets {stops:stops} over level ground; hold card or cell as the face is turned")
	sunAndShade      = wording.Warns("sun-and-shade", "the light was read in {read} and this stands in {light}: open shade is about {stops} stops darker than sun; read it there")
	otherLight       = wording.Warns("other-light", "the light was read in {read} and this stands in {light}: read it there")
	bluerThanMeter   = wording.Warns("bluer-than-meter", "the first sheet of {box} in open shade: its light is bluer than a meter tells, and paper sees blue; about {stops:stops} until a strip here tells")
	redderThanMeter  = wording.Warns("redder-than-meter", "the first sheet of {box} in this light ({light}): it is redder than a meter tells, and paper is blind to red; about {stops:stops} until a strip here tells")
	filterSinceRead  = wording.Warns("filter-since-read", "the light was read through {filter}, and that filter is not on now: read it again, or say the filter")
	otherInHolder    = wording.Warns("other-in-holder", "{holder} was loaded from {loaded}, not from {box}")
	fromKept         = wording.Warns("from-kept", "this starts from {sheet}, which was kept")
	fromKeptBy       = wording.Warns("from-kept-by", "this starts from {sheet}, which was kept with {stops:stops} against its reading")
	keptGot          = wording.Warns("kept-got", "{sheet} was kept with {stops:stops} against its reading: as much here is {time:seconds}")
	developerWaiting = wording.Warns("developer-waiting", "{bath}, which this sheet goes into, is {state}: mix fresh before it is exposed")
)

// readingHolds is how long daylight is trusted to stay as it was read: common practice without a source.
const readingHolds = time.Hour

// BeforeExposure are the warnings about an exposure that is planned: the act as the book would fill it in, and what it
// calls for. None of them is about what was done already.
func BeforeExposure(snap *snapshot.Snapshot, e events.Entry, step calledfor.Step) ([]wording.Warning, error) {
	var out []wording.Warning
	say := func(of *wording.Sentence, fields ...any) { out = append(out, of.Warn(fields...)) }
	if err := beforeLight(snap, e, step, say); err != nil {
		return nil, err
	}
	if x, ok := e.Data.(*events.SheetExposedData); ok {
		if err := beforeColour(snap, e, x, step, say); err != nil {
			return nil, err
		}
		lens, err := calledfor.CameraFor(snap, e, x.Session, x.Camera)
		if err != nil {
			return nil, err
		}
		if lens != nil {
			beforeDepth(lens, x, say)
			beforeMotion(lens, x, step, say)
		}
		if x.Holder != "" {
			loaded, err := boxOfHolder(snap, x.Holder)
			if err != nil && !wording.Refused(err) {
				return nil, err
			}
			if loaded != "" && loaded != x.Box {
				say(otherInHolder, x.Holder, loaded, x.Box)
			}
		}
	}
	if err := beforeKept(snap, e, step, say); err != nil {
		return nil, err
	}
	return out, beforeBath(snap, e, say)
}

// beforeKept tells of what was kept and is like this: the best reading there is.
func beforeKept(snap *snapshot.Snapshot, e events.Entry, step calledfor.Step, say sayer) error {
	if step.Serving == nil || step.CalledForS == nil {
		return nil
	}
	var kept *calledfor.Kept
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		bath, err := BathInUse(snap, "developer")
		if err != nil {
			return err
		}
		name := ""
		if bath != nil {
			name = bath.Entity.Name
		}
		if kept, err = calledfor.KeptNegative(snap, e, x, name); err != nil {
			return err
		}
	case *events.SheetReprintedData:
		p, err := snap.Picture(x.Picture)
		if err != nil {
			return err
		}
		if kept, err = calledfor.KeptPrint(snap, p, e, x); err != nil {
			return err
		}
		if was, ok := step.Serving.Data.(*events.SheetReprintedData); ok {
			switch {
			case step.Asked != 0:
			case kept.Teaches() && kept.Sheet == was.Sheet:
				say(fromKeptBy, was.Sheet, kept.Stops)
			default:
				say(fromKept, was.Sheet)
			}
			return nil
		}
	}
	if !kept.Teaches() {
		return nil
	}
	if t, err := calc.MoveTime(*step.CalledForS, kept.Stops); err == nil {
		say(keptGot, kept.Sheet, kept.Stops, t)
	}
	return nil
}

// beforeLight tells of a reading that the light has left behind, and of a filter that it was not taken for.
func beforeLight(snap *snapshot.Snapshot, e events.Entry, step calledfor.Step, say sayer) error {
	filter := ""
	if f, ok := events.FieldOf(e.Kind, "filter"); ok {
		if v, there := f.Value(e.Data); there {
			filter, _ = v.(string)
		}
	}
	if step.Serving == nil || step.Serving.Kind != events.LightMetered {
		return nil
	}
	r := snapshot.Metered(step.Serving)
	if r.Filter != "" && r.Filter != filter {
		say(filterSinceRead, r.Filter)
	}
	ago := e.At.Sub(step.Serving.At)
	if r.On != "scene" || r.Light == "lamp" || ago <= 0 {
		return nil
	}
	stops, err := calledfor.SunMoved(snap, events.PlacesOf(e.Data).Session, step.Serving, e.At)
	switch {
	case err != nil:
		return err
	case math.Abs(stops) >= calc.CalledForLeast: // less is lost in what a reading is known to
		say(sunHasMoved, ago, wording.Brighter(math.Round(stops*10)/10))
	case ago > readingHolds:
		say(readingOld, ago)
	}
	return nil
}

// LowSunStops is from how many stops on it is told what a face gets that is turned to the sun: common practice without a source.
const LowSunStops = 1.0

// beforeColour tells of light that falls otherwise, or has another colour, than the reading knows: a face that is turned to a
// low sun where a card or a cell was read that may have lain level, sun and shade, and a light in which a box was never tried.
func beforeColour(snap *snapshot.Snapshot, e events.Entry, x *events.SheetExposedData, step calledfor.Step, say sayer) error {
	if step.Serving == nil || step.Serving.Kind != events.LightMetered || step.Paper == nil {
		return nil
	}
	s, err := wording.IgnoreMissing(snap.Session(x.Session))
	if err != nil || s == nil || s.Opened == nil {
		return err
	}
	session := s.Opened
	r := snapshot.Metered(step.Serving)
	read := cmp.Or(r.Light, session.Light)
	light := cmp.Or(x.Light, read)
	switch {
	case read == "" || light == read:
	case read == "sun" && light == "shade" || read == "shade" && light == "sun":
		say(sunAndShade, read, light, calc.OpenShadeStops)
		return nil
	default:
		say(otherLight, read, light)
		return nil
	}
	if light == "sun" || light == "" && session.Sky == "clear" {
		return beforeLowSun(snap, e, x, s, step.Serving, say)
	}
	off := map[string]float64{"shade": -calc.ShadeBluer, "dusk": calc.DuskRedder, "lamp": calc.LampRedder}[light]
	if off == 0 || x.Filter != "" {
		return nil
	}
	if tried, err := triedIn(snap, x.Box, light, e.At); err != nil || tried {
		return err
	}
	if off < 0 {
		say(bluerThanMeter, x.Box, off)
	} else {
		say(redderThanMeter, x.Box, light, off)
	}
	return nil
}

// beforeLowSun tells of a face that is turned to a low sun: of one who sits or stands there, once for a reading.
func beforeLowSun(snap *snapshot.Snapshot, e events.Entry, x *events.SheetExposedData, s *snapshot.Session, serving *events.Entry, say sayer) error {
	session := s.Opened
	r := snapshot.Metered(serving)
	if session.Lat == nil || session.Lon == nil || x.Sitter == "" && x.Motion == "" || r.Of != "card" && r.Mode != "incident" {
		return nil
	}
	sun, err := calc.SunPosition(e.At, *session.Lat, *session.Lon)
	if err != nil || sun.AltitudeDeg <= 0 {
		return nil // a place or a time that the sun's theory does not reach
	}
	stops, err := calc.FaceToSun(sun.AltitudeDeg)
	if err != nil || stops < LowSunStops {
		return nil
	}
	served, err := snap.Entries(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.SheetExposed}, From: serving.At, To: e.At})
	if err != nil {
		return err
	}
	for _, was := range served {
		if events.ReadingOf(was.Data) == serving.ID.String() {
			return nil
		}
	}
	say(faceToLowSun, math.Round(sun.AltitudeDeg), math.Round(stops*10)/10)
	return nil
}

// triedIn says whether a box was tried in a light: rated in it, or exposed in it among its newest sheets.
func triedIn(snap *snapshot.Snapshot, name, light string, at time.Time) (bool, error) {
	b, err := wording.IgnoreMissing(snap.Box(name))
	if err != nil || b == nil {
		return true, err
	}
	for _, e := range b.Ratings {
		if x, ok := e.Data.(*events.PaperRatedData); ok && x.Light == light {
			return true, nil
		}
	}
	const newest = 40
	uses, err := snap.Entries(events.Query{Box: b.Entity.ID, Kinds: []events.Kind{events.SheetExposed}, To: at, Newest: true, Limit: newest})
	if err != nil {
		return false, err
	}
	for _, e := range uses {
		was, err := calledfor.LightOf(snap, e.Data.(*events.SheetExposedData))
		if _, err = wording.IgnoreMissing(was, err); err != nil || was == light {
			return err == nil, err
		}
	}
	return false, nil
}

// beforeDepth holds the depth of field against the nearest and the farthest that matter.
func beforeDepth(lens *events.CameraDescribedData, x *events.SheetExposedData, say sayer) {
	at := x.FocusedMM
	if at == nil {
		at = x.SubjectMM
	}
	d, short := calledfor.DepthOf(lens, x, at)
	switch {
	case !short:
	case d.NeedF <= lens.FSmallest*markSlack:
		say(depthTooShort, x.F, d.WhereMM/1000, d.BlurMM, d.CocMM, d.NeedF)
	default:
		between := d.AtMM
		if x.NearMM != nil && x.FarMM != nil {
			if b, err := calc.FocusBetween(*x.NearMM, *x.FarMM); err == nil {
				between = b
			}
		}
		say(depthBeyondLens, x.F, d.WhereMM/1000, d.BlurMM, d.CocMM, between/1000)
	}
}

// beforeMotion holds the subject's motion against the time that is called for: where even one who moves a third as fast
// as usual would be blurred.
func beforeMotion(lens *events.CameraDescribedData, x *events.SheetExposedData, step calledfor.Step, say sayer) {
	moves, word, said := calledfor.MotionOf(x)
	m := calledfor.SceneMagnification(lens.FocalMM, x)
	if !said || m <= 0 || step.CalledForS == nil {
		return
	}
	if x.MotionMMS == nil {
		moves.SpeedMMS /= calc.MotionSpread
	}
	time := *step.CalledForS
	still, err := moves.StillS(m, snapshot.ValueOr(lens.CocMM, calc.COC))
	if err != nil || time <= still {
		return
	}
	wider := calc.ExactF(x.F) * math.Sqrt(still/time)
	mark := 0.0
	for _, f := range calc.ThirdStops(lens.FWidest, x.F) {
		if calc.ExactF(f) <= wider*markSlack {
			mark = f
		}
	}
	if mark == 0 {
		say(movesWhatever, word, still, time)
		return
	}
	say(movesWithin, word, still, time, mark)
}

// beforeBath tells of a developer that is not fit for the sheet that is to be exposed.
func beforeBath(snap *snapshot.Snapshot, e events.Entry, say sayer) error {
	b, err := BathInUse(snap, "developer")
	if err != nil || b == nil || b.Mixed == nil {
		return err
	}
	age, err := snap.AgeOf(b, e.At, true, "")
	if err == nil && (age.State == calc.BathExhausted || age.State == calc.BathPastLife) {
		say(developerWaiting, b.Entity.Name, age.State)
	}
	return err
}
