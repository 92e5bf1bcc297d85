package projections

import (
	"fmt"
	"slices"
	"time"

	"traybook/events"
)

// Waiting lists the sheets exposed and not yet developed as of the desk's moment, the oldest first.
func (d *Desk) Waiting() ([]*Sheet, error) {
	views, err := d.R.Views(events.ViewQuery{Kind: events.Picture, OpenOnly: true})
	if err != nil {
		return nil, err
	}
	things := make([]events.Thing, 0, len(views))
	seen := map[int64]bool{}
	for _, v := range slices.Backward(views) {
		things, seen[v.Thing.ID] = append(things, v.Thing), true
	}
	// As of an earlier moment a sheet may have waited that waits no more: look through the open sessions' pictures too.
	if !d.AsOf.IsZero() {
		open, err := d.sessionsAt(d.AsOf)
		if err != nil {
			return nil, err
		}
		for _, s := range open {
			exposures, err := d.entries(events.Query{Session: s.Thing.ID, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted}})
			if err != nil {
				return nil, err
			}
			for _, e := range exposures {
				t, ok, err := d.R.Thing(events.PlacesOf(e.Data).Home.Name)
				if err != nil {
					return nil, err
				}
				if ok && !seen[t.ID] {
					things, seen[t.ID] = append(things, t), true
				}
			}
		}
	}
	var out []*Sheet
	for _, t := range things {
		p, err := d.pictureOf(t)
		if err != nil {
			return nil, err
		}
		for _, s := range p.Sheets {
			if s.Waits() {
				out = append(out, s)
			}
		}
	}
	sortByExposure(out)
	return out, nil
}

// noneWaits refuses an act in the developer that no sheet is there for. One that was exposed after the act's own time is
// told: a late act, or one that took the time of an earlier mark, would else look as if the sheet were not in the book.
func (d *Desk) noneWaits() error {
	if !d.AsOf.IsZero() {
		later, err := NewDesk(d.R, time.Time{}).Waiting()
		if err != nil {
			return err
		}
		if len(later) > 0 {
			return &Refusal{Text: "no exposed sheet waits for the developer at " + clockOf(d.AsOf),
				Hint: fmt.Sprintf("%s was exposed at %s: give a later --at", later[0].Name, clockOf(later[0].Exposures[0].At))}
		}
	}
	return &Refusal{Text: "no exposed sheet waits for the developer", Hint: "name one with --sheet 2026-014n"}
}

func sortByExposure(ss []*Sheet) {
	slices.SortStableFunc(ss, func(a, b *Sheet) int { return events.Compare(a.Exposures[0], b.Exposures[0]) })
}

// lastInHand is, of the sheets that were last worked on in one of the ways, the latest that is wanted; nil for none.
func (d *Desk) lastInHand(at time.Time, ways []events.Kind, wanted func(*Sheet) bool) (*Sheet, error) {
	found, err := d.entries(events.Query{Kinds: ways, To: at, Newest: true, Limit: 60})
	if err != nil {
		return nil, err
	}
	for _, f := range slices.Backward(found) {
		if _, s, err := d.SheetByName(events.SheetOf(f.Data)); err != nil || wanted(s) {
			return s, err
		}
	}
	return nil, nil
}

// Unfixed are the sheets that came out of the developer within a day and were not fixed, but for those thrown away; the
// last one first. Light takes them soon, so that a session that ends names them; an older one is lost or was fixed unwritten.
func (d *Desk) Unfixed() ([]*Sheet, error) {
	found, err := d.entries(events.Query{Kinds: []events.Kind{events.SheetDeveloped}, From: d.AsOf.Add(-24 * time.Hour), To: d.AsOf})
	if err != nil {
		return nil, err
	}
	var out []*Sheet
	for _, f := range slices.Backward(found) {
		_, s, err := d.SheetByName(events.SheetOf(f.Data))
		if err != nil {
			return nil, err
		}
		if (s.State == Developed || s.State == Rinsed) && !s.thrown() && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out, nil
}

const recentBaths = 40 // mixed last: among these the one in use is looked for

// BathInUse is the bath of a role that was used or mixed last before the desk's moment and is not discarded, nil for
// none.
func (d *Desk) BathInUse(role string) (*Bath, error) {
	q := events.ViewQuery{Kind: events.Bath, Limit: recentBaths}
	if !d.AsOf.IsZero() {
		q.To = d.AsOf.UnixMicro()
	}
	views, err := d.R.Views(q)
	if err != nil {
		return nil, err
	}
	var out *Bath
	var last int64
	for _, v := range views {
		if !roleInView(v, role) {
			continue
		}
		b, err := d.Bath(v.Thing.Name)
		if err != nil {
			return nil, err
		}
		if b.Mixed == nil || b.Discarded != nil {
			continue
		}
		course, err := d.courseOf(b)
		if err != nil {
			return nil, err
		}
		when := b.At.UnixMicro()
		if len(course.uses) > 0 {
			when = max(when, course.uses[len(course.uses)-1].entry.At.UnixMicro())
		}
		if out == nil || when > last {
			out, last = b, when
		}
	}
	return out, nil
}
