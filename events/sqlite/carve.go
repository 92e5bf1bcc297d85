package sqlite

import (
	"encoding/binary"
	"errors"
	"io"
	"io/fs"
	"os"
)

// A damaged file may not open, and where it opens, one bad page hides all rows behind it. So what can be saved is read
// from the pages themselves, as the SQLite file format lays them out (sqlite.org/fileformat2.html): every leaf of a
// table, wherever it is, whether anything points to it or not. What is found is believed only where the hashes say so.

// quarry is a file to be carved, with the pages that its write-ahead log holds in a newer state.
type quarry struct {
	file     *os.File
	wal      *os.File
	pageSize int
	pages    int64           // whole or cut, counted from 1
	newer    map[int64]int64 // page: where in the log
	late     map[int64]int64 // the same of what lies behind the damage in the log
	free     map[int64]bool  // pages out of use
	log      *bookLog        // nil where there is none
	trunk    int64           // where the list of pages out of use begins
	size     int64           // bytes of the file
}

// limits on what a damaged length may claim
const (
	maxPayload = 32 << 20
	maxColumns = 100
)

func openQuarry(path string) (*quarry, error) {
	path = ownPlace(path)
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	q := &quarry{file: f, newer: map[int64]int64{}}
	var h header
	f.ReadAt(h[:], 0)
	q.pageSize, q.trunk = h.pageSize(), int64(h.word(32))
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, err
	}
	q.size = info.Size()
	q.pages = q.size / int64(q.pageSize)
	if q.size%int64(q.pageSize) > 0 {
		q.pages++
	}
	if err := q.readLog(path); err != nil {
		q.close()
		return nil, err
	}
	q.readFree()
	return q, nil
}

// readLog takes in what the log beside the file holds, as SQLite would.
func (q *quarry) readLog(path string) error {
	var err error
	if q.wal, err = os.Open(path + "-wal"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if !openHere.has(path) {
		q.log, err = logOf(path)
	}
	if err == nil && q.log == nil && q.wal != nil { // in use: as much as its sums bear out
		if q.log, err = readFrames(q.wal, q.pageSize); err == nil {
			q.log.behind = nil
		}
	}
	if err != nil || q.log == nil {
		return err
	}
	q.newer = q.log.newer
	q.pages = max(q.pages, q.log.pages)
	return nil
}

// behind are the frames of the log that SQLite does not take in, and that may hold what was acknowledged.
func (q *quarry) behind() []frame {
	if q.log == nil || q.log.accepted >= 0 && !q.log.lost() {
		return nil // a program died while it wrote them
	}
	return q.log.behind
}

// bringBehind has each page as the last frame behind the damage has it.
func (q *quarry) bringBehind() {
	q.late = map[int64]int64{}
	most := q.pages + int64(len(q.behind()))
	for _, fr := range q.behind() {
		if fr.page >= 1 && fr.page <= most { // a damaged number may say anything
			q.late[fr.page] = fr.at
			q.pages = max(q.pages, fr.page)
		}
	}
	q.readFree()
}

func (q *quarry) close() {
	q.file.Close()
	if q.wal != nil {
		q.wal.Close()
	}
}

func walSum(order binary.ByteOrder, s1, s2 uint32, b []byte) (uint32, uint32) {
	for i := 0; i+8 <= len(b); i += 8 {
		s1 += order.Uint32(b[i:]) + s2
		s2 += order.Uint32(b[i+4:]) + s1
	}
	return s1, s2
}

// readFree follows the list of pages out of use, for rows that were taken out must not come back.
func (q *quarry) readFree() {
	q.free = map[int64]bool{}
	for trunk := q.trunk; trunk > 0 && trunk <= q.pages && !q.free[trunk]; {
		p := q.page(trunk)
		n := int(binary.BigEndian.Uint32(p[4:]))
		if n > len(p)/4-2 {
			return // a page in use: what leads to it is damaged
		}
		q.free[trunk] = true
		for i := range n {
			q.free[int64(binary.BigEndian.Uint32(p[8+4*i:]))] = true
		}
		trunk = int64(binary.BigEndian.Uint32(p))
	}
}

// page reads one page as it stood at the end; what is cut off is zero.
func (q *quarry) page(n int64) []byte { return q.pageOf(n, true) }

// pageOf reads one page, late with what lies behind the damage in the log.
func (q *quarry) pageOf(n int64, late bool) []byte {
	if where, ok := q.late[n]; ok && late {
		return q.logged(where)
	}
	if where, ok := q.newer[n]; ok {
		return q.logged(where)
	}
	p := make([]byte, q.pageSize)
	io.ReadFull(io.NewSectionReader(q.file, (n-1)*int64(q.pageSize), int64(q.pageSize)), p)
	return p
}

// logged reads a page at a place of the log.
func (q *quarry) logged(where int64) []byte {
	p := make([]byte, q.pageSize)
	io.ReadFull(io.NewSectionReader(q.wal, where, int64(q.pageSize)), p)
	return p
}

// at reads the page that a row was found on.
func (q *quarry) at(where cell) []byte {
	if where.log > 0 {
		return q.logged(where.log)
	}
	return q.pageOf(where.page, where.late)
}

// cell is where a row begins.
type cell struct {
	page int64
	at   int
	late bool  // as it stood at the end, not as SQLite takes it in
	log  int64 // where in the log the page stands, 0 for the page as it was then
}

// carvedRow is one row of some table: its values are nil, int64, float64 (as its bits in an int64 of no use here),
// string or []byte.
type carvedRow struct {
	where  cell
	rowid  int64
	values []any
}

// kinds of page that hold rows of tables
const (
	leafTable  = 0x0d
	innerTable = 0x05
)

// each calls f with every row of every table that still stands on its page.
// It is each row as SQLite takes the book in, or, late, as it stood at the end.
func (q *quarry) each(late bool, f func(carvedRow) error) error {
	for n := int64(1); n <= q.pages; n++ {
		if n = q.pastHole(n); n > q.pages {
			return nil
		}
		if err := q.eachOf(q.pageOf(n, late), cell{page: n, late: late}, f); err != nil {
			return err
		}
	}
	return nil
}

// pastHole is the next page, from one on, that holds anything. A file may claim to be larger than any disk.
func (q *quarry) pastHole(n int64) int64 {
	for _, logged := range []map[int64]int64{q.newer, q.late} {
		if _, ok := logged[n]; ok {
			return n
		}
	}
	size := int64(q.pageSize)
	next := nothingMore
	if from := (n - 1) * size; from < q.size {
		if at := nextData(q.file, from); at != nothingMore {
			next = at/size + 1
		}
	}
	if next > n {
		for _, logged := range []map[int64]int64{q.newer, q.late} {
			for page := range logged {
				if page > n {
					next = min(next, page)
				}
			}
		}
	}
	return next
}

// eachVersion calls f with every row of the pages behind the damage in the log, and of those as they were before.
func (q *quarry) eachVersion(f func(carvedRow) error) error {
	for _, fr := range q.behind() {
		if err := q.eachOf(q.logged(fr.at), cell{page: fr.page, late: true, log: fr.at}, f); err != nil {
			return err
		}
	}
	return nil
}

func (q *quarry) eachOf(p []byte, where cell, f func(carvedRow) error) error {
	head := 0
	if where.page == 1 {
		head = 100
	}
	if p[head] != leafTable {
		return nil
	}
	cells := int(binary.BigEndian.Uint16(p[head+3:]))
	for i := 0; i < cells && head+8+2*i+2 <= len(p); i++ {
		where.at = int(binary.BigEndian.Uint16(p[head+8+2*i:]))
		row, ok := q.row(p, where)
		if !ok {
			continue
		}
		if err := f(row); err != nil {
			return err
		}
	}
	return nil
}

// row reads the row at a cell of a page.
func (q *quarry) row(p []byte, where cell) (carvedRow, bool) {
	r := carvedRow{where: where}
	at := where.at
	size, n := varint(p, at)
	if n == 0 || size <= 0 || size > maxPayload {
		return r, false
	}
	at += n
	if r.rowid, n = varint(p, at); n == 0 {
		return r, false
	}
	payload, ok := q.payload(p, at+n, int(size), where.late)
	if !ok {
		return r, false
	}
	r.values, ok = record(payload)
	return r, ok
}

// payload gathers a row's bytes from its page and the pages it overflows into.
func (q *quarry) payload(p []byte, at, size int, late bool) ([]byte, bool) {
	usable := len(p) // no bytes are reserved in a book
	local := size
	if most := usable - 35; size > most {
		least := (usable-12)*32/255 - 23
		if local = least + (size-least)%(usable-4); local > most {
			local = least
		}
	}
	if at+local > len(p) {
		return nil, false
	}
	if local == size {
		return p[at : at+local], true
	}
	out := append(make([]byte, 0, min(size, 1<<20)), p[at:at+local]...)
	if at+local+4 > len(p) {
		return nil, false
	}
	next := int64(binary.BigEndian.Uint32(p[at+local:]))
	seen := map[int64]bool{}
	for len(out) < size {
		if next < 1 || next > q.pages || seen[next] {
			return nil, false
		}
		seen[next] = true
		o := q.pageOf(next, late)
		out = append(out, o[4:min(len(o), 4+size-len(out))]...)
		next = int64(binary.BigEndian.Uint32(o))
	}
	return out, true
}

// record takes a row's bytes apart.
func record(b []byte) ([]any, bool) {
	head, n := varint(b, 0)
	if n == 0 || head < int64(n) || head > int64(len(b)) {
		return nil, false
	}
	body := b[head:]
	var out []any
	for at := n; at < int(head); {
		serial, n := varint(b, at)
		if n == 0 || len(out) == maxColumns {
			return nil, false
		}
		at += n
		size := 0
		switch {
		case serial >= 1 && serial <= 4:
			size = int(serial)
		case serial == 5:
			size = 6
		case serial == 6 || serial == 7:
			size = 8
		case serial >= 12 && serial < 2*maxPayload:
			size = int(serial-12) / 2
		case serial > 9:
			return nil, false
		}
		if size > len(body) {
			return nil, false
		}
		v := body[:size]
		body = body[size:]
		switch {
		case serial == 0:
			out = append(out, nil)
		case serial >= 12 && serial%2 == 0:
			out = append(out, v)
		case serial >= 12:
			out = append(out, string(v))
		case serial == 8 || serial == 9:
			out = append(out, serial-8)
		default:
			x := int64(0)
			if size > 0 && v[0] >= 0x80 && serial != 7 {
				x = -1
			}
			for _, c := range v {
				x = x<<8 | int64(c)
			}
			out = append(out, x)
		}
	}
	return out, true
}

// varint reads SQLite's integer of one to nine bytes; n is 0 where it runs off the end.
func varint(b []byte, at int) (v int64, n int) {
	for n < 9 && at+n < len(b) && at >= 0 {
		c := b[at+n]
		n++
		if n == 9 {
			return v<<8 | int64(c), n
		}
		v = v<<7 | int64(c&0x7f)
		if c < 0x80 {
			return v, n
		}
	}
	return 0, 0
}
