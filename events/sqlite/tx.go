package sqlite

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"time"

	"traybook/events"
)

// Tx is one look at the book, or one write to it: everything inside sees the same state.
type Tx struct {
	b           *Book
	file        *statements
	names       *nameIndex
	into        derivedRows // where what is worked out from the entries goes
	meanings    *meanings
	chains      *chains
	views       *views
	corrections *corrections
	remembered  remembered
	*sitters
	bulk *bulkLoad // nil where entries come one by one
}

var _ events.Writer = (*Tx)(nil)

// newTx knows nothing of the book yet. What is worked out from entries goes into some place.
func newTx(b *Book, file *statements, into derivedRows) *Tx {
	tx := &Tx{b: b, file: file, into: into, names: newNameIndex(file, into), chains: &chains{file: file}}
	tx.views = &views{file: file, names: tx.names, book: tx, folder: b.folder, stale: b.stale, ro: b.ro, isTouch: map[int64]bool{}}
	tx.sitters = &sitters{file: file, names: tx.names, chains: tx.chains}
	tx.meanings = &meanings{file: file, names: tx.names, chains: tx.chains, remembered: &tx.remembered}
	tx.corrections = &corrections{file: file, names: tx.names, chains: tx.chains, meanings: tx.meanings, into: into, views: tx.views, remembered: &tx.remembered}
	return tx
}

// Read runs f on one unchanging state of the book.
func (b *Book) Read(f func(*Tx) error) error {
	if b.joined != nil && b.joined.tx != nil {
		return translate(f(b.joined.tx))
	}
	tx, err := b.start(true)
	if err != nil {
		return err
	}
	defer tx.file.leave()
	if err := f(tx); err != nil {
		return translate(err)
	}
	return translate(tx.file.finish("ROLLBACK"))
}

// ReadTwice runs f with two looks at one unchanging state of the book. Each has a connection of its own, so that two goroutines
// may look at once, each by one of them.
func (b *Book) ReadTwice(f func(one, other *Tx) error) error {
	b.db.SetMaxOpenConns(2)
	defer b.db.SetMaxOpenConns(1)
	one, other, err := b.startTwice()
	if err != nil {
		return translate(err)
	}
	defer one.file.leave()
	defer other.file.leave()
	if err := f(one, other); err != nil {
		return translate(err)
	}
	return translate(cmp.Or(one.file.finish("ROLLBACK"), other.file.finish("ROLLBACK")))
}

// startTwice begins two looks at one state.
func (b *Book) startTwice() (one, other *Tx, err error) {
	if one, err = b.start(true); err != nil {
		return nil, nil, err
	}
	if other, err = b.start(true); err != nil {
		one.file.leave()
		return nil, nil, err
	}
	if err = seeAlike(one.file, other.file, b.path); err != nil {
		one.file.leave()
		other.file.leave()
	}
	return one, other, err
}

// seeAlike begins two transactions that only read anew, until nobody wrote between the one and the other: the other saw the
// same before the one began and after it. Where the folder cannot be written SQLite reads the log anew for each transaction and
// numbers each as another state: there the files themselves tell that nobody wrote.
func seeAlike(one, other *statements, path string) error {
	before, err := other.state()
	for tries := range mostLooks {
		files := filesAsTheyStand(path)
		if err = cmp.Or(err, one.again(), other.again()); err != nil {
			return err
		}
		now, failed := other.state()
		if err = failed; err != nil || now == before || tries > fewLooks && files == filesAsTheyStand(path) {
			return err
		}
		before = now
	}
	return events.ErrBusy
}

// A writer comes seldom between two looks that begin within microseconds of each other: after a few something else moves the
// number of the state, and after many the book is in use.
const (
	fewLooks  = 10
	mostLooks = 1000
)

// filesAsTheyStand are size and time of a book's file and its log.
func filesAsTheyStand(path string) (out [2]struct{ size, changed int64 }) {
	for i, at := range []string{path, path + "-wal"} {
		if info, err := os.Stat(at); err == nil {
			out[i].size, out[i].changed = info.Size(), info.ModTime().UnixNano()
		}
	}
	return out
}

// Write runs f in one immediate transaction: what it appended is kept whole, or, after an error, not at all. An erasure
// that was stopped halfway is finished after it.
func (b *Book) Write(f func(*Tx) error) error {
	if b.joined != nil {
		return b.joined.write(b, f)
	}
	var j joined
	defer j.leave()
	j.write(b, f)
	return b.end(&j)
}

// Together joins every write to the book that f does into one transaction, which the first of them begins: all of them are
// kept, or, after an error of f or of one of them, none. Nobody else uses this opening of the book meanwhile.
func (b *Book) Together(f func() error) error {
	j := &joined{}
	defer j.leave()
	b.joined = j
	defer func() { b.joined = nil }()
	if err := f(); err != nil {
		return err
	}
	b.joined = nil
	return b.end(j)
}

// joined is the one transaction of several writes.
type joined struct {
	tx         *Tx  // nil until the first
	unfinished bool // an erasure was stopped halfway before it
	failed     error
}

// write runs f inside the transaction, and begins it where it is the first.
func (j *joined) write(b *Book, f func(*Tx) error) error {
	err := j.begin(b)
	if err == nil {
		err = translate(f(j.tx))
	}
	if err != nil && j.failed == nil {
		j.failed = err
	}
	return err
}

func (j *joined) begin(b *Book) (err error) {
	if j.tx != nil {
		return nil
	}
	if j.tx, err = b.start(false); err != nil {
		return err
	}
	pending, err := j.tx.Meta(scrubPending)
	j.unfinished = pending != ""
	return translate(err)
}

// leave takes back what was not kept.
func (j *joined) leave() {
	if j.tx != nil {
		j.tx.file.leave()
		j.tx = nil
	}
}

// end keeps what was written, unless one of the writes failed.
func (b *Book) end(j *joined) error {
	if j.failed != nil || j.tx == nil {
		return j.failed
	}
	if err := j.tx.sitters.forgetPaths(); err != nil {
		return translate(err)
	}
	if err := b.keep(j.tx); err != nil {
		return err
	}
	forgot := j.tx.sitters.forgot
	j.leave() // its connection is wanted by what follows
	if forgot {
		return b.removeTraces()
	}
	if j.unfinished && !b.ro {
		b.scrub(scrubInPassingMS) // what was written is in, whatever becomes of this; verify and today tell what is left
	}
	return nil
}

// Parts is a write of the book in parts. Each part sees what those before it left, and is kept or taken back by itself; what
// all of them leave is kept whole or not at all.
type Parts struct {
	b     *Book
	whole *Tx // caches nothing: each part looks for itself
}

// InParts runs f in one immediate transaction, which is kept where f gives no error.
func (b *Book) InParts(f func(*Parts) error) error {
	return b.Write(func(tx *Tx) error { return f(&Parts{b, tx}) })
}

// Read looks at the book as the parts before left it.
func (p *Parts) Read(f func(*Tx) error) error {
	return translate(f(newTx(p.b, p.whole.file, p.whole.file)))
}

// Write runs f as one part: after an error nothing is left of it.
func (p *Parts) Write(f func(*Tx) error) error {
	return p.apart(func() (keep bool, err error) {
		tx := newTx(p.b, p.whole.file, p.whole.file)
		if err = f(tx); err == nil {
			err = tx.sitters.forgetPaths()
		}
		if err == nil {
			err = tx.views.foldTouched()
		}
		if err == nil {
			p.whole.sitters.forgot = p.whole.sitters.forgot || tx.sitters.forgot
			if tx.chains.clockBack != nil {
				p.whole.chains.clockBack = tx.chains.clockBack
			}
		}
		return err == nil, err
	})
}

// Dream runs f, which may write parts of its own, and takes back whatever they left.
func (p *Parts) Dream(f func() error) error {
	return p.apart(func() (bool, error) { return false, f() })
}

// apart runs f within the transaction so that it can be taken back without the rest.
func (p *Parts) apart(f func() (keep bool, err error)) error {
	file := p.whole.file
	if _, err := file.Exec("SAVEPOINT part"); err != nil {
		return translate(err)
	}
	keep, err := f()
	if !keep {
		if _, back := file.Exec("ROLLBACK TO part"); back != nil { // SQLite took the whole back by itself
			return translate(cmp.Or(err, back))
		}
	}
	if _, left := file.Exec("RELEASE part"); err == nil {
		err = left
	}
	return translate(err)
}

// change runs f in a transaction that looks after no erasure.
func (b *Book) change(f func(*Tx) error) error {
	tx, err := b.start(false)
	if err != nil {
		return err
	}
	defer tx.file.leave()
	if err := f(tx); err != nil {
		return translate(err)
	}
	return b.keep(tx)
}

// start begins a transaction.
func (b *Book) start(read bool) (*Tx, error) {
	if !read && !b.present() {
		return nil, trouble(fmt.Sprintf("the book is no longer at %s: it was moved or removed while the program ran; nothing was written: put it back, or name it where it is now", b.path))
	}
	statements, err := b.begin(read || b.ro)
	if err != nil {
		return nil, translate(err)
	}
	return newTx(b, statements, statements), nil
}

// keep folds what was touched and commits.
func (b *Book) keep(tx *Tx) error {
	if b.ro {
		return translate(tx.file.finish("ROLLBACK"))
	}
	if err := tx.views.foldTouched(); err != nil {
		return translate(err)
	}
	if tx.bulk != nil && tx.bulk.lifted {
		if err := tx.file.restoreTriggers(); err != nil {
			return err
		}
	}
	var changes int64
	if err := tx.file.QueryRow("SELECT total_changes()").Scan(&changes); err != nil {
		return translate(err)
	}
	if changes > 0 && b.committing != nil {
		b.committing()
	}
	if err := tx.file.finish("COMMIT"); err != nil {
		return translate(err)
	}
	b.written = b.written || changes > 0
	if b.clockBack == nil {
		b.clockBack = tx.chains.clockBack
	}
	if !b.present() {
		return trouble(fmt.Sprintf("the book was moved or removed from %s while this was written: if it was moved, look there whether it is in before doing it again", b.path))
	}
	return nil
}

// present says whether the book that was opened still stands at its place. SQLite goes on writing into a file that was
// moved away or removed, and what it acknowledges there may be lost.
func (b *Book) present() bool {
	now, err := os.Stat(b.path)
	if errors.Is(err, fs.ErrNotExist) {
		return false
	}
	return err != nil || b.file == nil || os.SameFile(b.file, now)
}

const (
	entryColumns = "e.seq, e.body, e.prev, e.hash, e.chain"
	// foundColumns say besides whether something voids or amends the entry, so that this is looked for where it is so, and the
	// stream that it belongs to.
	foundColumns = entryColumns + ", EXISTS (SELECT 1 FROM correction k WHERE k.target=e.seq), e.stream"
)

// found are entries as a query finds them, which of them have voids or amendments linked to them, and their streams.
type found struct {
	entries []events.Entry
	mended  []int64
	streams []int64
}

func (s *statements) found(text string, args ...any) (out found, err error) {
	rows, err := s.Query(text, args...)
	err = each(rows, err, func(row scanner) error {
		var mended bool
		var stream int64
		e, err := scanEntry(row, &mended, &stream)
		if mended {
			out.mended = append(out.mended, e.Seq)
		}
		if n := len(out.streams); n == 0 || out.streams[n-1] != stream {
			out.streams = append(out.streams, stream)
		}
		out.entries = append(out.entries, e)
		return err
	})
	if err != nil {
		return found{}, err
	}
	return out, nil
}

// scanEntry reads an entry, and what the row tells besides.
func scanEntry(row scanner, besides ...any) (events.Entry, error) {
	var seq, chain int64
	var body []byte
	var prev, hash digest
	if err := row.Scan(append([]any{&seq, &body, &prev, &hash, &chain}, besides...)...); err != nil {
		return events.Entry{}, err
	}
	e, err := events.Decode(body)
	if err != nil {
		return e, fmt.Errorf("%w: entry number %d: %w", events.ErrDamaged, seq, err)
	}
	e.Prev, e.Hash = events.Hash(prev), events.Hash(hash)
	e.Seq, e.Branch = seq, chain
	return e, nil
}

// digest takes a hash out of a row without a copy of its own. What is no hash becomes zero, for verify to find.
type digest events.Hash

// Scan reads 32 bytes.
func (d *digest) Scan(v any) error {
	*d = digest{}
	if b, ok := v.([]byte); ok && len(b) == len(d) {
		copy(d[:], b)
	}
	return nil
}

// Entries runs a query; what comes back brings its voids and amendments along, and names things as this book shows them.
//
// What was asked already is remembered: the entries are shared with others, and must not be changed.
func (tx *Tx) Entries(q events.Query) ([]events.Entry, error) {
	ofBatches, err := tx.corrections.anyOfBatches()
	if err != nil {
		return nil, err
	}
	q.Counted = q.Counted && ofBatches // it is of their voids alone
	if !ofBatches && isBack(q) {
		if out, known, err := tx.back(q); known || err != nil {
			return out, err
		}
	}
	return tx.remembered.of(questionOf(q), func() ([]events.Entry, error) { return tx.ask(q) })
}

// ask runs a query on the file.
func (tx *Tx) ask(q events.Query) ([]events.Entry, error) {
	var where []string
	var args []any
	from := "entry e"
	for _, c := range []struct {
		col string
		id  int64
	}{{"stream", q.Stream}, {"box", q.Box}, {"bath", q.Bath}, {"session", q.Session}} {
		if c.id != 0 {
			where, args = append(where, "e."+c.col+"="+given), append(args, c.id)
		}
	}
	if q.Cites != 0 {
		from = "cite c JOIN entry e ON e.seq=c.seq"
		where, args = append(where, "c.entity="+given), append(args, q.Cites)
		if t, err := tx.EntityByID(q.Cites); err != nil {
			return nil, err
		} else if t.Kind == events.Sitter {
			from, where = citedOrAmended+" c JOIN entry e ON e.seq=c.seq", nil
			args = []any{q.Cites, q.Cites}
		}
	}
	if len(q.Kinds) > 0 {
		where = append(where, "e.kind IN (?"+strings.Repeat(",?", len(q.Kinds)-1)+")")
		for _, k := range q.Kinds {
			args = append(args, string(k))
		}
	}
	if !q.From.IsZero() {
		where, args = append(where, "e.at>=?"), append(args, q.From.UnixMicro())
	}
	if !q.To.IsZero() {
		where, args = append(where, "e.at<=?"), append(args, q.To.UnixMicro())
	}
	if q.Written { // along the numbers of the rows, from the last one down
		where = append(where, "e.seq<=(SELECT max(seq) FROM entry)")
	}
	text := "SELECT " + foundColumns + " FROM " + from
	if len(where) > 0 {
		text += " WHERE " + strings.Join(where, " AND ")
	}
	switch {
	case q.Written:
		text += " ORDER BY e.seq DESC"
	case q.Newest:
		text += " ORDER BY e.at DESC, e.seq DESC"
	case q.Limit > 0:
		text += " ORDER BY e.at, e.seq"
	}
	text += limit(q.Limit)
	found, err := tx.file.found(text, args...)
	if err != nil {
		return nil, err
	}
	if q.Stream == 0 { // whoever asks for what belongs to other things asks for those next, by their names
		if err := tx.names.lookUp(found.streams); err != nil {
			return nil, err
		}
	}
	all, err := tx.corrections.withMenders(found, q.Counted)
	if err != nil {
		return nil, err
	}
	return tx.meanings.shown(all)
}

// citedOrAmended are the numbers of the entries that cite a sitter, and of those in which an amendment that does so sets it.
const citedOrAmended = `(SELECT seq FROM cite WHERE entity=? UNION
	SELECT t.seq FROM cite k JOIN entry a ON a.seq=k.seq AND a.kind='entry.amended' JOIN entry t ON t.id=unhex(json_extract(a.body,'$.data.entry'))
	WHERE k.entity=? AND json_valid(a.body))`

// SQLite compiles a statement anew each time that another value is bound to a parameter on which its plan may depend: that of
// a limit, and one that a column of an answer in some order, or of a join, is to equal. So a limit is written out, and such a
// parameter stands behind a plus, which changes nothing else.
const given = "+?"

// limit bounds an answer, for 0 not at all.
func limit(n int) string {
	if n == 0 {
		return ""
	}
	return " LIMIT " + strconv.Itoa(n)
}

func (s *statements) entries(text string, args ...any) ([]events.Entry, error) {
	rows, err := s.Query(text, args...)
	return collect(rows, err, func(row scanner) (events.Entry, error) { return scanEntry(row) })
}

// listed writes numbers as json_each reads them: what is asked for together is asked for in one statement.
func listed(numbers []int64) string {
	b := []byte{'['}
	for i, n := range numbers {
		if i > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendInt(b, n, 10)
	}
	return string(append(b, ']'))
}

// Find gives the entries whose id begins with the hex digits.
func (tx *Tx) Find(prefix string) ([]events.Entry, error) {
	low, high, ok := idRange(prefix)
	if !ok {
		return nil, nil
	}
	return tx.remembered.of(question{id: prefix}, func() ([]events.Entry, error) {
		return tx.file.entries("SELECT "+entryColumns+" FROM entry e WHERE e.id BETWEEN ? AND ? ORDER BY e.seq LIMIT 100", low[:], high[:])
	})
}

// StreamOf is the stream of a kept entry.
func (tx *Tx) StreamOf(id events.ID) (events.Entity, error) { return tx.names.streamOf(id) }

// Each calls f with every entry in the order of arrival, streamed. f must not use the transaction.
func (tx *Tx) Each(f func(events.Entry) error) error {
	joined, err := tx.chains.joined() // asked before the rows are open
	if err != nil {
		return err
	}
	var order inOrder
	rows, err := tx.file.Query("SELECT " + entryColumns + " FROM entry e ORDER BY e.seq")
	return each(rows, err, func(row scanner) error {
		e, err := scanEntry(row)
		if err != nil {
			return err
		}
		if err := order.next(e.Seq); err != nil {
			return err
		}
		if joined {
			if e, err = tx.meanings.shownOne(e); err != nil {
				return err
			}
		}
		return f(e)
	})
}

// Count is the number of entries in the book.
func (tx *Tx) Count() (int64, error) {
	var n int64
	err := tx.file.QueryRow("SELECT count(*) FROM entry").Scan(&n)
	return n, translate(err)
}

// LastSeq is the place of the entry that arrived last, 0 in an empty book: it grows with every write.
func (tx *Tx) LastSeq() (int64, error) {
	var n int64
	err := tx.file.QueryRow("SELECT coalesce(max(seq), 0) FROM entry").Scan(&n)
	return n, translate(err)
}

// NewestRecorded is the latest recorded_at in the book: the `now` of exports.
func (tx *Tx) NewestRecorded() (time.Time, error) {
	heads, err := tx.Heads()
	if err != nil {
		return time.Time{}, err
	}
	var t time.Time
	for _, h := range heads {
		if h.RecordedAt.After(t) {
			t = h.RecordedAt
		}
	}
	return t, nil
}

func (s *statements) ints(text string, args ...any) ([]int64, error) {
	rows, err := s.Query(text, args...)
	return collect(rows, err, func(row scanner) (v int64, err error) {
		err = row.Scan(&v)
		return v, err
	})
}
