package calledfor

import (
	"cmp"
	"math"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// reprintedStep works out what a print in the camera called for. A contact print or an enlargement has no called-for
// time from a lens.
func reprintedStep(snap *snapshot.Snapshot, p *snapshot.Picture, x *events.SheetReprintedData, s *Step) error {
	s.DoneS = new(x.TimeS)
	box, err := snap.Box(x.Box)
	if err != nil {
		return err
	}
	light, err := copyLight(snap, box, x.Reading, x.Session)
	if err != nil {
		return err
	}
	paper := box.PaperFor(s.Entry.At, snapshot.Positive, x.Filter, light)
	s.Paper = &paper
	if x.Way == "contact" || x.Way == "enlarger" {
		return nil
	}
	facts, err := copyFacts(snap, x, s)
	if err != nil || facts.f == 0 {
		return err
	}
	reading, earlier, err := ServesPrint(snap, p, s.Entry, x)
	if err != nil {
		return err
	}
	switch {
	case reading != nil:
		s.Serving = reading
		return fromReading(snap, s, snapshot.Metered(reading), facts)
	case earlier != nil:
		s.Serving = earlier.Exposure()
		return fromEarlier(snap, s, earlier, facts)
	}
	return nil
}

// copyFacts is what moves a reading to a print in the camera, on the paper of its step, which takes aperture and
// magnification; f is 0 where nothing tells it.
func copyFacts(snap *snapshot.Snapshot, x *events.SheetReprintedData, s *Step) (exposureFacts, error) {
	cam, err := CameraFor(snap, s.Entry, x.Session, x.Camera)
	if err != nil {
		return exposureFacts{}, err
	}
	s.SetF, s.Magnification = copyF(x, cam), copyMagnification(x, cam)
	if s.SetF == 0 {
		s.Warnings = append(s.Warnings, noCopyAperture.Warn())
	}
	box, err := snap.Box(x.Box)
	if err != nil {
		return exposureFacts{}, err
	}
	flash, err := preFlashShare(snap, *s.Paper, box, s.Entry.At, x.PreFlash, x.PreFlashS)
	if err != nil {
		return exposureFacts{}, err
	}
	return exposureFacts{f: s.SetF, m: s.Magnification, camera: cam, filter: x.Filter, given: x.FilterFactor, paper: *s.Paper, copy: true, flash: flash}, nil
}

func copyF(x *events.SheetReprintedData, cam *events.CameraDescribedData) float64 {
	switch {
	case x.F != nil:
		return *x.F
	case cam != nil && cam.CopyF != nil:
		return *cam.CopyF
	}
	return snapshot.ValueOr(x.PlannedF, 0)
}

func copyMagnification(x *events.SheetReprintedData, cam *events.CameraDescribedData) float64 {
	switch {
	case x.ExtensionMM != nil && cam != nil:
		if m, err := calc.MagnificationFromExtension(cam.FocalMM, *x.ExtensionMM); err == nil && m > 0 {
			return m
		}
	case x.Magnification != nil:
		return *x.Magnification
	}
	if cam != nil {
		return snapshot.ValueOr(cam.CopyM, 1)
	}
	return 1
}

// fromEarlier moves an earlier print's exposure, corrected as the eye asked, to this one's aperture, magnification and
// filter.
func fromEarlier(snap *snapshot.Snapshot, s *Step, earlier *snapshot.Sheet, x exposureFacts) error {
	e := earlier.Exposure()
	was := e.Data.(*events.SheetReprintedData)
	cam, err := CameraFor(snap, *e, was.Session, was.Camera)
	if err != nil {
		return err
	}
	f := copyF(was, cam)
	if f == 0 {
		return nil
	}
	light, err := calc.ReciprocityInverse(was.TimeS, x.paper.P)
	if err != nil {
		return err
	}
	stops := *lastStops(earlier, s.Entry.At)
	s.Asked = stops
	box, err := snap.Box(was.Box)
	if err != nil {
		return err
	}
	wasPaper := box.PaperFor(e.At, snapshot.Positive, was.Filter, "")
	factors := []calc.FactorStops{{Factor: "judged", Stops: stops}}
	wasFlash, err := preFlashShare(snap, wasPaper, box, e.At, was.PreFlash, was.PreFlashS)
	if err != nil {
		return err
	}
	n, o := calc.ExactF(x.f), calc.ExactF(f)
	newExt, err := extensionFactor(x.m, x.camera)
	if err != nil {
		return err
	}
	oldExt, err := extensionFactor(copyMagnification(was, cam), cam)
	if err != nil {
		return err
	}
	for _, step := range []struct {
		name  string
		ratio float64
	}{
		{"aperture", n * n / (o * o)},
		{"index", indexMove(wasPaper.Index, x.paper.Index)},
		{"pre-flash", math.Exp2(preFlashStops(x.paper, x.flash) - preFlashStops(wasPaper, wasFlash))},
		{"extension", newExt / oldExt},
		{"filter", FilterFactorFor(x.paper, x.filter, x.given, nil) / FilterFactorFor(wasPaper, was.Filter, was.FilterFactor, nil)},
	} {
		if step.ratio == 1 && step.name == "pre-flash" {
			continue
		}
		by, err := calc.Stops(step.ratio)
		if err != nil {
			return err
		}
		factors = append(factors, calc.FactorStops{Factor: step.name, Stops: by})
		stops += by
	}
	light, err = calc.MoveTime(light, stops)
	if err != nil {
		return err
	}
	t, err := calc.Reciprocity(light, x.paper.P)
	if err != nil {
		return err
	}
	set, err := calc.SetTime(t)
	if err != nil {
		return err
	}
	off, err := calc.Stops(set / t)
	if err != nil {
		return err
	}
	s.Called = &calc.Called{TimeS: t, SetTimeS: set, ErrorStops: off, FromF: f, FromTimeS: was.TimeS, Stops: factors}
	s.CalledForS = new(t)
	return nil
}

func indexMove(was, is float64) float64 {
	if was == 0 || is == 0 {
		return 1
	}
	return was / is
}

// lastStops is the correction that the eye asked of this sheet, in the latest judgement before an instant that gave
// one; none where it kept the sheet without a word.
func lastStops(s *snapshot.Sheet, before time.Time) *float64 {
	var out *float64
	for _, e := range s.Judged {
		if d := e.Data.(*events.SheetJudgedData); tellsStops(d) && !e.At.After(before) {
			out = new(snapshot.ValueOr(d.Stops, 0))
		}
	}
	return out
}

// tellsStops says whether a judgement tells what exposure the next print wants: a correction, or that this one was right.
func tellsStops(d *events.SheetJudgedData) bool { return d.Stops != nil || d.Verdict == "keep" }

// servesBefore says whether an earlier print goes before a reading of its negative: one that the eye corrected always, one
// that was kept until the negative is read again, for then the light may be another.
func servesBefore(earlier *snapshot.Sheet, r *events.Entry, at time.Time) bool {
	return earlier != nil && (r == nil || *lastStops(earlier, at) != 0 || !r.At.After(earlier.Exposure().At))
}

// ServesPrint finds what serves a print, in this order: the reading it names; an earlier print of this negative on the
// same box that was judged with a correction; the latest reading on the negative that names this picture, not before
// the negative was developed; the session's latest on a negative that names no picture and has served no other. A print that
// was kept serves as one that no correction was asked of, up to the next reading.
func ServesPrint(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, x *events.SheetReprintedData) (*events.Entry, *snapshot.Sheet, error) {
	if r, err := snap.Reading(x.Reading); r != nil || err != nil {
		return r, nil, err
	}
	earlier := earlierPrint(p, e, x)
	r, err := readNegative(snap, p, e, x, earlier)
	if err != nil || servesBefore(earlier, r, e.At) {
		return nil, earlier, err
	}
	return r, nil, nil
}

// readNegative is the reading of a negative that serves a print where no earlier print does, nil for none.
func readNegative(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, x *events.SheetReprintedData, earlier *snapshot.Sheet) (*events.Entry, error) {
	if own := snapshot.Latest(e, developedFirst(p), anyReading, p.Readings["negative"]); own != nil {
		return own, nil
	}
	if x.Session == "" || earlier != nil && *lastStops(earlier, e.At) != 0 {
		return nil, nil
	}
	s, err := snap.Session(x.Session)
	if err != nil {
		return nil, err
	}
	r := snapshot.Latest(e, developedFirst(p), anyReading, s.ReadingsByUse["negative"])
	if r == nil {
		return nil, nil
	}
	taken, err := servedAnother(snap, p, e, r, s)
	if err != nil || taken {
		return nil, err
	}
	return r, nil
}

// earlierPrint is the latest print before e of the same negative on the same box whose judgement asked for a change, or kept it.
func earlierPrint(p *snapshot.Picture, e events.Entry, x *events.SheetReprintedData) *snapshot.Sheet {
	if c := askedFor(p, x.Box).Then(e.At); c == nil {
		return nil
	} else if c.Value.Name != x.Sheet && c.Value.Exposure().At.Before(e.At) {
		return c.Value
	}
	var out *snapshot.Sheet // the sheet itself, exposed again after it was judged, or a print judged before its exposure
	for _, s := range p.Sheets {
		if s.Name != x.Sheet && s.Box == x.Box && fromNegative(s) && s.Exposure().At.Before(e.At) && lastStops(s, e.At) != nil && !exposedLater(out, s) {
			out = s
		}
	}
	return out
}

// fromNegative says whether a sheet is a print that the camera made.
func fromNegative(s *snapshot.Sheet) bool {
	ex := s.Exposure()
	if s.Generation != snapshot.Positive || ex == nil {
		return false
	}
	d, ok := ex.Data.(*events.SheetReprintedData)
	return ok && d.Way != "contact" && d.Way != "enlarger"
}

func exposedLater(a, b *snapshot.Sheet) bool {
	return a != nil && a.Exposure().At.After(b.Exposure().At)
}

// askedFor tells of the prints on one box, from each judgement that asked for a change or kept one on, which of those judged so until
// then was exposed last.
func askedFor(p *snapshot.Picture, box string) snapshot.Timeline[*snapshot.Sheet] {
	a := &p.Asked
	if a.ByBox == nil {
		*a = snapshot.Asked{ByBox: map[string]snapshot.Timeline[*snapshot.Sheet]{}, Of: map[*snapshot.Sheet]bool{}}
	}
	for ; a.Seen < len(p.All); a.Seen++ {
		e := p.All[a.Seen]
		d, ok := e.Data.(*events.SheetJudgedData)
		if !ok || !tellsStops(d) {
			continue
		}
		s := p.Sheet(snapshot.PartOf(d))
		if s == nil || a.Of[s] || !fromNegative(s) {
			continue
		}
		a.Of[s] = true
		l, last := a.ByBox[s.Box], s
		if n := len(l); n > 0 && exposedBefore(s, l[n-1].Value) {
			last = l[n-1].Value
		}
		a.ByBox[s.Box] = append(l, snapshot.Change[*snapshot.Sheet]{At: e.At, Value: last})
	}
	return a.ByBox[box]
}

// exposedBefore says whether a print was exposed before another, of two exposed at once whether it is the lower number.
func exposedBefore(a, b *snapshot.Sheet) bool {
	return cmp.Or(a.Exposure().At.Compare(b.Exposure().At), cmp.Compare(len(a.Part), len(b.Part)), cmp.Compare(a.Part, b.Part)) < 0
}

// servedAnother says whether a reading that names no picture has already served a print of another picture before an act.
func servedAnother(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, reading *events.Entry, s *snapshot.Session) (bool, error) {
	prints, err := snap.PrintsIn(s)
	if err != nil {
		return false, err
	}
	for ; s.SeenPrints < len(prints) && events.Compare(prints[s.SeenPrints], e) < 0; s.SeenPrints++ {
		if err := notePrint(snap, s, prints[s.SeenPrints]); err != nil {
			return false, err
		}
	}
	return tookBefore(s.Served[reading.ID.String()], p.Entity.Name, e), nil
}

// tookBefore says whether a reading served a print of another picture before an act.
func tookBefore(served snapshot.Served, picture string, e events.Entry) bool {
	for _, print := range []events.Entry{served.First, served.Other} {
		if x, ok := print.Data.(*events.SheetReprintedData); ok && x.Picture != picture && events.Compare(print, e) < 0 {
			return true
		}
	}
	return false
}

// notePrint keeps, of the readings that name no picture, which prints they served. A print comes after all those noted.
func notePrint(snap *snapshot.Snapshot, s *snapshot.Session, print events.Entry) error {
	x := print.Data.(*events.SheetReprintedData)
	id := x.Reading
	if id == "" {
		r := snapshot.Latest(print, time.Time{}, anyReading, s.ReadingsByUse["negative"])
		if r == nil || tookBefore(s.Served[r.ID.String()], x.Picture, print) {
			return nil
		}
		p, err := wording.IgnoreMissing(snap.Picture(x.Picture))
		if err != nil || p == nil || r.At.Before(developedFirst(p)) || servesBefore(earlierPrint(p, print, x), r, print.At) {
			return err
		}
		if snapshot.Latest(print, developedFirst(p), anyReading, p.Readings["negative"]) != nil {
			return nil
		}
		id = r.ID.String()
	}
	if s.Served == nil {
		s.Served = map[string]snapshot.Served{}
	}
	served := s.Served[id]
	first, ok := served.First.Data.(*events.SheetReprintedData)
	switch {
	case !ok:
		served.First = print
	case first.Picture != x.Picture && served.Other.Data == nil:
		served.Other = print
	}
	s.Served[id] = served
	return nil
}

func anyReading(*events.LightMeteredData) bool { return true }

// developedFirst is when the negative of a picture was developed first, zero where it was not.
func developedFirst(p *snapshot.Picture) time.Time {
	if n := p.NegativeSheet(); n != nil && len(n.Developed) > 0 {
		return n.Developed[0].At
	}
	return time.Time{}
}
