package projections

import (
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
)

// sheetLog is what the log says of one sheet, as the replay needs it.
type sheetLog struct {
	sheet    *Sheet
	exposure *events.Entry
	step     Step
	paper    Paper
	box      *Box
	camera   *events.CameraDescribedData
	made     calc.SheetModel // as it was done
	ideal    calc.SheetModel // done as called for
	dev      *development    // nil where it was not developed, or nothing calls for a time
	light    lightMove
	aged     agedPaper
	metered  bool // its exposure followed this very negative
	lightest bool // by its clear base
	x        exposureLog
	failed   bool
	symptoms []string
	asked    *float64 // stops
	density  *events.Density
}

// exposureLog is what exposures and prints have in common.
type exposureLog struct {
	f, timeS           float64
	plannedF, plannedS float64 // 0 = not written
	plannedBox         string
	filter, holder     string
	factor             *float64
	flash              float64 // share of the threshold
	flashS             float64
	flare              *float64 // stray light as it was written, a share of the brightest tone
	again              float64  // seconds of further exposures on the same sheet
	session, camera    string
}

func (d *Desk) sheetLogOf(p *Picture, s *Sheet) (*sheetLog, error) {
	l := &sheetLog{sheet: s, exposure: s.Exposure(), paper: Paper{FilterFactor: 1, P: 1, ISOR: calc.DefaultISORange, Dmin: calc.DefaultDmin, Dmax: calc.DefaultDmaxGlossy}}
	l.judged()
	if l.exposure != nil {
		l.x = exposureOf(s)
		var err error
		if l.step, err = d.Step(p, *l.exposure); err != nil {
			return nil, err
		}
		if l.step.Paper != nil {
			l.paper = *l.step.Paper
		}
		if l.x.f == 0 {
			l.x.f = l.step.SetF
		}
		if l.box, err = quiet(d.Box(s.Box)); err != nil {
			return nil, err
		}
		if l.camera, err = quiet(d.cameraFor(*l.exposure, l.x.session, l.x.camera)); err != nil {
			return nil, err
		}
		if err := d.flashOf(l); err != nil {
			return nil, err
		}
		l.servedBy()
		l.aged = l.agedBy()
		if l.light, err = d.lightMoved(p, l); err != nil {
			return nil, err
		}
	}
	in, _, err := d.stays(p, s, "developer")
	if err != nil {
		return nil, err
	}
	l.dev = developmentOf(in)
	flare := calc.CopyFlare
	if s.Generation == Negative {
		flare = calc.CameraFlare
	}
	return l, l.model(flare)
}

// flashOf turns a flash in seconds into a share of the threshold, the exposure that alone gives the first tone: by the
// paper's rating, else by the latest strip of flashes of its box.
func (d *Desk) flashOf(l *sheetLog) error {
	if l.x.flashS == 0 || l.x.flash > 0 {
		return nil
	}
	threshold := l.paper.ThresholdS
	if threshold == 0 && l.box != nil {
		const few = 12
		strips, err := d.entries(events.Query{Box: l.box.Thing.ID, Kinds: []events.Kind{events.StripExposed}, To: l.exposure.At, Newest: true, Limit: few})
		if err != nil {
			return err
		}
		for _, e := range strips { // in order: the latest that tells counts
			x := e.Data.(*events.StripExposedData)
			if x.On != "flash" {
				continue
			}
			s, err := quiet(d.Strip(x.Strip))
			if err != nil {
				return err
			}
			if s == nil {
				continue
			}
			if t, _, _, ok := s.Threshold(); ok {
				threshold = t
			}
		}
	}
	if share, err := calc.FlashShare(l.x.flashS, threshold); err == nil {
		l.x.flash = share
	}
	return nil
}

// servedBy says whether the copy's exposure followed the negative that is there: by a reading on it, or by an earlier
// print that the eye corrected.
func (l *sheetLog) servedBy() {
	if l.step.Serving == nil {
		return
	}
	switch x := l.step.Serving.Data.(type) {
	case *events.LightMeteredData:
		l.metered = x.On == "negative"
		l.lightest = l.metered && x.Of == "lightest"
	case *events.SheetReprintedData:
		l.metered = true
	}
}

func exposureOf(s *Sheet) exposureLog {
	var out exposureLog
	for i, e := range s.Exposures {
		switch x := e.Data.(type) {
		case *events.SheetExposedData:
			if i > 0 {
				out.again += x.TimeS
				continue
			}
			out = exposureLog{f: x.F, timeS: x.TimeS, plannedF: orF(x.PlannedF, 0), plannedS: orF(x.PlannedS, 0), plannedBox: x.PlannedBox,
				filter: x.Filter, holder: x.Holder, factor: x.FilterFactor, flash: orF(x.Flash, 0), flashS: orF(x.FlashS, 0), flare: x.Flare, session: x.Session, camera: x.Camera}
		case *events.SheetReprintedData:
			if i > 0 {
				out.again += x.TimeS
				continue
			}
			out = exposureLog{f: orF(x.F, 0), timeS: x.TimeS, plannedF: orF(x.PlannedF, 0), plannedS: orF(x.PlannedS, 0),
				filter: x.Filter, holder: x.Holder, factor: x.FilterFactor, flash: orF(x.Flash, 0), flashS: orF(x.FlashS, 0), session: x.Session, camera: x.Camera}
		}
	}
	return out
}

// judged reads what was last said of a sheet: a later judgement stands in the place of an earlier one, as in every list.
func (l *sheetLog) judged() {
	v := l.sheet.Verdict()
	if v == nil || v.Verdict == "keep" {
		return
	}
	l.failed, l.symptoms, l.asked, l.density = true, slices.Clone(v.Symptoms), v.Stops, v.Density
	if !l.failed || len(l.symptoms) > 0 {
		return
	}
	// Nobody named a symptom: a correction or a density names it.
	lighter, darker := "too-light", "too-dark"
	switch {
	case l.asked != nil && *l.asked > 0:
		l.symptoms = []string{lighter}
	case l.asked != nil && *l.asked < 0:
		l.symptoms = []string{darker}
	}
}

// darkStops is how much darker than the mid-tone a density is, in stops of that sheet's exposure.
func darkStops(c calc.Curve, density float64) float64 {
	const edge = 0.004
	at, err := c.LogH(min(max(density, c.Dmin+edge), c.Dmax-edge))
	if err != nil {
		return 0
	}
	stops := (at - math.Log10(c.Hm)) / math.Log10(2)
	if c.Falling {
		return -stops
	}
	return stops
}
