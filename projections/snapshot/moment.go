package snapshot

import (
	"cmp"
	"slices"
	"time"

	"traybook/events"
)

// Moment is the instant that the snapshot looks from: its as-of, else the newest act in the book; zero in an empty book.
func (snap *Snapshot) Moment() (time.Time, error) {
	if !snap.AsOf.IsZero() {
		return snap.AsOf, nil
	}
	newest, err := snap.R.Entries(events.Query{Newest: true, Limit: 1})
	if err != nil {
		return time.Time{}, err
	}
	var at time.Time
	for _, e := range newest {
		if e.At.After(at) {
			at = e.At
		}
	}
	return at, nil
}

// Ahead says whether the book holds acts later than the snapshot's moment. Kept views then say more than the snapshot may
// see, and what they say of open and closed has to be found out from the entries.
func (snap *Snapshot) Ahead() (bool, error) {
	if snap.AsOf.IsZero() {
		return false, nil
	}
	if snap.ahead == nil {
		later, err := snap.R.Entries(events.Query{From: snap.AsOf.Add(time.Microsecond), Limit: 1})
		if err != nil {
			return false, err
		}
		snap.ahead = new(len(later) > 0)
	}
	return *snap.ahead, nil
}

// mostLate is how many later entries are looked at for what they belong to: few are ever dated ahead, and as of another year
// nearly all are later.
const mostLate = 32

// lateThings are the things that something later than the snapshot's moment belongs to.
type lateThings struct {
	things map[int64]events.Entity
	known  bool // false where it may be any
}

// lateOf says what something later than the snapshot's moment belongs to: the stream of an act, and of what an amendment or a
// void mends.
func (snap *Snapshot) lateOf() (lateThings, error) {
	ahead, err := snap.Ahead()
	switch {
	case err != nil || !ahead:
		return lateThings{known: true}, err
	case snap.follows != nil || snap.mended: // acts come in meanwhile
		return lateThings{}, nil
	}
	if snap.late == nil {
		late, err := snap.findLate()
		if err != nil {
			return lateThings{}, err
		}
		snap.late = &late
	}
	return *snap.late, nil
}

func (snap *Snapshot) findLate() (lateThings, error) {
	later, err := snap.R.Entries(events.Query{From: snap.AsOf.Add(time.Microsecond), Limit: mostLate + 1})
	if err != nil || len(later) > mostLate {
		return lateThings{}, err
	}
	out := lateThings{map[int64]events.Entity{}, true}
	for _, e := range later {
		ids := []string{e.ID.String()}
		switch d := e.Data.(type) {
		case *events.EntryAmendedData:
			ids = append(ids, d.Entry)
		case *events.EntryVoidedData:
			if d.Batch != "" { // of many things
				return lateThings{}, nil
			}
			ids = append(ids, d.Entry)
		}
		for _, id := range ids { // in a joined book an entry may stand twice, and belong to two things
			if found, err := snap.R.Find(id); err != nil || len(found) != 1 {
				return lateThings{}, err
			}
		}
		t, err := snap.R.StreamOf(e.ID)
		if err != nil {
			return lateThings{}, err
		}
		out.things[t.ID] = t
	}
	return out, nil
}

// AheadOf says whether the kept view of a picture may say more than the snapshot may see.
func (snap *Snapshot) AheadOf(t events.Entity) (bool, error) {
	late, err := snap.lateOf()
	_, is := late.things[t.ID]
	return is || !late.known, err
}

const mostOpen = 400 // open things looked at; nobody keeps more boxes or baths at once

// OpenEntities lists the things of a kind that are open, or that at the snapshot's moment may have been: at most so many,
// the latest first. Whether they were is for the caller to fold.
func (snap *Snapshot) OpenEntities(kind events.EntityKind) ([]events.Entity, error) {
	q := events.ViewQuery{Kind: kind, OpenOnly: true, Limit: mostOpen}
	if !snap.AsOf.IsZero() && kind != events.Picture {
		q.To = snap.AsOf.UnixMicro()
	}
	views, err := snap.R.Views(q)
	if err != nil {
		return nil, err
	}
	ahead, err := snap.Ahead()
	if err != nil {
		return nil, err
	}
	if ahead { // what was closed after the moment was open at it
		q.OpenOnly, q.LastSince = false, snap.AsOf.UnixMicro()
		closed, err := snap.R.Views(q)
		if err != nil {
			return nil, err
		}
		views = append(views, closed...)
		slices.SortStableFunc(views, func(a, b events.View) int { return cmp.Compare(b.Rank, a.Rank) })
	}
	var out []events.Entity
	seen := map[int64]bool{}
	for _, v := range views {
		if !seen[v.Entity.ID] {
			seen[v.Entity.ID] = true
			out = append(out, v.Entity)
		}
	}
	return out, nil
}

// PictureState gives what a picture's view says as of the snapshot's moment; ok is false where the picture was not begun.
func (snap *Snapshot) PictureState(v events.View) (st PictureState, ok bool, err error) {
	ahead, err := snap.AheadOf(v.Entity)
	if err != nil {
		return st, false, err
	}
	if ahead {
		p, err := snap.PictureOf(v.Entity)
		if err != nil || len(p.All) == 0 {
			return st, false, err
		}
		if v, err = foldPictureView(events.View{Entity: v.Entity}, p); err != nil {
			return st, false, err
		}
	}
	st, err = readPicture(v)
	return st, err == nil && st.At != "", err
}
