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
	free     map[int64]bool  // pages out of use
}

// limits on what a damaged length may claim
const (
	maxPayload  = 32 << 20
	maxColumns  = 100
	maxOverflow = maxPayload / 400
)

func openQuarry(path string) (*quarry, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	q := &quarry{file: f, pageSize: 4096, newer: map[int64]int64{}, free: map[int64]bool{}}
	var head [100]byte
	if n, _ := f.ReadAt(head[:], 0); n == len(head) {
		switch size := int(binary.BigEndian.Uint16(head[16:])); {
		case size == 1:
			q.pageSize = 65536
		case size >= 512 && size&(size-1) == 0:
			q.pageSize = size
		}
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, err
	}
	q.pages = (info.Size() + int64(q.pageSize) - 1) / int64(q.pageSize)
	if w, err := os.Open(path + "-wal"); err == nil {
		q.wal = w
		q.readLog()
	} else if !errors.Is(err, fs.ErrNotExist) {
		f.Close()
		return nil, err
	}
	q.readFree(int64(binary.BigEndian.Uint32(head[32:])))
	return q, nil
}

func (q *quarry) close() {
	q.file.Close()
	if q.wal != nil {
		q.wal.Close()
	}
}

// readLog finds the pages of the log's committed transactions, as far as its checksums hold.
func (q *quarry) readLog() {
	var head [32]byte
	if n, _ := q.wal.ReadAt(head[:], 0); n < len(head) {
		return
	}
	magic := binary.BigEndian.Uint32(head[:])
	if magic&^1 != 0x377f0682 || int(binary.BigEndian.Uint32(head[8:])) != q.pageSize {
		return
	}
	var order binary.ByteOrder = binary.LittleEndian
	if magic&1 == 1 {
		order = binary.BigEndian
	}
	s1, s2 := walSum(order, 0, 0, head[:24])
	if s1 != binary.BigEndian.Uint32(head[24:]) || s2 != binary.BigEndian.Uint32(head[28:]) {
		return
	}
	frame := make([]byte, 24+q.pageSize)
	pending := map[int64]int64{}
	for at := int64(32); ; at += int64(len(frame)) {
		if n, _ := q.wal.ReadAt(frame, at); n < len(frame) || string(frame[8:16]) != string(head[16:24]) {
			return
		}
		s1, s2 = walSum(order, s1, s2, frame[:8])
		s1, s2 = walSum(order, s1, s2, frame[24:])
		if s1 != binary.BigEndian.Uint32(frame[16:]) || s2 != binary.BigEndian.Uint32(frame[20:]) {
			return
		}
		pending[int64(binary.BigEndian.Uint32(frame))] = at + 24
		if size := int64(binary.BigEndian.Uint32(frame[4:])); size != 0 { // a commit
			for n, where := range pending {
				q.newer[n] = where
			}
			q.pages = max(q.pages, size)
			clear(pending)
		}
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
func (q *quarry) readFree(trunk int64) {
	for trunk > 0 && trunk <= q.pages && !q.free[trunk] {
		q.free[trunk] = true
		p := q.page(trunk)
		n := int(binary.BigEndian.Uint32(p[4:]))
		for i := 0; i < n && 8+4*i+4 <= len(p); i++ {
			q.free[int64(binary.BigEndian.Uint32(p[8+4*i:]))] = true
		}
		trunk = int64(binary.BigEndian.Uint32(p))
	}
}

// page reads one page; what is cut off is zero.
func (q *quarry) page(n int64) []byte {
	p := make([]byte, q.pageSize)
	if where, ok := q.newer[n]; ok {
		io.ReadFull(io.NewSectionReader(q.wal, where, int64(q.pageSize)), p)
		return p
	}
	io.ReadFull(io.NewSectionReader(q.file, (n-1)*int64(q.pageSize), int64(q.pageSize)), p)
	return p
}

// cell is where a row begins.
type cell struct {
	page int64
	at   int
}

// carvedRow is one row of some table: its values are nil, int64, float64 (as its bits in an int64 of no use here),
// string or []byte.
type carvedRow struct {
	where  cell
	rowid  int64
	values []any
}

// each calls f with every row of every table that still stands on its page.
func (q *quarry) each(f func(carvedRow) error) error {
	for n := int64(1); n <= q.pages; n++ {
		p := q.page(n)
		head := 0
		if n == 1 {
			head = 100
		}
		if p[head] != 0x0d { // leaf of a table
			continue
		}
		cells := int(binary.BigEndian.Uint16(p[head+3:]))
		for i := 0; i < cells && head+8+2*i+2 <= len(p); i++ {
			at := int(binary.BigEndian.Uint16(p[head+8+2*i:]))
			row, ok := q.row(p, cell{n, at})
			if !ok {
				continue
			}
			if err := f(row); err != nil {
				return err
			}
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
	payload, ok := q.payload(p, at+n, int(size))
	if !ok {
		return r, false
	}
	r.values, ok = record(payload)
	return r, ok
}

// payload gathers a row's bytes from its page and the pages it overflows into.
func (q *quarry) payload(p []byte, at, size int) ([]byte, bool) {
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
	for i := 0; len(out) < size; i++ {
		if next < 1 || next > q.pages || i > maxOverflow {
			return nil, false
		}
		o := q.page(next)
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
