package sqlite

import (
	"strings"

	"traybook/events"
)

// remembered are the answers that a transaction has given to queries of entries. Whoever looks at the book or writes to it asks
// for the same streams again for each thing that it works out, and the book changes only by what the transaction itself
// writes: an entry that comes in has what it belongs to forgotten, a void or an amendment everything.
type remembered struct {
	answers map[spot]map[question][]events.Entry // by where an entry has to come in to change them
	held    int                                  // entries in them
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

// forgetAll forgets everything.
func (r *remembered) forgetAll() { *r = remembered{} }
