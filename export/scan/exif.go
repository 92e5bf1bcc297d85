package scan

import (
	"encoding/binary"
	"io"
	"regexp"
	"strings"
	"sync"
	"time"
)

// The limits within which a file's own description is read; a file beyond them
// counts as one that says nothing.
const (
	maxSegments = 512 // parts of a JPEG or PNG that are looked at
	maxEntries  = 512 // entries of one EXIF directory
	maxEXIF     = 1 << 20
)

// The entries that are read (EXIF 2.32, CIPA DC-008: 0x9011 since 2.31).
const (
	tagOrientation  = 0x0112
	tagDirectory    = 0x8769
	tagOriginal     = 0x9003
	tagOriginalZone = 0x9011
)

type exif struct {
	orientation int
	original    string
	zone        string
}

var offset = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[+-](0[0-9]|1[0-4]):[0-5][0-9]$`) })

// taken is the capture time, with its offset if there is one.
func (e exif) taken() string {
	t, err := time.Parse("2006:01:02 15:04:05", e.original)
	if err != nil || t.Year() == 0 {
		return ""
	}
	local := t.Format("2006-01-02T15:04:05")
	if offset().MatchString(e.zone) {
		local += e.zone
	}
	return local
}

// readEXIF reads the two directories that hold what is asked for: the first,
// and the one it names. Nothing else is followed, so that no file can lead the
// reader in circles.
func readEXIF(r io.ReaderAt) (e exif) {
	e.orientation = 1
	head := make([]byte, 8)
	if _, err := r.ReadAt(head, 0); err != nil {
		return e
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	if order.Uint16(head[2:]) != 42 {
		return e
	}
	if next := e.directory(r, order, order.Uint32(head[4:])); next != 0 {
		e.directory(r, order, next)
	}
	return e
}

func (e *exif) directory(r io.ReaderAt, order binary.ByteOrder, at uint32) (next uint32) {
	count := make([]byte, 2)
	if _, err := r.ReadAt(count, int64(at)); err != nil {
		return 0
	}
	entries := make([]byte, 12*min(int(order.Uint16(count)), maxEntries))
	n, _ := r.ReadAt(entries, int64(at)+2) // what a cut-off file still has
	for entries = entries[:n]; len(entries) >= 12; entries = entries[12:] {
		tag, kind, length, value := order.Uint16(entries), order.Uint16(entries[2:]), order.Uint32(entries[4:]), entries[8:12]
		switch {
		case tag == tagOrientation && kind == 3 && length == 1:
			if v := int(order.Uint16(value)); v >= 1 && v <= 8 {
				e.orientation = v
			}
		case tag == tagDirectory && kind == 4 && length == 1:
			next = order.Uint32(value)
		case tag == tagOriginal && kind == 2 && length >= 19 && length <= 32:
			e.original = text(r, order.Uint32(value), length)
		case tag == tagOriginalZone && kind == 2 && length >= 6 && length <= 16:
			e.zone = text(r, order.Uint32(value), length)
		}
	}
	return next
}

// text reads an ASCII value, which ends at its first zero byte.
func text(r io.ReaderAt, at, length uint32) string {
	b := make([]byte, length)
	if _, err := r.ReadAt(b, int64(at)); err != nil {
		return ""
	}
	s, _, _ := strings.Cut(string(b), "\x00")
	return strings.TrimSpace(s)
}

// readJPEG walks the segments before the picture itself: the first EXIF
// segment, and whether the picture is stored progressively. Where no other kind
// of frame is found it counts as such.
func readJPEG(r io.ReaderAt, size int64) (e exif, l layout) {
	e.orientation, l.progressive = 1, true
	found := false
	head := make([]byte, 10)
	for at, n := int64(2), 0; n < maxSegments; n++ {
		if _, err := r.ReadAt(head[:4], at); err != nil || head[0] != 0xff {
			return e, l
		}
		marker, length := head[1], int64(head[2])<<8|int64(head[3])
		switch {
		case marker == 0xff: // a fill byte
			at++
			continue
		case marker == 0x01 || (marker >= 0xd0 && marker <= 0xd8): // these stand alone
			at += 2
			continue
		case marker == 0xd9 || marker == 0xda || length < 2: // the picture, or the end
			return e, l
		case marker == 0xc0 || marker == 0xc1:
			l.progressive = false
		case marker == 0xe1 && !found && length > 8 && at+2+length <= size:
			if _, err := r.ReadAt(head, at); err == nil && string(head[4:]) == "Exif\x00\x00" {
				e, found = readEXIF(io.NewSectionReader(r, at+10, length-8)), true
			}
		}
		at += 2 + length
	}
	return e, l
}

// readPNG reads the eXIf chunk of a PNG (PNG 1.5 extensions, since third
// edition part of the format), and how the picture is stored.
func readPNG(r io.ReaderAt, size int64) (e exif, l layout) {
	e.orientation, l.interlaced, l.keyed = 1, true, true
	head := make([]byte, 8)
	keyed, found := false, false
	for at, n := int64(8), 0; n < maxSegments; n++ {
		if _, err := r.ReadAt(head, at); err != nil {
			return e, l
		}
		length := int64(binary.BigEndian.Uint32(head))
		switch name := string(head[4:]); {
		case name == "IHDR" && length == 13:
			way := make([]byte, 1)
			if _, err := r.ReadAt(way, at+8+12); err == nil {
				l.interlaced = way[0] != 0
			}
		case name == "tRNS":
			keyed = true
		case name == "IDAT":
			l.keyed = keyed
		case name == "eXIf" && !found && length <= maxEXIF && at+8+length <= size:
			e, found = readEXIF(io.NewSectionReader(r, at+8, length)), true
		}
		at += 12 + length
	}
	return e, l
}
