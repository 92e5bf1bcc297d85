package sqlite

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"maps"
	"slices"
	"strconv"
	"sync"
	"time"

	"traybook/events"
)

// chainLink is one entry as the chain sees it.
type chainLink struct {
	seq, chain int64
	prev, hash events.Hash
	got        events.Hash // what prev and the stored bytes give
	lo, hi     int         // the stored bytes in the page's buffer, after the head of what is hashed
	foot       foot
	err        error // why the stored bytes are no entry
}

// foot is what the end of the stored bytes says of an entry's place.
type foot struct {
	id, book events.ID
	bookSeq  int64
	recorded time.Time
}

type chainPage struct {
	links []chainLink
	buf   []byte
	err   error
}

const (
	chainRows = 1000
	tag       = "traybook-entry-1\n"
	headRoom  = len(tag) + 65 // what is hashed before the stored bytes
)

// chainPages reads the entries in their order, ahead of the one who hashes them.
func chainPages(file *statements, stop <-chan struct{}) <-chan *chainPage {
	out := make(chan *chainPage, 4)
	go func() {
		defer close(out)
		rows, err := file.Query("SELECT seq, chain, prev, hash, body FROM entry ORDER BY seq")
		if err != nil {
			out <- &chainPage{err: translate(err)}
			return
		}
		defer rows.Close()
		row := typedRow{rows}
		for more := true; more; {
			p := usedPages.Get().(*chainPage)
			more = p.fill(rows, row)
			select {
			case out <- p:
			case <-stop:
				return
			}
		}
	}()
	return out
}

// usedPages are pages to be filled again, so that a long book needs no more room than a short one.
var usedPages = sync.Pool{New: func() any {
	return &chainPage{links: make([]chainLink, 0, chainRows), buf: make([]byte, 0, chainRows*768)}
}}

// fill reads as many rows as go on a page, and says whether there may be more.
func (p *chainPage) fill(rows *sql.Rows, row scanner) (more bool) {
	p.links, p.buf, p.err = p.links[:0], p.buf[:0], nil
	var prev, hash, body sql.RawBytes
	for len(p.links) < chainRows {
		if !rows.Next() {
			p.err = translate(rows.Err())
			return false
		}
		var l chainLink
		if err := row.Scan(&l.seq, &l.chain, &prev, &hash, &body); err != nil {
			p.err = translate(err)
			return false
		}
		exact(l.prev[:], prev)
		exact(l.hash[:], hash)
		p.buf = append(p.buf, tag...)
		p.buf = hex.AppendEncode(p.buf, l.prev[:])
		p.buf = append(p.buf, '\n')
		l.lo = len(p.buf)
		p.buf = append(p.buf, body...)
		l.hi = len(p.buf)
		p.links = append(p.links, l)
	}
	return true
}

// footOf reads the place of an entry from the end of its stored bytes, so that one whose data is damaged is still named.
func footOf(stored []byte) (foot, error) {
	if f, ok := usualFoot(stored); ok {
		return f, nil
	}
	e, err := events.Decode(stored)
	if err != nil && !errors.Is(err, events.ErrNewer) {
		return foot{}, err
	}
	return foot{e.ID, e.Book, e.BookSeq, e.RecordedAt}, nil
}

// usualFoot is footOf for keys in the order in which they are written.
func usualFoot(stored []byte) (f foot, ok bool) {
	take := func(after, until string) string {
		rest, found := bytes.CutPrefix(stored, []byte(after))
		n := bytes.Index(rest, []byte(until))
		if !found || n < 0 {
			return ""
		}
		stored = rest[n:]
		return string(rest[:n])
	}
	at := bytes.LastIndex(stored, []byte(`},"id":"`))
	if at < 0 {
		return f, false
	}
	stored = stored[at:]
	var err1, err2, err3, err4 error
	f.id, err1 = events.ParseID(take(`},"id":"`, `"`))
	if bytes.HasPrefix(stored, []byte(`","batch":"`)) {
		if _, err := events.ParseID(take(`","batch":"`, `"`)); err != nil {
			return f, false
		}
	}
	f.book, err2 = events.ParseID(take(`","book":"`, `"`))
	f.bookSeq, err3 = strconv.ParseInt(take(`","book_seq":`, `,`), 10, 64)
	f.recorded, err4 = time.Parse(time.RFC3339, take(`,"recorded_at":"`, `"`))
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return f, false
	}
	v, found := bytes.CutPrefix(stored, []byte(`","v":`))
	v, end := bytes.CutSuffix(v, []byte("}"))
	_, err := strconv.Atoi(string(v))
	return f, found && end && err == nil
}

// walker follows the chains.
type walker struct {
	r       *Report
	rows    map[int64]*chainRow
	ends    map[int64]*chainEnd
	lastSeq int64
	tailOf  int64
	head    events.Hash // the remembered one, zero for none
	found   bool
	begins  []begin // chains that leave another in its middle, to be looked up at the end
}

type chainEnd struct {
	bookSeq  int64
	hash     events.Hash
	got      events.Hash
	recorded time.Time
	seq      int64
}

type begin struct {
	chain     int64
	prev      events.Hash
	id        events.ID
	parent    int64
	parentSeq int64
}

// chains goes through every entry: its bytes against its hash, its hash against what it follows, its count.
func (v *verifier) chains() error {
	w := &walker{r: v.r, ends: map[int64]*chainEnd{}}
	if v.o.Head != "" {
		w.head, _ = events.ParseHash(v.o.Head)
	}
	var err error
	if w.rows, err = v.tx.file.chainRows(); err != nil {
		return err
	}
	total := int64(0)
	if err := v.tx.file.QueryRow("SELECT coalesce(max(seq),0) FROM entry").Scan(&total); err != nil {
		return translate(err)
	}
	stop := make(chan struct{})
	defer close(stop) // or a reader that nobody listens to any more would keep the connection
	pages := chainPages(v.tx.file, stop)
	var failed error
	for p := range pages {
		for i := range p.links {
			l := &p.links[i]
			stored := p.buf[l.lo:l.hi]
			l.got = sha256.Sum256(p.buf[l.lo-headRoom : l.hi])
			l.foot, l.err = footOf(stored)
			w.link(l, stored)
		}
		if p.err != nil {
			failed = p.err
		}
		usedPages.Put(p)
		if v.o.Progress != nil {
			v.o.Progress(w.lastSeq, total)
		}
	}
	if failed != nil {
		return failed
	}
	return v.chainEnds(w)
}

func (w *walker) link(l *chainLink, stored []byte) {
	r := w.r
	r.Events++
	id := ""
	if l.err == nil {
		id = l.foot.id.String()
	}
	if l.seq != w.lastSeq+1 {
		if n := l.seq - w.lastSeq - 1; n < 0 {
			r.problem(ProblemOrder, id, "%s", misplaced(l.seq, w.lastSeq))
		} else if n == 1 {
			r.problem(ProblemMissing, id, "entry number %d is missing before this one", l.seq-1)
		} else {
			r.problem(ProblemMissing, id, "entries number %d to %d are missing before this one", w.lastSeq+1, l.seq-1)
		}
	}
	w.lastSeq, w.tailOf = l.seq, l.chain
	if l.err != nil {
		r.problem(ProblemBytes, "", "entry number %d: %s", l.seq, l.err)
	}
	row := w.rows[l.chain]
	if row == nil || l.err == nil && row.book != l.foot.book {
		r.problem(ProblemChain, id, "entry number %d stands on chain %d, but belongs to the book %s", l.seq, l.chain, l.foot.book)
		// It may be the number beside the bytes that is wrong: go on where the entry fits.
		for n, end := range w.ends {
			if end.hash == l.prev {
				l.chain, row = n, w.rows[n]
			}
		}
		if row == nil {
			return
		}
		w.tailOf = l.chain
	}
	end := w.ends[l.chain]
	before, known := events.Hash{}, true
	switch {
	case end != nil:
		before = end.hash
	case row.parent != 0:
		p := w.ends[row.parent]
		if known = p != nil && p.bookSeq == row.parentSeq; known {
			before, end = p.hash, p
		} else {
			w.begins = append(w.begins, begin{l.chain, l.prev, l.foot.id, row.parent, row.parentSeq})
		}
	}
	fits := l.prev == before || end != nil && l.prev == end.got
	switch {
	case l.got != l.hash && known && !fits && l.hash == events.HashOf(before, stored):
		r.problem(ProblemLink, id, "entry number %d: the hash of the entry before it was changed beside it; its own bytes are whole", l.seq)
	case l.got != l.hash:
		r.problem(ProblemHash, id, "entry number %d was changed: its hash is %s…, its bytes give %s…", l.seq, l.hash.String()[:8], l.got.String()[:8])
	case known && !fits:
		r.problem(ProblemLink, id, "entry number %d does not follow the one before it in its chain", l.seq)
	}
	next := &chainEnd{hash: l.hash, got: l.got, seq: l.seq}
	if l.err != nil { // its place is not to be read: take it for the right one
		if w.ends[l.chain] != nil {
			next.bookSeq, next.recorded = w.ends[l.chain].bookSeq+1, w.ends[l.chain].recorded
		} else {
			next.bookSeq = 1
		}
	} else {
		w.count(l, row, id)
		next.bookSeq, next.recorded = l.foot.bookSeq, l.foot.recorded
	}
	if w.ends[l.chain] == nil && row.first != l.seq {
		r.problem(ProblemChain, id, "chain %d is said to begin at entry number %d, it begins at %d", l.chain, row.first, l.seq)
	}
	w.ends[l.chain] = next
	w.found = w.found || l.hash == w.head
}

// count holds book_seq and recorded_at against the entry before.
func (w *walker) count(l *chainLink, row *chainRow, id string) {
	end, want := w.ends[l.chain], int64(1)
	switch p := w.rows[row.parent]; {
	case end != nil:
		want = end.bookSeq + 1
	case p != nil && p.book == row.book:
		want = row.parentSeq + 1
	}
	if l.foot.bookSeq != want {
		w.r.problem(ProblemMissing, id, "entry number %d has book_seq %d, it should be %d: entries of its chain are missing or stand elsewhere", l.seq, l.foot.bookSeq, want)
	}
	if end != nil && l.foot.recorded.Before(end.recorded) {
		w.r.problem(ProblemOrder, id, "entry number %d was recorded before the entry that it follows", l.seq)
	}
}

// chainEnds looks at the ends: the list of chains, forks, the own chain, the remembered head.
func (v *verifier) chainEnds(w *walker) error {
	for _, b := range w.begins {
		var hash []byte
		err := v.tx.file.QueryRow("SELECT hash FROM entry WHERE chain=? AND book_seq=?", b.parent, b.parentSeq).Scan(&hash)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return translate(err)
		}
		if !bytes.Equal(hash, b.prev[:]) {
			v.r.problem(ProblemLink, b.id.String(), "chain %d does not begin where it is said to have grown from", b.chain)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(w.rows)) {
		if text := w.rows[id].misgrown(id, len(w.rows)); text != "" {
			v.r.problem(ProblemChain, "", "%s", text)
		}
	}
	for id := int64(1); id <= int64(len(w.rows)); id++ {
		row, end := w.rows[id], w.ends[id]
		switch {
		case row == nil:
			v.r.problem(ProblemChain, "", "chain %d is missing in the list of chains", id)
			continue
		case end == nil:
			v.r.problem(ProblemChain, "", "chain %d has no entries", id)
			continue
		}
		last := end.seq
		if id == w.tailOf {
			last = 0
		}
		if row.last != last {
			v.r.problem(ProblemChain, "", "chain %d is said to end at entry number %d, it ends at %d; `traybook rebuild` puts it right", id, row.last, end.seq)
		}
		v.r.Heads = append(v.r.Heads, Head{Chain: id, Book: row.book, BookSeq: end.bookSeq, Hash: end.hash, RecordedAt: end.recorded})
		if p := w.rows[row.parent]; p != nil && p.book == row.book {
			v.r.note("the book %s went on twice after its entry %d: two copies of it were joined, and both branches are kept", row.book, row.parentSeq)
		}
	}
	own, err := v.tx.Meta("own_chain")
	if err != nil {
		return err
	}
	n, err := strconv.ParseInt(own, 10, 64)
	if own != "" && (err != nil || w.rows[n] == nil) {
		v.r.problem(ProblemChain, "", "the file's own chain is said to be %q; there is none such", own)
	}
	if own == "" {
		n = w.tailOf
	}
	for _, h := range v.r.Heads {
		if h.Chain == n {
			v.r.Head = h
		}
	}
	if v.o.Head != "" && !w.found {
		v.r.problem(ProblemHead, "", "no entry has the hash %s: entries that were in the book when it was noted are gone or changed", v.o.Head)
	}
	return nil
}
