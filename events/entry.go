package events

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"time"
)

// ID names an entry, a batch or a book: 128 bits, written as 32 hex digits.
type ID [16]byte

// Hash is a SHA-256.
type Hash [32]byte

func (i ID) String() string { return hex.EncodeToString(i[:]) }

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// IsZero says that there is none.
func (i ID) IsZero() bool { return i == ID{} }

// ParseID reads 32 small hex digits.
func ParseID(s string) (ID, error) {
	var id ID
	if len(s) != 32 || !isHex(s) {
		return id, fmt.Errorf("%q is no id; an id is 32 hex digits", short(s))
	}
	_, err := hex.Decode(id[:], []byte(s))
	return id, err
}

// ParseHash reads 64 small hex digits.
func ParseHash(s string) (Hash, error) {
	var h Hash
	if len(s) != 64 || !isHex(s) {
		return h, fmt.Errorf("%q is no hash; a hash is 64 hex digits", short(s))
	}
	_, err := hex.Decode(h[:], []byte(s))
	return h, err
}

// Entry is the record of one act or fact.
type Entry struct {
	Kind       Kind
	At         time.Time // when the act began, with the offset of the place
	Zone       string    // the zone's name, "" where none was given
	Data       Data
	ID         ID
	Batch      ID // zero where the entry was written alone
	Book       ID // the chain it belongs to
	BookSeq    int64
	RecordedAt time.Time // when it was written down
	V          int
	Prev       Hash
	Hash       Hash
	Stored     []byte // the bytes that the hash covers

	Seq     int64 // order of arrival in this file; 0 before it is kept
	Branch  int64 // the chain's number in this file; see Chain
	Amended []ID  // amendments applied by Fold, oldest first
	Voided  ID    // the void that took it back, set by Fold when asked to keep the voided
}

// Version is the newest version of every kind's shape.
const Version = 1

const timeLayout = "2006-01-02T15:04:05.999999999Z07:00"

// FormatTime writes t as entries hold it: RFC 3339 with the offset of the place.
func FormatTime(t time.Time) string { return t.Format(timeLayout) }

// onTheMinute gives t an offset of whole minutes, since RFC 3339 holds no seconds of one; the instant stays. Local mean
// times, which some zones had until 1972, have seconds.
func onTheMinute(t time.Time) time.Time {
	_, offset := t.Zone()
	if offset%60 == 0 {
		return t
	}
	return t.In(time.FixedZone("", offset-offset%60))
}

// Seal encodes e, sets its stored bytes, and its hash over prev. Everything but Prev, Hash and Stored must be set. What
// the reader of lines would not take back is refused, so that nothing is kept that cannot be read. At is then what its
// line says: of an offset with seconds only the minutes are written.
func (e *Entry) Seal(prev Hash) error {
	e.RecordedAt = onTheMinute(e.RecordedAt) // it must not run back within a chain
	if err := e.encode(prev); err != nil {
		return err
	}
	if err := e.readAgain(); err != nil {
		e.Stored, e.Prev, e.Hash = nil, Hash{}, Hash{}
		return refusedBy(e.Kind, err)
	}
	return nil
}

// readAgain reads a sealed entry as the reader of lines does, and wants the same data. Most are read the quick way.
func (e *Entry) readAgain() error {
	read, ok := fastJudged(e.Stored)
	if !ok {
		l, err := ParseLine(e.AppendLine(nil))
		if err != nil {
			return err
		}
		read = l.Entry
	}
	return e.sameAs(read)
}

// sameAs wants of an entry that was read what e has.
func (e *Entry) sameAs(l Entry) error {
	if !reflect.DeepEqual(l.Data, e.Data) { // a list that is empty and one that is not there are written alike
		read, err := marshal(l.Data)
		if err != nil {
			return err
		}
		_, written, _ := bytes.Cut(e.Stored, []byte(`,"data":`))
		if rest, same := bytes.CutPrefix(written, read); !same || !bytes.HasPrefix(rest, []byte(`,"id":"`)) {
			return errors.New("a text is not valid UTF-8") // JSON puts another character in the place of what is none
		}
	}
	if !l.At.Equal(e.At) {
		e.At = l.At
	}
	return nil
}

// Readable says what the reader of lines has against an entry that is kept: an *UnfitError where the entry is what its
// hash says and breaks a rule, nil for nothing.
func (e *Entry) Readable() error {
	_, err := ParseLine(e.AppendLine(nil))
	return err
}

// DecodeJudged is Decode of the stored bytes of a kept entry, and besides what Readable says of it, unfit; most are read and
// judged in one.
func DecodeJudged(stored []byte, prev, hash Hash) (e Entry, unfit, err error) {
	e, fits := fastJudged(stored)
	if !fits {
		e, err = Decode(stored)
	}
	e.Prev, e.Hash = prev, hash
	if err == nil && !(fits && HashOf(prev, stored) == hash) {
		unfit = e.Readable()
	}
	return e, unfit, err
}

// lineTail is more than the hashes take behind the stored bytes in a line.
const lineTail = 160

func (e *Entry) encode(prev Hash) error {
	data, err := marshal(e.Data)
	if err != nil {
		return fmt.Errorf("%s: cannot be written as JSON: %w", e.Kind, err)
	}
	b := e.appendOpening(make([]byte, 0, len(data)+320), data)
	b = append(b, `,"id":"`...)
	b = hex.AppendEncode(b, e.ID[:])
	if !e.Batch.IsZero() {
		b = append(b, `","batch":"`...)
		b = hex.AppendEncode(b, e.Batch[:])
	}
	b = append(b, `","book":"`...)
	b = hex.AppendEncode(b, e.Book[:])
	b = append(b, `","book_seq":`...)
	b = strconv.AppendInt(b, e.BookSeq, 10)
	b = append(b, `,"recorded_at":"`...)
	b = e.RecordedAt.AppendFormat(b, timeLayout)
	b = append(b, `","v":`...)
	b = strconv.AppendInt(b, int64(e.V), 10)
	b = append(b, '}')
	if len(b)+lineTail > MaxLine {
		return fmt.Errorf("%s: the entry is longer than %d bytes; shorten its texts", e.Kind, MaxLine)
	}
	e.Stored, e.Prev, e.Hash = b, prev, HashOf(prev, b)
	return nil
}

// appendOpening writes what every line of an entry begins with, up to its data.
func (e *Entry) appendOpening(b, data []byte) []byte {
	b = append(b, `{"kind":"`...)
	b = append(b, e.Kind...)
	b = append(b, `","at":"`...)
	b = e.At.AppendFormat(b, timeLayout)
	if e.Zone != "" {
		b = append(b, `","zone":"`...)
		b = append(b, e.Zone...)
	}
	b = append(b, `","data":`...)
	return append(b, data...)
}

// HashOf is the chain's rule: SHA-256 over the line `traybook-entry-1`, the 64 hex digits of prev and a line feed, and
// the stored bytes.
func HashOf(prev Hash, stored []byte) Hash {
	const tag = "traybook-entry-1\n"
	h := sha256.New()
	var head [len(tag) + 65]byte
	copy(head[:], tag)
	hex.Encode(head[len(tag):], prev[:])
	head[len(head)-1] = '\n'
	h.Write(head[:])
	h.Write(stored)
	var out Hash
	h.Sum(out[:0])
	return out
}

// AppendLine writes the whole line of e, with prev and hash, without the line feed.
func (e *Entry) AppendLine(b []byte) []byte {
	b = append(b, e.Stored[:len(e.Stored)-1]...)
	b = append(b, `,"prev":"`...)
	b = hex.AppendEncode(b, e.Prev[:])
	b = append(b, `","hash":"`...)
	b = hex.AppendEncode(b, e.Hash[:])
	return append(b, `"}`...)
}
