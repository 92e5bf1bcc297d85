package sqlite

import (
	"bytes"

	"traybook/events"
)

// verifyViews folds every home again and holds the kept view against that.
func (tx *Tx) verifyViews(r *Report, p *replayed) error {
	switch {
	case tx.b.folder == nil:
		return nil
	case tx.b.stale:
		r.note("the kept views were folded by another version of traybook and are not used; `traybook rebuild` makes them anew")
		return nil
	}
	kept := int64(0)
	for i, t := range p.things {
		id := int64(i) + 1
		if !p.viewed[id] {
			continue
		}
		thing := t.row.thing(t.bare)
		thing.ID = id
		got, ok, err := tx.View(thing)
		if err != nil {
			return err
		}
		if !ok {
			r.problem(ProblemView, "", "%s has no kept view; `traybook rebuild` makes it", thing.Name)
			continue
		}
		kept++
		want, err := tx.b.folder.Fold(thing, tx)
		if err != nil {
			return err
		}
		if !sameView(got, want) {
			r.problem(ProblemView, "", "the kept view of %s is not what its entries give; `traybook rebuild` makes it anew", thing.Name)
		}
	}
	var n int64
	if err := tx.tx.QueryRow("SELECT count(*) FROM view").Scan(&n); err != nil {
		return translate(err)
	}
	if n > kept {
		return tx.strayViews(r, p)
	}
	return nil
}

func (tx *Tx) strayViews(r *Report, p *replayed) error {
	homes, err := tx.ints("SELECT home FROM view ORDER BY home")
	if err != nil {
		return err
	}
	for _, id := range homes {
		if !p.viewed[id] {
			r.problem(ProblemView, "", "a view is kept of thing number %d, which no entry has its home in; `traybook rebuild` drops it", id)
		}
	}
	return nil
}

// sameView says whether two views hold the same.
func sameView(a, b events.View) bool {
	return a.Thing == b.Thing && a.Rank == b.Rank && a.Open == b.Open && a.Last == b.Last && a.Stock == b.Stock &&
		bytes.Equal(a.State, b.State)
}
