package calledfor

import (
	"errors"
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// The warnings about a time that is called for.
var (
	noIndex             = wording.Warns("no-index", "the box has no index and no ISO P, so no time can be called for: rate it with `traybook paper rate`")
	factorUnknown       = wording.Warns("factor-unknown", "no factor is known for the filter {filter}, so none is counted: give --filter-factor")
	factorUsual         = wording.Warns("factor-usual", "filter {filter} counts {factor} times, as under an enlarger's lamp: daylight may ask for another; a strip tells it (paper rate --filter-factor)")
	blindToFilter       = wording.Warns("blind-to-filter", "paper sees blue and green: through {filter} it is nearly blind, and no factor of it is known; make a strip first, or give --filter-factor")
	factorWithoutFilter = wording.Warns("factor-without-filter", "a filter's factor counts only with its filter: name it with --filter")
	noCopyAperture      = wording.Warns("no-copy-aperture", "no aperture is written for the copy, and the camera has none (copy_f): no time can be called for")
	noStripAperture     = wording.Warns("no-strip-aperture", "no aperture is written for strip {strip}: no time can be called for")
)

// blindFilters are those that pass what paper does not see. Common practice: paper for prints is made to be handled in
// amber or red light.
var blindFilters = []string{"orange", "deep-orange", "amber", "red", "light-red", "deep-red"}

// Step is one act held against what it called for.
type Step struct {
	Entry          events.Entry
	CalledForS     *float64      // seconds; nil where nothing serves, or no time helps
	DoneS          *float64      // seconds; of a wash: seconds of soaking and running together
	DeviationStops *float64      // log2(done ÷ called-for); of a fixing or a wash, all up to this one together
	Before         float64       // what earlier fixings, or washes since the last one, gave as a share of what they called for
	Called         *calc.Called  // the breakdown of an exposure
	Serving        *events.Entry // the reading or the earlier print that served it
	Warnings       []wording.Warning
	Paper          *snapshot.Paper // the paper as it was in force
	TempC          float64
	Used           float64   // share of the bath's capacity before this sheet
	Bath           *BathNeed // of a stay in a developer or a fixer
	Magnification  float64
	SetF           float64
	Asked          float64    // stops that the eye asked of the earlier print that served; 0 where it was kept
	known          [2]float64 // shares of the time between which a bath or a wash is known; 0 where nothing is known
}

// StopsOff is by how many stops a time in seconds is longer than the called-for one; nil where none is called for.
func (s *Step) StopsOff(timeS float64) *float64 {
	if s.CalledForS == nil || *s.CalledForS <= 0 {
		return nil
	}
	return new(math.Log2(timeS / *s.CalledForS))
}

// Between are the bounds in seconds within which the called-for time is known: of an exposure by meter, paper and cap, of
// a developer or a fixer by its temperature and age, of a stop and a wash by what the trade gives. ok is false where nothing
// is known of them.
func (s *Step) Between() (low, high float64, ok bool) {
	switch {
	case s.CalledForS == nil:
		return 0, 0, false
	case s.Called != nil:
		low, high = s.Called.Between()
		return low, high, true
	case s.known[1] > 0:
		return *s.CalledForS * s.known[0], *s.CalledForS * s.known[1], true
	}
	return 0, 0, false
}

// Bounds are the bounds of Between, nil where nothing is known of them.
func (s *Step) Bounds() (low, high *float64) {
	if l, h, ok := s.Between(); ok {
		return &l, &h
	}
	return nil, nil
}

// Call is the called-for time as it is told; ok is false where there is none.
func (s *Step) Call() (c wording.Call, ok bool) {
	if s.CalledForS == nil {
		return c, false
	}
	c = wording.Call{Kind: s.Entry.Kind, S: *s.CalledForS}
	c.LowS, c.HighS = s.Bounds()
	return c, true
}

func (s *Step) deviate() {
	if s.CalledForS != nil && s.DoneS != nil && *s.CalledForS > 0 && *s.DoneS > 0 {
		s.DeviationStops = new(math.Log2(*s.DoneS / *s.CalledForS + s.Before))
	}
}

// StepOf works out what one entry of a picture called for. Kinds without a time give a step without one.
func StepOf(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry) (Step, error) {
	s := Step{Entry: e}
	var err error
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		err = exposedStep(snap, p, x, &s)
	case *events.SheetReprintedData:
		err = reprintedStep(snap, p, x, &s)
	case *events.SheetDevelopedData:
		err = bathStep(snap, p, x.Sheet, x.Bath, x.TempC, x.TimeS, "developer", &s)
	case *events.SheetFixedData:
		if err = bathStep(snap, p, x.Sheet, x.Bath, x.TempC, x.TimeS, "fixer", &s); err == nil {
			s.Before, err = fixedBefore(snap, p, e, x.Sheet)
		}
	case *events.SheetRinsedData:
		if x.TimeS != nil {
			s.DoneS = x.TimeS
		}
		s.known = [2]float64{calc.StopTimeLeast, calc.StopTimeMost}
		err = plainBathStep(snap, x.Bath, &s)
	case *events.SheetTonedData:
		s.DoneS = x.TimeS
		err = plainBathStep(snap, x.Bath, &s)
	case *events.SheetReversedData:
		s.DoneS = x.TimeS
		err = reversalStep(snap, p, x, &s)
	case *events.SheetWashedData:
		err = washStep(snap, p, x, &s)
	}
	err = s.bear(err)
	s.deviate()
	return s, err
}

// bear takes what cannot be calculated: what an act names may be gone, and then nothing serves; a figure may lie beyond a
// formula, and then the step says so.
func (s *Step) bear(err error) error {
	_, err = wording.IgnoreMissing(s, err)
	var off *calc.RangeError
	if errors.As(err, &off) {
		s.Warnings, err = append(s.Warnings, wording.NotCalculated(off)), nil
	}
	return err
}

// CameraFor describes the camera of an act at its moment: the one named, else that of its session; nil where neither is known.
func CameraFor(snap *snapshot.Snapshot, e events.Entry, session, camera string) (*events.CameraDescribedData, error) {
	if camera == "" && session != "" {
		s, err := snap.Session(session)
		if err != nil {
			return nil, err
		}
		if s.Opened != nil {
			camera = s.Opened.Camera
		}
	}
	if camera == "" {
		return nil, nil
	}
	c, err := snap.Camera(camera)
	if err != nil {
		return nil, err
	}
	return c.At(e.At), nil
}

func exposedStep(snap *snapshot.Snapshot, p *snapshot.Picture, x *events.SheetExposedData, s *Step) error {
	facts, err := exposedFacts(snap, x, s)
	if err != nil {
		return err
	}
	serving, err := ServesNegative(snap, p, s.Entry, x)
	if err != nil || serving == nil {
		return err
	}
	s.Serving, s.Magnification = serving, facts.m
	return fromReading(snap, s, snapshot.Metered(serving), facts)
}

// exposedFacts is what moves a reading to an exposure of a negative; the step takes its paper, time and aperture.
func exposedFacts(snap *snapshot.Snapshot, x *events.SheetExposedData, s *Step) (exposureFacts, error) {
	s.DoneS, s.SetF = new(x.TimeS), x.F
	box, err := snap.Box(x.Box)
	if err != nil {
		return exposureFacts{}, err
	}
	light, err := LightOf(snap, x)
	if err != nil {
		return exposureFacts{}, err
	}
	paper := box.PaperFor(s.Entry.At, snapshot.Negative, x.Filter, light)
	s.Paper = &paper
	cam, err := CameraFor(snap, s.Entry, x.Session, x.Camera)
	if err != nil {
		return exposureFacts{}, err
	}
	var m float64
	if cam != nil {
		m = SceneMagnification(cam.FocalMM, x)
	}
	flash, err := preFlashShare(snap, paper, box, s.Entry.At, x.PreFlash, x.PreFlashS)
	return exposureFacts{f: x.F, m: m, camera: cam, filter: x.Filter, given: x.FilterFactor, paper: paper, flash: flash}, err
}

// LightOf is the light a negative was exposed in: as written with the exposure, else with the reading it names, else
// with its session; "" where nobody said.
func LightOf(snap *snapshot.Snapshot, x *events.SheetExposedData) (string, error) {
	if x.Light != "" {
		return x.Light, nil
	}
	r, err := snap.Reading(x.Reading)
	if err != nil {
		return "", err
	}
	if r != nil && snapshot.Metered(r).Light != "" {
		return snapshot.Metered(r).Light, nil
	}
	return sessionLight(snap, x.Session)
}

// copyLight is the light a negative on variable-contrast paper is copied in, as written with the reading that a print names,
// else with its session. Other paper is rated for prints whatever the light.
func copyLight(snap *snapshot.Snapshot, box *snapshot.Box, reading, session string) (string, error) {
	if !box.Variable() {
		return "", nil
	}
	r, err := snap.Reading(reading)
	if err != nil {
		return "", err
	}
	if r != nil && snapshot.Metered(r).Light != "" {
		return snapshot.Metered(r).Light, nil
	}
	return sessionLight(snap, session)
}

// sessionLight is the light a session was opened in; "" where there is none, or it is gone.
func sessionLight(snap *snapshot.Snapshot, session string) (string, error) {
	if session == "" {
		return "", nil
	}
	s, err := wording.IgnoreMissing(snap.Session(session))
	if err != nil || s == nil || s.Opened == nil {
		return "", err
	}
	return s.Opened.Light, nil
}

// SceneMagnification is the image's size over the subject's: from the extension measured, which beats a distance, or
// from the distance; 0 where neither is known or the lens cannot focus there.
func SceneMagnification(focal float64, x *events.SheetExposedData) float64 {
	m, _, err := calc.MagnificationOf(focal, x.ExtensionMM, nil, x.SubjectMM)
	if err != nil {
		return 0
	}
	return m
}

// exposureFacts is what moves a reading to the exposure set.
type exposureFacts struct {
	f, m   float64
	camera *events.CameraDescribedData
	filter string
	given  *float64 // the filter factor written with the act
	paper  snapshot.Paper
	copy   bool    // a negative is before the lens, nobody sits
	flash  float64 // pre-flash as a share of the threshold; 0 for none, or where that is not known
}

// FilterFactorFor is the factor that a filter calls for: none without a filter, none where the index in force was
// measured through it or the reading was taken through it; the paper's own where it was measured; else the one given; else
// the usual one of a filter for variable-contrast paper.
func FilterFactorFor(paper snapshot.Paper, filter string, given *float64, reading *events.LightMeteredData) float64 {
	if filter == "" || paper.InIndex || reading != nil && reading.Filter == filter {
		return 1
	}
	if paper.FilterRated || paper.FilterUsual && given == nil {
		return paper.FilterFactor
	}
	return max(1, snapshot.ValueOr(given, 1))
}

// extensionFactor is what the light falls by where a camera is drawn out to a magnification; the lens of one that is not
// known counts as symmetrical.
func extensionFactor(m float64, cam *events.CameraDescribedData) (float64, error) {
	pupil := 1.0
	if cam != nil {
		pupil = snapshot.ValueOr(cam.PupilRatio, 1)
	}
	return calc.ExtensionFactor(m, pupil)
}

func fromReading(snap *snapshot.Snapshot, s *Step, r *events.LightMeteredData, x exposureFacts) error {
	if x.paper.Index == 0 {
		s.Warnings = append(s.Warnings, noIndex.Warn())
		return nil
	}
	ext, err := extensionFactor(x.m, x.camera)
	if err != nil {
		return err
	}
	hand, widest, smallest := HandOf(x.camera), 0.0, 0.0
	if x.camera != nil {
		widest, smallest = min(x.camera.FWidest, x.camera.FSmallest), max(x.camera.FWidest, x.camera.FSmallest)
	}
	p := x.paper.P
	if !x.paper.PKnown && s.Entry.Kind == events.SheetExposed && snapshot.ValueOr(s.DoneS, 0) == 0 {
		p = 0 // before it is exposed it is told that nobody knows how this paper takes a long time
	}
	c, err := calc.Exposure{
		Reading:         ReadingOf(r),
		ZoneStops:       ZoneOf(r, x.paper),
		PreFlashStops:   preFlashStops(x.paper, x.flash),
		PaperIndex:      x.paper.Index,
		SetF:            x.f,
		ExtensionFactor: ext,
		FilterFactor:    FilterFactorFor(x.paper, x.filter, x.given, r),
		P:               p,
		CapSDS:          hand.ConstS,
		CapShare:        hand.Share,
		WidestF:         widest,
		SmallestF:       smallest,
		Copy:            x.copy,
		DoneS:           snapshot.ValueOr(s.DoneS, 0),
	}.CalledFor()
	if err != nil {
		return err
	}
	s.Called, s.CalledForS = &c, new(c.TimeS)
	switch {
	case x.filter != "" && x.given == nil && !x.paper.FilterRated && !x.paper.InIndex && r.Filter != x.filter:
		switch {
		case x.paper.FilterUsual:
			s.Warnings = append(s.Warnings, factorUsual.Warn(x.filter, x.paper.FilterFactor))
		case slices.Contains(blindFilters, x.filter):
			s.Warnings = append(s.Warnings, blindToFilter.Warn(x.filter))
		default:
			s.Warnings = append(s.Warnings, factorUnknown.Warn(x.filter))
		}
	case x.filter == "" && x.given != nil:
		s.Warnings = append(s.Warnings, factorWithoutFilter.Warn())
	}
	s.Warnings = append(s.Warnings, wording.OfCalc(c.Warnings)...)
	return nil
}

// preFlashStops is what an exposure on a paper is shortened by for its pre-flash.
func preFlashStops(paper snapshot.Paper, share float64) float64 {
	c, err := paper.Curve()
	if err != nil {
		return 0
	}
	return c.PreFlashStops(share)
}

// ReadingOf turns a logged reading into calc's.
func ReadingOf(r *events.LightMeteredData) calc.Reading {
	return calc.Reading{F: snapshot.ValueOr(r.F, 0), TimeS: snapshot.ValueOr(r.TimeS, 0), EV: r.EV, Index: snapshot.ValueOr(r.Index, 0), Lux: snapshot.ValueOr(r.Lux, 0), CdM2: snapshot.ValueOr(r.CdM2, 0)}
}

// ZoneOf is where the tone that was read shall land, in stops from the mid-tone. What was written counts; the
// lightest patch of a negative, its clear base, belongs at just maximum black, the darkest at the first tone over white.
func ZoneOf(r *events.LightMeteredData, paper snapshot.Paper) float64 {
	if r.ZoneStops != nil {
		return *r.ZoneStops
	}
	if r.On != "negative" || r.Of != "lightest" && r.Of != "darkest" || paper.Positive {
		return 0
	}
	if c, err := paper.Curve(); err == nil && r.Of == "lightest" {
		return c.ZoneOfMaximumBlack()
	} else if err == nil {
		return c.ZoneOfThreshold()
	}
	return 0
}

// ServesNegative finds the reading that serves an exposure: the one it names, else the session's latest on the scene
// at or before it that names no other picture. A reading that tells how far the scene goes (see TellsRange) serves only
// where no other does.
func ServesNegative(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, x *events.SheetExposedData) (*events.Entry, error) {
	if r, err := snap.Reading(x.Reading); r != nil || err != nil {
		return r, err
	}
	var others []events.Entry
	if x.Session != "" {
		s, err := snap.Session(x.Session)
		if err != nil {
			return nil, err
		}
		others = s.ReadingsByUse["scene"]
	} else {
		loose, err := looseReadings(snap, e)
		if err != nil {
			return nil, err
		}
		others = snapshot.ReadingsOf(loose)["scene"]
	}
	inSession := func(r *events.LightMeteredData) bool { return r.Session == x.Session }
	r := snapshot.Latest(e, time.Time{}, inSession, others, p.Readings["scene"])
	if r != nil && TellsRange(snapshot.Metered(r)) {
		tone := snapshot.Latest(e, time.Time{}, func(r *events.LightMeteredData) bool { return inSession(r) && !TellsRange(r) }, others, p.Readings["scene"])
		if tone != nil {
			return tone, nil
		}
	}
	return r, nil
}

// looseReadings are the readings of no session and no picture before an act: the newest few.
func looseReadings(snap *snapshot.Snapshot, e events.Entry) ([]events.Entry, error) {
	t, ok, err := snap.R.Entity(events.BookEntity)
	if err != nil || !ok {
		return nil, err
	}
	return snap.Entries(events.Query{Stream: t.ID, Kinds: []events.Kind{events.LightMetered}, To: e.At, Newest: true, Limit: 8})
}

// PaperAt gives the paper of one sheet as it was in force at its exposure.
func PaperAt(snap *snapshot.Snapshot, s *snapshot.Sheet) (*snapshot.Paper, *snapshot.Box, error) {
	e := s.Exposure()
	if e == nil {
		return nil, nil, nil
	}
	box, err := snap.Box(s.Box)
	if err != nil {
		return nil, nil, err
	}
	filter, light := "", ""
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		filter = x.Filter
		if light, err = LightOf(snap, x); err != nil {
			return nil, nil, err
		}
	case *events.SheetReprintedData:
		filter = x.Filter
		if light, err = copyLight(snap, box, x.Reading, x.Session); err != nil {
			return nil, nil, err
		}
	}
	p := box.PaperFor(e.At, s.Generation, filter, light)
	return &p, box, nil
}
