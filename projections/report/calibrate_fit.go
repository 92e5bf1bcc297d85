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
	c := IndexCalibration{Kept: k, Sheets: len(sheets), Need: calc.FitSheetsLeast, PInForce: paper.P, Confidence: calc.FitConfidence, Leans: []Lean{}, Evidence: []string{},
		factor: factorNow(paper, k, sheets), through: paper.InIndex}
	c.InForce = paper.Index / c.factor
	kept := 0
	for _, s := range sheets {
		if s.kept {
			kept++
		}
	}
	c.KeptSheets = kept
	var judged []calc.JudgedSheet
	var called []float64
	for _, s := range sheets {
		c.Evidence = append(c.Evidence, s.evidence)
		t := s.calledS * (s.index / s.factor) / c.InForce
		judged = append(judged, calc.JudgedSheet{CalledForS: t, DoneS: s.doneS, Stops: s.stops, SD: s.sd})
		called = append(called, t)
	}
	fit, err := calc.FitIndex(judged, paper.P)
	for range keptRounds {
		if kept == 0 || err != nil {
			break
		}
		for i := range judged {
			if sheets[i].kept {
				judged[i].Stops, judged[i].SD = keptTells(asksBy(judged[i], fit))
			}
		}
		fit, err = calc.FitIndex(judged, paper.P)
	}
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
	c.Leans = leans(judged, sheets, fit)
	c.Text = indexText(c)
	for _, l := range c.Leans {
		c.Text += fmt.Sprintf("; from the least to the most %s they ask for %s: that is not the paper's, and no index mends it", l.With, wording.StopsText(math.Round(l.Stops*10)/10))
	}
	if c.CapOrPaper = capOrPaper(sheets, fit.Best().Mean) && !fit.LeaveIt(); c.CapOrPaper {
		c.NextStrip = nextStrip(k, longer(called), paper.P, "times so short tell a cap that stays off too long and a paper that is too fast alike, and long ones part them")
		c.Text += "; a cap that stays off longer than it is counted would show alike: make the strip of long times first"
	}
	return c, nil
}

// keptLatitude is how far off, in stops, the exposure of a sheet may be that is kept without a word; keptRounds is how often
// what such sheets ask for is taken from the fit that they are then part of. Our own model.
const (
	keptLatitude = 0.5
	keptRounds   = 8
)

// asksBy is what a sheet asks for by a fit, in stops.
func asksBy(s calc.JudgedSheet, fit calc.IndexFit) float64 {
	long := math.Max(0, math.Log2(s.DoneS))
	return math.Log2(s.CalledForS) - (math.Log2(s.DoneS) - long) - fit.Offset.Mean - fit.P.Mean*long
}

// keptTells is what a sheet that was kept without a word asks for, in stops, and how closely it tells that: its own scatter
// about what the fit expects of it, cut off where it would not have been kept. What is left of its scatter within those
// bounds is what it does not tell. Published: mean and variance of a normal distribution cut on both sides.
func keptTells(expected float64) (stops, sd float64) {
	const s = calc.SheetScatter
	a, b := (-keptLatitude-expected)/s, (keptLatitude-expected)/s
	density := func(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
	within := (math.Erf(b/math.Sqrt2) - math.Erf(a/math.Sqrt2)) / 2
	if within < 1e-6 {
		return math.Copysign(keptLatitude, expected), s
	}
	shift := (density(a) - density(b)) / within
	left := 1 + (a*density(a)-b*density(b))/within - shift*shift
	return expected + s*shift, s / math.Sqrt(math.Max(0.05, 1-left))
}

// Lean is a drift of the sheets about the fit with something that is not the paper's.
type Lean struct {
	With  string  `json:"with"`  // area in the bath, magnification or time
	Stops float64 `json:"stops"` // more exposure that is asked for, from its least to its most
}

// leanLeast is the number of sheets that ask for something under which no drift is told; leanSure how many times its
// uncertainty a drift must be. Our own choice: 3 is passed by chance in about one of a hundred fits.
const (
	leanLeast = 8
	leanSure  = 3.5
)

// leans finds what the sheets about a fit drift with, by a third of a stop at least: the area that the bath has seen, the
// distance, or, where the exponent is not measured, the time.
func leans(judged []calc.JudgedSheet, sheets []told, fit calc.IndexFit) []Lean {
	out := []Lean{}
	for _, with := range []struct {
		what string
		of   func(told) float64
	}{
		{"area in the bath", func(s told) float64 { return s.used }},
		{"magnification", func(s told) float64 { return 2 * math.Log2(1+s.m) }},
		{"time", func(s told) float64 { return math.Log2(s.doneS) }},
	} {
		if with.what == "time" && fit.PMeasured {
			continue
		}
		var xs, ys []float64
		for i, s := range sheets {
			if !s.kept && s.sd == 0 {
				j := judged[i]
				xs, ys = append(xs, with.of(s)), append(ys, j.Stops-asksBy(j, fit))
			}
		}
		if by, sure := drift(xs, ys); len(xs) >= leanLeast && sure >= leanSure && math.Abs(by) >= calc.LeaveItStops {
			out = append(out, Lean{with.what, by})
		}
	}
	return out
}

// drift is by how much ys rise from the least to the greatest of xs, by least squares, and how many times its own
// uncertainty that is.
func drift(xs, ys []float64) (by, sure float64) {
	n := float64(len(xs))
	if n < 3 {
		return 0, 0
	}
	var mx, my, sxx, sxy, syy float64
	for i := range xs {
		mx, my = mx+xs[i]/n, my+ys[i]/n
	}
	for i := range xs {
		sxx, sxy, syy = sxx+(xs[i]-mx)*(xs[i]-mx), sxy+(xs[i]-mx)*(ys[i]-my), syy+(ys[i]-my)*(ys[i]-my)
	}
	if sxx < 1e-9 {
		return 0, 0
	}
	slope := sxy / sxx
	left := math.Sqrt(math.Max(0, syy-slope*sxy)/(n-2)) / math.Sqrt(sxx)
	return slope * (slices.Max(xs) - slices.Min(xs)), math.Abs(slope) / math.Max(left, 1e-6)
}

// capOrPaper says that a cap that stays off too long, or too short, would explain the sheets as well as a paper that is
// off: their times were counted, are short and lie together, and the camera's description says nothing of its cap.
func capOrPaper(sheets []told, offset float64) bool {
	low, high := math.Inf(1), 0.0
	for _, s := range sheets {
		if !s.byCount && s.sd == 0 {
			return false
		}
		low, high = math.Min(low, s.doneS), math.Max(high, s.doneS)
	}
	return high*(math.Exp2(math.Abs(offset))-1) <= capLateMost && high < 4*low
}

// capLateMost is how far off, in seconds, a hand at the cap may be time after time. Our own choice: six times the scatter
// of one press.
const capLateMost = 0.6

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
	span := fmt.Sprintf("%s to %s in %.0f of 100 cases, %s", dial(c.Index.Low), dial(c.Index.High), 100*calc.FitConfidence, wording.CountOf(c.Sheets, "sheet"))
	if c.Generation == snapshot.Positive {
		span = fmt.Sprintf("%s to %s in %.0f of 100 cases, %s", more(-c.OffsetStops.High), more(-c.OffsetStops.Low), 100*calc.FitConfidence, wording.CountOf(c.Sheets, "print"))
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
