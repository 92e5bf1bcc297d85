package acts

import (
	"slices"
	"strconv"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Waiting lists the sheets exposed and not yet developed as of the snapshot's moment, the oldest first.
func Waiting(snap *snapshot.Snapshot) ([]*snapshot.Sheet, error) {
	views, err := snap.R.Views(events.ViewQuery{Kind: events.Picture, OpenOnly: true})
	if err != nil {
		return nil, err
	}
	entities := make([]events.Entity, 0, len(views))
	seen := map[int64]bool{}
	for _, v := range slices.Backward(views) {
		entities, seen[v.Entity.ID] = append(entities, v.Entity), true
	}
	ahead, err := snap.Ahead()
	if err != nil {
		return nil, err
	}
	// As of an earlier moment a sheet may have waited that waits no more: look through the open sessions' pictures too.
	if ahead {
		open, err := snap.SessionsAt(snap.AsOf)
		if err != nil {
			return nil, err
		}
		for _, s := range open {
			exposures, err := snap.Entries(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted}})
			if err != nil {
				return nil, err
			}
			for _, e := range exposures {
				t, ok, err := snap.R.Entity(events.PlacesOf(e.Data).Stream.Name)
				if err != nil {
					return nil, err
				}
				if ok && !seen[t.ID] {
					entities, seen[t.ID] = append(entities, t), true
				}
			}
		}
	}
	var out []*snapshot.Sheet
	for _, t := range entities {
		p, err := snap.PictureOf(t)
		if err != nil {
			return nil, err
		}
		for _, s := range p.Sheets {
			if s.Waits() {
				out = append(out, s)
			}
		}
	}
	SortByExposure(out)
	return out, nil
}

var (
	noneWaiting    = wording.Refuses("none-waits", "no exposed sheet waits for the developer", nameASheet)
	noneWaitedThen = wording.Refuses("none-waited-then", "no exposed sheet waits for the developer at {at}", "{sheet} was exposed at {exposed}: give a later --at")
)

// noneWaits refuses an act in the developer that no sheet is there for. One that was exposed after the act's own time is
// told: a late act, or one that took the time of an earlier mark, would else look as if the sheet were not in the book.
func noneWaits(snap *snapshot.Snapshot) error {
	if !snap.AsOf.IsZero() {
		later, err := Waiting(snapshot.New(snap.R, time.Time{}))
		if err != nil {
			return err
		}
		if len(later) > 0 {
			return noneWaitedThen.Refuse(snap.AsOf, later[0].Name, later[0].Exposures[0].At)
		}
	}
	return noneWaiting.Refuse()
}

// SortByExposure puts sheets in the order of their first exposures.
func SortByExposure(ss []*snapshot.Sheet) {
	slices.SortStableFunc(ss, func(a, b *snapshot.Sheet) int { return events.Compare(a.Exposures[0], b.Exposures[0]) })
}

// mostInHand is how many acts on sheets are looked back over for one that is still in hand.
const mostInHand = 60

// lastInHand is, of the sheets that were last worked on in one of the ways, the latest that is wanted; nil for none.
func lastInHand(snap *snapshot.Snapshot, at time.Time, ways []events.Kind, wanted func(*snapshot.Sheet) bool) (last *snapshot.Sheet, err error) {
	err = lookBack(snap, events.Query{Kinds: ways, To: at}, mostInHand, func(e events.Entry) (bool, error) {
		_, s, err := snap.SheetByName(events.SheetOf(e.Data))
		if err == nil && wanted(s) {
			last = s
		}
		return last != nil, err
	})
	return last, err
}

// Unfixed are the sheets that came out of the developer within a day and were not fixed, but for those thrown away; the
// last one first. Light takes them soon, so that a session that ends names them; an older one is lost or was fixed unwritten.
func Unfixed(snap *snapshot.Snapshot) ([]*snapshot.Sheet, error) {
	found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetDeveloped}, From: snap.AsOf.Add(-24 * time.Hour), To: snap.AsOf})
	if err != nil {
		return nil, err
	}
	var out []*snapshot.Sheet
	for _, f := range slices.Backward(found) {
		_, s, err := snap.SheetByName(events.SheetOf(f.Data))
		if err != nil {
			return nil, err
		}
		if (s.State == snapshot.Developed || s.State == snapshot.Rinsed) && !s.Thrown() && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out, nil
}

const recentBaths = 40 // mixed last: among these the one in use is looked for

// BathInUse is the bath of a role that was used or mixed last before the snapshot's moment and is not discarded, nil for
// none.
func BathInUse(snap *snapshot.Snapshot, role string) (*snapshot.Bath, error) {
	ahead, err := snap.Ahead()
	if err != nil {
		return nil, err
	}
	q := events.ViewQuery{Kind: events.Bath, OpenOnly: !ahead, Limit: recentBaths}
	if ahead { // what is discarded by now may not have been then
		q.To = snap.AsOf.UnixMicro()
	}
	views, err := snap.R.Views(q)
	if err != nil {
		return nil, err
	}
	var stand []*snapshot.Bath
	for _, v := range views {
		if !snapshot.RoleInView(v, role) {
			continue
		}
		b, err := snap.Bath(v.Entity.Name)
		if err != nil {
			return nil, err
		}
		if b.Mixed != nil && b.Discarded == nil {
			stand = append(stand, b)
		}
	}
	if len(stand) == 1 {
		return stand[0], nil
	}
	return usedLast(snap, stand)
}

// usedLast is, of some baths, the one that was used or mixed last, nil for none.
func usedLast(snap *snapshot.Snapshot, baths []*snapshot.Bath) (*snapshot.Bath, error) {
	var out *snapshot.Bath
	var last int64
	for _, b := range baths {
		when, err := usedOrMixed(snap, b)
		if err != nil {
			return nil, err
		}
		if out == nil || when > last {
			out, last = b, when
		}
	}
	return out, nil
}

// usedOrMixed is when a bath was used last, or else mixed, in microseconds.
func usedOrMixed(snap *snapshot.Snapshot, b *snapshot.Bath) (int64, error) {
	said, err := snap.Newest(snapshot.UseKey(b.Entity.Name), func() (string, error) {
		last := b.At
		err := lookBack(snap, events.Query{Bath: b.Entity.ID, To: snap.AsOf, Limit: 1}, 0, func(e events.Entry) (bool, error) {
			if e.At.After(last) {
				last = e.At
			}
			return true, nil
		})
		return snapshot.UseAt(last), err
	})
	if err != nil {
		return 0, err
	}
	return strconv.ParseInt(said, 10, 64)
}
