package events

import (
	"encoding/hex"
	"errors"
	"fmt"
	"reflect"
	"time"
)

// AppendPlain writes e as a plain line, with its id where it has one, without the line feed.
func (e *Entry) AppendPlain(b []byte) ([]byte, error) {
	data, err := marshalData(e.Data)
	if err != nil {
		return b, fmt.Errorf("%s: cannot be written as JSON: %w", e.Kind, err)
	}
	b = append(b, `{"kind":"`...)
	b = append(b, e.Kind...)
	b = append(b, `","at":"`...)
	b = e.At.AppendFormat(b, timeLayout)
	if e.Zone != "" {
		b = append(b, `","zone":"`...)
		b = append(b, e.Zone...)
	}
	b = append(b, `","data":`...)
	b = append(b, data...)
	if !e.ID.IsZero() {
		b = append(b, `,"id":"`...)
		b = hex.AppendEncode(b, e.ID[:])
		b = append(b, '"')
	}
	return append(b, '}'), nil
}

// ReadPlain reads what AppendPlain wrote. It does not judge it: see ParseLine for foreign bytes.
func ReadPlain(line []byte) (Entry, error) {
	if e, ok := quickPlain(line); ok {
		return e, nil
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

func quickPlain(line []byte) (Entry, bool) {
	q := quick{b: line}
	var e Entry
	q.eat(`{"kind":"`)
	k := quickKinds()[string(q.text())]
	if k == nil {
		return e, false
	}
	e.Kind, e.V = k.kind, Version
	q.eat(`,"at":"`)
	e.At = q.time()
	if q.has(`,"zone":"`) {
		e.Zone = string(q.some())
	}
	q.eat(`,"data":`)
	e.Data = k.empty()
	q.data(k.fields(), reflect.ValueOf(e.Data).Elem())
	if q.has(`,"id":"`) {
		q.id(&e.ID)
	}
	q.eat(`}`)
	return e, !q.odd && q.i == len(line)
}
