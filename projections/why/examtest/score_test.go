package examtest

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"traybook/projections/why"
)

// tally counts what an examination found: how often something was asked, how often the answer was right.
type tally struct{ asked, right int }

func (t *tally) add(right bool) {
	t.asked++
	if right {
		t.right++
	}
}

func (t tally) share() float64 { return float64(t.right) / math.Max(1, float64(t.asked)) }

func (t tally) String() string {
	return fmt.Sprintf("%5.1f %% of %d", 100*t.share(), t.asked)
}

// score is an examination's result.
type score struct {
	pictures                int
	first, firstStop, three tally // one fault: of any size that was seen; of a stop and more, first and among three
	both                    tally // two faults
	equal                   tally // causes that nothing written parts, told so
	scatter, unlogged, good tally // right = somebody was blamed
	index                   tally // an index that is off, in a print
	negIndex                tally
	lasting, innocent       tally             // what sheets share, told first; told where it did nothing
	odds                    map[string]*tally // how often what is told first, in each word of odds, is so
	sumSq                   float64
	sizes                   int
	confused                map[string]int
	missed                  []string // pictures, to be looked at
}

func (s *score) rms() float64 { return math.Sqrt(s.sumSq / math.Max(1, float64(s.sizes))) }

func (s *score) String() string {
	odds := ""
	for _, word := range []string{"almost surely", "probably", "may be"} {
		if t := s.odds[word]; t != nil {
			odds += fmt.Sprintf("\ntold first, %-17s%v are so", word, t)
		}
	}
	return fmt.Sprintf("%d pictures\none fault, first             %v\none of a stop, first         %v\none of a stop, in three      %v\ntwo faults, both in three    %v\nequal causes told            %v\nscatter blamed               %v\nunwritten faults blamed      %v\ngood pictures accused        %v\nindex off, in a print        %v\nindex off, on a negative     %v\nshared by sheets, first      %v\nof that, innocent blamed     %v\nstops, RMS                   %.2f of %d",
		s.pictures, s.first, s.firstStop, s.three, s.both, s.equal, s.scatter, s.unlogged, s.good, s.index, s.negIndex, s.lasting, s.innocent, s.rms(), s.sizes) + odds
}

// table is how often what was done was told as what.
func (s *score) table() string {
	var b strings.Builder
	for _, k := range slices.Sorted(maps.Keys(s.confused)) {
		fmt.Fprintf(&b, "%4d  %s\n", s.confused[k], k)
	}
	return b.String()
}

// at is the place of a cause among the findings, -1 for none.
func at(d why.Diagnosis, cause, sheet string) int {
	return slices.IndexFunc(d.Findings, func(f why.Finding) bool { return f.Cause == cause && f.Sheet == sheet })
}

// exposing are the faults that, where no plan was written, look like one another by the time alone.
var exposing = []string{"wrong-aperture", "cap-mistimed", "bellows-factor-forgotten", "bellows-factor-twice", "meter-at-wrong-index",
	"filter-factor-forgotten", "filter-factor-without-filter", "reciprocity-forgotten", "wrong-paper", "average-misread"}

// effect is how much of what the eye saw on the sheet that failed is a fault's work, as a share of it, and in stops.
func (se *season) effect(s *shot, f fault) (share, stops float64) {
	neg, pos := se.ph.make(s, nil)
	negW, posW := se.ph.make(s, func(o fault) bool { return o == f })
	sees := func(m, w made, sheet byte) (float64, float64) {
		j := se.ph.look(s, sheet, m)
		if j.verdict == "keep" {
			return 0, 0
		}
		if len(m.stains) > len(w.stains) {
			return 1, math.Max(1, math.Abs(m.off-w.off))
		}
		by := m.off - w.off
		tone := func(x string) bool { return slices.Contains([]string{"too-dark", "too-light", "thin", "dense"}, x) }
		if !slices.ContainsFunc(j.symptoms, tone) { // nobody said a word of its tone
			return 0, 0
		}
		if (by > 0) != (m.off > 0) {
			return 0, 0
		}
		return by / m.off, math.Abs(by)
	}
	if s.judgeN {
		share, stops = sees(neg, negW, 'n')
	}
	if s.print {
		if a, b := sees(pos, posW, 'p'); b > stops {
			share, stops = a, b
		}
	}
	return share, stops
}

// failed says whether a sheet of a picture failed, and kept whether nothing of it did.
func (se *season) failed(s *shot) (any, printed bool) {
	neg, pos := se.ph.make(s, nil)
	if s.judgeN && se.ph.look(s, 'n', neg).verdict != "keep" {
		any = true
	}
	if s.print && se.ph.look(s, 'p', pos).verdict != "keep" {
		any, printed = true, true
	}
	return any, printed
}

// mark one picture's answer.
func (sc *score) mark(se *season, s *shot, d why.Diagnosis, seed uint64) {
	sc.pictures++
	failed, printed := se.failed(s)
	if !failed {
		sc.good.add(len(d.Findings) > 0)
		return
	}
	if len(d.Findings) > 0 {
		f := d.Findings[0]
		if sc.odds[f.Odds] == nil {
			sc.odds[f.Odds] = &tally{}
		}
		sc.odds[f.Odds].add(se.true(s, f))
	}
	told := func() string {
		var out []string
		for i, f := range d.Findings {
			if i < 3 {
				out = append(out, f.Cause+" "+f.Sheet[8:])
			}
		}
		return strings.Join(out, ", ")
	}
	note := func(was string) {
		sc.confused[was+" → "+told()]++
		var more strings.Builder
		for _, j := range d.Judged {
			fmt.Fprintf(&more, "\n    %s %v %v", j.Sheet[8:], j.Symptoms, number(j.Stops))
		}
		for _, f := range append(d.Findings[:len(d.Findings):len(d.Findings)], d.Deviations...) {
			fmt.Fprintf(&more, "\n    %.2f %.2f %s %s: %s", f.Probability, f.Explains, f.Cause, f.Sheet[8:], f.Text)
		}
		sc.missed = append(sc.missed, fmt.Sprintf("seed %d %s: %s → %s%s", seed, s.name, was, told(), more.String()))
	}
	off := math.Abs(s.box.off) >= 0.5
	name := func(f fault) string { return f.kind + " " + sheetOf(s, f)[8:] }
	if off {
		if len(s.faults) > 0 || s.unseen != 0 {
			return
		}
		i := slices.IndexFunc(d.Findings, func(f why.Finding) bool { return f.Cause == "index-off" })
		if t := map[bool]*tally{true: &sc.index, false: &sc.negIndex}[printed]; se.before(s, printed) >= 4 {
			t.add(i >= 0 && i < 3)
			if i < 0 || i > 2 {
				note(fmt.Sprintf("index-off print %v", printed))
			}
		}
		return
	}
	switch {
	case s.unseen != 0 && len(s.faults) == 0:
		sc.unlogged.add(len(d.Findings) > 0 && !se.hand(s, d))
		if len(d.Findings) > 0 {
			note("unwritten")
		}
	case len(s.faults) == 0:
		wrong := len(d.Findings) > 0 && !se.hand(s, d)
		sc.scatter.add(wrong)
		if wrong {
			note("scatter")
		}
	case s.hide["equal"]:
		_, stops := se.effect(s, s.faults[0])
		if stops < 0.4 {
			return
		}
		all := map[string]bool{}
		for i, f := range d.Findings {
			if i < 2 {
				all[f.Cause] = true
				for _, o := range f.Together {
					all[o] = true
				}
			}
		}
		right := all["bellows-factor-forgotten"] && all["filter-factor-forgotten"] && len(d.Findings) > 0 && len(d.Findings[0].Together) > 0
		sc.equal.add(right)
		if !right {
			note("equal " + s.faults[0].kind)
		}
	case len(s.faults) == 1:
		f := s.faults[0]
		share, stops := se.effect(s, f)
		if stops < 0.3 || share < 0.5 {
			return
		}
		place := se.place(s, d, f)
		sc.first.add(place == 0)
		if stops >= 1 {
			sc.firstStop.add(place == 0)
			sc.three.add(place >= 0 && place < 3)
		}
		if place != 0 {
			note(fmt.Sprintf("%s (%s)", name(f), sized(stops)))
		}
		if i := at(d, f.kind, sheetOf(s, f)); i >= 0 {
			sc.size(se, s, f, d.Findings[i], seed)
		}
	case len(s.faults) == 2:
		_, a := se.effect(s, s.faults[0])
		_, b := se.effect(s, s.faults[1])
		shareA, _ := se.effect(s, s.faults[0])
		shareB, _ := se.effect(s, s.faults[1])
		if a < 0.4 || b < 0.4 || shareA < 0.25 || shareB < 0.25 {
			return
		}
		pa, pb := se.place(s, d, s.faults[0]), se.place(s, d, s.faults[1])
		right := pa >= 0 && pa < 3 && pb >= 0 && pb < 3
		sc.both.add(right)
		if !right {
			note("two: " + name(s.faults[0]) + " + " + name(s.faults[1]))
		}
	}
}

func number(v *float64) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprint(*v)
}

func sized(stops float64) string {
	switch {
	case stops < 0.6:
		return "faint"
	case stops < 1:
		return "plain"
	}
	return "gross"
}

func sheetOf(s *shot, f fault) string {
	if f.sheet == 'p' {
		return s.name + "p1"
	}
	return s.name + "n"
}

// before counts the sheets before one that tell of its index: judged, read for themselves, behind the same filter, on its box, and
// of its generation.
func (se *season) before(s *shot, printed bool) int {
	n := 0
	for _, o := range se.shots {
		tells := o.judgeN && !o.hide["reading"] && o.filter == s.filter
		if printed {
			tells = o.print && o.read
		}
		if tells && o.at.Before(s.at) && o.box == s.box && len(o.faults) == 0 && o.unseen == 0 {
			n++
		}
	}
	return n
}

// true says whether what is told was so: a fault that was made, an index that is off, a hand that was off by half of what the
// eye saw.
func (se *season) true(s *shot, f why.Finding) bool {
	for _, o := range s.faults {
		if o.kind == f.Cause && sheetOf(s, o) == f.Sheet {
			return true
		}
	}
	if f.Cause == "index-off" {
		return math.Abs(s.box.off) >= 0.5 && f.Stops != nil && (*f.Stops > 0) == (s.box.off > 0)
	}
	return se.hand(s, why.Diagnosis{Findings: []why.Finding{f}})
}

// place is where a fault stands in the answer. Where nobody wrote the plan of an exposure, time and aperture alone part no
// exposing fault from another: the one that is told stands for it where it is told that they cannot be parted.
func (se *season) place(s *shot, d why.Diagnosis, f fault) int {
	if (s.hide["plan"] || s.hide["planF"]) && slices.Contains(exposing, f.kind) && len(d.Findings) > 0 && d.Findings[0].Sheet == sheetOf(s, f) && slices.Contains(d.Findings[0].Together, f.kind) {
		return 0
	}
	if i := at(d, f.kind, sheetOf(s, f)); i >= 0 {
		return i
	}
	if !slices.Contains(exposing, f.kind) {
		return -1
	}
	return slices.IndexFunc(d.Findings, func(o why.Finding) bool {
		return o.Sheet == sheetOf(s, f) && slices.Contains(o.Together, f.kind)
	})
}

// hand says whether all that is told is the hand at the cap, and it did half of what the eye saw. What is told behind it as
// not to be parted from it is no more than that.
func (se *season) hand(s *shot, d why.Diagnosis) bool {
	for i, f := range d.Findings {
		if i > 0 && f.Sheet == d.Findings[0].Sheet && slices.Contains(f.Together, "cap-mistimed") && d.Findings[0].Cause == "cap-mistimed" {
			continue
		}
		if f.Cause != "cap-mistimed" || f.Stops == nil {
			return false
		}
		neg, pos := se.ph.make(s, nil)
		m := neg
		if f.Sheet != s.name+"n" {
			m = pos
		}
		if by := math.Log2(m.t / m.planT); math.Abs(by) < math.Abs(m.off)/2 || (by > 0) != (m.off > 0) {
			return false
		}
	}
	return true
}

// size holds the stops that are told of a fault of exposure against those it truly made.
func (sc *score) size(se *season, s *shot, f fault, told why.Finding, seed uint64) {
	if !slices.Contains(exposing, f.kind) && f.kind != "light-changed" || told.Stops == nil {
		return
	}
	neg, pos := se.ph.make(s, nil)
	negW, posW := se.ph.make(s, func(o fault) bool { return o == f })
	by, least := neg.x-negW.x, min(neg.t, neg.planT, negW.planT)
	if f.sheet == 'p' {
		by, least = pos.x-posW.x, min(pos.t, pos.planT, posW.planT)
	}
	if least < 0.5 { // no hand can give what was planned
		return
	}
	if math.Abs(by-*told.Stops) > 0.5 {
		sc.missed = append(sc.missed, fmt.Sprintf("seed %d %s: %s made %.2f stops: %s", seed, s.name, f.kind, by, told.Text))
	}
	sc.sumSq += (by - *told.Stops) * (by - *told.Stops)
	sc.sizes++
}
