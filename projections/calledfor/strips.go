package calledfor

import (
	"cmp"
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
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

// StripsTell is what the strips of a box tell of its paper beyond what it was rated at.
type StripsTell struct {
	Names             []string // the strips that tell, newest first
	ISOR, ISORKnown   float64  // the ISO range and the share to which it is known; 0 where none tells
	OffsetStops, OffS float64  // how much faster the paper is than its index, and how well that is known, both stops; OffS 0 where none tells
}

// fewStrips is how many strips of a box are looked through.
const fewStrips = 12

// ToldByStrips reads the strips of a box that were exposed behind a filter before a moment: of the range those on scene and
// negative alike, of the speed those of a generation; each only since the box was rated for it. light is that of a scene; of
// variable-contrast paper a strip of another light tells no range.
func ToldByStrips(snap *snapshot.Snapshot, box *snapshot.Box, at time.Time, generation, filter, light string) (StripsTell, error) {
	var out StripsTell
	ratedIndex, ratedRange := box.RatedSince(at, generation, filter, light)
	strips, err := snap.Entries(events.Query{Box: box.Entity.ID, Kinds: []events.Kind{events.StripExposed}, To: at, Newest: true, Limit: fewStrips})
	if err != nil {
		return out, err
	}
	var sumR, weightR, sumOff, weightOff float64
	for _, e := range slices.Backward(strips) {
		x := e.Data.(*events.StripExposedData)
		if x.On == "pre-flash" || x.Filter != filter {
			continue
		}
		s, err := wording.IgnoreMissing(StripOf(snap, x.Strip))
		if err != nil {
			return out, err
		}
		if s == nil || s.Read() == nil {
			continue
		}
		step, err := s.CalledFor(snap)
		if err != nil {
			return out, err
		}
		if step.Paper == nil {
			continue
		}
		tells := false
		own, err := StripLight(snap, x, step.Serving)
		if err != nil {
			return out, err
		}
		if r, known, ok := s.Range(*step.Paper); ok && e.At.After(ratedRange) && (!box.Variable() || filter != "" || own == light) {
			w := 1 / (known * known)
			sumR, weightR, tells = sumR+w*math.Log(r), weightR+w, true
		}
		ofScene := x.On == "scene"
		if step.CalledForS != nil && step.Serving != nil && ofScene == (generation == snapshot.Negative) && e.At.After(ratedIndex) {
			place := ZoneOf(snapshot.Metered(step.Serving), *step.Paper)
			if point, ok := s.Point(*step.Paper, place); ok {
				w := 1 / (point.SD * point.SD)
				sumOff, weightOff, tells = sumOff+w*math.Log2(*step.CalledForS/point.TimeS), weightOff+w, true
			}
		}
		if tells {
			out.Names = append(out.Names, x.Strip)
		}
	}
	if weightR > 0 {
		out.ISOR, out.ISORKnown = math.Exp(sumR/weightR), max(rangeAtBest, 1/math.Sqrt(weightR))
	}
	if weightOff > 0 { // held against what is known before anything is measured
		before := 1 / (calc.OffsetPriorSD * calc.OffsetPriorSD)
		out.OffsetStops, out.OffS = sumOff/(weightOff+before), 1/math.Sqrt(weightOff+before)
	}
	return out, nil
}

// rangeAtBest is the share to which a range that was measured is known at best: development and drying move it. Our own model.
const rangeAtBest = 0.05

// Range is the ISO range that a strip tells, with the share to which it is known in 19 of 20 cases: by its densities, else by
// the steps of threshold and maximum black, each known to half a step. ok is false where it tells none.
func (s *Strip) Range(paper snapshot.Paper) (r, known float64, ok bool) {
	read := s.Read()
	if s.Exposed == nil || read == nil || s.Exposed.On == "pre-flash" {
		return 0, 0, false
	}
	logs := make([]float64, len(s.Exposed.TimesS))
	for i, t := range s.Exposed.TimesS {
		light, err := calc.ReciprocityInverse(t, paper.P)
		if err != nil {
			return 0, 0, false
		}
		logs[i] = math.Log10(light)
	}
	if r, known, err := calc.RangeOfSteps(logs, read.Densities, paper.Dmin, paper.Dmax); err == nil {
		return r, known, true
	}
	a, b := read.Threshold, read.MaximumBlack
	if a == nil || b == nil || *a < 1 || *b < 1 || *a > len(logs) || *b > len(logs) || logs[*b-1] <= logs[*a-1] {
		return 0, 0, false
	}
	r = 100 * (logs[*b-1] - logs[*a-1]) // of each, the true place is half a step before: alike
	step := s.stepStops() * math.Log10(2)
	return r, 2 * math.Sqrt2 * step / math.Sqrt(12) / (r / 100), r >= 10 && r <= 400
}
