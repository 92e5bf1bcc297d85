package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// proposer lays proposals on a box as if they were written, to see what would then be in force.
type proposer struct {
	box *snapshot.Box
	now time.Time
	out *BoxCalibration
}

func (p *proposer) add(text string, data events.PaperRatedData) {
	data.Box = p.box.Entity.Name
	p.out.Proposals = append(p.out.Proposals, Proposal{Text: text, Data: &data})
	p.box.Ratings, p.box.Papers = append(p.box.Ratings, events.Entry{Kind: events.PaperRated, At: p.now, Data: &data}), nil
}

// propose turns what was fitted into ratings. The general ones come first, since the latest that fits holds.
func propose(b *snapshot.Box, now time.Time, out *BoxCalibration) {
	after := *b
	after.Ratings, after.Papers = slices.Clone(b.Ratings), nil
	p := &proposer{box: &after, now: now, out: out}
	want := p.sortsInForce(b)
	for i := range out.Index {
		c := &out.Index[i]
		if c.Filter != "" && !c.through {
			p.filter(c, want)
			continue
		}
		if !c.proposeIndex {
			continue
		}
		data := rated(c.Kept, c)
		data.Index = c.MeterAt
		if c.proposeP {
			data.ReciprocityP = new(round2(c.P.Mean))
		}
		p.add(c.Sort()+": "+c.Text, data)
		want[c.Kept] = after.PaperFor(now, c.Generation, c.Filter, c.Light)
	}
	if f := out.PreFlash; f != nil && !f.LeaveIt {
		p.add(f.Text, events.PaperRatedData{ThresholdS: new(round2(f.ThresholdS)), Sheets: &f.Strips, Evidence: evidence(f.Evidence)})
	}
	p.restate(want)
}

// rated begins a rating with its evidence.
func rated(k Kept, c *IndexCalibration) events.PaperRatedData {
	return events.PaperRatedData{Generation: k.Generation, Filter: k.Filter, Light: k.Light, Sheets: &c.Sheets,
		SDStops: new(round2(*c.SDStops)), Evidence: evidence(c.Evidence)}
}

// filter says a filter's factor in its light: the index without it, as it will be in force, over the index through it.
func (p *proposer) filter(c *IndexCalibration, want map[Kept]snapshot.Paper) {
	if c.Index == nil {
		return
	}
	plain := Kept{c.Generation, "", c.Light}
	without := calc.Interval{}
	for _, o := range p.out.Index {
		if o.Kept == plain && o.Index != nil {
			without = calc.Interval{Mean: o.Index.Mean, Low: o.Index.Low, High: o.Index.High}
		}
	}
	inForce := p.box.PaperFor(p.now, c.Generation, "", c.Light).Index
	if without.Mean == 0 {
		without = calc.Interval{Mean: inForce, Low: inForce, High: inForce}
	}
	fit, err := calc.FilterFactorFit(without, calc.Interval{Mean: c.Index.Mean, Low: c.Index.Low, High: c.Index.High})
	if err != nil {
		return
	}
	f := FilterCalibration{Kept: c.Kept, Factor: rangeOf(fit), InForce: c.factor, Sheets: c.Sheets}
	// With the index that stays in force, this factor brings the exposure right.
	factor := max(1, round2(inForce/c.Index.Mean))
	f.LeaveIt = math.Abs(math.Log2(factor/c.factor)) < calc.LeaveItStops
	f.Text = fmt.Sprintf("factor %s (%s to %s, %s); you gave %s", dial(fit.Mean), dial(fit.Low), dial(fit.High), wording.CountOf(c.Sheets, "sheet"), dial(c.factor))
	if f.LeaveIt {
		f.Text = fmt.Sprintf("leave the factor at %s (%s to %s, %s)", dial(c.factor), dial(fit.Low), dial(fit.High), wording.CountOf(c.Sheets, "sheet"))
	}
	p.out.Filters = append(p.out.Filters, f)
	if !f.LeaveIt {
		data := rated(c.Kept, c)
		data.FilterFactor = &factor
		p.add(c.Sort()+": "+f.Text, data)
	}
	want[c.Kept] = p.box.PaperFor(p.now, c.Generation, c.Filter, c.Light)
}

// sortsInForce lists what is in force for every sort that was rated or has sheets.
func (p *proposer) sortsInForce(b *snapshot.Box) map[Kept]snapshot.Paper {
	want := map[Kept]snapshot.Paper{}
	see := func(k Kept) { want[k] = b.PaperFor(p.now, k.Generation, k.Filter, k.Light) }
	for _, c := range p.out.Index {
		see(c.Kept)
	}
	for _, e := range b.Ratings {
		x := e.Data.(*events.PaperRatedData)
		for _, generation := range []string{snapshot.Negative, snapshot.Positive} {
			if (x.Generation == "" || x.Generation == generation) && (x.Filter != "" || x.Light != "") {
				see(Kept{generation, x.Filter, x.Light})
			}
		}
	}
	return want
}

// restate writes again what a general rating would have covered up: the latest that fits holds, and a light or a filter
// measured on its own is to keep its own.
func (p *proposer) restate(want map[Kept]snapshot.Paper) {
	if len(p.out.Proposals) == 0 {
		return
	}
	var ks []Kept
	for k := range want {
		ks = append(ks, k)
	}
	slices.SortFunc(ks, func(a, b Kept) int {
		return strings.Compare(a.Generation+"\x00"+a.Filter+"\x00"+a.Light, b.Generation+"\x00"+b.Filter+"\x00"+b.Light)
	})
	for _, k := range ks {
		was, is := want[k], p.box.PaperFor(p.now, k.Generation, k.Filter, k.Light)
		if k.Filter == "" && k.Light == "" || was.Index == is.Index && was.P == is.P {
			continue
		}
		if k.Filter != "" && !was.InIndex { // its factor holds, over whatever index
			continue
		}
		data := events.PaperRatedData{Generation: k.Generation, Filter: k.Filter, Light: k.Light, Text: "as before; a rating for all would have covered it"}
		if was.Index > 0 {
			data.Index = &was.Index
		}
		if was.P != is.P {
			data.ReciprocityP = &was.P
		}
		p.add(k.Sort()+": index "+dial(was.Index)+" stays", data)
	}
}

const evidenceMost = 3900 // a text holds 4,000 characters

// evidence joins ids of entries to a text; where they are too many, their beginnings, which name them as well.
func evidence(ids []string) string {
	for _, digits := range []int{32, 16, 8} {
		parts := make([]string, len(ids))
		for i, id := range ids {
			parts[i] = id[:min(digits, len(id))]
		}
		if text := strings.Join(parts, " "); len(text) <= evidenceMost {
			return text
		}
	}
	most := evidenceMost/9 - 4
	return evidence(ids[:most]) + fmt.Sprintf(" and %d more", len(ids)-most)
}
