package calledfor

import (
	"slices"
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
	paper := box.PaperFor(s.Entry.At, snapshot.Positive, x.Filter, "")
	s.Paper = &paper
	if x.Way == "contact" || x.Way == "enlarger" {
		return nil
	}
	cam, err := CameraFor(snap, s.Entry, x.Session, x.Camera)
	if err != nil {
		return err
	}
	s.SetF, s.Magnification = copyF(x, cam), copyMagnification(x, cam)
	if s.SetF == 0 {
		s.Warnings = append(s.Warnings, noCopyAperture.Warn())
		return nil
	}
	facts := exposureFacts{f: s.SetF, m: s.Magnification, camera: cam, filter: x.Filter, given: x.FilterFactor, paper: paper, copy: true}
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
	box, err := snap.Box(was.Box)
	if err != nil {
		return err
	}
	wasPaper := box.PaperFor(e.At, snapshot.Positive, was.Filter, "")
	factors := []calc.FactorStops{{Factor: "judged", Stops: stops}}
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
		{"extension", newExt / oldExt},
		{"filter", FilterFactorFor(x.paper, x.filter, x.given, nil) / FilterFactorFor(wasPaper, was.Filter, was.FilterFactor, nil)},
	} {
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
// one.
func lastStops(s *snapshot.Sheet, before time.Time) *float64 {
	var out *float64
	for _, e := range s.Judged {
		if d := e.Data.(*events.SheetJudgedData); d.Stops != nil && !e.At.After(before) {
			out = d.Stops
		}
	}
	return out
}

// ServesPrint finds what serves a print, in this order: the reading it names; an earlier print of this negative on the
// same box that was judged with a correction; the latest reading on the negative that names this picture, not before
// the negative was developed; the session's latest on a negative that names no picture and has served no other.
func ServesPrint(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, x *events.SheetReprintedData) (*events.Entry, *snapshot.Sheet, error) {
	if r, err := snap.Reading(x.Reading); r != nil || err != nil {
		return r, nil, err
	}
	if earlier := earlierPrint(p, e, x); earlier != nil {
		return nil, earlier, nil
	}
	var developed time.Time
	if n := p.NegativeSheet(); n != nil && len(n.Developed) > 0 {
		developed = n.Developed[0].At
	}
	any := func(*events.LightMeteredData) bool { return true }
	own := snapshot.Latest(e, developed, any, p.Readings["negative"])
	if own != nil {
		return own, nil, nil
	}
	if x.Session == "" {
		return nil, nil, nil
	}
	s, err := snap.Session(x.Session)
	if err != nil {
		return nil, nil, err
	}
	r := snapshot.Latest(e, developed, any, s.ReadingsByUse["negative"])
	if r == nil {
		return nil, nil, nil
	}
	taken, err := servedAnother(snap, p, e, r, s)
	if err != nil || taken {
		return nil, nil, err
	}
	return r, nil, nil
}

// earlierPrint is the latest print before e of the same negative on the same box whose judgement asked for a change.
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

// askedFor tells of the prints on one box, from each judgement that asked for a change on, which of those judged so until
// then was exposed last.
func askedFor(p *snapshot.Picture, box string) snapshot.Timeline[*snapshot.Sheet] {
	if p.Asked == nil {
		p.Asked = map[string]snapshot.Timeline[*snapshot.Sheet]{}
		for _, s := range p.Sheets {
			for _, e := range s.Judged {
				if e.Data.(*events.SheetJudgedData).Stops != nil && fromNegative(s) {
					p.Asked[s.Box] = append(p.Asked[s.Box], snapshot.Change[*snapshot.Sheet]{At: e.At, Value: s})
					break
				}
			}
		}
		for _, l := range p.Asked {
			order := map[*snapshot.Sheet]int{}
			for i, c := range l {
				order[c.Value] = i
			}
			slices.SortStableFunc(l, func(a, b snapshot.Change[*snapshot.Sheet]) int { return a.At.Compare(b.At) })
			for i := 1; i < len(l); i++ {
				before, is := l[i-1].Value, l[i].Value
				if c := before.Exposure().At.Compare(is.Exposure().At); c > 0 || c == 0 && order[before] > order[is] {
					l[i].Value = before
				}
			}
		}
	}
	return p.Asked[box]
}

// servedAnother says whether a reading that names no picture has already served a print of another picture.
func servedAnother(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, reading *events.Entry, s *snapshot.Session) (bool, error) {
	prints, err := snap.Entries(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.SheetReprinted}, From: reading.At, To: e.At})
	if err != nil {
		return false, err
	}
	for _, other := range prints {
		x := other.Data.(*events.SheetReprintedData)
		if x.Picture == p.Entity.Name || events.Compare(other, e) >= 0 {
			continue
		}
		if x.Reading != "" {
			if x.Reading == reading.ID.String() {
				return true, nil
			}
			continue
		}
		op, err := wording.IgnoreMissing(snap.Picture(x.Picture))
		if err != nil {
			return false, err
		}
		if op == nil {
			continue
		}
		r, _, err := ServesPrint(snap, op, other, x)
		if err != nil {
			return false, err
		}
		if r != nil && r.ID == reading.ID {
			return true, nil
		}
	}
	return false, nil
}
