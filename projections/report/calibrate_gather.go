package report

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// told is what one sheet or strip tells of the index.
type told struct {
	name     string
	evidence string  // id of the judgement, or of the reading of the strip
	calledS  float64 // at the aperture used, before reciprocity, at the index and factor of its day
	index    float64 // in force on its day
	factor   float64 // of the filter on its day
	given    float64 // the factor written with the act, 0 = none
	doneS    float64
	stops    float64
	sd       float64 // 0: a sheet's own
	kept     bool    // kept, and nothing asked of it: its exposure lay within what is kept
	byCount  bool    // the time is as it was meant, not as it was measured
	used     float64 // share of its capacity that the developer had seen
	m        float64 // magnification
}

// gathered is what the acts on one box tell.
type gathered struct {
	told    map[Kept][]told
	leftOut []LeftOut
	flashes []*calledfor.Strip
	blacks  map[string]*blackTimes // by developer, and what was timed
}

// blackTimes are times to maximum black, or to the first image, in one sort of developer at 20 °C.
type blackTimes struct {
	developer, from string
	times           []calc.BlackTime
	evidence        []string
}

// sorts lists the sorts of sheet: negatives first, without a filter first, without a light first.
func (g *gathered) sorts() []Kept {
	return slices.SortedFunc(maps.Keys(g.told), func(a, b Kept) int {
		for _, c := range []int{strings.Compare(a.Generation, b.Generation), strings.Compare(a.Filter, b.Filter), strings.Compare(a.Light, b.Light)} {
			if c != 0 {
				return c
			}
		}
		return 0
	})
}

func (g *gathered) leave(sheet, why string, args ...any) {
	g.leftOut = append(g.leftOut, LeftOut{sheet, fmt.Sprintf(why, args...)})
}

// gather goes through the acts that took paper from a box.
func gather(snap *snapshot.Snapshot, b *snapshot.Box, hands map[string]*hand) (*gathered, error) {
	g := &gathered{told: map[Kept][]told{}, blacks: map[string]*blackTimes{}}
	acts, err := snap.Entries(events.Query{Box: b.Entity.ID})
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, e := range acts {
		if err := press(snap, e, hands); err != nil {
			return nil, err
		}
		if x, ok := e.Data.(*events.StripExposedData); ok {
			if err := gatherStrip(snap, g, x.Strip); err != nil {
				return nil, err
			}
			continue
		}
		name := events.SheetOf(e.Data)
		if name == "" || seen[name] {
			continue
		}
		seen[name] = true
		p, s, err := snap.SheetByName(name)
		if wording.Refused(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if err := gatherSheet(snap, g, p, s); err != nil {
			return nil, err
		}
	}
	return g, nil
}

// asks reads the change of exposure that a sheet asks for, in stops: from the density of the tone that was read, where
// it stands on the slope of the curve, else from what the eye said.
func asks(s *snapshot.Sheet, paper snapshot.Paper, place float64) (stops float64, evidence string, ok bool, why string) {
	for _, e := range slices.Backward(s.Judged) {
		x := e.Data.(*events.SheetJudgedData)
		if x.Density != nil && x.Density.Mid != nil {
			if v, good := stopsOfDensity(paper, *x.Density.Mid, place); good {
				return v, e.ID.String(), true, ""
			}
			why = "the density of the tone that was read lies off the slope of the curve"
		}
		if x.Stops != nil {
			return *x.Stops, e.ID.String(), true, ""
		}
	}
	return 0, "", false, why
}

// stopsOfDensity is the change of exposure that brings a density to where its tone belongs. Within 0.06 of bare paper
// and over 90 % of maximum black the slope is too small to tell.
func stopsOfDensity(paper snapshot.Paper, density, place float64) (float64, bool) {
	c, err := paper.Curve()
	if err != nil || density < c.Dmin+0.06 || density > calc.MaximumBlackDensity(c.Dmax) {
		return 0, false
	}
	v, err := c.StopsFromDensity(density, c.Density(math.Log10(c.Hm)+place*math.Log10(2)))
	return v, err == nil && math.Abs(v) <= 10
}

func gatherSheet(snap *snapshot.Snapshot, g *gathered, p *snapshot.Picture, s *snapshot.Sheet) error {
	pulled, ratio, used, err := developing(snap, g, p, s)
	if err != nil || len(s.Judged) == 0 || s.Exposure() == nil {
		return err
	}
	step, err := calledfor.StepOf(snap, p, *s.Exposure())
	if err != nil || step.Paper == nil {
		return err
	}
	place, reading := 0.0, (*events.LightMeteredData)(nil)
	if step.Serving != nil && step.Serving.Kind == events.LightMetered {
		reading = snapshot.Metered(step.Serving)
		place = calledfor.ZoneOf(reading, *step.Paper)
	}
	stops, evidence, ok, why := asks(s, *step.Paper, place)
	v := s.Verdict()
	kept := !ok && why == "" && v != nil && v.Verdict == "keep" && len(v.Symptoms) == 0
	if !ok && !kept {
		if why != "" {
			g.leave(s.Name, "%s", why)
		}
		return nil
	}
	if kept {
		evidence = s.Judged[len(s.Judged)-1].ID.String()
	}
	k, filter, given, printed := Kept{Generation: s.Generation}, "", (*float64)(nil), false
	switch x := s.Exposure().Data.(type) {
	case *events.SheetExposedData:
		filter, given = x.Filter, x.FilterFactor
		if k.Light, err = calledfor.LightOf(snap, x); err != nil {
			return err
		}
	case *events.SheetReprintedData:
		filter, given, printed = x.Filter, x.FilterFactor, true
	}
	k.Filter = filter
	switch {
	case pulled:
		g.leave(s.Name, "pulled by inspection")
	case ratio > 0 && (ratio < calc.DevelopLossBelow || ratio > calc.DevelopDarkAbove):
		g.leave(s.Name, "developed %s × its called-for time", wording.Number(round2(ratio)))
	case len(s.Exposures) > 1:
		g.leave(s.Name, "exposed more than once")
	case step.Paper.Index == 0:
		g.leave(s.Name, "the box had no index, so nothing was called for")
	case step.CalledForS == nil || step.DoneS == nil:
		g.leave(s.Name, "no reading serves it, so nothing was called for")
	case reading == nil:
		g.leave(s.Name, "its time came from an earlier print, not from a reading")
	case printed && reading.Of == "average":
		g.leave(s.Name, "metered on the whole negative, which leans with the subject")
	case !printed && reading.On == "negative":
		g.leave(s.Name, "metered on a negative")
	case filter != "" && reading.Filter == filter:
		g.leave(s.Name, "metered through the filter")
	default:
		bias, byCount, err := capBias(snap, *s.Exposure())
		if err != nil {
			return err
		}
		g.tell(k, &step, told{name: s.Name, evidence: evidence, factor: calledfor.FilterFactorFor(*step.Paper, filter, given, reading), given: snapshot.ValueOr(given, 0),
			doneS: math.Max(*step.DoneS+bias, *step.DoneS/4), stops: stops, kept: kept, byCount: byCount, used: used, m: step.Magnification})
	}
	return nil
}

// capBias is how much longer the cap stayed off than is written, by its camera's description, where the time is written as
// it was meant: 0 for a time that was measured.
func capBias(snap *snapshot.Snapshot, e events.Entry) (bias float64, byCount bool, err error) {
	var planned *float64
	var done float64
	var carried events.Carried
	timed, way := "", ""
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		planned, done, carried, timed = x.PlannedS, x.TimeS, x.Carried, x.Timed
	case *events.SheetReprintedData:
		planned, done, carried, timed, way = x.PlannedS, x.TimeS, x.Carried, x.Timed, x.Way
	}
	if timed == "measured" || planned != nil && *planned != done || way == "contact" || way == "enlarger" {
		return 0, false, nil
	}
	cam, err := wording.IgnoreMissing(calledfor.CameraFor(snap, e, carried.Session, carried.Camera))
	if err != nil || cam == nil {
		return 0, true, err
	}
	return snapshot.ValueOr(cam.CapBiasS, 0), cam.CapBiasS == nil, nil
}

// tell keeps what a sheet or a strip tells, with what its step called for.
func (g *gathered) tell(k Kept, step *calledfor.Step, t told) {
	light, err := calc.ReciprocityInverse(*step.CalledForS, step.Paper.P)
	if err != nil {
		return
	}
	t.calledS, t.index = light, step.Paper.Index
	g.told[k] = append(g.told[k], t)
}

// developing notes the first images of a sheet, and says whether it was pulled by inspection, which share of its
// called-for time it got, 0 where that is not known, and what share of its capacity the developer had seen.
func developing(snap *snapshot.Snapshot, g *gathered, p *snapshot.Picture, s *snapshot.Sheet) (pulled bool, ratio, used float64, err error) {
	for _, e := range s.Developed {
		x := e.Data.(*events.SheetDevelopedData)
		pulled = pulled || x.By == "inspection"
		step, err := calledfor.StepOf(snap, p, e)
		if err != nil {
			return pulled, 0, 0, err
		}
		if used = step.Used; step.CalledForS != nil {
			ratio += x.TimeS / *step.CalledForS
		}
		if x.TimeOfAppearanceS != nil {
			if err := timed(snap, g, "first image", x.Bath, *x.TimeOfAppearanceS, step.TempC, step.Used, e); err != nil {
				return pulled, 0, 0, err
			}
		}
	}
	return pulled, ratio, used, nil
}

// timed keeps a time in a developer, moved to 20 °C.
func timed(snap *snapshot.Snapshot, g *gathered, from, bath string, seconds, tempC, used float64, e events.Entry) error {
	b, err := wording.IgnoreMissing(snap.Bath(bath))
	if err != nil || b == nil || b.Mixed == nil || b.Mixed.Role != "developer" {
		return err
	}
	factor, err := calc.TemperatureFactor(calc.BathTempC, tempC, snapshot.ValueOr(b.Mixed.Q10, calc.DefaultQ10))
	if err != nil || used > 10 {
		return nil
	}
	name := strings.TrimSpace(b.Mixed.Name + " " + b.Mixed.Dilution)
	key := from + "\x00" + name
	if g.blacks[key] == nil {
		g.blacks[key] = &blackTimes{developer: name, from: from}
	}
	g.blacks[key].times = append(g.blacks[key].times, calc.BlackTime{UsedShare: used, TimeS: seconds / factor})
	g.blacks[key].evidence = append(g.blacks[key].evidence, e.ID.String())
	return nil
}

func gatherStrip(snap *snapshot.Snapshot, g *gathered, name string) error {
	s, err := calledfor.StripOf(snap, name)
	if err != nil || s.Exposed == nil || len(s.Reads) == 0 {
		return err
	}
	if read := s.Read(); read.MaximumBlack != nil && read.Bath != "" && read.TimeS != nil {
		if mixed, err := gatherBlack(snap, g, s, read); err != nil || !mixed {
			return err
		}
	}
	if s.Exposed.On == "pre-flash" {
		if _, _, _, ok := s.Threshold(); ok {
			g.flashes = append(g.flashes, s)
		}
		return nil
	}
	step, err := s.CalledFor(snap)
	if err != nil || step.Paper == nil {
		return err
	}
	if step.CalledForS == nil {
		g.leave(name, "no reading serves it, so nothing was called for")
		return nil
	}
	reading := snapshot.Metered(step.Serving)
	k := Kept{Generation: snapshot.Positive, Filter: s.Exposed.Filter}
	if s.Exposed.On == "scene" {
		k.Generation = snapshot.Negative
		if k.Light, err = calledfor.StripLight(snap, s.Exposed, step.Serving); err != nil {
			return err
		}
	}
	switch point, ok := s.Point(*step.Paper, calledfor.ZoneOf(reading, *step.Paper)); {
	case !ok:
	case k.Generation == snapshot.Positive && reading.Of == "average":
		g.leave(name, "metered on the whole negative, which leans with the subject")
	case k.Filter != "" && reading.Filter == k.Filter:
		g.leave(name, "metered through the filter")
	default:
		g.tell(k, &step, told{name: name, evidence: s.Reads[len(s.Reads)-1].ID.String(), factor: calledfor.FilterFactorFor(*step.Paper, k.Filter, nil, reading),
			doneS: point.TimeS, sd: point.SD})
	}
	return nil
}

// gatherBlack keeps the time in which a strip came to maximum black; mixed is false where nothing is written of its bath.
func gatherBlack(snap *snapshot.Snapshot, g *gathered, s *calledfor.Strip, read *events.StripReadData) (mixed bool, err error) {
	b, err := snap.Bath(read.Bath)
	if err != nil || b.Mixed == nil {
		return false, err
	}
	last := s.Reads[len(s.Reads)-1]
	age, err := snap.AgeOf(b, last.At, true, s.Entity.Name)
	if err != nil {
		return true, err
	}
	return true, timed(snap, g, "maximum black", read.Bath, *read.TimeS, snapshot.ValueOr(read.TempC, age.Temp.C), age.Used, last)
}
