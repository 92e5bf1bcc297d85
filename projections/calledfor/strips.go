package calledfor

import (
	"cmp"
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
)

// Strip is one test strip: how it was exposed and every time it was read.
type Strip struct {
	Entity  events.Entity
	Entry   events.Entry // its exposure
	Exposed *events.StripExposedData
	Reads   []events.Entry // strip.read, in order
	Entries []events.Entry
}

// StripPoint is what a strip tells of the exposure its paper asks for.
type StripPoint struct {
	TimeS float64 // the exposure in seconds at which the tone that was read comes out where it belongs
	SD    float64 // how well the steps tell it, stops
}

// StripOf folds one strip by name. Errors: a *Refusal where there is none.
func StripOf(snap *snapshot.Snapshot, name string) (*Strip, error) {
	t, err := snap.Entity(events.Strip, name)
	if err != nil {
		return nil, err
	}
	entries, err := snap.Stream(t)
	if err != nil {
		return nil, err
	}
	return foldStrip(t, entries), nil
}

func foldStrip(t events.Entity, entries []events.Entry) *Strip {
	s := &Strip{Entity: t, Entries: entries}
	for _, e := range entries {
		switch x := e.Data.(type) {
		case *events.StripExposedData:
			if s.Exposed == nil {
				s.Entry, s.Exposed = e, x
			}
		case *events.StripReadData:
			s.Reads = append(s.Reads, e)
		}
	}
	return s
}

// Read joins what the readings of a strip say: field by field the latest that says it. nil where it was not read.
func (s *Strip) Read() *events.StripReadData {
	if len(s.Reads) == 0 {
		return nil
	}
	out := *s.Reads[len(s.Reads)-1].Data.(*events.StripReadData)
	for _, e := range slices.Backward(s.Reads) {
		x := e.Data.(*events.StripReadData)
		out.Bath = cmp.Or(out.Bath, x.Bath)
		out.TimeS, out.TempC = orOther(out.TimeS, x.TimeS), orOther(out.TempC, x.TempC)
		out.Threshold, out.Best, out.MaximumBlack = orOther(out.Threshold, x.Threshold), orOther(out.Best, x.Best), orOther(out.MaximumBlack, x.MaximumBlack)
		if len(out.Densities) == 0 {
			out.Densities = x.Densities
		}
	}
	return &out
}

func orOther[T any](a, b *T) *T {
	if a != nil {
		return a
	}
	return b
}

// at is the time of a step in seconds, counted from 1; false beyond the strip.
func (s *Strip) at(step *int) (float64, bool) {
	if step == nil || *step < 1 || *step > len(s.Exposed.TimesS) {
		return 0, false
	}
	return s.Exposed.TimesS[*step-1], true
}

// stepStops is the usual distance between the steps, in stops.
func (s *Strip) stepStops() float64 {
	times := slices.Clone(s.Exposed.TimesS)
	slices.Sort(times)
	n := len(times)
	if n < 2 || times[n-1] <= times[0] {
		return 1
	}
	return math.Log2(times[n-1]/times[0]) / float64(n-1)
}

// Point reads which exposure the paper asks for, for the tone that was read to land place stops from the mid-tone.
// Densities tell it best, then the step picked by eye, then where the threshold and maximum black stand on the paper's
// curve. ok is false where nothing tells it.
//
// A step is known to half a step either way: its scatter is the step ÷ √12, with a sheet's own scatter added in
// quadrature. Derived; the sheet's scatter is our own model.
func (s *Strip) Point(paper snapshot.Paper, place float64) (StripPoint, bool) {
	read := s.Read()
	if s.Exposed == nil || read == nil || s.Exposed.On == "pre-flash" {
		return StripPoint{}, false
	}
	step := s.stepStops() / math.Sqrt(12)
	sd := math.Hypot(calc.SheetScatter, step)
	curve, err := paper.Curve()
	if err == nil {
		if t, ok := s.atDensity(read.Densities, curve.Density(math.Log10(curve.Hm)+place*math.Log10(2))); ok {
			return StripPoint{t, calc.SheetScatter}, true
		}
	}
	if t, ok := s.at(read.Best); ok {
		return StripPoint{t, sd}, true
	}
	if err != nil {
		return StripPoint{}, false
	}
	// The tone that was read stands at the step's exposure: it is right where that exposure is Hm·2^place.
	aim := curve.Hm * math.Exp2(place)
	tone, hasTone := s.at(read.Threshold)
	black, hasBlack := s.at(read.MaximumBlack)
	switch {
	case hasTone && hasBlack:
		return StripPoint{math.Sqrt(tone * aim / curve.Ht() * black * aim / curve.Hs()), sd}, true
	case hasTone:
		return StripPoint{tone * aim / curve.Ht(), math.Hypot(sd, calc.SheetScatter)}, true
	case hasBlack:
		return StripPoint{black * aim / curve.Hs(), math.Hypot(sd, calc.SheetScatter)}, true
	}
	return StripPoint{}, false
}

// atDensity finds the time at which the steps pass a density, on a line in log time between the two that hold it.
func (s *Strip) atDensity(densities []float64, want float64) (float64, bool) {
	n := min(len(densities), len(s.Exposed.TimesS))
	for i := 1; i < n; i++ {
		a, b := densities[i-1], densities[i]
		if a == b || (want-a)*(want-b) > 0 {
			continue
		}
		la, lb := math.Log(s.Exposed.TimesS[i-1]), math.Log(s.Exposed.TimesS[i])
		return math.Exp(la + (lb-la)*(want-a)/(b-a)), true
	}
	return 0, false
}

// Threshold reads the pre-flash time that alone gives the first visible tone, from a strip of pre-flashes: the estimate and
// the two times between which it lies, seconds. ok is false where the strip tells none.
func (s *Strip) Threshold() (estimate, low, high float64, ok bool) {
	read := s.Read()
	if s.Exposed == nil || s.Exposed.On != "pre-flash" || read == nil || read.Threshold == nil {
		return 0, 0, 0, false
	}
	estimate, low, high, err := calc.PreFlashThreshold(s.Exposed.TimesS, *read.Threshold)
	return estimate, low, high, err == nil
}

// CalledFor works out what a strip's reading calls for, as for a sheet in its place, and which reading serves. The
// step has no called-for time where nothing serves.
func (s *Strip) CalledFor(snap *snapshot.Snapshot) (Step, error) {
	step := Step{Entry: s.Entry}
	if s.Exposed == nil || s.Exposed.On == "pre-flash" {
		return step, nil
	}
	err := step.bear(stripStep(snap, s.Exposed, &step))
	return step, err
}

// StripLight is the light a strip was exposed in, from its reading, else its session.
func StripLight(snap *snapshot.Snapshot, x *events.StripExposedData, reading *events.Entry) (string, error) {
	if reading != nil && snapshot.Metered(reading).Light != "" {
		return snapshot.Metered(reading).Light, nil
	}
	return sessionLight(snap, x.Session)
}

func stripStep(snap *snapshot.Snapshot, x *events.StripExposedData, s *Step) error {
	box, err := snap.Box(x.Box)
	if err != nil {
		return err
	}
	if s.Serving, err = snap.Reading(x.Reading); err != nil {
		return err
	}
	generation := snapshot.Positive
	light, err := copyLight(snap, box, x.Reading, x.Session)
	if err != nil {
		return err
	}
	if x.On == "scene" {
		generation = snapshot.Negative
		if light, err = StripLight(snap, x, s.Serving); err != nil {
			return err
		}
	}
	paper := box.PaperFor(s.Entry.At, generation, x.Filter, light)
	s.Paper = &paper
	cam, err := CameraFor(snap, s.Entry, x.Session, x.Camera)
	if err != nil || s.Serving == nil {
		return err
	}
	s.SetF, s.Magnification = snapshot.ValueOr(x.F, 0), snapshot.ValueOr(x.Magnification, 0)
	if x.On == "negative" {
		like := &events.SheetReprintedData{F: x.F, Magnification: x.Magnification}
		s.SetF, s.Magnification = copyF(like, cam), copyMagnification(like, cam)
	}
	if s.SetF == 0 {
		s.Warnings = append(s.Warnings, noStripAperture.Warn(x.Strip))
		return nil
	}
	return fromReading(snap, s, snapshot.Metered(s.Serving), exposureFacts{f: s.SetF, m: s.Magnification, camera: cam, filter: x.Filter, paper: paper, copy: x.On == "negative"})
}
