package bag

import (
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"strings"
)

// The header that stands before each entry of a zip (APPNOTE 6.3.10, section 4.3.7), little endian: signature, version,
// flags, method, time, date, CRC-32, packed size, size, lengths of the name and of what follows it.
const (
	localSignature = "PK\x03\x04"
	listSignature  = "PK\x01\x02" // of each line of the list at the end
	localHeader    = 30
)

// readTorn lists the entries of a zip whose directory is damaged or cut off, by the headers that stand before them: so
// it is judged by what is in it, as a folder is that lost some of its files. Only entries that are stored as they are can
// be read so, as every bag of this program is.
//
// Errors: the file cannot be read.
func (b *Bag) readTorn(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	fi, err := f.Stat()
	if err != nil {
		f.Close()
		return err
	}
	b.torn = f
	end := fi.Size()
	behind := int64(0) // the entries that were found
	for at := int64(0); len(b.size) <= MaxEntries; {
		if at = nextHeader(f, localSignature, at, end); at < 0 {
			b.cutOff = b.cutOff || nextHeader(f, listSignature, behind, end) < 0
			return nil
		}
		at = b.tornEntry(f, at, end)
		behind = at
	}
	b.found.add(TooLarge, "zip", fmt.Sprintf("the zip holds more than %d entries", MaxEntries))
	b.hopeless = true
	return nil
}

// tornEntry takes in the entry whose header stands at a place, and gives the place behind it.
func (b *Bag) tornEntry(f *os.File, at, end int64) int64 {
	var h [localHeader]byte
	if _, err := f.ReadAt(h[:], at); err != nil {
		return end
	}
	flags, method := binary.LittleEndian.Uint16(h[6:]), binary.LittleEndian.Uint16(h[8:])
	packed, size := int64(binary.LittleEndian.Uint32(h[18:])), int64(binary.LittleEndian.Uint32(h[22:]))
	text := make([]byte, binary.LittleEndian.Uint16(h[26:]))
	body := at + localHeader + int64(len(text)) + int64(binary.LittleEndian.Uint16(h[28:]))
	if _, err := f.ReadAt(text, at+localHeader); err != nil || len(text) > MaxPath || body > end {
		return at + 1
	}
	_, name, below := strings.Cut(string(text), "/")
	switch why := refusePath(strings.TrimSuffix(string(text), "/")); {
	case why != "":
		b.found.add(UnsafePath, string(text), why)
		return body
	case !below:
		b.found.add(Layout, string(text), "the zip must hold one folder with everything in it; this stands outside")
		return body
	case name == "" || strings.HasSuffix(name, "/"):
		return body
	case method != 0 || flags != 0 || packed != size:
		b.found.add(Unreadable, name, "the zip's list of its files is needed to read it, and is damaged or cut off")
		return body
	case body+size > end:
		b.found.add(Unreadable, name, fmt.Sprintf("the zip ends within it, after %d of %d bytes", end-body, size))
		size, b.cutOff = end-body, true
	}
	if _, twice := b.size[name]; twice {
		b.found.add(Doubled, name, "the zip holds this name twice; which one is read depends on the program")
		return body + size
	}
	b.size[name] = size
	b.entry[name] = entryOf{open: func() (io.ReadCloser, error) { return io.NopCloser(io.NewSectionReader(f, body, size)), nil }}
	return body + size
}

// maxSearched is how many bytes a header is looked for in. Entries stand behind each other, so that it is mostly found at
// once; without a bound a file of a terabyte that holds nothing would be read for hours.
const maxSearched = 256 << 20

// nextHeader is the place of the first header with a signature at or behind a place, negative for none.
func nextHeader(f *os.File, signature string, at, end int64) int64 {
	const step = 64 << 10
	buf := make([]byte, step+len(signature)-1)
	for end = min(end, at+maxSearched); at < end; at += step {
		n, err := f.ReadAt(buf, at)
		if i := strings.Index(string(buf[:n]), signature); i >= 0 {
			return at + int64(i)
		}
		if err != nil {
			return -1
		}
	}
	return -1
}
