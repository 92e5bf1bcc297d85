package events

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"time"
)

var (
	rfc3339 = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?(Z|[+-][0-9]{2}:[0-9]{2})$`)
	tail    = regexp.MustCompile(`^,"prev":"([0-9a-f]{64})","hash":"([0-9a-f]{64})"}$`)
)

// envelope is the outside of an entry as encoding/json reads it.
type envelope struct {
	Kind       Kind            `json:"kind"`
	At         string          `json:"at"`
	Zone       string          `json:"zone"`
	Data       json.RawMessage `json:"data"`
	ID         string          `json:"id"`
	Batch      string          `json:"batch"`
	Book       string          `json:"book"`
	BookSeq    int64           `json:"book_seq"`
	RecordedAt string          `json:"recorded_at"`
	V          int             `json:"v"`
}

// ParseTime reads an RFC 3339 time with its offset, in its strict form.
func ParseTime(s string) (time.Time, error) {
	if !rfc3339.MatchString(s) {
		return time.Time{}, fmt.Errorf("%q is no time; write it as 2026-05-03T14:05:10+02:00", short(s))
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("%q is no time: there is no such day, hour or offset", s)
	}
	return t, nil
}

// Decode reads stored bytes that this program or one like it has kept. It does not judge them: see ParseLine for
// foreign bytes.
func Decode(stored []byte) (Entry, error) {
	var env envelope
	if err := json.Unmarshal(stored, &env); err != nil {
		return Entry{}, fmt.Errorf("the stored bytes are no entry: %w", err)
	}
	e := Entry{Kind: env.Kind, Zone: env.Zone, BookSeq: env.BookSeq, V: env.V, Stored: stored}
	var err error
	if e.At, err = time.Parse(time.RFC3339, env.At); err != nil {
		return Entry{}, fmt.Errorf("the stored bytes hold no time: %w", err)
	}
	if env.RecordedAt != "" {
		if e.RecordedAt, err = time.Parse(time.RFC3339, env.RecordedAt); err != nil {
			return Entry{}, fmt.Errorf("the stored bytes hold no recorded time: %w", err)
		}
	}
	for _, p := range []struct {
		text string
		id   *ID
	}{{env.ID, &e.ID}, {env.Batch, &e.Batch}, {env.Book, &e.Book}} {
		if p.text == "" {
			continue
		}
		if *p.id, err = ParseID(p.text); err != nil {
			return Entry{}, err
		}
	}
	e.Data, err = decodeData(env.Kind, env.V, env.Data)
	return e, err
}

func decodeData(k Kind, v int, raw []byte) (Data, error) {
	d, ok := New(k)
	if !ok {
		return nil, fmt.Errorf("the kind %q is not known to this version of traybook; a newer one may read it", short(string(k)))
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
			return &FieldError{k, "", "data is a JSON " + t.Value + "; it takes an object"}
		}
		return &FieldError{k, field, "is a JSON " + t.Value + "; that does not fit"}
	}
	return &FieldError{k, "", err.Error()}
}

// Line is one line of NDJSON as it was read: plain, or whole with its hash.
type Line struct {
	Entry
	Whole bool // it brought prev and hash
	HasID bool // it brought an id
}

var envelopeKeys = map[string]bool{
	"kind": true, "at": true, "zone": true, "data": true, "id": true, "batch": true, "book": true,
	"book_seq": true, "recorded_at": true, "v": true, "prev": true, "hash": true,
}

// ParseLine reads one foreign line, without its line feed, and refuses what it does not know: keys, fields, kinds,
// versions, doubled keys, broken UTF-8. A whole line is held against its hash. A plain line gets an id made from its
// kind, at and data; its data is not yet validated, since the book may fill in what it leaves out.
func ParseLine(raw []byte) (Line, error) {
	var l Line
	if len(raw) > MaxLine {
		return l, fmt.Errorf("the line has %d bytes; at most %d", len(raw), MaxLine)
	}
	if err := checkUnicode(raw); err != nil {
		return l, fmt.Errorf("the line %w", err)
	}
	if !json.Valid(raw) {
		return l, errors.New("the line is not whole JSON; it may have been cut off")
	}
	members, err := objectMembers(raw)
	if err != nil {
		return l, fmt.Errorf("the line: %w", err)
	}
	has := make(map[string]bool, len(members))
	var data []byte
	for _, m := range members {
		if !envelopeKeys[m.name] {
			return l, fmt.Errorf("the key %q is not known", short(m.name))
		}
		has[m.name] = true
		if m.name == "data" {
			data = m.value
		}
	}
	for _, k := range []string{"kind", "at", "data"} {
		if !has[k] {
			return l, fmt.Errorf("the key %q is missing", k)
		}
	}
	l.Whole, l.HasID = has["hash"], has["id"]
	if l.Whole {
		return l, l.readWhole(raw, has, data)
	}
	return l, l.readPlain(raw, has, data)
}

func (l *Line) readWhole(raw []byte, has map[string]bool, data []byte) error {
	for _, k := range []string{"id", "book", "book_seq", "recorded_at", "v", "prev"} {
		if !has[k] {
			return fmt.Errorf("the line brings a hash but no %q", k)
		}
	}
	cut := bytes.LastIndex(raw, []byte(`,"prev"`))
	if cut < 0 {
		return errors.New(`the line brings a hash, but does not end with "prev" and "hash"`)
	}
	m := tail.FindSubmatch(raw[cut:])
	if m == nil {
		return errors.New(`the line brings a hash, but does not end with "prev" and "hash" of 64 hex digits`)
	}
	stored := append(append(make([]byte, 0, cut+1), raw[:cut]...), '}')
	if err := l.fromEnvelope(stored, data); err != nil {
		return err
	}
	var err error
	if l.Prev, err = ParseHash(string(m[1])); err != nil {
		return err
	}
	if l.Hash, err = ParseHash(string(m[2])); err != nil {
		return err
	}
	if l.BookSeq < 1 {
		return fmt.Errorf("book_seq is %d; chains count from 1", l.BookSeq)
	}
	if got := HashOf(l.Prev, stored); got != l.Hash {
		return fmt.Errorf("the line was changed: its hash is %s…, its bytes give %s…", l.Hash.String()[:8], got.String()[:8])
	}
	l.Stored = stored
	return Validate(l.Data)
}

func (l *Line) readPlain(raw []byte, has map[string]bool, data []byte) error {
	for _, k := range []string{"book", "book_seq", "recorded_at", "prev"} {
		if has[k] {
			return fmt.Errorf("the line brings %q but no hash; a line is either plain or whole", k)
		}
	}
	return l.fromEnvelope(raw, data)
}

func (l *Line) fromEnvelope(raw, data []byte) error {
	var env envelope
	if err := json.Unmarshal(raw, &env); err != nil {
		var t *json.UnmarshalTypeError
		if errors.As(err, &t) {
			return fmt.Errorf("the key %q is a JSON %s; that does not fit", t.Field, t.Value)
		}
		return fmt.Errorf("the line: %w", err)
	}
	if env.V == 0 {
		env.V = Version
	}
	e := Entry{Kind: env.Kind, Zone: env.Zone, BookSeq: env.BookSeq, V: env.V}
	var err error
	if e.At, err = ParseTime(env.At); err != nil {
		return fmt.Errorf("at: %w", err)
	}
	if y := e.At.Year(); y < 1830 || y > 9000 {
		return fmt.Errorf("at: the year %d is outside 1830 to 9000", y)
	}
	if env.RecordedAt != "" {
		if e.RecordedAt, err = ParseTime(env.RecordedAt); err != nil {
			return fmt.Errorf("recorded_at: %w", err)
		}
	}
	if env.Zone != "" {
		if _, err := time.LoadLocation(env.Zone); err != nil || env.Zone == "Local" {
			return fmt.Errorf("zone: %q is no time zone such as Europe/Oslo", short(env.Zone))
		}
	}
	for _, p := range []struct {
		key, text string
		id        *ID
	}{{"id", env.ID, &e.ID}, {"batch", env.Batch, &e.Batch}, {"book", env.Book, &e.Book}} {
		if p.text == "" {
			continue
		}
		if *p.id, err = ParseID(p.text); err != nil {
			return fmt.Errorf("%s: %w", p.key, err)
		}
	}
	if e.Data, err = decodeForeign(env.Kind, env.V, data); err != nil {
		return err
	}
	l.Entry = e
	return nil
}

// decodeForeign is decodeData with every field's name held against the kind's list.
func decodeForeign(k Kind, v int, data []byte) (Data, error) {
	if _, ok := newData[k]; !ok {
		return nil, fmt.Errorf("the kind %q is not known", short(string(k)))
	}
	if v < 1 || v > Version {
		return nil, fmt.Errorf("%s: version %d is not known to this version of traybook", k, v)
	}
	members, err := objectMembers(data)
	if err != nil {
		return nil, &FieldError{k, "", "data " + err.Error()}
	}
	for _, m := range members {
		f, ok := FieldOf(k, m.name)
		if !ok {
			return nil, &FieldError{k, short(m.name), "is not a field of this kind"}
		}
		if string(m.value) == "null" {
			return nil, &FieldError{k, m.name, "is null; leave out what is not known"}
		}
		if f.Type == "density" {
			if err := checkDensityKeys(k, m.value); err != nil {
				return nil, err
			}
		}
	}
	for _, f := range schemas[k] {
		if f.Required && !f.Fill && !hasMember(members, f.Name) {
			return nil, &FieldError{k, f.Name, "is missing"}
		}
	}
	return decodeData(k, v, data)
}

func checkDensityKeys(k Kind, raw []byte) error {
	members, err := objectMembers(raw)
	if err != nil {
		return &FieldError{k, "density", err.Error()}
	}
	for _, m := range members {
		if m.name != "min" && m.name != "mid" && m.name != "max" {
			return &FieldError{k, "density", fmt.Sprintf("holds %q; it takes min, mid, max", short(m.name))}
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
