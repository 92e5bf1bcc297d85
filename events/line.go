package events

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"sync"
	"time"
)

// outside is an entry without its data, as its members say.
type outside struct {
	at, recorded, data []byte
	e                  Entry
}

// readOutside reads the members of an entry's object that are known to it. What is present must be of its type and
// must not be empty.
func readOutside(members []member) (outside, error) {
	var o outside
	for _, m := range members {
		var err error
		switch m.name {
		case "data":
			o.data = m.value
		case "book_seq":
			o.e.BookSeq, err = strconv.ParseInt(string(m.value), 10, 64)
		case "v":
			o.e.V, err = strconv.Atoi(string(m.value))
		case "kind", "at", "zone", "id", "batch", "book", "recorded_at":
			err = o.readText(m)
		}
		if err != nil {
			return o, fmt.Errorf("the key %q is %s; that does not fit", m.name, short(string(m.value)))
		}
	}
	return o, nil
}

var errEmpty = errors.New("is empty")

func (o *outside) readText(m member) error {
	s, err := stringOf(m.value)
	switch {
	case err != nil:
		return err
	case s == "":
		return errEmpty
	}
	switch m.name {
	case "kind":
		o.e.Kind = Kind(s)
	case "at":
		o.at = []byte(s)
	case "zone":
		o.e.Zone = s
	case "id":
		o.e.ID, err = ParseID(s)
	case "batch":
		o.e.Batch, err = ParseID(s)
	case "book":
		o.e.Book, err = ParseID(s)
	case "recorded_at":
		o.recorded = []byte(s)
	}
	return err
}

// maxOffset bounds the offset of a place from UTC: the farthest zone in use lies 14 hours off.
const maxOffset = 18 * 3600

// ParseTime reads an RFC 3339 time with its offset, in its strict form.
func ParseTime(s string) (time.Time, error) {
	if !isTime(s) {
		return time.Time{}, fmt.Errorf("%q is no time; write it as 2026-05-03T14:05:10+02:00", short(s))
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("%q is no time: there is no such day, hour or offset", s)
	}
	if _, off := t.Zone(); off > maxOffset || off < -maxOffset {
		return time.Time{}, fmt.Errorf("%q is no time: there is no such day, hour or offset", s)
	}
	return t, nil
}

// Decode reads stored bytes that this program or one like it has kept. It does not judge them: see ParseLine for
// foreign bytes. The entry keeps stored as its Stored.
func Decode(stored []byte) (Entry, error) {
	if e, ok := fastDecode(stored); ok {
		return e, nil
	}
	return plainDecode(stored)
}

func plainDecode(stored []byte) (Entry, error) {
	members, err := objectMembers(stored)
	if err != nil {
		return Entry{}, fmt.Errorf("the stored bytes: %w", err)
	}
	o, err := readOutside(members)
	if err != nil {
		return Entry{}, fmt.Errorf("the stored bytes: %w", err)
	}
	e := o.e
	e.Stored = stored
	if e.At, err = time.Parse(time.RFC3339, string(o.at)); err != nil {
		return Entry{}, errors.New("the stored bytes hold no time")
	}
	if len(o.recorded) > 0 {
		if e.RecordedAt, err = time.Parse(time.RFC3339, string(o.recorded)); err != nil {
			return Entry{}, errors.New("the stored bytes hold no recorded time")
		}
	}
	e.Data, err = decodeData(e.Kind, e.V, o.data)
	return e, err
}

func decodeData(k Kind, v int, raw []byte) (Data, error) {
	d, ok := New(k)
	if !ok {
		return nil, newerError(fmt.Sprintf("the kind %q is not known to this version of traybook; a newer one may read it", short(string(k))))
	}
	raw, err := lift(k, v, raw)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(raw, d); err != nil {
		return nil, jsonError(k, err)
	}
	return d, nil
}

func jsonError(k Kind, err error) error {
	var t *json.UnmarshalTypeError
	if errors.As(err, &t) {
		field := t.Field
		if field == "" {
			return &FieldError{Kind: k, Fault: noObject, Value: t.Value}
		}
		return &FieldError{Kind: k, Field: field, Fault: otherJSON, Value: t.Value}
	}
	return &FieldError{Kind: k, Fault: unreadable, Value: err.Error()}
}

// Line is one line of NDJSON as it was read: plain, or whole with its hash.
type Line struct {
	Entry
	Whole bool // it brought prev and hash
	HasID bool // it brought an id
	N     int  // its number in the file, from 1; set by ReadLines
}

var envelopeKeys = map[string]bool{
	"kind": true, "at": true, "zone": true, "data": true, "id": true, "batch": true, "book": true,
	"book_seq": true, "recorded_at": true, "v": true, "prev": true, "hash": true,
}

// UnfitError says that a whole line is what its hash says and can be read, but breaks a rule: a book held it before the
// rule, or another program wrote it. Such an entry is named and carried along; it is not taken in anew.
type UnfitError struct{ Err error }

func (e *UnfitError) Error() string { return e.Err.Error() }

func (e *UnfitError) Unwrap() error { return e.Err }

// refusedBy names the kind of the entry that the reader of lines does not take.
func refusedBy(k Kind, err error) error {
	var field *FieldError
	if errors.As(err, &field) {
		return field
	}
	return fmt.Errorf("%s: %w", k, err)
}

// ParseLine reads one foreign line, without its line feed, and refuses what it does not know: keys, fields, kinds,
// versions, doubled keys, nulls, broken UTF-8. A whole line is held against its hash and its data is validated. A plain
// line's data is not, since the book may fill in what it leaves out; nor has it an id yet unless it brought one: see
// MadeID. With an *UnfitError comes the line as it is.
func ParseLine(raw []byte) (Line, error) {
	if len(raw) > MaxLine {
		return Line{}, fmt.Errorf("the line has %d bytes; at most %d", len(raw), MaxLine)
	}
	if l, ok := fastLine(raw); ok {
		return l, nil
	}
	l, err := parseLine(raw)
	if err == nil {
		return l, nil
	}
	if sound, ok := soundLine(raw); ok {
		return sound, &UnfitError{err}
	}
	return l, err
}

// soundLine reads a whole line without a look at the rules; false where it is no line, or not the one of its hash.
func soundLine(raw []byte) (Line, bool) {
	stored, prev, hash, ok := partLine(raw)
	if !ok || HashOf(prev, stored) != hash {
		return Line{}, false
	}
	e, err := plainDecode(stored)
	if err != nil || e.BookSeq < 1 || e.ID.IsZero() || e.Book.IsZero() {
		return Line{}, false
	}
	e.Prev, e.Hash = prev, hash
	return Line{Entry: e, Whole: true, HasID: true}, true
}

// partLine parts a whole line into the stored bytes and the two hashes behind them.
func partLine(raw []byte) (stored []byte, prev, hash Hash, ok bool) {
	cut := bytes.LastIndex(raw, []byte(`,"prev"`))
	if cut < 0 {
		return nil, prev, hash, false
	}
	m := tailForm().FindSubmatch(raw[cut:])
	if m == nil {
		return nil, prev, hash, false
	}
	hex.Decode(prev[:], m[1]) // the form has digits alone
	hex.Decode(hash[:], m[2])
	return append(append(make([]byte, 0, cut+1), raw[:cut]...), '}'), prev, hash, true
}

func parseLine(raw []byte) (Line, error) {
	var l Line
	if err := checkUnicode(raw); err != nil {
		return l, fmt.Errorf("the line %w", err)
	}
	if bytes.ContainsAny(raw, "\n\r") {
		return l, errors.New("the line holds a line break")
	}
	if !json.Valid(raw) {
		return l, errors.New("the line is not whole JSON; it may have been cut off")
	}
	members, err := objectMembers(raw)
	if err != nil {
		return l, fmt.Errorf("the line %w", err)
	}
	for _, m := range members {
		if !envelopeKeys[m.name] {
			return l, fmt.Errorf("the key %q is not known", short(m.name))
		}
	}
	for _, k := range []string{"kind", "at", "data"} {
		if !hasMember(members, k) {
			return l, fmt.Errorf("the key %q is missing", k)
		}
	}
	l.Whole, l.HasID = hasMember(members, "hash"), hasMember(members, "id")
	if l.Whole {
		return l, l.readWhole(raw, members)
	}
	return l, l.readPlain(members)
}

func (l *Line) readWhole(raw []byte, members []member) error {
	for _, k := range []string{"id", "book", "book_seq", "recorded_at", "v", "prev"} {
		if !hasMember(members, k) {
			return fmt.Errorf("the line brings a hash but no %q", k)
		}
	}
	stored, prev, hash, ok := partLine(raw)
	if !ok {
		return errors.New(`the line brings a hash, but does not end with "prev" and "hash" of 64 hex digits`)
	}
	if err := l.fromMembers(members); err != nil {
		return err
	}
	l.Prev, l.Hash = prev, hash
	if l.BookSeq < 1 {
		return fmt.Errorf("book_seq is %d; chains count from 1", l.BookSeq)
	}
	if got := HashOf(l.Prev, stored); got != l.Hash {
		return fmt.Errorf("the line was changed: its hash is %s…, its bytes give %s…", l.Hash.String()[:8], got.String()[:8])
	}
	l.Stored = stored
	return Validate(l.Data)
}

func (l *Line) readPlain(members []member) error {
	for _, k := range []string{"book", "book_seq", "recorded_at", "prev"} {
		if hasMember(members, k) {
			return fmt.Errorf("the line brings %q but no hash; a line is either plain or whole", k)
		}
	}
	return l.fromMembers(members)
}

func (l *Line) fromMembers(members []member) error {
	o, err := readOutside(members)
	if err != nil {
		return err
	}
	e := o.e
	if !hasMember(members, "v") {
		e.V = Version
	}
	if e.At, err = ParseTime(string(o.at)); err != nil {
		return fmt.Errorf("at: %w", err)
	}
	if err := checkYear(e.At); err != nil {
		return fmt.Errorf("at: %w", err)
	}
	if len(o.recorded) > 0 {
		if e.RecordedAt, err = ParseTime(string(o.recorded)); err != nil {
			return fmt.Errorf("recorded_at: %w", err)
		}
	}
	if e.Zone != "" && !isZone(e.Zone) {
		return fmt.Errorf("zone: %q is no time zone such as Europe/Oslo", short(e.Zone))
	}
	if e.Data, err = decodeForeign(e.Kind, e.V, o.data); err != nil {
		return err
	}
	l.Entry = e
	return nil
}

// The years that an act can have: paper was made sensitive to light from 1800 on, and instants must fit their column.
const (
	EarliestYear = 1800
	LatestYear   = 9000
)

func checkYear(t time.Time) error {
	if y := t.Year(); y < EarliestYear || y > LatestYear {
		return fmt.Errorf("the year %d is outside %d to %d", y, EarliestYear, LatestYear)
	}
	return nil
}

// zones remembers the names that were found good: looking one up reads a file.
var zones sync.Map

func isZone(name string) bool {
	if _, ok := zones.Load(name); ok {
		return true
	}
	if _, err := time.LoadLocation(name); err != nil || name == "Local" {
		return false
	}
	zones.Store(name, true)
	return true
}

// decodeForeign is decodeData with every field's name held against the kind's list.
func decodeForeign(k Kind, v int, data []byte) (Data, error) {
	if _, ok := typeOf[k]; !ok {
		return nil, fmt.Errorf("the kind %q is not known", short(string(k)))
	}
	if v < 1 || v > Version {
		return nil, fmt.Errorf("%s: version %d is not known to this version of traybook", k, v)
	}
	members, err := objectMembers(data)
	if err != nil {
		return nil, &FieldError{Kind: k, Fault: unreadableData, Value: err.Error()}
	}
	for _, m := range members {
		f, ok := FieldOf(k, m.name)
		if !ok {
			return nil, &FieldError{Kind: k, Field: short(m.name), Fault: notOfKind}
		}
		if string(m.value) == "null" {
			return nil, &FieldError{Kind: k, Field: m.name, Fault: isNull}
		}
		if err := checkInside(k, f, m.value); err != nil {
			return nil, err
		}
	}
	for _, f := range Fields(k) {
		if f.mustStand() && !hasMember(members, f.Name) {
			return nil, &FieldError{Kind: k, Field: f.Name, Fault: Missing}
		}
	}
	return decodeData(k, v, data)
}

// mustStand says that the field has to stand in a line: nothing is filled in for it.
func (f Field) mustStand() bool { return f.Required && f.Default == "" }

// checkInside refuses what encoding/json would pass over inside a value: nulls in lists, keys that a density has not.
func checkInside(k Kind, f Field, raw []byte) error {
	switch f.Type {
	case "nums", "many", "symptoms":
		for _, v := range arrayValues(raw) {
			if string(v) == "null" {
				return &FieldError{Kind: k, Field: f.Name, Fault: heldNull}
			}
		}
	case "density":
		members, err := objectMembers(raw)
		if err != nil {
			return &FieldError{Kind: k, Field: f.Name, Fault: unreadable, Value: err.Error()}
		}
		for _, m := range members {
			if m.name != "min" && m.name != "mid" && m.name != "max" {
				return &FieldError{Kind: k, Field: f.Name, Fault: notAmong, Value: quoted(m.name), Takes: "min, mid, max"}
			}
			if string(m.value) == "null" {
				return &FieldError{Kind: k, Field: f.Name, Fault: heldNull}
			}
		}
	}
	return nil
}

func hasMember(ms []member, name string) bool {
	for _, m := range ms {
		if m.name == name {
			return true
		}
	}
	return false
}

// MadeID is the id of a plain line that brought none: the first half of the SHA-256 over its kind, at and data as
// given, so that the same line makes the same entry again.
func MadeID(k Kind, at time.Time, d Data) (ID, error) {
	data, err := marshal(d)
	if err != nil {
		return ID{}, err
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "traybook-line-1\n%s\n%s\n%s", k, FormatTime(at), data))
	var id ID
	copy(id[:], sum[:])
	return id, nil
}
