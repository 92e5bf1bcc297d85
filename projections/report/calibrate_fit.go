package report

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"traybook/calc"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// fitIndex fits one sort of sheet. Every sheet is moved to the index in force now, whatever was in force on its day.
func fitIndex(b *snapshot.Box, now time.Time, k Kept, sheets []told) (IndexCalibration, error) {
	paper := b.PaperFor(now, k.Generation, k.Filter, k.Light)
	c := IndexCalibration{Kept: k, Sheets: len(sheets), Need: calc.FitSheetsLeast, PInForce: paper.P, Evidence: []string{},
		factor: factorNow(paper, k, sheets), through: paper.InIndex}
	c.InForce = paper.Index / c.factor
	var judged []calc.JudgedSheet
	var called []float64
	for _, s := range sheets {
		c.Evidence = append(c.Evidence, s.evidence)
		t := s.calledS * (s.index / s.factor) / c.InForce
		judged = append(judged, calc.JudgedSheet{CalledForS: t, DoneS: s.doneS, Stops: s.stops, SD: s.sd})
		called = append(called, t)
	}
	fit, err := calc.FitIndex(judged, paper.P)
	var few *calc.TooFewError
	var off *calc.RangeError
	switch {
	case errors.As(err, &few):
		c.LeaveIt = true
		c.NextStrip = nextStrip(k, called, paper.P, "too few sheets to say an index")
		c.Text = fmt.Sprintf("too few sheets to say: %s; at least %d are needed; leave it at %s", wording.CountOf(few.Have, "sheet"), few.Need, wording.Number(c.InForce))
		return c, nil
	case errors.As(err, &off):
		c.LeaveIt = true
		c.Text = "cannot be fitted: " + off.Error()
		return c, nil
	case err != nil:
		return c, err
	}
	index, err := fit.Index(c.InForce)
	if err != nil {
		return c, err
	}
	c.Index, c.OffsetStops, c.SDStops = new(rangeOf(index)), new(rangeOf(fit.Best())), new(fit.SDStops)
	c.MeterAt = new(meterMark(index.Mean))
	if fit.PMeasured {
		c.P = new(rangeOf(fit.P))
		c.proposeP = exponentMatters(judged, fit.P.Mean, paper.P)
	} else {
		c.NextStrip = nextStrip(k, longer(called), paper.P, "the times lie too close together to tell how long ones behave")
	}
	c.LeaveIt = fit.LeaveIt() && !c.proposeP
	c.proposeIndex = !c.LeaveIt
	c.Text = indexText(c)
	return c, nil
}

// factorNow is the filter factor in force: none without a filter or where the index was measured through it, the
// paper's own, else the middle one of those written with the sheets.
func factorNow(paper snapshot.Paper, k Kept, sheets []told) float64 {
	switch {
	case k.Filter == "" || paper.InIndex:
		return 1
	case paper.FilterRated:
		return paper.FilterFactor
	}
	var given []float64
	for _, s := range sheets {
		if s.given > 0 {
			given = append(given, s.given)
		}
	}
	return max(1, middle(given, 1))
}

// middle is the median, or def of none.
func middle(vs []float64, def float64) float64 {
	if len(vs) == 0 {
		return def
	}
	vs = slices.Sorted(slices.Values(vs))
	n := len(vs)
	return (vs[(n-1)/2] + vs[n/2]) / 2
}

// exponentMatters is true where another reciprocity exponent moves the longest of the times by a third of a stop.
func exponentMatters(sheets []calc.JudgedSheet, p, inForce float64) bool {
	longest := 1.0
	for _, s := range sheets {
		longest = max(longest, s.DoneS)
	}
	return math.Abs(p-inForce)*math.Log2(longest) >= calc.LeaveItStops
}

// meterMark is the nearest mark on a meter's dial of speeds: thirds of a stop.
func meterMark(index float64) float64 {
	marks := [...]float64{1, 1.25, 1.6, 2, 2.5, 3.2, 4, 5, 6.4, 8} // 10^(k/10), as speeds are marked
	decade := math.Floor(math.Log10(index))
	scale := math.Pow(10, decade)
	best := marks[0] * scale
	for _, m := range append(marks[:], 10) {
		if v := m * scale; math.Abs(math.Log(v/index)) < math.Abs(math.Log(best/index)) {
			best = v
		}
	}
	return math.Round(best*1e6) / 1e6
}

// longer are times two stops over the longest there were, of 8 s at least: long enough to show reciprocity.
func longer(called []float64) []float64 {
	return []float64{max(8, 4*slices.Max(called))}
}

// nextStrip lays five steps half a stop apart about the middle of the times called for; whole stops where the hand
// cannot part the halves.
func nextStrip(k Kept, light []float64, p float64, why string) *NextStrip {
	n := &NextStrip{On: "scene", Why: why}
	if k.Generation == snapshot.Positive {
		n.On = "negative"
	}
	centre, err := calc.Reciprocity(middle(light, 4), p)
	if err != nil {
		centre = 4
	}
	centre = min(max(centre, 2), 1800)
	step := 0.5
	if centre < 4 {
		step = 1
	}
	times, err := calc.StripTimes(centre*math.Exp2(-2*step), step, 5)
	if err != nil {
		return nil
	}
	for _, t := range times {
		if set, err := calc.SetTime(t); err == nil {
			n.TimesS = append(n.TimesS, set)
		}
	}
	return n
}

// Sort says in words which sheets these are.
func (k Kept) Sort() string {
	parts := []string{map[string]string{snapshot.Negative: "negatives", snapshot.Positive: "copies"}[k.Generation]}
	if k.Filter != "" {
		parts = append(parts, k.Filter+" filter")
	}
	if k.Light != "" {
		parts = append(parts, k.Light)
	}
	return strings.Join(parts, ", ")
}

func indexText(c IndexCalibration) string {
	span := fmt.Sprintf("%s to %s, %s", dial(c.Index.Low), dial(c.Index.High), wording.CountOf(c.Sheets, "sheet"))
	if c.Generation == snapshot.Positive {
		span = fmt.Sprintf("%s to %s, %s", more(-c.OffsetStops.High), more(-c.OffsetStops.Low), wording.CountOf(c.Sheets, "print"))
	}
	var text string
	switch {
	case c.LeaveIt && c.Generation == snapshot.Positive:
		text = fmt.Sprintf("leave it: %s of what was metered (%s)", more(-c.OffsetStops.Mean), span)
	case c.LeaveIt:
		text = fmt.Sprintf("leave it at %s (%s)", dial(c.InForce), span)
	case c.Generation == snapshot.Positive:
		text = fmt.Sprintf("give %s than metered (%s): copy at index %s; it was %s", moreOrLess(-c.OffsetStops.Mean), span, dial(*c.MeterAt), dial(c.InForce))
	default:
		text = fmt.Sprintf("meter at %s (%s); you gave %s", dial(*c.MeterAt), span, dial(c.InForce))
	}
	if c.P != nil {
		text += fmt.Sprintf("; long times: p %.2f (%.2f to %.2f), in force %.2f", c.P.Mean, c.P.Low, c.P.High, c.PInForce)
	}
	return text
}

// dial writes an index with two figures that count, as a meter shows it.
func dial(v float64) string {
	if v <= 0 {
		return "0"
	}
	grain := math.Pow(10, math.Floor(math.Log10(v))-1)
	return wording.Number(math.Round(v/grain) * grain)
}

// more writes stops with their sign, to a tenth.
func more(stops float64) string { return wording.StopsText(math.Round(stops*10) / 10) }

func moreOrLess(stops float64) string {
	word := "more"
	if stops < 0 {
		word = "less"
	}
	return strings.TrimPrefix(strings.TrimPrefix(more(math.Abs(stops)), "+"), "−") + " " + word
}
