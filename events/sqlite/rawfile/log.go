package rawfile

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"traybook/events"
	"traybook/events/atomicfile"
)

// What a program wrote last lies in a log beside the book until it closes it. When it dies, SQLite takes in the log at the
// next opening, up to the first page whose sum does not fit, and says nothing of what comes behind; the next act then
// overwrites it. So the log of a dead program is looked at before SQLite sees it: the sums of its pages
// (sqlite.org/fileformat2.html#walformat), against what its index, the -shm beside it, says was accepted.

const (
	LogHead     = 32 // bytes of a log before its first frame
	FrameHead   = 24 // bytes of a frame before its page
	nothingMore = int64(math.MaxInt64)
)

// frame is one page in a log.
type frame struct {
	page   int64
	commit int64 // pages of the book after the transaction that it ends, 0 where it ends none
	at     int64 // where the page's bytes begin
}

// bookLog is what a log holds.
type bookLog struct {
	salts    [8]byte // of the frames that belong together
	Taken    int64   // frames that SQLite takes in
	newer    map[int64]int64
	pages    int64   // of the book, as the last transaction taken in says
	behind   []frame // frames that belong to the log and are not taken in
	accepted int64   // frames that were accepted, as the index says; -1 where it says nothing
	moved    bool    // all that was accepted is in the book's file already
}

// readFrames reads a log. pageSize is that of the book.
func readFrames(f *os.File, pageSize int) (*bookLog, error) {
	l := &bookLog{newer: map[int64]int64{}, accepted: -1}
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	var head [LogHead]byte
	if n, _ := f.ReadAt(head[:], 0); n < len(head) {
		return l, nil
	}
	sum := newLogSum(head[:])
	whole := sum.fits(head[:24], head[24:]) && int(binary.BigEndian.Uint32(head[8:])) == pageSize && binary.BigEndian.Uint32(head[:])&^1 == 0x377f0682
	copy(l.salts[:], head[16:])
	length := int64(FrameHead + pageSize)
	buf := make([]byte, length)
	if !whole { // the frames tell by themselves that they belong together
		if n, _ := f.ReadAt(buf[:FrameHead], LogHead); n == FrameHead {
			copy(l.salts[:], buf[8:])
		}
	}
	var open []frame
	at := int64(LogHead)
	for ; at+length <= info.Size(); at += length {
		if data := nextData(f, at); data >= at+length {
			if whole = false; data == nothingMore {
				break
			}
			at += (data - at) / length * length
		}
		want := buf
		if !whole {
			want = buf[:FrameHead]
		}
		if n, err := f.ReadAt(want, at); n < len(want) {
			if errors.Is(err, io.EOF) {
				break
			}
			return nil, err
		}
		fr := frame{int64(binary.BigEndian.Uint32(buf)), int64(binary.BigEndian.Uint32(buf[4:])), at + FrameHead}
		own, fits := string(buf[8:16]) == string(l.salts[:]), whole
		if whole {
			sum.add(buf[:8])
			fits = sum.fits(buf[FrameHead:], buf[16:24])
			whole = own && fits
		}
		switch {
		case whole:
			if open = append(open, fr); fr.commit != 0 {
				l.take(open)
				open = open[:0]
			}
		case own || fits: // the sum of a frame goes on from the one before: no frame of an older log has it
			l.behind = append(l.behind, fr)
		}
	}
	l.behind = append(open, l.behind...)
	if n, _ := f.ReadAt(buf[:FrameHead], at); n == FrameHead && string(buf[8:16]) == string(l.salts[:]) { // cut in its midst
		l.behind = append(l.behind, frame{page: int64(binary.BigEndian.Uint32(buf)), at: at + FrameHead})
	}
	return l, nil
}

// take takes in the frames of a transaction.
func (l *bookLog) take(frames []frame) {
	for _, fr := range frames {
		l.newer[fr.page] = fr.at
	}
	l.pages = frames[len(frames)-1].commit
	l.Taken += int64(len(frames))
}

// logSum is the running sum of a log.
type logSum struct {
	order  binary.ByteOrder
	s1, s2 uint32
}

func newLogSum(head []byte) *logSum {
	if binary.BigEndian.Uint32(head)&1 == 1 {
		return &logSum{order: binary.BigEndian}
	}
	return &logSum{order: binary.LittleEndian}
}

func (s *logSum) add(b []byte) { s.s1, s.s2 = walSum(s.order, s.s1, s.s2, b) }

// fits adds to the sum and holds it against the one that is kept.
func (s *logSum) fits(b, kept []byte) bool {
	s.add(b)
	return s.s1 == binary.BigEndian.Uint32(kept) && s.s2 == binary.BigEndian.Uint32(kept[4:])
}

// readIndex takes from the index beside a log how much of it was accepted. The index is believed where its own sum fits,
// and where it belongs to this log or no log is left.
func (l *bookLog) readIndex(f *os.File) {
	var b [100]byte
	if n, _ := f.ReadAt(b[:], 0); n < len(b) {
		return
	}
	order := binary.NativeEndian
	sum := logSum{order: order}
	sum.add(b[:40])
	same := string(b[:48]) == string(b[48:96])
	if !same || sum.s1 != order.Uint32(b[40:]) || sum.s2 != order.Uint32(b[44:]) || b[12] != 1 {
		return
	}
	if l.salts != [8]byte{} && string(b[32:40]) != string(l.salts[:]) {
		return
	}
	l.accepted = int64(order.Uint32(b[16:]))
	l.moved = int64(order.Uint32(b[96:])) >= l.accepted
}

// commits counts the transactions that end behind what is taken in.
func (l *bookLog) commits() (n int) {
	for _, fr := range l.behind {
		if fr.commit != 0 {
			n++
		}
	}
	return n
}

// Lost says that what was acknowledged is not taken in. Where the index tells how much was accepted, that is exact but for
// an index that a power cut left behind its log; else a transaction that was written to its end counts as accepted.
func (l *bookLog) Lost() bool {
	switch {
	case l.accepted < 0:
		return l.commits() > 0
	case l.Taken == 0 && l.moved:
		return false
	}
	return l.accepted > l.Taken || l.commits() > 1
}

// gone is how many accepted pages are not even behind the damage.
func (l *bookLog) gone() int64 { return max(0, l.accepted-l.Taken-int64(len(l.behind))) }

// Says tells what is wrong with a log of which something is lost.
func (l *bookLog) Says(path string) string {
	text := fmt.Sprintf("the log beside it, %s, is damaged or cut: %d of its pages are taken in, %d lie behind the damage", filepath.Base(path)+"-wal", l.Taken, len(l.behind))
	if n := l.gone(); n > 0 {
		text += fmt.Sprintf(", %d are gone", n)
	}
	return text + ", and with them acts that were acknowledged"
}

// logTells is what to do about a damaged log.
const logTells = "; nothing was touched: `traybook verify` names what can be read of them, `traybook salvage` saves it"

// LogOf reads the log that a dead program left beside a book, nil where there is none or the book is in use.
func LogOf(path string) (*bookLog, error) {
	if !isThere(path+"-wal") && !isThere(path+"-shm") {
		return nil, nil
	}
	head, err := ReadHead(path)
	if err != nil {
		return nil, err
	}
	index, err := os.Open(path + "-shm")
	if err == nil {
		defer index.Close()
		if inUse(index) {
			return nil, nil
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, Reason(err)
	}
	l := &bookLog{accepted: -1}
	f, err := os.Open(path + "-wal")
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if index == nil {
			return nil, nil
		}
	case err != nil:
		return nil, Reason(err)
	default:
		defer f.Close()
		if l, err = readFrames(f, head.pageSize()); err != nil {
			return nil, Reason(err)
		}
	}
	if index != nil {
		l.readIndex(index)
	}
	return l, nil
}

// CheckLog looks at the log beside a book before SQLite does. Of a book that this program has open the log is in use; its
// index must not even be opened, for closing it would drop the locks that SQLite holds there.
func CheckLog(path string) error {
	if OpenHere.Has(path) {
		return nil
	}
	l, err := LogOf(path)
	if err != nil {
		return fmt.Errorf("the log beside the book cannot be read: %w", err)
	}
	if l != nil && l.Lost() {
		return fmt.Errorf("%w: %s%s", events.ErrDamaged, l.Says(path), logTells)
	}
	return nil
}

// OwnPlace is where a book that is reached through a link stands itself, and its log beside it.
func OwnPlace(path string) string {
	if own, err := filepath.EvalSymlinks(path); err == nil {
		return own
	}
	return path
}

func isThere(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// PlainFiles holds that a book and what SQLite keeps beside it are files: one who opens a pipe waits until somebody writes
// into it.
func PlainFiles(path string) error {
	for _, suffix := range []string{"", "-wal", "-shm", "-journal"} {
		info, err := os.Stat(path + suffix)
		if errors.Is(err, fs.ErrNotExist) && suffix != "" {
			continue
		}
		if err != nil {
			return Reason(err)
		}
		if !info.Mode().IsRegular() {
			if suffix == "" {
				return fmt.Errorf("%w; name the book", atomicfile.ErrNotPlain)
			}
			return fmt.Errorf("%s lies beside it, and %w; move it away", filepath.Base(path+suffix), atomicfile.ErrNotPlain)
		}
	}
	return nil
}

// CutLog cuts from SQLite's log what is not taken in. Nobody else may write meanwhile.
func CutLog(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	var head [LogHead]byte
	if n, _ := f.ReadAt(head[:], 0); n < len(head) {
		return nil
	}
	pageSize := int(binary.BigEndian.Uint32(head[8:]))
	if pageSize < 512 || pageSize > 65536 {
		return nil
	}
	l, err := readFrames(f, pageSize)
	if err != nil || len(l.behind) == 0 {
		return err
	}
	return f.Truncate(LogHead + l.Taken*int64(FrameHead+pageSize))
}
