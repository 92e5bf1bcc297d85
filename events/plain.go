package events

import (
	"encoding/hex"
	"errors"
	"fmt"
	"time"
)

// AppendPlain writes e as a plain line, with its id where it has one, without the line feed.
func (e *Entry) AppendPlain(b []byte) ([]byte, error) {
	data, err := marshal(e.Data)
	if err != nil {
		return b, fmt.Errorf("%s: cannot be written as JSON: %w", e.Kind, err)
	}
	b = e.appendOpening(b, data)
	if !e.ID.IsZero() {
		b = append(b, `,"id":"`...)
		b = hex.AppendEncode(b, e.ID[:])
		b = append(b, '"')
	}
	return append(b, '}'), nil
}

// ReadPlain reads what AppendPlain wrote. It does not judge it: see ParseLine for foreign bytes.
func ReadPlain(line []byte) (Entry, error) {
	q := fast{b: line}
	if l, ok := q.plain(); ok {
		return l.Entry, nil
	}
	members, err := objectMembers(line)
	if err != nil {
		return Entry{}, fmt.Errorf("the line %w", err)
	}
	o, err := readOutside(members)
	if err != nil {
		return Entry{}, err
	}
	e := o.e
	if e.At, err = time.Parse(time.RFC3339, string(o.at)); err != nil {
		return Entry{}, errors.New("the line holds no time")
	}
	e.V = Version
	e.Data, err = decodeData(e.Kind, e.V, o.data)
	return e, err
}
