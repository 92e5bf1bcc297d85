package calledfor

import (
	"math"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Kept is a sheet that was kept, and what it teaches the next one like it.
type Kept struct {
	Sheet string
	At    time.Time // when it was exposed
	Stops float64   // by how much it got more than its reading called for
}

// keptHolds is how long a kept negative teaches the next one in its light. Common practice.
const keptHolds = 2 * time.Hour

// KeptNegative is the last negative before an exposure that was made in the same light and kept, itself or by a print of it:
// of the same session, box and filter, in a light that nobody called another, within two hours, and developed in the bath
// that is in use ("" for any). nil where there is none, or nothing tells what it called for.
func KeptNegative(snap *snapshot.Snapshot, e events.Entry, x *events.SheetExposedData, bath string) (*Kept, error) {
	if x.Session == "" {
		return nil, nil
	}
	t, ok, err := snap.R.Entity(x.Session)
	if err != nil || !ok {
		return nil, err
	}
	const few = 12
	near, err := snap.Entries(events.Query{Session: t.ID, Kinds: []events.Kind{events.SheetExposed}, From: e.At.Add(-keptHolds), To: e.At, Newest: true, Limit: few})
	if err != nil {
		return nil, err
	}
	light, err := LightOf(snap, x)
	if err != nil {
		return nil, err
	}
	for i := len(near) - 1; i >= 0; i-- {
		was := near[i].Data.(*events.SheetExposedData)
		if near[i].ID == e.ID || was.Sheet == x.Sheet || was.Box != x.Box || was.Filter != x.Filter {
			continue
		}
		wasLight, err := LightOf(snap, was)
		if err != nil {
			return nil, err
		}
		if light != "" && wasLight != "" && light != wasLight {
			continue
		}
		if k, err := keptAs(snap, was, near[i], bath); k != nil || err != nil {
			return k, err
		}
	}
	return nil, nil
}

// keptAs is what one negative teaches; nil where it was not kept, or was not made as its exposure says.
func keptAs(snap *snapshot.Snapshot, was *events.SheetExposedData, e events.Entry, bath string) (*Kept, error) {
	p, err := wording.IgnoreMissing(snap.Picture(was.Picture))
	if err != nil || p == nil {
		return nil, err
	}
	n := p.NegativeSheet()
	if n == nil || n.Name != was.Sheet || len(n.Exposures) != 1 || !keptItself(p, n) {
		return nil, nil
	}
	for _, d := range n.Developed {
		if x := d.Data.(*events.SheetDevelopedData); bath != "" && x.Bath != bath {
			return nil, nil
		}
	}
	step, err := StepOf(snap, p, e)
	if err != nil || step.DeviationStops == nil {
		return nil, err
	}
	return &Kept{Sheet: n.Name, At: e.At, Stops: *step.DeviationStops}, nil
}

// keptItself says whether a negative was kept: by its own judgement, or without one by a print of it.
func keptItself(p *snapshot.Picture, n *snapshot.Sheet) bool {
	if v := n.Verdict(); v != nil {
		return v.Verdict == "keep"
	}
	for _, s := range p.Sheets {
		if v := s.Verdict(); s != n && v != nil && v.Verdict == "keep" {
			return true
		}
	}
	return false
}

// KeptPrint is the last print of a negative that was kept, on the same box behind the same filter, before a print that is to
// be made of it, with what it got over the reading that served it; nil where there is none, or nothing tells.
func KeptPrint(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, x *events.SheetReprintedData) (*Kept, error) {
	var out *snapshot.Sheet
	for _, s := range p.Sheets {
		if s.Name == x.Sheet || s.Box != x.Box || !fromNegative(s) || len(s.Exposures) != 1 || !s.Exposure().At.Before(e.At) || ExposureOf(s).Filter != x.Filter {
			continue
		}
		if v := s.Verdict(); v != nil && v.Verdict == "keep" && !exposedLater(out, s) {
			out = s
		}
	}
	if out == nil {
		return nil, nil
	}
	step, err := readStep(snap, p, *out.Exposure())
	if err != nil || step.DeviationStops == nil {
		return nil, err
	}
	return &Kept{Sheet: out.Name, At: out.Exposure().At, Stops: *step.DeviationStops}, nil
}

// readStep is the step of a print by a reading of the negative alone, whatever print served it.
func readStep(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry) (Step, error) {
	x := *e.Data.(*events.SheetReprintedData)
	if x.Reading == "" {
		if r := snapshot.Latest(e, developedFirst(p), anyReading, p.Readings["negative"]); r != nil {
			x.Reading = r.ID.String()
		}
	}
	e.Data = &x
	return StepOf(snap, p, e)
}

// Teaches says whether what was kept is far enough from what its reading called for to be told.
func (k *Kept) Teaches() bool { return k != nil && math.Abs(k.Stops) >= calc.FloorStops }
