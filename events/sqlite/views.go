package sqlite

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"traybook/events"
)

const viewColumns = "v.stream, v.kind, v.rank, v.open, v.last, v.stock, v.state"

func scanView(row scanner) (events.View, error) {
	var v events.View
	err := row.Scan(&v.Entity.ID, &v.Entity.Kind, &v.Rank, &v.Open, &v.Last, &v.Stock, &v.State)
	return v, err
}

// views are the kept views of a book, and what has to be folded again before a write ends.
type views struct {
	file     *statements
	names    *nameIndex
	book     *Tx    // what they are folded from
	folder   Folder // nil where no view is kept
	stale    bool   // those in the file are of another fold version
	ro       bool
	touched  []int64 // streams to fold again before the commit
	isTouch  map[int64]bool
	changed  map[events.EntityKind]map[int64]bool // things but pictures that changed since their kind was asked for
	bulk     *bulkFold                            // many entries at once: what they are folded from, nil else
	settling bool                                 // some are being folded in the midst of a write
	lists    map[events.ViewQuery][]events.View   // the answers to questions of things but pictures, until one of the kind changes
}

// kept says whether what is folded goes into the file.
func (v *views) kept() bool { return v.folder != nil && !v.stale }

// View is the kept view of one thing. In a book of another fold version it is folded afresh, and nothing is written.
func (tx *Tx) View(t events.Entity) (events.View, bool, error) {
	return tx.views.of(t)
}

// of is the kept view of one thing.
func (v *views) of(t events.Entity) (events.View, bool, error) {
	if err := v.settle(t.ID); err != nil {
		return events.View{}, false, err
	}
	if v.stale {
		view, err := v.folder.Fold(t, v.book)
		return view, err == nil, err
	}
	view, err := scanView(v.file.QueryRow("SELECT "+viewColumns+" FROM view v WHERE v.stream=?", t.ID))
	if errors.Is(err, sql.ErrNoRows) {
		return view, false, nil
	}
	view.Entity = t
	return view, err == nil, translate(err)
}

// ViewsOf gives the kept views of several things, in no certain order; a thing without one is left out.
func (tx *Tx) ViewsOf(entities []events.Entity) ([]events.View, error) {
	return tx.views.ofAll(entities)
}

// ofAll gives the kept views of several things.
func (v *views) ofAll(entities []events.Entity) ([]events.View, error) {
	if len(entities) == 0 {
		return nil, nil
	}
	asked := make(map[int64]events.Entity, len(entities))
	ids := make([]int64, 0, len(entities))
	for _, t := range entities {
		asked[t.ID], ids = t, append(ids, t.ID)
	}
	if err := v.settle(ids...); err != nil {
		return nil, err
	}
	var out []events.View
	if v.stale {
		for _, t := range entities {
			view, err := v.folder.Fold(t, v.book)
			if err != nil {
				return nil, err
			}
			out = append(out, view)
		}
		return out, nil
	}
	out, err := v.read("SELECT "+viewColumns+" FROM json_each(?) j CROSS JOIN view v ON v.stream=j.value", listed(ids))
	for i := range out {
		out[i].Entity = asked[out[i].Entity.ID]
	}
	return out, err
}

// read runs a query of views, whose things have numbers alone.
func (v *views) read(text string, args ...any) ([]events.View, error) {
	rows, err := v.file.Query(text, args...)
	return collect(rows, err, scanView)
}

// Views lists kept views of one kind by descending rank.
func (tx *Tx) Views(q events.ViewQuery) ([]events.View, error) {
	return tx.views.list(q)
}

// ViewsHolding is Views without those whose state holds, of some list of texts, none: SQLite looks for them, which takes a
// twentieth of reading each state.
func (tx *Tx) ViewsHolding(q events.ViewQuery, texts [][]string) ([]events.View, error) {
	if err := tx.views.settleKind(q.Kind); err != nil {
		return nil, err
	}
	if tx.views.stale {
		return tx.views.listStale(q)
	}
	where, args := likeAny(texts)
	return tx.views.ask(q, where, args)
}

// mostLiked is how many texts a statement looks for, and how many signs of each: what is beyond is left to whoever asks.
const mostLiked = 100

// likeAny is what has to be so of a state that may hold, of each list of texts, one.
func likeAny(texts [][]string) (where []string, args []any) {
	for _, list := range texts {
		var likes []any
		for _, text := range list {
			if like := likeHolding(text); like != "" {
				likes = append(likes, like)
			}
		}
		if n := len(list); n > 0 && len(likes) == n && len(args)+n <= mostLiked { // else any state may
			where = append(where, "(v.state LIKE ?"+strings.Repeat(" OR v.state LIKE ?", n-1)+")")
			args = append(args, likes...)
		}
	}
	return where, args
}

// likeHolding is a pattern of LIKE that every state fits which holds a text in some case of its letters: of what JSON writes
// as it stands the longest stretch, "" where there is none. LIKE knows the two cases of the letters of ASCII; a letter that has
// another, as k has in the sign of the kelvin, may be any sign.
func likeHolding(text string) string {
	var longest []rune
	for _, stretch := range strings.FieldsFunc(text, escapedInJSON) {
		if r := []rune(stretch); len(r) > len(longest) {
			longest = r
		}
	}
	if len(longest) == 0 {
		return ""
	}
	like := []rune{'%'}
	for _, r := range longest[:min(len(longest), mostLiked)] {
		if r >= utf8.RuneSelf || strings.ContainsRune("iIkK%", r) {
			r = '_'
		}
		like = append(like, r)
	}
	return string(append(like, '%'))
}

// escapedInJSON says whether encoding/json writes a sign otherwise than it stands.
func escapedInJSON(r rune) bool {
	return r < ' ' || strings.ContainsRune("\"\\<>&\u2028\u2029\ufffd", r)
}

// list gives kept views of one kind by descending rank.
func (v *views) list(q events.ViewQuery) ([]events.View, error) {
	if err := v.settleKind(q.Kind); err != nil {
		return nil, err
	}
	if v.stale {
		return v.listStale(q)
	}
	if out, known := v.lists[q]; known {
		return slices.Clone(out), nil
	}
	out, err := v.ask(q, nil, nil)
	if err == nil && q.Kind != events.Picture && !v.settling {
		if v.lists == nil {
			v.lists = map[events.ViewQuery][]events.View{}
		}
		v.lists[q] = slices.Clone(out)
	}
	return out, err
}

// ask reads a list from the file, of those of which besides something is so.
func (v *views) ask(q events.ViewQuery, besides []string, of []any) ([]events.View, error) {
	where, args := append([]string{"v.kind=" + given}, besides...), append([]any{string(q.Kind)}, of...)
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
	text += " ORDER BY v.rank DESC, v.stream DESC" + limit(q.Limit)
	out, err := v.read(text, args...)
	if err != nil {
		return nil, err
	}
	if err := fallingRanks(out, q.To); err != nil {
		return nil, err
	}
	ids := make([]int64, len(out))
	for i := range out {
		ids[i] = out[i].Entity.ID
	}
	if err := v.names.lookUp(ids); err != nil {
		return nil, err
	}
	for i := range out {
		if out[i].Entity, err = v.names.numbered(out[i].Entity.ID); err != nil {
			return nil, err
		}
		if is := out[i].Entity.Kind; is != q.Kind {
			return nil, fmt.Errorf("%w: a kept view of a %s belongs to a %s; `traybook rebuild` makes the views anew", events.ErrDamaged, q.Kind, is)
		}
	}
	return out, nil
}

func (v *views) listStale(q events.ViewQuery) ([]events.View, error) {
	entities, err := v.names.ofKind(q.Kind)
	if err != nil {
		return nil, err
	}
	var out []events.View
	for _, t := range entities {
		view, err := v.folder.Fold(t, v.book)
		if err != nil {
			return nil, err
		}
		if q.OpenOnly && !view.Open || view.Last < q.LastSince || view.Rank < q.RankFrom || q.To != 0 && view.Rank > q.To {
			continue
		}
		out = append(out, view)
	}
	slices.SortStableFunc(out, func(a, b events.View) int {
		return cmp.Or(cmp.Compare(b.Rank, a.Rank), cmp.Compare(b.Entity.ID, a.Entity.ID))
	})
	if q.Limit > 0 && len(out) > q.Limit {
		out = out[:q.Limit]
	}
	return out, nil
}

// lowStock is how few sheets a box may hold by the quick count before it is counted exactly.
const lowStock = 2

// touch marks a stream to be folded again before the commit.
func (v *views) touch(stream int64) {
	if v.kept() && !v.isTouch[stream] {
		v.isTouch[stream] = true
		v.touched = append(v.touched, stream)
		v.noteChanged(stream)
	}
}

// touchLowBox has a box counted again when an act may have emptied it. Every entry takes at most one sheet, so the
// number of entries bounds what was taken, and a box far from empty costs one look at an index.
func (v *views) touchLowBox(box int64) error {
	if v.isTouch[box] {
		return nil
	}
	var stock, used int64
	err := v.file.QueryRow("SELECT stock FROM view WHERE stream=?", box).Scan(&stock)
	if errors.Is(err, sql.ErrNoRows) {
		v.touch(box)
		return nil
	}
	if err != nil {
		return translate(err)
	}
	if err := v.file.QueryRow("SELECT count(*) FROM entry WHERE box=?", box).Scan(&used); err != nil {
		return translate(err)
	}
	if stock-used <= lowStock {
		v.touch(box)
	}
	return nil
}

// foldTouched folds every touched stream and keeps the views that changed.
func (v *views) foldTouched() error {
	if !v.kept() {
		return nil
	}
	if err := v.endBulkFold(); err != nil {
		return err
	}
	return v.foldFromFile()
}

// foldFromFile folds all touched streams from what the file holds of them.
func (v *views) foldFromFile() error {
	for i := 0; i < len(v.touched); i++ {
		if !v.isTouch[v.touched[i]] {
			continue // somebody asked for it meanwhile
		}
		if err := v.foldStream(v.touched[i]); err != nil {
			return err
		}
	}
	v.touched, v.isTouch = nil, map[int64]bool{}
	return nil
}

// foldStream folds one stream from what the file holds of it.
func (v *views) foldStream(id int64) error {
	t, err := v.names.numbered(id)
	if err != nil {
		return err
	}
	view, err := v.folder.Fold(t, v.book)
	if err != nil {
		return fmt.Errorf("%s: %w", t.Name, err)
	}
	delete(v.isTouch, id)
	v.book.corrections.foldedOf(id)
	return v.keep(view)
}

func (v *views) keep(view events.View) error {
	_, err := v.file.Exec(`INSERT INTO view VALUES (?,?,?,?,?,?,?)
		ON CONFLICT(stream) DO UPDATE SET rank=excluded.rank, open=excluded.open, last=excluded.last, stock=excluded.stock, state=excluded.state`,
		view.Entity.ID, string(view.Entity.Kind), view.Rank, view.Open, view.Last, view.Stock, string(view.State))
	return translate(err)
}

// Rebuild drops what is derived and makes it again from the stored bytes: names, the columns beside the bytes, what
// cites and mends what, and the views.
func (b *Book) Rebuild() error {
	stale := b.stale
	b.stale = false
	err := b.Write(func(tx *Tx) error {
		for _, s := range []string{"DELETE FROM view", "DELETE FROM correction", "DELETE FROM cite", "DELETE FROM entity", "UPDATE chain SET last=NULL"} {
			if _, err := tx.file.Exec(s); err != nil {
				return translate(err)
			}
		}
		if err := remakeColumns(tx); err != nil {
			return err
		}
		if b.folder == nil {
			return nil
		}
		return tx.SetMeta("fold", fmt.Sprint(b.folder.Version()))
	})
	if err != nil {
		b.stale = stale
	}
	return err
}

// remakeColumns goes through the stored bytes in their order and sets every derived column that differs. The triggers
// against changes are lifted for that, inside the transaction, and only if a column is wrong; what is missing of them
// is put back.
func remakeColumns(tx *Tx) error {
	if err := tx.chains.blank(); err != nil {
		return err
	}
	tx.bulk = &bulkLoad{}
	if err := tx.begin(); err != nil {
		return err
	}
	lifted := false
	for page, err := range tx.file.pages(false) {
		if err != nil {
			return err
		}
		for i := range page {
			r := &page[i]
			if r.err != nil {
				return fmt.Errorf("%w: entry number %d: %w; `traybook salvage` saves what can be read", events.ErrDamaged, r.seq, r.err)
			}
			want, p, err := rederive(tx, &r.entry)
			if err != nil {
				return fmt.Errorf("entry number %d: %w", r.seq, err)
			}
			if want != r.kept {
				if !lifted {
					if _, err := tx.file.Exec("DROP TRIGGER IF EXISTS entry_no_update"); err != nil {
						return translate(err)
					}
					lifted = true
				}
				if err := tx.file.setColumns(r.seq, want); err != nil {
					return err
				}
			}
			if err := tx.link(&r.entry, p, want, tx.meanings.byChain); err != nil {
				return err
			}
			if err := tx.views.count(&r.entry, want); err != nil {
				return err
			}
		}
	}
	return tx.file.restoreTriggers()
}

// rederive works out the columns of a kept entry as if it had just come in, and goes on to the next.
func rederive(tx *Tx, e *events.Entry) (columns, events.Places, error) {
	p := events.PlacesOf(e.Data)
	row := tx.chains.rows[e.Branch]
	if row == nil || row.book != e.Book {
		// The chain's number beside the bytes is wrong: the entry goes on the chain whose end it follows.
		id, ok := tx.chains.byHash[e.Prev]
		if !ok || tx.chains.rows[id].book != e.Book {
			return columns{}, p, fmt.Errorf("%w: its chain is not known; `traybook salvage` finds it again", events.ErrDamaged)
		}
		e.Branch = id
	}
	c, err := tx.derive(e, p, tx.meanings.byChain)
	if err != nil {
		return c, p, err
	}
	return c, p, tx.chains.advance(e)
}

func (s *statements) setColumns(seq int64, c columns) error {
	_, err := s.Exec("UPDATE entry SET id=?, chain=?, book_seq=?, kind=?, at=?, stream=?, box=?, bath=?, session=?, batch=? WHERE seq=?",
		c.id[:], c.chain, c.bookSeq, c.kind, c.at, c.stream, c.box, c.bath, c.session, batchColumn(c.batch), seq)
	return translate(err)
}
