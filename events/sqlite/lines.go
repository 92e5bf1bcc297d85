package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"

	"traybook/events"
)

// Imported says what an import or a joining brought.
type Imported struct {
	Added int64 // entries written
	Known int64 // entries passed over, since the book held them
}

// progressEvery is how many entries go by between two calls of a progress function.
const progressEvery = 1000

// ImportWhole takes whole lines, kept byte for byte. Each line must continue a chain
// that the book holds or grow from one; chains may begin only in an empty book. A line that the book holds already is
// passed over; the same line twice among those given is refused. Lines must come from events.ReadLines, which has held
// them against the rules. The error of a line is an *events.LineError, with which the whole transaction must be given up.
// progress, which may be nil, hears now and then how many lines went by.
func (tx *Tx) ImportWhole(lines iter.Seq2[events.Line, error], progress func(n int64)) (Imported, error) {
	if err := tx.chains.load(); err != nil {
		return Imported{}, err
	}
	tx.bulk = &bulkLoad{}
	w := wholeImport{tx: tx, before: tx.chains.tail}
	for l, err := range lines {
		if err != nil {
			return w.got, err
		}
		if err := w.take(&l.Entry); err != nil {
			return w.got, &events.LineError{N: l.N, Err: err}
		}
		if n := w.got.Added + w.got.Known; progress != nil && n%progressEvery == 0 {
			progress(n)
		}
	}
	return w.got, nil
}

// wholeImport takes whole lines into a book, one after the other.
type wholeImport struct {
	tx     *Tx
	before int64 // the book's last entry when it began
	got    Imported
}

func (w *wholeImport) take(e *events.Entry) error {
	if e.Stored == nil {
		return errors.New("the line has no hash; lines without one are taken in as acts")
	}
	seq, err := w.has(e)
	switch {
	case err != nil:
		return err
	case seq > w.before:
		return errors.New("the same line stands twice")
	case seq > 0:
		w.got.Known++
		return nil
	}
	if err := w.tx.chains.place(e, w.before == 0); err != nil {
		return err
	}
	w.got.Added++
	return w.tx.insert(e, w.tx.meanings.byChain)
}

// has looks for the entry in the book, but not where e plainly continues the end of its chain.
func (w *wholeImport) has(e *events.Entry) (int64, error) {
	if id, ok := w.tx.chains.byHash[e.Prev]; ok && w.tx.chains.heads[id].Book == e.Book {
		return 0, nil
	}
	return w.tx.file.has(e)
}

// A page of the file whose rows stand out of order sends a search back to where it has been. Whoever asks for the rows
// behind the last one he saw would be given the same ones for ever, so every walk holds that it gets on.

// inOrder is a walk through the entries by their numbers in the file.
type inOrder struct{ last int64 }

// beforeAll is smaller than the number of any row.
const beforeAll = int64(math.MinInt64)

// next takes the number of the next row.
//
// Errors: it is none behind the last (events.ErrDamaged).
func (o *inOrder) next(seq int64) error {
	if seq <= o.last {
		return damaged(misplaced(seq, o.last))
	}
	o.last = seq
	return nil
}

// misplaced says where a row stands that should have come before.
func misplaced(seq, last int64) string {
	if last == 0 {
		return fmt.Sprintf("an entry has the number %d, where the first must have 1", seq)
	}
	return fmt.Sprintf("entry number %d stands behind number %d, so the order of the entries is lost", seq, last)
}

// fallingRanks holds that views come by falling rank, none above the largest that was asked for.
//
// Errors: they do not (events.ErrDamaged).
func fallingRanks(views []events.View, most int64) error {
	if most == 0 {
		most = math.MaxInt64
	}
	for _, v := range views {
		if v.Rank > most {
			return fmt.Errorf("%w: the kept views are out of order; `traybook verify` tells where, `traybook rebuild` makes them anew", events.ErrDamaged)
		}
		most = v.Rank
	}
	return nil
}

// chainsInOrder holds that the chains are numbered from 1 on and that each grew from an earlier one, so that going from
// a chain to what it grew from comes to an end.
//
// Errors: they are not (events.ErrDamaged).
func chainsInOrder(rows map[int64]*chainRow) error {
	for _, id := range slices.Sorted(maps.Keys(rows)) {
		if text := rows[id].misgrown(id, len(rows)); text != "" {
			return damaged(text)
		}
	}
	return nil
}

// misgrown says what is wrong with the place of a chain among n chains, "" for nothing.
func (r *chainRow) misgrown(id int64, n int) string {
	switch {
	case id < 1 || id > int64(n):
		return fmt.Sprintf("the list of chains holds a number %d, where there are %d", id, n)
	case r.parent < 0 || r.parent >= id:
		return fmt.Sprintf("chain %d is said to have grown from chain %d, which did not come before it", id, r.parent)
	}
	return ""
}

// keptRow is one entry as the file holds it: the stored bytes and what stands beside them.
type keptRow struct {
	seq        int64
	body       []byte
	prev, hash events.Hash
	kept       columns
	entry      events.Entry // decoded from the body
	err        error        // why it could not be
	unfit      error        // what the reader of lines has against it, where that was asked for
}

const pageRows = 500

// pages gives every row in the order of arrival, a page at a time. The consumer may use the transaction between two, and
// may change the rows it was given. judge has each row held against the reader of lines as well.
func (s *statements) pages(judge bool) iter.Seq2[[]keptRow, error] {
	return func(yield func([]keptRow, error) bool) {
		var order inOrder
		for from := beforeAll; ; {
			rows, err := s.page(from, &order)
			if err != nil {
				yield(nil, err)
				return
			}
			if len(rows) == 0 {
				return
			}
			from = rows[len(rows)-1].seq
			decode := func(i int) error {
				rows[i].decode(judge)
				return nil
			}
			if err := events.ByTwo(len(rows), decode, decode); err != nil || !yield(rows, nil) {
				return
			}
		}
	}
}

func (r *keptRow) decode(judge bool) {
	if judge {
		r.entry, r.unfit, r.err = events.DecodeJudged(r.body, r.prev, r.hash)
	} else {
		r.entry, r.err = events.Decode(r.body)
	}
	r.entry.Seq, r.entry.Branch, r.entry.Prev, r.entry.Hash = r.seq, r.kept.chain, r.prev, r.hash
}

func (s *statements) page(after int64, order *inOrder) ([]keptRow, error) {
	out := make([]keptRow, 0, pageRows)
	var prev, hash, id, batch sql.RawBytes
	rows, err := s.Query(`SELECT seq, body, prev, hash, id, chain, book_seq, kind, at, stream, box, bath, session, batch
		FROM entry WHERE seq>? ORDER BY seq`+limit(pageRows), after)
	err = each(rows, err, func(row scanner) error {
		out = append(out, keptRow{})
		r := &out[len(out)-1]
		c := &r.kept
		if err := row.Scan(&r.seq, &r.body, &prev, &hash, &id, &c.chain, &c.bookSeq, &c.kind, &c.at, &c.stream, &c.box, &c.bath, &c.session, &batch); err != nil {
			return err
		}
		if err := order.next(r.seq); err != nil {
			return err
		}
		// What has not its length stays zero and fits nothing.
		exact(r.prev[:], prev)
		exact(r.hash[:], hash)
		exact(c.id[:], id)
		exact(c.batch[:], batch)
		return nil
	})
	return out, err
}

func exact(dst, src []byte) {
	if len(dst) == len(src) {
		copy(dst, src)
	}
}
