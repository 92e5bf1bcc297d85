package why

import (
	"fmt"
	"math"
	"sync"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// contrast holds the paper's range against the range of light offered to it.
func (r *replay) contrast(l *calledfor.SheetLog) error {
	if l.Exposure == nil || l.Ideal.Curve.Falling {
		return nil
	}
	flash := l.X.PreFlash
	if flash >= 1 {
		return nil // a veil, told by itself
	}
	symptoms := map[calc.PaperFit]string{calc.PaperTooHard: "contrasty", calc.PaperTooSoft: "flat"}
	var offered, excess float64
	symptom := ""
	ranges, err := r.offered(l)
	if err != nil {
		return err
	}
	for _, offered = range ranges {
		fit, over, err := calc.PaperSuits(offered, l.Paper.ISOR, min(flash, 0.99))
		if err != nil {
			return nil
		}
		if symptom, excess = symptoms[fit], over; symptom != "" {
			break
		}
	}
	if symptom == "" {
		return nil
	}
	v := &deviation{on: l, quiet: true}
	v.Cause, v.Entries = map[string]string{"contrasty": "paper-too-hard", "flat": "paper-too-soft"}[symptom], idsOf(l.Exposure)
	if len(entriesOrNone(l.Box)) > 0 {
		v.Entries = append(v.Entries, l.Box.Entries[0].ID.String())
	}
	ratio := "range"
	r0 := (offered - excess) * 100
	v.Done, v.CalledFor, v.Unit = new(math.Round(r0)), new(math.Round(offered*100)), ratio
	before := "the scene" // what the sheet sees
	if l.Sheet.Generation != snapshot.Negative {
		before = "the negative"
	}
	fits := map[string]string{"contrasty": "too hard", "flat": "too soft"}[symptom]
	v.Text = fmt.Sprintf("%s of %s is on paper %s for %s (R%s; %s spans R%s)", noun(l), l.Sheet.Box, fits, before, wording.Number(math.Round(r0)), before, wording.Number(math.Round(offered*100)))
	v.Next = "a softer filter or paper, or a pre-flash below the threshold"
	if symptom == "flat" {
		v.Next = "a harder filter or paper, or less pre-flash"
	}
	plain, _, err := calc.PaperSuits(offered, l.Paper.ISOR, 0)
	if err == nil && flash > 0 && symptom == "flat" && plain != calc.PaperTooSoft {
		v.Cause = "over-flashed"
		v.Done, v.CalledFor, v.Unit = new(twoPlaces(flash)), nil, "thresholds"
		v.Text = fmt.Sprintf("%s was pre-flashed with %s of the threshold, which makes R%s of its R%s where %s spans R%s", noun(l), wording.Number(flash), wording.Number(math.Round(r0)), wording.Number(l.Paper.ISOR), before, wording.Number(math.Round(offered*100)))
	}
	planned, err := wording.IgnoreMissing(r.d.Box(l.X.PlannedBox))
	if err != nil {
		return err
	}
	if planned != nil && l.X.PlannedBox != l.Sheet.Box {
		other := planned.PaperFor(l.Exposure.At, l.Sheet.Generation, l.X.Filter, "")
		if fit, _, err := calc.PaperSuits(offered, other.ISOR, min(flash, 0.99)); err == nil && symptom != symptoms[fit] {
			v.Cause = "wrong-paper"
			v.Text = fmt.Sprintf("%s was planned on %s (R%s) and came from %s (R%s), where %s spans R%s", noun(l), l.X.PlannedBox, wording.Number(other.ISOR), l.Sheet.Box, wording.Number(l.Paper.ISOR), before, wording.Number(math.Round(offered*100)))
			v.Next = "write the box on the holder when it is loaded"
		}
	}
	v.most = sync.OnceValues(func() (float64, error) { return r.mindedRange(l, symptom, math.Abs(excess)) })
	if v.Cause != "over-flashed" {
		suits := (offered - excess) / math.Max(offered, 0.1)
		v.apply = func(m *calc.SheetModel) {
			if c, err := calc.NewCurve(m.Curve.Hm, m.Curve.R*suits, m.Curve.Dmin, m.Curve.Dmax); err == nil {
				m.Curve = c
			}
		}
	} else {
		v.apply = func(m *calc.SheetModel) {
			m.PreFlashShare += flash
			m.ExposureStops += m.Curve.PreFlashStops(flash) // the exposure was called for with it
		}
	}
	v.only = []string{symptom}
	v.shows = func(s string, seen *calledfor.SheetLog) float64 {
		if s == "weak-blacks" && symptom == "flat" && seen == l {
			return 0.5 // a paper too soft does not reach its black
		}
		return 0
	}
	r.add(v)
	return nil
}

// mindedRange is the probability that a paper that is too hard or too soft by so much, in log10 of range, is what an eye
// minded: eyes differ, nobody reads every scene, and this one may have kept sheets of the box that were as hard.
func (r *replay) mindedRange(l *calledfor.SheetLog, symptom string, excess float64) (float64, error) {
	of := map[string]float64{symptom: 1}
	size := excess - calc.ContrastSlack
	_, read, err := r.sceneRange()
	if err != nil {
		return 0, err
	}
	var others []sharing
	if !read { // of another scene the ranges of other pictures say nothing
		others, err = r.sharers(l, size, of, func(o *otherSheet) bool {
			n := o.picture.NegativeSheet()
			return o.filter == l.X.Filter && (l == r.neg || r.neg == nil || n != nil && n.Box == r.neg.Sheet.Box)
		})
		if err != nil {
			return 0, err
		}
	}
	chance, _ := misranged.control(r.itself(l, size, of, of), others)
	return chance, nil
}

func entriesOrNone(b *snapshot.Box) []events.Entry {
	if b == nil {
		return nil
	}
	return b.Entries
}

// standardFlare is the log10 range that stray light takes of a scene. Published: the standard flare of sensitometry.
const standardFlare = 0.40

// offered is the log10 range of light that is offered to a sheet: to a negative the scene's, to a print the negative's
// net densities over that range. Where nobody read the scene's shadows and highlights nor wrote its flare down, an ordinary
// scene may have lost as little as the model's stray light takes, or as much as the standard one: both are given, and
// what the eye saw says which.
func (r *replay) offered(l *calledfor.SheetLog) ([]float64, error) {
	span, read, err := r.sceneRange()
	if err != nil {
		return nil, err
	}
	if l.Sheet.Generation == snapshot.Negative {
		flare := calc.CameraFlare
		if x, ok := l.Exposure.Data.(*events.SheetExposedData); ok && x.Flare != nil {
			flare = *x.Flare
		}
		after, err := calc.RangeAfterFlare(span, flare)
		if err != nil {
			return []float64{span}, nil
		}
		if read || flare != calc.CameraFlare {
			return []float64{after}, nil
		}
		return []float64{after, span - standardFlare}, nil
	}
	if r.neg == nil {
		return []float64{calc.OrdinarySceneRange}, nil
	}
	n := r.neg.Made
	stops := span / math.Log10(2)
	high := min(stops/2, calc.SceneLightest)
	return []float64{math.Abs(n.Negative(high) - n.Negative(high-stops))}, nil
}

// sceneRange is the scene's range of light: from readings of its shadows and highlights, else, with false, an ordinary one.
func (r *replay) sceneRange() (float64, bool, error) {
	if r.neg == nil || r.neg.Exposure == nil {
		return calc.OrdinarySceneRange, false, nil
	}
	scene, err := calledfor.SceneAt(r.d, r.p, *r.neg.Exposure, r.neg.X.Session)
	if err != nil {
		return 0, false, err
	}
	if span, ok := scene.Range(); ok {
		return span, true, nil
	}
	return calc.OrdinarySceneRange, false, nil
}
