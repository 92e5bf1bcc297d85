package rawfile

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

// Quarry is a file to be carved, with the pages that its write-ahead log holds in a newer state.
type Quarry struct {
	file     *os.File
	wal      *os.File
	PageSize int
	Pages    int64           // whole or cut, counted from 1
	newer    map[int64]int64 // page: where in the log
	late     map[int64]int64 // the same of what lies behind the damage in the log
	Free     map[int64]bool  // Pages out of use
	Log      *bookLog        // nil where there is none
	size     int64           // bytes of the file
}

// limits on what a damaged length may claim
const (
	maxPayload = 32 << 20
	MaxColumns = 100
)

// OpenQuarry opens the file of a book, and its log where there is one, to search their bytes without SQLite.
func OpenQuarry(path string) (*Quarry, error) {
	path = OwnPlace(path)
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	q := &Quarry{file: f, newer: map[int64]int64{}}
	var h header
	f.ReadAt(h[:], 0)
	q.PageSize = h.pageSize()
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, err
	}
	q.size = info.Size()
	q.Pages = q.size / int64(q.PageSize)
	if q.size%int64(q.PageSize) > 0 {
		q.Pages++
	}
	if err := q.readLog(path); err != nil {
		q.Close()
		return nil, err
	}
	q.readFree()
	return q, nil
}

// readLog takes in what the log beside the file holds, as SQLite would.
func (q *Quarry) readLog(path string) error {
	var err error
	if q.wal, err = os.Open(path + "-wal"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if !OpenHere.Has(path) {
		q.Log, err = LogOf(path)
	}
	if err == nil && q.Log == nil && q.wal != nil { // in use: as much as its sums bear out
		if q.Log, err = readFrames(q.wal, q.PageSize); err == nil {
			q.Log.behind = nil
		}
	}
	if err != nil || q.Log == nil {
		return err
	}
	q.newer = q.Log.newer
	q.Pages = max(q.Pages, q.Log.pages)
	return nil
}

// Behind are the frames of the log that SQLite does not take in, and that may hold what was acknowledged.
func (q *Quarry) Behind() []frame {
	if q.Log == nil || q.Log.accepted >= 0 && !q.Log.Lost() {
		return nil // a program died while it wrote them
	}
	return q.Log.behind
}

// BringBehind has each page as the last frame behind the damage has it.
func (q *Quarry) BringBehind() {
	q.late = map[int64]int64{}
	most := q.Pages + int64(len(q.Behind()))
	for _, fr := range q.Behind() {
		if fr.page >= 1 && fr.page <= most { // a damaged number may say anything
			q.late[fr.page] = fr.at
			q.Pages = max(q.Pages, fr.page)
		}
	}
	q.readFree()
}

// Close closes the files.
func (q *Quarry) Close() {
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

// firstFree is where page 1 says which page the list of pages out of use begins on.
const firstFree = 32

// readFree follows the list of pages out of use, for rows that were taken out must not come back. The list begins where
// page 1 says as it stood at the end, which the log may hold in a newer state than the file.
func (q *Quarry) readFree() {
	q.Free = map[int64]bool{}
	trunk := int64(binary.BigEndian.Uint32(q.Page(1)[firstFree:]))
	for trunk > 0 && trunk <= q.Pages && !q.Free[trunk] {
		p := q.Page(trunk)
		n := int(binary.BigEndian.Uint32(p[4:]))
		if n > len(p)/4-2 {
			return // a page in use: what leads to it is damaged
		}
		q.Free[trunk] = true
		for i := range n {
			q.Free[int64(binary.BigEndian.Uint32(p[8+4*i:]))] = true
		}
		trunk = int64(binary.BigEndian.Uint32(p))
	}
}

// Page reads one page as it stood at the end; what is cut off is zero.
func (q *Quarry) Page(n int64) []byte { return q.pageOf(n, true) }

// pageOf reads one page, late with what lies behind the damage in the log.
func (q *Quarry) pageOf(n int64, late bool) []byte {
	if where, ok := q.late[n]; ok && late {
		return q.logged(where)
	}
	if where, ok := q.newer[n]; ok {
		return q.logged(where)
	}
	p := make([]byte, q.PageSize)
	io.ReadFull(io.NewSectionReader(q.file, (n-1)*int64(q.PageSize), int64(q.PageSize)), p)
	return p
}

// logged reads a page at a place of the log.
func (q *Quarry) logged(where int64) []byte {
	p := make([]byte, q.PageSize)
	io.ReadFull(io.NewSectionReader(q.wal, where, int64(q.PageSize)), p)
	return p
}

// At reads the page that a row was found on.
func (q *Quarry) At(where Cell) []byte {
	if where.log > 0 {
		return q.logged(where.log)
	}
	return q.pageOf(where.Page, where.late)
}

// Cell is where a row begins.
type Cell struct {
	Page int64
	At   int
	late bool  // as it stood at the end, not as SQLite takes it in
	log  int64 // where in the log the page stands, 0 for the page as it was then
}

// CarvedRow is one row of some table: its values are nil, int64, float64 (as its bits in an int64 of no use here),
// string or []byte.
type CarvedRow struct {
	Where  Cell
	Rowid  int64
	Values []any
}

// kinds of page that hold rows of tables
const (
	leafTable  = 0x0d
	innerTable = 0x05
)

// Each calls f with every row of every table that still stands on its page.
// It is each row as SQLite takes the book in, or, late, as it stood at the end.
func (q *Quarry) Each(late bool, f func(CarvedRow) error) error {
	for n := int64(1); n <= q.Pages; n++ {
		if n = q.pastHole(n); n > q.Pages {
			return nil
		}
		if err := q.eachOf(q.pageOf(n, late), Cell{Page: n, late: late}, f); err != nil {
			return err
		}
	}
	return nil
}

// pastHole is the next page, from one on, that holds anything. A file may claim to be larger than any disk.
func (q *Quarry) pastHole(n int64) int64 {
	for _, logged := range []map[int64]int64{q.newer, q.late} {
		if _, ok := logged[n]; ok {
			return n
		}
	}
	size := int64(q.PageSize)
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

// EachVersion calls f with every row of the pages behind the damage in the log, and of those as they were before.
func (q *Quarry) EachVersion(f func(CarvedRow) error) error {
	for _, fr := range q.Behind() {
		if err := q.eachOf(q.logged(fr.at), Cell{Page: fr.page, late: true, log: fr.at}, f); err != nil {
			return err
		}
	}
	return nil
}

func (q *Quarry) eachOf(p []byte, where Cell, f func(CarvedRow) error) error {
	head := 0
	if where.Page == 1 {
		head = 100
	}
	if p[head] != leafTable {
		return nil
	}
	cells := int(binary.BigEndian.Uint16(p[head+3:]))
	for i := 0; i < cells && head+8+2*i+2 <= len(p); i++ {
		where.At = int(binary.BigEndian.Uint16(p[head+8+2*i:]))
		row, ok := q.Row(p, where)
		if !ok {
			continue
		}
		if err := f(row); err != nil {
			return err
		}
	}
	return nil
}

// Row reads the row at a cell of a page.
func (q *Quarry) Row(p []byte, where Cell) (CarvedRow, bool) {
	r := CarvedRow{Where: where}
	at := where.At
	size, n := Varint(p, at)
	if n == 0 || size <= 0 || size > maxPayload {
		return r, false
	}
	at += n
	if r.Rowid, n = Varint(p, at); n == 0 {
		return r, false
	}
	payload, ok := q.payload(p, at+n, int(size), where.late)
	if !ok {
		return r, false
	}
	r.Values, ok = Record(payload)
	return r, ok
}

// payload gathers a row's bytes from its page and the pages it overflows into.
func (q *Quarry) payload(p []byte, at, size int, late bool) ([]byte, bool) {
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
		if next < 1 || next > q.Pages || seen[next] {
			return nil, false
		}
		seen[next] = true
		o := q.pageOf(next, late)
		out = append(out, o[4:min(len(o), 4+size-len(out))]...)
		next = int64(binary.BigEndian.Uint32(o))
	}
	return out, true
}

// Record takes a row's bytes apart.
func Record(b []byte) ([]any, bool) {
	head, n := Varint(b, 0)
	if n == 0 || head < int64(n) || head > int64(len(b)) {
		return nil, false
	}
	body := b[head:]
	var out []any
	for at := n; at < int(head); {
		serial, n := Varint(b, at)
		if n == 0 || len(out) == MaxColumns {
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

// Varint reads SQLite's integer of one to nine bytes; n is 0 where it runs off the end.
func Varint(b []byte, at int) (v int64, n int) {
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
