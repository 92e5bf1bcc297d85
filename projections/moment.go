package projections

import (
	"cmp"
	"slices"
	"time"

	"traybook/events"
)

// Moment is the instant that the desk looks from: its as-of, else the newest act in the book; zero in an empty book.
func (d *Desk) Moment() (time.Time, error) {
	if !d.AsOf.IsZero() {
		return d.AsOf, nil
	}
	newest, err := d.R.Entries(events.Query{Newest: true, Limit: 1})
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

// Ahead says whether the book holds acts later than the desk's moment. Kept views then say more than the desk may
// see, and what they say of open and closed has to be found out from the entries.
func (d *Desk) Ahead() (bool, error) {
	if d.AsOf.IsZero() {
		return false, nil
	}
	if d.ahead == nil {
		later, err := d.R.Entries(events.Query{From: d.AsOf.Add(time.Microsecond), Limit: 1})
		if err != nil {
			return false, err
		}
		d.ahead = new(len(later) > 0)
	}
	return *d.ahead, nil
}

const mostOpen = 400 // open things looked at; nobody keeps more boxes or baths at once

// openThings lists the things of a kind that are open, or that at the desk's moment may have been: at most so many,
// the latest first. Whether they were is for the caller to fold.
func (d *Desk) openThings(kind events.ThingKind) ([]events.Thing, error) {
	q := events.ViewQuery{Kind: kind, OpenOnly: true, Limit: mostOpen}
	if !d.AsOf.IsZero() && kind != events.Picture {
		q.To = d.AsOf.UnixMicro()
	}
	views, err := d.R.Views(q)
	if err != nil {
		return nil, err
	}
	ahead, err := d.Ahead()
	if err != nil {
		return nil, err
	}
	if ahead { // what was closed after the moment was open at it
		q.OpenOnly, q.LastSince = false, d.AsOf.UnixMicro()
		closed, err := d.R.Views(q)
		if err != nil {
			return nil, err
		}
		views = append(views, closed...)
		slices.SortStableFunc(views, func(a, b events.View) int { return cmp.Compare(b.Rank, a.Rank) })
	}
	var out []events.Thing
	seen := map[int64]bool{}
	for _, v := range views {
		if !seen[v.Thing.ID] {
			seen[v.Thing.ID] = true
			out = append(out, v.Thing)
		}
	}
	return out, nil
}

// pictureState gives what a picture's view says as of the desk's moment; ok is false where the picture was not begun.
func (d *Desk) pictureState(v events.View) (st PictureState, ok bool, err error) {
	ahead, err := d.Ahead()
	if err != nil {
		return st, false, err
	}
	if ahead {
		p, err := d.pictureOf(v.Thing)
		if err != nil || len(p.All) == 0 {
			return st, false, err
		}
		if v, err = foldPictureView(events.View{Thing: v.Thing}, p); err != nil {
			return st, false, err
		}
	}
	st, err = readPicture(v)
	return st, err == nil && st.At != "", err
}
