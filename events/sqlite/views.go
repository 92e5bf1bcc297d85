package sqlite

import (
	"cmp"
	"database/sql"
	"errors"
	"slices"
	"strings"

	"traybook/events"
)

const viewColumns = "v.home, v.kind, v.rank, v.open, v.last, v.stock, v.state"

func scanView(row scanner) (events.View, error) {
	var v events.View
	err := row.Scan(&v.Thing.ID, &v.Thing.Kind, &v.Rank, &v.Open, &v.Last, &v.Stock, &v.State)
	return v, err
}

// View is the kept view of one thing. In a book of another fold version it is folded afresh, and nothing is written.
func (tx *Tx) View(t events.Thing) (events.View, bool, error) {
	if err := tx.settle(func(x events.Thing) bool { return x.ID == t.ID }); err != nil {
		return events.View{}, false, err
	}
	if tx.b.stale {
		v, err := tx.b.folder.Fold(t, tx)
		return v, err == nil, err
	}
	v, err := scanView(tx.tx.QueryRow("SELECT "+viewColumns+" FROM view v WHERE v.home=?", t.ID))
	if errors.Is(err, sql.ErrNoRows) {
		return v, false, nil
	}
	v.Thing = t
	return v, err == nil, translate(err)
}

// ViewsOf gives the kept views of several things, in no certain order; a thing without one is left out.
func (tx *Tx) ViewsOf(things []events.Thing) ([]events.View, error) {
	asked := make(map[int64]events.Thing, len(things))
	ids := make([]int64, 0, len(things))
	for _, t := range things {
		asked[t.ID], ids = t, append(ids, t.ID)
	}
	if err := tx.settle(func(x events.Thing) bool { return asked[x.ID].ID != 0 }); err != nil {
		return nil, err
	}
	var out []events.View
	if tx.b.stale {
		for _, t := range things {
			v, err := tx.b.folder.Fold(t, tx)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
		return out, nil
	}
	out, err := tx.views("SELECT "+viewColumns+" FROM json_each(?) j CROSS JOIN view v ON v.home=j.value", listed(ids))
	for i := range out {
		out[i].Thing = asked[out[i].Thing.ID]
	}
	return out, err
}

// views runs a query of views, whose things have numbers alone.
func (tx *Tx) views(text string, args ...any) ([]events.View, error) {
	rows, err := tx.tx.Query(text, args...)
	return collect(rows, err, scanView)
}

// Views lists kept views of one kind by descending rank.
func (tx *Tx) Views(q events.ViewQuery) ([]events.View, error) {
	if err := tx.settle(func(x events.Thing) bool { return x.Kind == q.Kind }); err != nil {
		return nil, err
	}
	if tx.b.stale {
		return tx.staleViews(q)
	}
	where, args := []string{"v.kind=?"}, []any{string(q.Kind)}
	if q.OpenOnly {
		where = append(where, "v.open=1")
	}
	if q.LastSince != 0 {
		where, args = append(where, "v.last>=?"), append(args, q.LastSince)
	}
	if q.RankFrom != 0 {
		where, args = append(where, "v.rank>=?"), append(args, q.RankFrom)
	}
	if q.To != 0 {
		where, args = append(where, "v.rank<=?"), append(args, q.To)
	}
	text := "SELECT " + viewColumns + " FROM view v WHERE " + strings.Join(where, " AND ")
	switch {
	case q.OpenOnly:
		// Few are open: find them by their own index and sort the handful.
		text = strings.Replace(text, "FROM view v", "FROM view v INDEXED BY view_open", 1)
	case q.LastSince != 0 && q.Kind != events.Picture:
		// Few were closed since: likewise.
		text = strings.Replace(text, "FROM view v WHERE", "FROM view v INDEXED BY view_last WHERE v.kind<>'picture' AND", 1)
	}
	text += " ORDER BY v.rank DESC, v.home DESC"
	if q.Limit > 0 {
		text, args = text+" LIMIT ?", append(args, q.Limit)
	}
	out, err := tx.views(text, args...)
	if err != nil {
		return nil, err
	}
	if err := fallingRanks(out, q.To); err != nil {
		return nil, err
	}
	ids := make([]int64, len(out))
	for i := range out {
		ids[i] = out[i].Thing.ID
	}
	if err := tx.nameAll(ids); err != nil {
		return nil, err
	}
	for i := range out {
		if out[i].Thing, err = tx.ThingByID(out[i].Thing.ID); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (tx *Tx) staleViews(q events.ViewQuery) ([]events.View, error) {
	things, err := tx.Things(q.Kind)
	if err != nil {
		return nil, err
	}
	var out []events.View
	for _, t := range things {
		v, err := tx.b.folder.Fold(t, tx)
		if err != nil {
			return nil, err
		}
		if q.OpenOnly && !v.Open || v.Last < q.LastSince || v.Rank < q.RankFrom || q.To != 0 && v.Rank > q.To {
			continue
		}
		out = append(out, v)
	}
	slices.SortStableFunc(out, func(a, b events.View) int {
		return cmp.Or(cmp.Compare(b.Rank, a.Rank), cmp.Compare(b.Thing.ID, a.Thing.ID))
	})
	if q.Limit > 0 && len(out) > q.Limit {
		out = out[:q.Limit]
	}
	return out, nil
}
