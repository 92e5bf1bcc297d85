package why

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/suspects"
	"traybook/projections/wording"
)

// Slip is a slip of this trade whose size is that of what is left over. It is no proof.
type Slip struct {
	Slip    string   `json:"slip"` // its code
	Sheet   string   `json:"sheet"`
	Stops   float64  `json:"stops"` // what it would have done to the sheet's exposure: + = too much
	Left    float64  `json:"left"`  // what no entry accounts for, the same way round
	Text    string   `json:"text"`
	Against string   `json:"against"` // what in the log speaks against it; "" for nothing
	Entries []string `json:"entries"` // that speak against it
}

// How sizes are held against each other. A sheet scatters by 0.3 stop (our own model of an eye and a hand together); what
// lies farther off than that is not of one size.
const (
	slipStops = 0.3
	mostSlips = 3
)

// possible is one slip with its size and how common it is among those of the trade (common practice; the lens left at its
// widest leads by far).
type possible struct {
	code    string
	stops   float64
	common  float64
	what    string
	suspect string // by whose checks it is ruled out
}

// slips hold what is left over of each sized symptom against the slips of the trade.
func (r *replay) slips(out *Diagnosis) error {
	seen := map[*calledfor.SheetLog]bool{}
	told := r.toldOf(out)
	for _, w := range r.weighed {
		if w.size == 0 || seen[w.seen] {
			continue
		}
		seen[w.seen] = true
		left := -w.size * (1 - w.accused(r, told)) // + = it got too much
		if math.Abs(left) < calc.FloorStops+slipStops/2 || w.seen.Exposure == nil {
			continue
		}
		all, err := r.possible(w.seen)
		if err != nil {
			return err
		}
		var of []possible
		for _, p := range all {
			if math.Abs(p.stops-left) <= min(slipStops, math.Abs(p.stops)/2) {
				of = append(of, p)
			}
		}
		near := func(p possible) float64 { d := (p.stops - left) / slipStops; return p.common * math.Exp(-2*d*d) }
		slices.SortStableFunc(of, func(a, b possible) int { return cmp.Compare(near(b), near(a)) })
		for _, p := range of[:min(len(of), mostSlips)] {
			s := Slip{Slip: p.code, Sheet: w.seen.Sheet.Name, Stops: twoPlaces(p.stops), Left: twoPlaces(left), Text: p.what, Entries: []string{}}
			if known, ok := suspects.ByCode(p.suspect); ok {
				said, err := (&court{r: r, l: w.seen, suspect: known}).rule()
				if err != nil {
					return err
				}
				if said != nil && said.state == RuledOut {
					s.Against, s.Entries = said.because, said.entries
				}
			}
			out.Slips = append(out.Slips, s)
		}
	}
	slices.SortStableFunc(out.Slips, func(a, b Slip) int { return cmp.Compare(len(a.Against), 0) - cmp.Compare(len(b.Against), 0) })
	return nil
}

// filmIndexes are those at which a meter is left that was set for film.
var filmIndexes = []float64{100, 400, 50, 200}

// possible are the slips that this sheet could have met, by its camera, aperture, paper and book.
func (r *replay) possible(l *calledfor.SheetLog) ([]possible, error) {
	var all []possible
	add := func(code string, stops, common float64, suspect, what string) {
		if math.Abs(stops) >= calc.FloorStops {
			all = append(all, possible{code, stops, common, what, suspect})
		}
	}
	f := l.X.F
	if l.Camera != nil && f > 0 {
		wide := l.Camera.FWidest
		add("lens-wide", 2*math.Log2(calc.ExactF(f)/calc.ExactF(wide)), 1, "lens-wide",
			fmt.Sprintf("a lens left at f/%s after focusing, where f/%s was meant", wording.Number(wide), wording.Number(f)))
	}
	if m, at := bellowsOf(l); m > 0 {
		factor := 2 * math.Log2(1+m)
		unwritten := "copy-extension"
		if l.Sheet.Generation == snapshot.Negative {
			unwritten = "extension-unwritten"
		}
		add("bellows-left-out", -factor, 0.6, unwritten, "the bellows factor "+at+" left out")
		add("bellows-twice", factor, 0.3, "", "the bellows factor "+at+" counted twice, as with a meter behind the lens")
	}
	if l.Step.Serving != nil && l.Step.Serving.Kind == events.LightMetered {
		x := snapshot.Metered(l.Step.Serving)
		if index := snapshot.ValueOr(x.Index, 0); index > 0 && x.TimeS != nil {
			for _, film := range filmIndexes {
				if film != index {
					add("film-index", math.Log2(index/film), 0.4, "meter-misread", fmt.Sprintf("a meter left at a film's index of %s", wording.Number(film)))
				}
			}
		}
		for _, way := range []float64{-1, 1} {
			add("meter-row", way, 0.5, "meter-misread", "the meter read a row off")
		}
	}
	add("cap-half", -1, 0.4, "cap-count", "the cap back at half the count")
	add("cap-double", 1, 0.4, "cap-count", "the cap back at double the count")
	return all, r.otherBoxes(l, add)
}

// bellowsOf is the magnification by which the bellows count, and how it is told: of a copy the one written down, else 1:1, at
// which copies are made; of a scene its distance's. 0 where an earlier print has them in it, or nothing is projected.
func bellowsOf(l *calledfor.SheetLog) (m float64, at string) {
	if l.Step.Serving != nil && l.Step.Serving.Kind == events.SheetReprinted {
		return 0, ""
	}
	x, copied := l.Exposure.Data.(*events.SheetReprintedData)
	switch {
	case copied && (x.Way == "contact" || x.Way == "enlarger"):
		return 0, ""
	case l.Step.Magnification > 0:
		return l.Step.Magnification, where(l)
	case copied:
		return 1, "at 1:1"
	}
	return 0, ""
}

// otherBoxes adds that the sheet came from another box of the book, by the difference of their indexes.
func (r *replay) otherBoxes(l *calledfor.SheetLog, add func(code string, stops, common float64, suspect, what string)) error {
	if l.Box == nil || l.Paper.Index == 0 {
		return nil
	}
	boxes, err := r.d.R.Entities(events.Box)
	if err != nil {
		return err
	}
	const newest = 8 // boxes that may lie beside each other in the camera
	told := map[float64]bool{}
	for _, t := range boxes[max(0, len(boxes)-newest):] {
		if t.ID == l.Box.Entity.ID {
			continue
		}
		b, err := wording.IgnoreMissing(r.d.Box(t.Name))
		if err != nil {
			return err
		}
		if b == nil || b.Received == nil || b.At.After(l.Exposure.At) {
			continue
		}
		index := b.PaperFor(l.Exposure.At, l.Sheet.Generation, l.X.Filter, "").Index
		if index == 0 || told[index] {
			continue
		}
		told[index] = true
		add("other-box", math.Log2(index/l.Paper.Index), 0.5, "box-mixed-up",
			fmt.Sprintf("a sheet of %s (index %s) in the place of one of %s (%s)", b.Entity.Name, wording.Number(index), l.Sheet.Box, wording.Number(l.Paper.Index)))
	}
	return nil
}
