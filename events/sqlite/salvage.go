package sqlite

import (
	"cmp"
	"crypto/sha256"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"traybook/events"
	people "traybook/events/names"
	"traybook/events/sqlite/rawfile"
)

// Salvaged says what was saved from a damaged book.
type Salvaged struct {
	Kept       int64 // entries kept byte for byte in their chains
	Rewritten  int64 // entries behind a gap: kept under their ids, in the new book's own chain
	Missing    int64 // entries that must have been there and cannot be read, as far as the count tells
	Head       events.Hash
	Sitters    int
	Thumbnails int
	Problems   []Problem  // what cannot be saved, with the entry where it can be told
	ClockBack  *ClockBack // nil where the clock stood after all that was saved
}

// Salvage reads what can be read of the damaged book at old, which is only looked at, and writes it to a new book at
// new. Entries are believed where their hashes bear them out, wherever in the file they lie. Each chain is kept whole up
// to its first gap; what comes after a gap is written anew, under its own id, in a chain of the new book, which opened
// begins: a book.salvaged whose Book, ID, At and RecordedAt are set; the rest is set here. The new book verifies.
func Salvage(old, new string, o Options, opened events.Entry) (Salvaged, error) {
	if err := rawfile.PlainFiles(rawfile.OwnPlace(old)); err != nil {
		return Salvaged{}, fmt.Errorf("%s cannot be read: %w", old, err)
	}
	if err := peek(old); errors.Is(err, events.ErrNewer) { // what it means is for the newer version to say
		return Salvaged{}, fmt.Errorf("%s: %w", old, err)
	}
	q, err := rawfile.OpenQuarry(old)
	if err != nil {
		return Salvaged{}, fmt.Errorf("%s cannot be read: %w", old, rawfile.Reason(err))
	}
	defer q.Close()
	s, err := carve(q)
	if err != nil {
		return s.out, err
	}
	if q.Log != nil && q.Log.Lost() {
		s.out.Problems = append(s.out.Problems, Problem{ProblemLog, "", q.Log.Says(old)})
	}
	abs, err := absolute(new)
	if err != nil {
		return s.out, err
	}
	if err := vacant(abs, new); err != nil {
		return s.out, err
	}
	tmp, err := newTemp(abs)
	if err != nil {
		return s.out, err
	}
	defer tmp.discard()
	if err := s.fill(tmp.path, o, opened, strings.ToValidUTF8(filepath.Base(old), "\ufffd")); err != nil {
		return s.out, fmt.Errorf("%s: %w", new, tmp.because(err))
	}
	return s.out, tmp.take(abs, false)
}

// carve finds all entries of a file, and settles which can be believed.
func carve(q *rawfile.Quarry) (*salvage, error) {
	s := &salvage{q: q, byHash: map[events.Hash]int{}, kept: map[line]int64{}, unread: map[int64]Problem{}}
	if err := s.gather(); err != nil {
		return s, err
	}
	s.settle()
	return s, nil
}

// fill makes the new book, and checks it.
func (s *salvage) fill(path string, o Options, opened events.Entry, from string) error {
	if err := build(path, o); err != nil {
		return err
	}
	b, err := connect(path, o)
	if err != nil {
		return err
	}
	defer b.Close()
	if err := b.Write(func(tx *Tx) error { return s.write(tx, opened, from) }); err != nil {
		return err
	}
	s.out.ClockBack = b.ClockBack()
	r, err := b.Verify(VerifyOptions{})
	if err == nil && !r.OK {
		err = fmt.Errorf("what was saved does not verify: %s", r.Problems[0].Text)
	}
	return errors.Join(err, b.Close())
}

// find is one entry found in the file.
type find struct {
	where           rawfile.Cell
	rowid, chain    int64
	prev, hash, got events.Hash
	id, book        events.ID
	bookSeq         int64
	sound, in       bool
	behind          bool // found only behind the damage in the log
	kind            events.Kind
}

type salvage struct {
	q        *rawfile.Quarry
	finds    []find
	byHash   map[events.Hash]int // sound ones
	kept     map[line]int64      // the new book's number of each chain that was kept
	unread   map[int64]Problem   // rows that were entries and whose bytes are none
	behind   bool                // what is found lies behind the damage in the log
	meanings []meaningRow
	sitters  []events.SitterRow
	former   []events.SitterRow // names that sitters bore before
	thumbs   []rawfile.Cell
	out      Salvaged
}

type meaningRow struct {
	chain int64
	name  string
	entry events.ID
}

// gather carves the file and sorts what it finds by its shape.
//
// Where the log is damaged the pages are read three times: as SQLite takes them in, as they stood at the end, and in every
// state behind the damage, since the last state of a page may be the damaged one. What stands beside the entries is taken
// as it stood at the end alone, for rows that were taken out must not come back.
func (s *salvage) gather() error {
	if err := s.q.Each(false, s.row); err != nil || len(s.q.Behind()) == 0 {
		return err
	}
	s.behind, s.meanings, s.sitters, s.former, s.thumbs = true, nil, nil, nil, nil
	s.q.BringBehind()
	if err := s.q.Each(true, s.row); err != nil {
		return err
	}
	return s.q.EachVersion(func(r rawfile.CarvedRow) error { s.entryIn(r); return nil })
}

// entryWidth is how many columns the table of entries has, and no other.
const entryWidth = 14

// entryIn takes a row for an entry where it has the shape of one. What its columns hold may be damaged: that is told, or put
// right by what the hashes of its neighbours bear out.
func (s *salvage) entryIn(r rawfile.CarvedRow) bool {
	v := r.Values
	if len(v) < 6 || v[0] != nil || len(v) != entryWidth && (!isBlob(v[2]) || !isBlob(v[3])) {
		return false
	}
	s.found(r)
	return true
}

// bytesIn are those of a text or a blob; a damaged row may have the one for the other.
func bytesIn(v any) []byte {
	switch x := v.(type) {
	case string:
		return []byte(x)
	case []byte:
		return x
	}
	return nil
}

// row sorts a row by its shape. A row whose values are not of the kinds that its table allows is damaged, and left out.
func (s *salvage) row(r rawfile.CarvedRow) error {
	if s.entryIn(r) || s.q.Free[r.Where.Page] {
		return nil
	}
	v := r.Values
	switch {
	case len(v) == 2 && isText(v[0]) && isText(v[1]):
		key, lines := v[0].(string), v[1].(string)
		if ref, ok := strings.CutPrefix(key, formerNames); ok && events.IsSitter(ref) {
			s.former = append(s.former, formerRows(key, lines)...)
		}
	case len(v) == 3 && isNumber(v[0]) && isText(v[1]) && isBlob(v[2]):
		if len(v[2].([]byte)) == 16 {
			m := meaningRow{chain: v[0].(int64), name: v[1].(string)}
			copy(m.entry[:], v[2].([]byte))
			s.meanings = append(s.meanings, m)
		}
	case len(v) == 3 && isText(v[0]) && isText(v[1]) && isText(v[2]):
		if ref := v[0].(string); events.IsSitter(ref) {
			s.sitters = append(s.sitters, events.SitterRow{Ref: ref, Name: v[1].(string), Contact: v[2].(string)})
		}
	case len(v) == 5 && isBlob(v[0]) && isBlob(v[1]) && isNumber(v[2]) && isNumber(v[3]) && isText(v[4]):
		if len(v[0].([]byte)) == 32 && strings.HasPrefix(string(v[1].([]byte)), "\xff\xd8") {
			s.thumbs = append(s.thumbs, r.Where)
		}
	}
	return nil
}

func isText(v any) bool { _, ok := v.(string); return ok }

func isNumber(v any) bool { _, ok := v.(int64); return ok }

func isBlob(v any) bool { _, ok := v.([]byte); return ok }

func (s *salvage) found(r rawfile.CarvedRow) {
	f := find{where: r.Where, rowid: r.Rowid, behind: s.behind}
	body := bytesIn(r.Values[1])
	exact(f.prev[:], bytesIn(r.Values[2]))
	exact(f.hash[:], bytesIn(r.Values[3]))
	f.chain, _ = r.Values[5].(int64)
	e, err := events.Decode(body)
	if err != nil {
		s.unread[f.rowid] = Problem{ProblemBytes, "", fmt.Sprintf("entry number %d: %s", f.rowid, err)}
		return
	}
	f.id, f.book, f.bookSeq, f.kind = e.ID, e.Book, e.BookSeq, e.Kind
	f.got = events.HashOf(f.prev, body)
	f.sound = f.got == f.hash
	if _, twice := s.byHash[f.hash]; twice && f.sound {
		return // a page that was copied within the file
	}
	s.finds = append(s.finds, f)
	if f.sound {
		s.byHash[f.hash] = len(s.finds) - 1
	}
}

// settle looks at entries whose bytes and hashes do not fit, for it may be the hash beside them that is damaged: their
// neighbours know it.
func (s *salvage) settle() {
	type place struct {
		book events.ID
		seq  int64
	}
	follows := map[events.Hash]bool{}
	at := map[place]events.Hash{}
	for _, f := range s.finds {
		if f.sound {
			follows[f.prev] = true
			at[place{f.book, f.bookSeq}] = f.hash
		}
	}
	for i := range s.finds {
		f := &s.finds[i]
		if f.sound {
			continue
		}
		before, known := at[place{f.book, f.bookSeq - 1}]
		switch {
		case follows[f.got]:
			f.hash, f.sound = f.got, true
		case known && events.HashOf(before, s.body(f)) == f.hash:
			f.prev, f.sound = before, true
		default:
			continue
		}
		if _, twice := s.byHash[f.hash]; twice {
			f.sound = false
			continue
		}
		s.byHash[f.hash] = i
	}
	s.tellUnsound()
	s.finds = slices.DeleteFunc(s.finds, func(f find) bool { return !f.sound || s.unfit(&f) })
	slices.SortStableFunc(s.finds, func(a, b find) int { return cmp.Or(cmp.Compare(a.rowid, b.rowid), cmp.Compare(a.bookSeq, b.bookSeq)) })
	seen, largest := map[place]bool{}, map[events.ID]int64{}
	for i, f := range s.finds {
		s.byHash[f.hash] = i
		seen[place{f.book, f.bookSeq}] = true
		largest[f.book] = max(largest[f.book], f.bookSeq)
	}
	for _, n := range largest {
		s.out.Missing += n
	}
	s.out.Missing = max(s.out.Missing-int64(len(seen)), int64(len(s.unread)))
}

// tellUnsound names what is found nowhere as it was written.
func (s *salvage) tellUnsound() {
	type own struct {
		id, book events.ID
		seq      int64
	}
	told := map[own]bool{}
	for _, f := range s.finds {
		if f.sound {
			told[own{f.id, f.book, f.bookSeq}] = true
			delete(s.unread, f.rowid)
		}
	}
	for _, row := range slices.Sorted(maps.Keys(s.unread)) {
		s.out.Problems = append(s.out.Problems, s.unread[row])
	}
	for _, f := range s.finds {
		if me := (own{f.id, f.book, f.bookSeq}); !f.sound && !told[me] {
			told[me] = true
			s.out.Problems = append(s.out.Problems, Problem{ProblemHash, f.id.String(), fmt.Sprintf("entry number %d, a %s, does not fit its hash and is left out", f.rowid, f.kind)})
		}
	}
}

// unfit leaves an entry out that breaks a rule, and tells its whole line, so that the act can be written anew.
func (s *salvage) unfit(f *find) bool {
	e, err := s.entry(f)
	if err != nil {
		return false // told when it is kept
	}
	why := e.Readable()
	if why == nil {
		return false
	}
	e.Seq = f.rowid
	delete(s.byHash, f.hash)
	s.out.Problems = append(s.out.Problems, Problem{ProblemRule, f.id.String(), unfitText(&e, why) + "; it is left out: " + string(e.Stored)})
	return true
}

func (s *salvage) body(f *find) []byte {
	row, ok := s.q.Row(s.q.At(f.where), f.where)
	if !ok || len(row.Values) < 2 {
		return nil
	}
	return bytesIn(row.Values[1])
}

func (s *salvage) entry(f *find) (events.Entry, error) {
	e, err := events.Decode(s.body(f))
	e.Prev, e.Hash = f.prev, f.hash
	return e, err
}

// write fills the new book: the chains as far as they hold, then what lies behind gaps, then what stands beside.
func (s *salvage) write(tx *Tx, opened events.Entry, from string) error {
	if err := tx.chains.load(); err != nil {
		return err
	}
	tx.bulk = &bulkLoad{}
	waiting := map[events.Hash][]int{}
	for i := range s.finds {
		f := &s.finds[i]
		if f.prev != (events.Hash{}) {
			before, found := s.byHash[f.prev]
			if !found {
				continue
			}
			if !s.finds[before].in { // out of order, or behind a gap
				waiting[f.prev] = append(waiting[f.prev], i)
				continue
			}
		}
		for queue := []int{i}; len(queue) > 0; queue = queue[1:] {
			if err := s.keep(tx, &s.finds[queue[0]]); err != nil {
				return err
			}
			queue = append(queue, waiting[s.finds[queue[0]].hash]...)
		}
	}
	if err := s.rewriteAll(tx, opened, from); err != nil {
		return err
	}
	return s.beside(tx)
}

// keep takes an entry in as it is.
func (s *salvage) keep(tx *Tx, f *find) error {
	e, err := s.entry(f)
	if err != nil {
		return err
	}
	chains := len(tx.chains.rows)
	err = tx.chains.place(&e, true)
	if errors.Is(err, errLink) || errors.Is(err, errStranger) {
		// The bytes are sound, the place is not: it goes into the new chain.
		s.out.Problems = append(s.out.Problems, Problem{ProblemLink, f.id.String(), fmt.Sprintf("entry number %d: %s", f.rowid, err)})
		return nil
	}
	if err != nil {
		return err
	}
	if len(tx.chains.rows) > chains {
		for _, m := range s.meanings {
			if m.chain == f.chain {
				if err := tx.meanings.setOverride(e.Branch, m.name, m.entry); err != nil {
					return err
				}
			}
		}
	}
	f.in = true
	s.kept[line{f.book, f.chain}] = e.Branch
	s.out.Kept++
	s.out.Head = e.Hash
	return tx.insert(&e, tx.meanings.byChain)
}

// line is one chain of the old book, as far as it can be told: its name, and the number beside the bytes where two
// branches bear one name.
type line struct {
	book  events.ID
	chain int64
}

// rewriteAll opens the new book's own chain and writes into it what lies behind gaps. Where several chains have gaps,
// each gets a chain of its own to go on in, for they may mean different things by one name.
func (s *salvage) rewriteAll(tx *Tx, opened events.Entry, from string) error {
	var lines []line
	behind := map[line][]int{}
	for i := range s.finds {
		if f := &s.finds[i]; !f.in {
			l := line{f.book, f.chain}
			if behind[l] == nil {
				lines = append(lines, l)
			}
			behind[l] = append(behind[l], i)
		}
	}
	opened.Kind = events.BookSalvaged
	head := s.out.Head.String()
	if people.Of(s.sitters...).In(from) != "" {
		from = "a book whose file bore the name of a sitter"
	}
	begin := func(n int) error {
		d := &events.BookSalvagedData{From: from, Head: head, Missing: int(s.out.Missing)}
		if n > 0 {
			d.Text = fmt.Sprintf("%d entries behind a gap were written anew under their own ids", n)
		}
		e := opened
		e.Data = d
		return tx.Append(&e)
	}
	if len(lines) == 0 {
		return begin(0)
	}
	for i := len(lines) - 1; i >= 0; i-- { // the last one opened is the book's own: that of the first line
		l := lines[i]
		e := opened
		if i > 0 {
			opened.ID, opened.Book = derived(e.ID, l), derived(e.Book, l)
		}
		if err := tx.SetMeta("own_chain", ""); err != nil {
			return err
		}
		tx.chains.own = 0
		if err := begin(len(behind[l])); err != nil {
			return err
		}
		opened = e
		for _, f := range behind[l] {
			if err := s.rewrite(tx, &s.finds[f], opened, len(lines) == 1 && len(s.kept) <= 1); err != nil {
				return err
			}
		}
	}
	return nil
}

// derived makes a further id out of one.
func derived(id events.ID, l line) (out events.ID) {
	sum := sha256.Sum256(fmt.Appendf(nil, "traybook-salvaged\n%s\n%s\n%d", id, l.book, l.chain))
	copy(out[:], sum[:])
	return out
}

// rewrite writes an entry from behind a gap anew. It means by its names what its old chain meant. alone says that the
// old book held one chain.
func (s *salvage) rewrite(tx *Tx, f *find, opened events.Entry, alone bool) error {
	e, err := s.entry(f)
	if err != nil {
		return err
	}
	seq, err := tx.file.ints("SELECT seq FROM entry WHERE id=?", e.ID[:])
	if err != nil || len(seq) > 0 {
		return err // its twin in another chain is here
	}
	old := s.kept[line{f.book, f.chain}]
	e.RecordedAt = opened.RecordedAt
	s.out.Rewritten++
	return tx.appendAs(&e, func(r events.Ref, e *events.Entry) (events.Entity, error) {
		bare, _ := splitRank(r.Name)
		rows, err := tx.names.bearers(bare)
		if err != nil {
			return events.Entity{}, err
		}
		_, told, err := tx.meanings.override(e.Branch, r.Name)
		if err != nil {
			return events.Entity{}, err
		}
		given := slices.ContainsFunc(rows, func(row entityRow) bool { return row.chain == e.Branch })
		switch {
		case told || given || alone || r.Kind == events.Book:
			return tx.meanings.byChain(r, e)
		case old == 0 && r.New:
			return tx.meanings.fresh(r, e)
		case old == 0:
			return tx.meanings.byChain(r, e)
		}
		there := *e
		there.Branch = old
		row, ok, err := tx.meanings.resolve(r, &there)
		if err != nil {
			return events.Entity{}, err
		}
		if ok {
			return tx.meanings.settle(row, r, e)
		}
		return tx.meanings.fresh(r, e)
	})
}

// beside brings sitters, the names that they bore before, and small pictures. Nobody who was erased comes back, and no
// former name of somebody whose row is lost: by what is no name of anybody in the table nobody could be forgotten.
func (s *salvage) beside(tx *Tx) error {
	erased := map[string]bool{}
	isErased := func(ref string) (bool, error) {
		if known, ok := erased[ref]; ok {
			return known, nil
		}
		is, err := tx.sitters.erasedHere(ref)
		erased[ref] = is
		return is, err
	}
	for _, row := range s.sitters {
		is, err := isErased(row.Ref)
		if err != nil {
			return err
		}
		if is {
			tx.sitters.gone = append(tx.sitters.gone, row)
			continue
		}
		res, err := tx.file.Exec("INSERT OR IGNORE INTO sitter VALUES (?,?,?)", row.Ref, row.Name, row.Contact)
		if err := counted(res, err, &s.out.Sitters); err != nil {
			return err
		}
	}
	for _, row := range s.former {
		is, err := isErased(row.Ref)
		if err != nil {
			return err
		}
		if is {
			tx.sitters.gone = append(tx.sitters.gone, row)
			continue
		}
		present, err := tx.sitters.nameOf(row.Ref)
		if err == nil && present != "" {
			err = tx.sitters.addFormer(row.Ref, row.Name)
		}
		if err != nil {
			return err
		}
	}
	for _, where := range s.thumbs {
		row, ok := s.q.Row(s.q.Page(where.Page), where)
		if !ok {
			continue
		}
		v := row.Values
		res, err := tx.file.Exec("INSERT OR IGNORE INTO thumbnail VALUES (?,?,?,?,?)", v[0], v[1], v[2], v[3], v[4])
		if err := counted(res, err, &s.out.Thumbnails); err != nil {
			return err
		}
	}
	return nil
}
