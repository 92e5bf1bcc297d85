package rawfile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"

	"traybook/events"
)

// header is the beginning of an SQLite file (sqlite.org/fileformat2.html#the_database_header).
type header [100]byte

// ReadHead reads it. Of a file too short to have one nothing is believed.
func ReadHead(path string) (h header, err error) {
	f, err := os.Open(path)
	if err != nil {
		return h, fmt.Errorf("the book cannot be read: %w", Reason(err))
	}
	defer f.Close()
	if n, _ := f.ReadAt(h[:], 0); n < len(h) {
		return header{}, nil
	}
	return h, nil
}

func (h header) Word(at int) uint32 { return binary.BigEndian.Uint32(h[at:]) }

// defaultPageSize is that of every book.
const defaultPageSize = 4096

// pageSize is the size of the file's pages; the usual one where the header names none.
func (h header) pageSize() int {
	switch size := int(binary.BigEndian.Uint16(h[16:])); {
	case size == 1:
		return 65536
	case size >= 512 && size&(size-1) == 0:
		return size
	}
	return defaultPageSize
}

// fixed are the places of the header that are the same in every book of this layout.
var fixed = []struct {
	at, size int
	what     string
	may      []uint32
}{
	{18, 1, "version of the file for writing", []uint32{1, 2}},
	{19, 1, "version of the file for reading", []uint32{1, 2}},
	{20, 1, "room kept free on each page", []uint32{0}},
	{21, 1, "largest share of a row", []uint32{64}},
	{22, 1, "smallest share of a row", []uint32{32}},
	{23, 1, "share of a row on a leaf", []uint32{32}},
	{44, 4, "format of the tables", []uint32{4}},
	{52, 4, "mark of a file that shrinks", []uint32{0}},
	{56, 4, "encoding of the text", []uint32{1}},
	{60, 4, "layout", layouts()},
	{64, 4, "mark of a file that shrinks by hand", []uint32{0}},
	{68, 4, "mark of the program that it belongs to", []uint32{ApplicationID}},
}

// Damaged names the first place of the header that no book has so, "" where there is none.
func (h header) Damaged() string {
	for _, x := range fixed {
		got := uint32(h[x.at])
		if x.size == 4 {
			got = h.Word(x.at)
		}
		ok := false
		for _, may := range x.may {
			ok = ok || got == may
		}
		if !ok {
			return fmt.Sprintf("its header says %d for the %s, where a book has %d", got, x.what, x.may[len(x.may)-1])
		}
	}
	return ""
}

// Magic begins every SQLite file.
const Magic = "SQLite format 3\x00"

var (
	// ErrNotBook is told of a database of another program.
	ErrNotBook = errors.New("the file is a database of another program, not a book")
	// ErrHeader is told of a header that is damaged.
	ErrHeader = fmt.Errorf("%w", events.ErrDamaged)
)

// SchemaHas looks through the list of tables, which begins on page 1, for one of a name and a text.
func (q *Quarry) SchemaHas(name, text string, page int64, seen map[int64]bool) bool {
	const most = 64 // pages of a list of tables
	if page < 1 || page > q.Pages || seen[page] || len(seen) == most {
		return false
	}
	seen[page] = true
	p, head := q.Page(page), 0
	if page == 1 {
		head = 100
	}
	first := head + 8
	if p[head] == innerTable {
		first += 4
	} else if p[head] != leafTable {
		return false
	}
	cells := int(binary.BigEndian.Uint16(p[head+3:]))
	for i := 0; i < cells && first+2*i+2 <= len(p); i++ {
		at := int(binary.BigEndian.Uint16(p[first+2*i:]))
		if p[head] == innerTable {
			if at+4 <= len(p) && q.SchemaHas(name, text, int64(binary.BigEndian.Uint32(p[at:])), seen) {
				return true
			}
			continue
		}
		if r, ok := q.Row(p, Cell{Page: page, At: at}); ok && len(r.Values) == 5 && r.Values[1] == name && r.Values[4] == text {
			return true
		}
	}
	return p[head] == innerTable && q.SchemaHas(name, text, int64(binary.BigEndian.Uint32(p[head+8:])), seen)
}

// ApplicationID marks the file as a traybook ("TRBK").
const ApplicationID = 0x5452424b

// Layout is the version of the tables; a file with a larger one is refused untouched, one with a smaller one is taken up.
const Layout = 1

// layouts are those that a book may have.
func layouts() (all []uint32) {
	for n := range uint32(Layout) {
		all = append(all, n+1)
	}
	return all
}

// Layout is the version of the tables of this file.
func (h header) Layout() int { return int(h.Word(60)) }
