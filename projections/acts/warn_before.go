package acts

import (
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
	case math.Abs(stops) >= calc.FloorStops:
		say(sunHasMoved, ago, wording.Brighter(math.Round(stops*10)/10))
	case ago > readingHolds:
		say(readingOld, ago)
	}
	return nil
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
