package sqlite

import (
	"database/sql"
	"iter"

	"traybook/events"
)

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

// pages gives every row in the order of arrival, a page at a time, read and decoded ahead on another core. The consumer
// may use the transaction meanwhile, and may change the rows it was given. judge has each row held against the reader of
// lines as well.
func (tx *Tx) pages(judge bool) iter.Seq2[[]keptRow, error] {
	type page struct {
		rows []keptRow
		err  error
	}
	return func(yield func([]keptRow, error) bool) {
		stop := make(chan struct{})
		raw, decoded := make(chan page, 2), make(chan page, 2)
		send := func(to chan<- page, p page) bool {
			select {
			case to <- p:
				return true
			case <-stop:
				return false
			}
		}
		done := make(chan struct{})
		go func() {
			defer close(done)
			defer close(raw)
			var order inOrder
			for from := beforeAll; ; {
				rows, err := tx.page(from, &order)
				if err != nil {
					send(raw, page{nil, err})
					return
				}
				if len(rows) == 0 || !send(raw, page{rows, nil}) {
					return
				}
				from = rows[len(rows)-1].seq
			}
		}()
		go func() {
			defer close(decoded)
			for p := range raw {
				for i := range p.rows {
					p.rows[i].decode(judge)
				}
				if !send(decoded, p) {
					return
				}
			}
		}()
		// The reader must be gone before the transaction ends.
		defer func() { close(stop); <-done }()
		for p := range decoded {
			if !yield(p.rows, p.err) || p.err != nil {
				return
			}
		}
	}
}

func (r *keptRow) decode(judge bool) {
	r.entry, r.err = events.Decode(r.body)
	r.entry.Seq, r.entry.Branch, r.entry.Prev, r.entry.Hash = r.seq, r.kept.chain, r.prev, r.hash
	if judge && r.err == nil {
		r.unfit = r.entry.Readable()
	}
}

func (tx *Tx) page(after int64, order *inOrder) ([]keptRow, error) {
	out := make([]keptRow, 0, pageRows)
	var prev, hash, id, batch sql.RawBytes
	rows, err := tx.tx.Query(`SELECT seq, body, prev, hash, id, chain, book_seq, kind, at, home, box, bath, session, batch
		FROM entry WHERE seq>? ORDER BY seq LIMIT ?`, after, pageRows)
	err = each(rows, err, func(row scanner) error {
		out = append(out, keptRow{})
		r := &out[len(out)-1]
		c := &r.kept
		if err := row.Scan(&r.seq, &r.body, &prev, &hash, &id, &c.chain, &c.bookSeq, &c.kind, &c.at, &c.home, &c.box, &c.bath, &c.session, &batch); err != nil {
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
