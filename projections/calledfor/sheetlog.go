package calledfor

import (
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// SheetLog is what the log says of one sheet, as the replay needs it.
type SheetLog struct {
	Sheet    *snapshot.Sheet
	Exposure *events.Entry
	Step     Step
	Paper    snapshot.Paper
	Box      *snapshot.Box
	Camera   *events.CameraDescribedData
	Made     calc.SheetModel // as it was done
	Ideal    calc.SheetModel // done as called for
	Dev      *development    // nil where it was not developed, or nothing calls for a time
	Light    lightMove
	Aged     agedPaper
	Metered  bool // its exposure followed this very negative
	lightest bool // by its clear base
	X        exposureLog
	Failed   bool
	Symptoms []string
	Asked    *float64 // stops
	Density  *events.Density
}

// exposureLog is what exposures and prints have in common.
type exposureLog struct {
	F, TimeS           float64
	PlannedF, PlannedS float64 // 0 = not written
	PlannedBox         string
	Filter, Holder     string
	Factor             *float64
	PreFlash           float64 // share of the threshold
	preFlashS          float64
	flare              *float64 // stray light as it was written, a share of the brightest tone
	again              float64  // seconds of further exposures on the same sheet
	Session, Camera    string
}

// SheetLogOf sets beside each other what was done to a sheet and what it called for.
func SheetLogOf(snap *snapshot.Snapshot, p *snapshot.Picture, s *snapshot.Sheet) (*SheetLog, error) {
	l := &SheetLog{Sheet: s, Exposure: s.Exposure(), Paper: snapshot.Paper{FilterFactor: 1, P: 1, ISOR: calc.DefaultISORange, Dmin: calc.DefaultDmin, Dmax: calc.DefaultDmaxGlossy}}
	l.Judged()
	if l.Exposure != nil {
		l.X = ExposureOf(s)
		var err error
		if l.Step, err = StepOf(snap, p, *l.Exposure); err != nil {
			return nil, err
		}
		if l.Step.Paper != nil {
			l.Paper = *l.Step.Paper
		}
		l.Paper.Positive = l.Paper.Positive || s.Reversed() // more light makes it lighter, as direct-positive paper
		if l.X.F == 0 {
			l.X.F = l.Step.SetF
		}
		if l.Box, err = wording.IgnoreMissing(snap.Box(s.Box)); err != nil {
			return nil, err
		}
		if l.Camera, err = wording.IgnoreMissing(CameraFor(snap, *l.Exposure, l.X.Session, l.X.Camera)); err != nil {
			return nil, err
		}
		if l.X.PreFlash, err = preFlashShare(snap, l.Paper, l.Box, l.Exposure.At, &l.X.PreFlash, &l.X.preFlashS); err != nil {
			return nil, err
		}
		l.servedBy()
		l.Aged = l.agedBy()
		if l.Light, err = lightMoved(snap, p, l); err != nil {
			return nil, err
		}
	}
	in, _, err := Stays(snap, p, s, "developer")
	if err != nil {
		return nil, err
	}
	l.Dev = developmentOf(in)
	flare := calc.CopyFlare
	if s.Generation == snapshot.Negative {
		flare = calc.CameraFlare
	}
	return l, l.model(flare)
}

// preFlashShare is a pre-flash as a share of the threshold: as it was written, else its seconds by ThresholdOf; 0 for none, and
// where nothing tells the threshold.
func preFlashShare(snap *snapshot.Snapshot, paper snapshot.Paper, box *snapshot.Box, at time.Time, share, seconds *float64) (float64, error) {
	if s := snapshot.ValueOr(share, 0); s > 0 || snapshot.ValueOr(seconds, 0) == 0 {
		return s, nil
	}
	threshold, _, _, err := ThresholdOf(snap, paper, box, at)
	if err != nil {
		return 0, err
	}
	of, err := calc.PreFlashShare(*seconds, threshold)
	if err != nil {
		return 0, nil
	}
	return of, nil
}

// thresholdKnown is how closely a threshold is known that no strip bounds, in stops either way. Common practice.
const thresholdKnown = 0.5

// ThresholdOf is the pre-flash in seconds that alone gives the first tone, with the times between which it lies: by the paper's
// rating, else by the latest strip of pre-flashes of its box before a moment; 0 where nothing tells it.
func ThresholdOf(snap *snapshot.Snapshot, paper snapshot.Paper, box *snapshot.Box, at time.Time) (threshold, low, high float64, err error) {
	if t := paper.ThresholdS; t > 0 || box == nil {
		return t, t * math.Exp2(-thresholdKnown), t * math.Exp2(thresholdKnown), nil
	}
	strips, err := snap.Entries(events.Query{Box: box.Entity.ID, Kinds: []events.Kind{events.StripExposed}, To: at, Newest: true, Limit: fewStrips})
	if err != nil {
		return 0, 0, 0, err
	}
	for _, e := range strips { // in order: the latest that tells counts
		x := e.Data.(*events.StripExposedData)
		if x.On != "pre-flash" {
			continue
		}
		s, err := wording.IgnoreMissing(StripOf(snap, x.Strip))
		if err != nil {
			return 0, 0, 0, err
		}
		if s == nil {
			continue
		}
		if t, from, to, ok := s.Threshold(); ok {
			threshold, low, high = t, from, to
		}
	}
	return threshold, low, high, nil
}

// servedBy says whether the copy's exposure followed the negative that is there: by a reading on it, or by an earlier
// print that the eye corrected.
func (l *SheetLog) servedBy() {
	if l.Step.Serving == nil {
		return
	}
	switch x := l.Step.Serving.Data.(type) {
	case *events.LightMeteredData:
		l.Metered = x.On == "negative"
		l.lightest = l.Metered && x.Of == "lightest"
	case *events.SheetReprintedData:
		l.Metered = true
	}
}

// ExposureOf gives the exposures of a sheet with what all of them together gave it.
func ExposureOf(s *snapshot.Sheet) exposureLog {
	var out exposureLog
	for i, e := range s.Exposures {
		switch x := e.Data.(type) {
		case *events.SheetExposedData:
			if i > 0 {
				out.again += x.TimeS
				continue
			}
			out = exposureLog{F: x.F, TimeS: x.TimeS, PlannedF: snapshot.ValueOr(x.PlannedF, 0), PlannedS: snapshot.ValueOr(x.PlannedS, 0), PlannedBox: x.PlannedBox,
				Filter: x.Filter, Holder: x.Holder, Factor: x.FilterFactor, PreFlash: snapshot.ValueOr(x.PreFlash, 0), preFlashS: snapshot.ValueOr(x.PreFlashS, 0), flare: x.Flare, Session: x.Session, Camera: x.Camera}
		case *events.SheetReprintedData:
			if i > 0 {
				out.again += x.TimeS
				continue
			}
			out = exposureLog{F: snapshot.ValueOr(x.F, 0), TimeS: x.TimeS, PlannedF: snapshot.ValueOr(x.PlannedF, 0), PlannedS: snapshot.ValueOr(x.PlannedS, 0),
				Filter: x.Filter, Holder: x.Holder, Factor: x.FilterFactor, PreFlash: snapshot.ValueOr(x.PreFlash, 0), preFlashS: snapshot.ValueOr(x.PreFlashS, 0), Session: x.Session, Camera: x.Camera}
		}
	}
	return out
}

// Judged reads what was last said of a sheet: a later judgement stands in the place of an earlier one, as in every list.
func (l *SheetLog) Judged() {
	v := l.Sheet.Verdict()
	if v == nil || v.Verdict == "keep" {
		return
	}
	l.Failed, l.Symptoms, l.Asked, l.Density = true, slices.Clone(v.Symptoms), v.Stops, v.Density
	if len(l.Symptoms) > 0 {
		return
	}
	// Nobody named a symptom: a correction or a density names it.
	lighter, darker := "too-light", "too-dark"
	switch {
	case l.Asked != nil && *l.Asked > 0:
		l.Symptoms = []string{lighter}
	case l.Asked != nil && *l.Asked < 0:
		l.Symptoms = []string{darker}
	}
}

// DarkStops is how much darker than the mid-tone a density is, in stops of that sheet's exposure.
func DarkStops(c calc.Curve, density float64) float64 {
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

// Floor is the least deviation of an exposure that is told: 0.15 stop, or twice the cap's scatter.
func (l *SheetLog) Floor(timeS float64) float64 {
	scatter, err := calc.CapScatterStops(timeS, HandOf(l.Camera).SDS(timeS))
	if err != nil {
		return calc.FloorStops
	}
	return max(calc.FloorStops, 2*scatter)
}
