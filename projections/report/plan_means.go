package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// choose finds the means that hold the scene best: none beyond what was asked for where those do, else filters and pre-flashes,
// each only where it earns more than it costs.
func (p *planner) choose(plain means) (means, error) {
	lost, spare, err := p.lost(plain)
	if err != nil || lost <= fitsStops && spare <= flatStops {
		return plain, err
	}
	best, least := plain, cost(plain, lost, spare)
	flashes := []float64{0, flashSome, flashMost}
	for _, filter := range p.filters(p.ask.box, p.ask.Filter) {
		for _, printFilter := range p.filters(p.ask.printBox, p.ask.PrintFilter) {
			for _, flash := range flashes {
				for _, printFlash := range flashes {
					m := plain
					m.filter, m.printFilter, m.flash, m.printFlash = filter, printFilter, flash, printFlash
					if lost, spare, err = p.lost(m); err != nil {
						return plain, err
					}
					if c := cost(m, lost, spare); c < least-1e-9 {
						best, least = m, c
					}
				}
			}
		}
	}
	return best, nil
}

// cost is what a plan leaves of the scene unheld, what of the paper it leaves unused, and the work that its means are.
func cost(m means, lost, spare float64) float64 {
	c := lost + max(0, spare-1)/3
	if m.filter != "" {
		c += meansCost
	}
	if m.printFilter != "" && m.printFilter != m.filter {
		c += meansCost
	}
	for _, flash := range []float64{m.flash, m.printFlash} {
		if flash > 0 {
			c += meansCost + flash/10
		}
	}
	return c
}

// filters are those a box can be used behind: the one that was asked for alone; else none, those it was rated for, and of
// variable-contrast paper that was rated for none the usual ones.
func (p *planner) filters(box *snapshot.Box, asked *string) []string {
	if asked != nil {
		return []string{*asked}
	}
	out := []string{""}
	for _, e := range box.Ratings {
		if d := e.Data.(*events.PaperRatedData); d.Filter != "" && d.ISOR != nil && !e.At.After(p.ask.at) && !slices.Contains(out, d.Filter) {
			out = append(out, d.Filter)
		}
	}
	if len(out) == 1 && box.Variable() {
		out = append(out, "00", "0", "1", "2", "3", "4", "5")
	}
	return out
}

// mostChanges is how many changes are told.
const mostChanges = 3

// changes are single changes to some means, each with what it gains, the one that helps most first; none that gains nothing
// an eye would see.
func (p *planner) changes(from means) ([]PlanChange, error) {
	before, _, err := p.lost(from)
	if err != nil {
		return nil, err
	}
	out := []PlanChange{}
	var best PlanChange
	try := func(change, text string, m means) error {
		lost, _, err := p.lost(m)
		if gain := before - lost; err == nil && gain > best.GainStops+1e-9 {
			best = PlanChange{change, text, gain}
		}
		return err
	}
	keep := func() {
		if best.GainStops >= calc.FloorStops {
			best.GainStops = math.Round(best.GainStops*100) / 100
			out = append(out, best)
		}
		best = PlanChange{}
	}
	for _, f := range p.filters(p.ask.box, p.ask.Filter) {
		for _, both := range []bool{false, true} {
			m, where := from, "the negative"
			if m.filter = f; both {
				m.printFilter, where = f, "negative and print"
			}
			if f == "" || both && (p.ask.PrintFilter != nil || from.printBox != from.box) || m == from {
				continue
			}
			if err := try("filter", fmt.Sprintf("filter %s for %s", f, where), m); err != nil {
				return nil, err
			}
		}
	}
	keep()
	for i, where := range []string{"the negative", "the print"} {
		m := from
		*[]*float64{&m.flash, &m.printFlash}[i] = flashMost
		if m == from {
			continue
		}
		if err := try("pre-flash", fmt.Sprintf("a pre-flash of %s of the threshold on %s", wording.Percent(flashMost), where), m); err != nil {
			return nil, err
		}
	}
	keep()
	m := from
	m.develop = shortDevelop
	speed := -calc.DevelopmentEffect(shortDevelop).SpeedStops
	if err := try("development", fmt.Sprintf("the negative developed %s as long, with %s of exposure", wording.Number(shortDevelop), wording.StopsText(speed)), m); err != nil {
		return nil, err
	}
	keep()
	if err := p.otherPapers(from, try); err != nil {
		return nil, err
	}
	if best.Change == "" { // no box of ours does
		m = from
		if m.r = softPaper; p.known[sheetUse{false, from.box, from.filter}].Paper.ISOR < softPaper && m.filter == "" && m.printFilter == "" {
			if err := try("paper", fmt.Sprintf("a soft paper for negative and print, of R%.0f", softPaper), m); err != nil {
				return nil, err
			}
		}
	}
	keep()
	if p.ask.Light != "overcast" && p.ask.Light != "shade" {
		m = from
		m.softer = min(softerStops, p.ask.zLight-p.ask.zDark)
		if err := try("light", fmt.Sprintf("softer light: shade, or cloud before the sun, which takes about %s stops", wording.Number(softerStops)), m); err != nil {
			return nil, err
		}
		keep()
	}
	slices.SortStableFunc(out, func(a, b PlanChange) int { return cmp.Compare(b.GainStops, a.GainStops) })
	return out[:min(len(out), mostChanges)], nil
}

// otherPapers tries the other boxes that hold paper, for negative and print alike.
func (p *planner) otherPapers(from means, try func(change, text string, m means) error) error {
	views, err := p.snap.R.Views(events.ViewQuery{Kind: events.Box, OpenOnly: true})
	if err != nil {
		return err
	}
	for _, v := range views {
		box, err := p.snap.Box(v.Entity.Name)
		if err != nil {
			return err
		}
		paper := box.PaperFor(p.ask.at, snapshot.Negative, "", p.ask.Light)
		if box.Received == nil || box.At.After(p.ask.at) || box.DirectPositive() || paper.Index == 0 {
			continue
		}
		m := from
		m.box, m.printBox, m.filter, m.printFilter = v.Entity.Name, v.Entity.Name, "", ""
		if m.box == from.box && m.printBox == from.printBox {
			continue
		}
		if err := try("paper", fmt.Sprintf("%s for negative and print, of R%.0f", v.Entity.Name, paper.ISOR), m); err != nil {
			return err
		}
	}
	return nil
}

// planned is one sheet of a plan, for a reading of its mid-tone of so much light; known is how closely that is known beyond
// what every exposure is, in stops.
func (p *planner) planned(u sheetUse, ev, flash, known float64) (PlanSheet, error) {
	l, err := p.sheet(u, ev, 0, flash)
	if err != nil {
		return PlanSheet{}, err
	}
	shorter := l.Made.Curve.PreFlashStops(flash)
	out := PlanSheet{Box: u.box, ISOR: math.Round(l.Paper.ISOR), Filter: u.filter, F: l.Step.SetF, PreFlash: flash, FlashGive: math.Round(shorter*100)/100 + 0, made: l}
	if c := l.Step.Called; c != nil {
		out.Exposure = within(c.TimeS, math.Hypot(p.stopsKnown(u, l), known))
		out.SetTimeS = &c.SetTimeS
	}
	if flash > 0 {
		if err := p.preFlash(&out, u, flash); err != nil {
			return out, err
		}
	}
	if p.bath != nil {
		need, err := calledfor.NeedNow(p.snap, p.bath, &l.Paper, p.ask.at)
		if err != nil {
			return out, err
		}
		out.Developer = p.bath.Entity.Name
		if need.TimeS != nil {
			t := *need.TimeS
			out.Develop = &PlanTime{t, t * (1 - calc.BathTimeKnown), t * (1 + calc.BathTimeKnown)}
		}
		l.Step.Warnings = append(l.Step.Warnings, need.Warnings...)
	}
	return out, nil
}

// within is a time that is known to so many stops.
func within(t, stops float64) *PlanTime {
	return &PlanTime{t, t * math.Exp2(-stops), t * math.Exp2(stops)}
}

// stopsKnown is how closely an exposure is known, in stops either way: as every called-for one, and by its index.
func (p *planner) stopsKnown(u sheetUse, l *calledfor.SheetLog) float64 {
	by := calc.CalledForLeast
	if c := l.Step.Called; c != nil {
		low, high := c.Between()
		by = math.Log2(high/low) / 2
	}
	switch tells := p.tells[u]; {
	case tells.OffS > 0:
		return math.Hypot(by, tells.OffS)
	case !l.Paper.Measured:
		return math.Hypot(by, unratedKnown)
	}
	return by
}

// preFlash is the time of a pre-flash: by the threshold that was found for this paper, else before an even card in this
// light, at an aperture small enough for a hand where the lens has one.
func (p *planner) preFlash(out *PlanSheet, u sheetUse, flash float64) error {
	box, err := p.snap.Box(u.box)
	if err != nil {
		return err
	}
	threshold, low, high, err := calledfor.ThresholdOf(p.snap, out.made.Paper, box, p.ask.at)
	if err != nil {
		return err
	}
	if threshold > 0 {
		out.Flash = &PlanTime{flash * threshold, flash * low, flash * high}
		return nil
	}
	curve := out.made.Made.Curve
	ev := p.ask.midEV - math.Log2(flash*curve.Ht()/curve.Hm)
	smallest := out.F
	if cam := out.made.Camera; cam != nil {
		smallest = max(cam.FWidest, cam.FSmallest)
	}
	var l *calledfor.SheetLog
	for _, f := range calc.ThirdStops(out.F, smallest) {
		if l, err = p.sheet(u, ev, f, 0); err != nil {
			return err
		}
		if c := l.Step.Called; c != nil && !c.TooBrightForCap {
			break
		}
	}
	if l == nil || l.Step.Called == nil {
		return nil
	}
	out.Flash, out.FlashF = within(l.Step.Called.TimeS, p.stopsKnown(u, l)), l.Step.SetF
	return nil
}

// known is how closely what a plan rests on is known.
type known struct {
	neg, pos       float64 // stops of exposure; pos below 0 leaves the print out
	negR, posR     float64 // shares
	onePaper       bool    // negative and print are of one paper behind one filter: its range is off for both alike
	flash, develop float64 // stops of a pre-flash, share of a development
}

func (p *planner) knownOf(m means, neg, pos *calledfor.SheetLog) known {
	atBest := func(l *calledfor.SheetLog) float64 { return cmp.Or(l.Paper.ISORKnown, rangeRated) }
	k := known{neg: p.stopsKnown(sheetUse{false, m.box, m.filter}, neg), negR: atBest(neg), pos: -1, flash: calc.CalledForLeast, develop: calc.BathTimeKnown,
		onePaper: m.box == m.printBox && m.filter == m.printFilter}
	if pos != nil {
		k.pos, k.posR = p.stopsKnown(sheetUse{true, m.printBox, m.printFilter}, pos), atBest(pos)
	}
	return k
}

// rangeRated is the share to which a range is known that was rated. Our own model.
const rangeRated = 0.05

// bounds are the densities of a tone of the print, and of the negative, between which it comes out: each thing that is known
// only so closely moved by as much, what it does added as independent.
func (k known) bounds(g calc.TwoGenerations, z float64) (print [2]float64, negLow, negHigh float64) {
	at := g.Tone(z)
	var down, up, negDown, negUp float64
	move := func(change func(*calc.TwoGenerations, float64)) {
		for _, sign := range []float64{-1, 1} {
			h := g
			change(&h, sign)
			t := h.Tone(z)
			if d := t.Print - at.Print; d > 0 {
				up += d * d
			} else {
				down += d * d
			}
			if d := t.Negative - at.Negative; d > 0 {
				negUp += d * d
			} else {
				negDown += d * d
			}
		}
	}
	harder := func(c *calc.Curve, by float64) {
		if n, err := calc.NewCurve(c.Hm, c.R*(1+by), c.Dmin, c.Dmax); err == nil {
			*c = n
		}
	}
	move(func(h *calc.TwoGenerations, s float64) { h.Neg.ExposureStops += s * k.neg })
	move(func(h *calc.TwoGenerations, s float64) { h.Neg.DevRatio *= 1 + s*k.develop })
	move(func(h *calc.TwoGenerations, s float64) {
		harder(&h.Neg.Curve, s*k.negR)
		if k.onePaper {
			harder(&h.Print.Curve, s*k.negR)
		}
	})
	if g.Neg.PreFlashShare > 0 {
		move(func(h *calc.TwoGenerations, s float64) { h.Neg.PreFlashShare *= math.Exp2(s * k.flash) })
	}
	if k.pos >= 0 {
		move(func(h *calc.TwoGenerations, s float64) { h.Print.ExposureStops += s * k.pos })
		move(func(h *calc.TwoGenerations, s float64) { h.Print.DevRatio *= 1 + s*k.develop })
		if !k.onePaper {
			move(func(h *calc.TwoGenerations, s float64) { harder(&h.Print.Curve, s*k.posR) })
		}
		if g.Print.PreFlashShare > 0 {
			move(func(h *calc.TwoGenerations, s float64) { h.Print.PreFlashShare *= math.Exp2(s * k.flash) })
		}
	}
	shape := shapeKnown * shapeKnown
	print = [2]float64{max(0, at.Print-math.Sqrt(down+shape)), at.Print + math.Sqrt(up+shape)}
	return print, at.Negative - math.Sqrt(negDown+shape), at.Negative + math.Sqrt(negUp+shape)
}

// tell gathers what is to be said beside a plan.
func (p *planner) tell(out *Plan, m means) error {
	say := func(w ...wording.Warning) {
		for _, one := range w {
			if !slices.ContainsFunc(out.Warnings, one.Same) {
				out.Warnings = append(out.Warnings, one)
			}
		}
	}
	if !out.Fits && p.ask.zLight-out.HoldsTo > calc.FloorStops {
		say(highlightsBlock.Warn(math.Round(out.HoldsTo*10) / 10))
	}
	if !out.Fits && out.HoldsFrom-p.ask.zDark > calc.FloorStops {
		say(shadowsBlock.Warn(math.Round(out.HoldsFrom*10) / 10))
	}
	_, spare, err := p.lost(m)
	if err != nil {
		return err
	}
	if out.Fits && spare > flatStops {
		say(sceneFlat.Warn(wording.Percent(1 - (1-flatShare)*spare/flatStops)))
	}
	for i, s := range []PlanSheet{out.Negative, out.Print} {
		u := sheetUse{i == 1, s.Box, s.Filter}
		if s.made.Paper.ISORKnown > 0 && p.tells[u].ISOR == 0 && p.tells[u].OffS == 0 {
			if i == 0 || s.Box != out.Negative.Box {
				say(noStripTells.Warn(s.Box, s.made.Paper.ISOR))
			}
		}
		if s.made.Paper.Variable && s.Filter == "" && p.ask.Light == "" {
			say(lightNotSaid.Warn(s.Box))
		}
	}
	if p.bath == nil {
		say(noDeveloperMixed.Warn())
	}
	say(out.Negative.made.Step.Warnings...)
	say(out.Print.made.Step.Warnings...)
	return nil
}

// Name is a tone in stops from the mid-tone, as it stands under a strip.
func (t PlanTone) Name() string {
	text := strconv.FormatFloat(math.Round(t.Zone*10)/10, 'f', -1, 64)
	if t.Zone > 0.05 {
		text = "+" + text
	}
	return wording.Minus(text)
}
