package sqlite

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
)

// remembered are the answers that a transaction has given to queries of entries. Whoever looks at the book or writes to it asks
// for the same streams again for each thing that it works out, and the book changes only by what the transaction itself
// writes: an entry that comes in has what it belongs to forgotten, a void or an amendment everything.
type remembered struct {
	answers map[spot]map[question][]events.Entry // by where an entry has to come in to change them
	held    int                                  // entries in them
	newest  *newest                              // while many entries come in, nil else
}

// mostRemembered is how many entries are remembered; what would be more begins anew. An act or a look at a picture stays far
// below it, and who goes through a whole book asks for most of it once.
const mostRemembered = 4096

// spot is where an entry belongs: to a thing as its stream, as its box and so on. The zero spot is the whole book.
type spot struct {
	as string
	id int64
}

// question is a query in a form that can be compared.
type question struct {
	on                       spot
	kinds                    string
	from, to                 int64
	limit                    int
	newest, counted, written bool
	id                       string // the first digits of an entry's id: it was looked for alone
}

func questionOf(q events.Query) question {
	kinds := make([]string, len(q.Kinds))
	for i, k := range q.Kinds {
		kinds[i] = string(k)
	}
	out := question{kinds: strings.Join(kinds, " "), from: q.From.UnixMicro(), to: q.To.UnixMicro(), limit: q.Limit, newest: q.Newest,
		counted: q.Counted, written: q.Written}
	for _, p := range []spot{{"stream", q.Stream}, {"box", q.Box}, {"bath", q.Bath}, {"session", q.Session}, {"cites", q.Cites}} {
		if p.id != 0 {
			out.on = p
		}
	}
	return out
}

// of gives the answer to a question, and asks where it is not known. What it gives is shared and must not be changed.
func (r *remembered) of(q question, ask func() ([]events.Entry, error)) ([]events.Entry, error) {
	if out, known := r.answers[q.on][q]; known {
		return out, nil
	}
	out, err := ask()
	if err != nil || len(out) > mostRemembered {
		return out, err
	}
	out = out[:len(out):len(out)]
	if r.held += len(out) + 1; r.held > mostRemembered || r.answers == nil {
		r.answers, r.held = map[spot]map[question][]events.Entry{}, len(out)+1
	}
	if r.answers[q.on] == nil {
		r.answers[q.on] = map[question][]events.Entry{}
	}
	r.answers[q.on][q] = out
	return out, nil
}

// forget forgets what an entry that comes in changes.
func (r *remembered) forget(places ...spot) {
	for _, p := range places {
		for _, out := range r.answers[p] {
			r.held -= len(out) + 1
		}
		delete(r.answers, p)
	}
}

// forgetAll forgets every answer.
func (r *remembered) forgetAll() { r.answers, r.held = nil, 0 }

// newest are the newest entries of a book by the time of the act: all from some moment on, kept in step with what comes in, so
// that who looks back from each act of a file need not ask the file.
type newest struct {
	read    bool
	whole   bool // there are no others in the book
	entries []events.Entry
	mended  map[int64]bool // voided or amended: with these come others
}

// mostNewest is how many there are at least. A look back goes over eight mostly, and over sixty at the most.
const mostNewest = 256

// isBack says whether a query looks back over the whole book.
func isBack(q events.Query) bool {
	q.Kinds, q.To, q.Limit, q.Counted = nil, time.Time{}, min(q.Limit, 1), false
	return questionOf(q) == questionOf(events.Query{Newest: true, Limit: 1})
}

// back answers a look back from what is remembered of the newest entries; known is false where not all of its answer is there.
func (tx *Tx) back(q events.Query) (out []events.Entry, known bool, err error) {
	n := tx.remembered.newest
	if n == nil {
		return nil, false, nil
	}
	if !n.read {
		found, err := tx.file.found("SELECT " + foundColumns + " FROM entry e ORDER BY e.at DESC, e.seq DESC" + limit(mostNewest))
		if err != nil {
			return nil, false, err
		}
		n.read, n.whole, n.entries = true, len(found.entries) < mostNewest, found.entries
		slices.Reverse(n.entries)
		for _, seq := range found.mended {
			n.mended[seq] = true
		}
	}
	if out, known = n.of(q); known {
		out, err = tx.meanings.shown(out)
	}
	return out, known, err
}

// add takes in an entry, unless it comes before all of them.
func (n *newest) add(e *events.Entry) {
	if n == nil || !n.read {
		return
	}
	i := len(n.entries)
	for i > 0 && e.At.UnixMicro() < n.entries[i-1].At.UnixMicro() {
		i--
	}
	if i == 0 && !n.whole {
		return
	}
	if n.entries = slices.Insert(n.entries, i, *e); len(n.entries) == 2*mostNewest {
		n.entries, n.whole = append(make([]events.Entry, 0, 2*mostNewest), n.entries[mostNewest:]...), false
	}
}

// of gives those of the kinds that are wanted, the latest first.
func (n *newest) of(q events.Query) (out []events.Entry, known bool) {
	for _, e := range slices.Backward(n.entries) {
		if len(out) == q.Limit {
			break
		}
		if !q.To.IsZero() && e.At.UnixMicro() > q.To.UnixMicro() || len(q.Kinds) > 0 && !slices.Contains(q.Kinds, e.Kind) {
			continue
		}
		if n.mended[e.Seq] {
			return nil, false
		}
		out = append(out, e)
	}
	return out, len(out) == q.Limit || n.whole
}
