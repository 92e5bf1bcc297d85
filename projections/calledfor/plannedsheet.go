package calledfor

import (
	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// PlannedSheet is a sheet that is not made yet, as the log of a made one: what it would call for by a reading that need not
// be in the book, and the model of its tones. e is its exposure, a negative or a print in the camera, filled in but for its
// time; the reading carries the light as well. paper may change what the box is rated at; nil leaves it.
//
// The step has no called-for time where nothing tells it, as that of a made sheet.
func PlannedSheet(snap *snapshot.Snapshot, e events.Entry, reading *events.LightMeteredData, paper func(*snapshot.Paper)) (*SheetLog, error) {
	l := &SheetLog{Exposure: &e, Step: Step{Entry: e}, Sheet: &snapshot.Sheet{Exposures: []events.Entry{e}}}
	s := &l.Step
	var facts exposureFacts
	var err error
	flare := calc.CopyFlare
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		l.Sheet.Generation, l.Sheet.Box, flare = snapshot.Negative, x.Box, calc.CameraFlare
		facts, err = exposedFacts(snap, x, s)
	case *events.SheetReprintedData:
		l.Sheet.Generation, l.Sheet.Box = snapshot.Positive, x.Box
		var box *snapshot.Box
		if box, err = snap.Box(x.Box); err != nil {
			return nil, err
		}
		light := ""
		if box.Variable() {
			light = reading.Light
		}
		s.Paper = new(box.PaperFor(e.At, snapshot.Positive, x.Filter, light))
		facts, err = copyFacts(snap, x, s)
	}
	if err != nil {
		return nil, err
	}
	if paper != nil {
		paper(&facts.paper)
		*s.Paper = facts.paper
	}
	s.Magnification, s.DoneS = facts.m, nil
	if facts.f != 0 {
		if err := s.bear(fromReading(snap, s, reading, facts)); err != nil {
			return nil, err
		}
	}
	l.Paper, l.X, l.Camera = facts.paper, ExposureOf(l.Sheet), facts.camera
	if l.Box, err = wording.IgnoreMissing(snap.Box(l.Sheet.Box)); err != nil {
		return nil, err
	}
	l.X.PreFlash = facts.flash
	l.Aged = l.agedBy()
	return l, l.model(flare)
}
