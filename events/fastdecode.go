package events

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"reflect"
	"strconv"
	"sync"
	"time"
	"unicode/utf8"
)

// A book of a million entries is read in seconds only if its own bytes are read without encoding/json, which takes five
// times as long. What Seal writes has one shape: keys in one order, no spaces, few escapes. fastDecode reads that shape
// and nothing else; whatever differs from it in the least is left to the slow way, which gives the same values.

// fastKind is how the data of one kind is read.
type fastKind struct {
	kind   Kind
	empty  func() Data
	fields func() []Field
}

var fastKinds = sync.OnceValue(func() map[string]*fastKind {
	out := make(map[string]*fastKind, len(typeOf))
	for k, t := range typeOf {
		out[string(k)] = &fastKind{k, func() Data { return reflect.New(t).Interface().(Data) }, schemas[k]}
	}
	return out
})

// fastDecode is Decode for bytes of the usual shape; false for any other.
func fastDecode(stored []byte) (Entry, bool) {
	q := fast{b: stored}
	return q.entry()
}

func (q *fast) entry() (Entry, bool) {
	var e Entry
	if !q.opening(&e) {
		return e, false
	}
	q.eat(`,"id":"`)
	q.id(&e.ID)
	if q.has(`,"batch":"`) {
		q.id(&e.Batch)
	}
	q.eat(`,"book":"`)
	q.id(&e.Book)
	q.eat(`,"book_seq":`)
	e.BookSeq = q.whole()
	q.eat(`,"recorded_at":"`)
	e.RecordedAt = q.time()
	q.eat(`,"v":1}`)
	e.V, e.Stored = Version, q.b
	return e, !q.odd && q.i == len(q.b)
}

// plain reads a plain line.
func (q *fast) plain() (Line, bool) {
	var l Line
	if !q.opening(&l.Entry) {
		return l, false
	}
	if l.HasID = q.has(`,"id":"`); l.HasID {
		q.id(&l.ID)
	}
	q.eat("}")
	l.V = Version
	return l, !q.odd && q.i == len(q.b)
}

// opening reads what every line of an entry begins with, up to its data; false for a kind that is not known.
func (q *fast) opening(e *Entry) bool {
	q.eat(`{"kind":"`)
	k := fastKinds()[string(q.text())]
	if k == nil {
		return false
	}
	e.Kind = k.kind
	q.eat(`,"at":"`)
	e.At = q.time()
	if q.has(`,"zone":"`) {
		e.Zone = string(q.some())
	}
	q.eat(`,"data":`)
	e.Data = k.empty()
	q.data(k.fields(), reflect.ValueOf(e.Data).Elem())
	return true
}

// fast walks along the bytes. odd says that something was met that is not of the usual shape; all that follows then
// reads nothing.
type fast struct {
	b   []byte
	i   int
	odd bool

	judged bool // what the reader of lines does not take is odd, too: see fastJudged
}

func (q *fast) has(lit string) bool {
	if q.odd || len(q.b)-q.i < len(lit) || string(q.b[q.i:q.i+len(lit)]) != lit {
		return false
	}
	q.i += len(lit)
	return true
}

func (q *fast) eat(lit string) {
	if !q.has(lit) {
		q.odd = true
	}
}

// text reads the rest of a string whose first quote was read, and its last one. What is escaped is not of the usual
// shape.
func (q *fast) text() []byte {
	if q.odd {
		return nil
	}
	from, high := q.i, false
	for i := from; i < len(q.b); i++ {
		switch c := q.b[i]; {
		case c == '"':
			q.i = i + 1
			if high && !utf8.Valid(q.b[from:i]) {
				q.odd = true
			}
			return q.b[from:i]
		case c < 0x20 || c == '\\':
			q.odd = true
			return nil
		case c >= utf8.RuneSelf:
			high = true
		}
	}
	q.odd = true
	return nil
}

// some is text that is not empty.
func (q *fast) some() []byte {
	s := q.text()
	if len(s) == 0 {
		q.odd = true
	}
	return s
}

func (q *fast) time() time.Time {
	parse := func(s string) (time.Time, error) { return time.Parse(time.RFC3339, s) }
	if q.judged {
		parse = ParseTime
	}
	t, err := parse(string(q.some()))
	if err != nil {
		q.odd = true
	}
	return t
}

func (q *fast) id(id *ID) {
	s := q.text()
	if len(s) != 32 || !isHex(s) {
		q.odd = true
		return
	}
	hex.Decode(id[:], s)
}

// whole reads a whole number of at most 18 digits, without sign or leading zero.
func (q *fast) whole() int64 {
	var n int64
	from := q.i
	for q.i < len(q.b) && q.b[q.i] >= '0' && q.b[q.i] <= '9' {
		n = n*10 + int64(q.b[q.i]-'0')
		q.i++
	}
	if d := q.i - from; d == 0 || d > 18 || d > 1 && q.b[from] == '0' {
		q.odd = true
	}
	return n
}

var powersOfTen = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// number reads a number of at most 15 digits with an optional sign and decimals: its digits and the power of ten are
// both exact, so that their quotient is the nearest number, as strconv gives it.
func (q *fast) number() float64 {
	from := q.i
	neg := q.i < len(q.b) && q.b[q.i] == '-'
	if neg {
		q.i++
	}
	var n int64
	first, digits, decimals := q.i, 0, -1
	for ; q.i < len(q.b); q.i++ {
		c := q.b[q.i]
		if c == '.' && decimals < 0 && digits > 0 {
			if digits > 1 && q.b[first] == '0' {
				break
			}
			decimals = 0
			continue
		}
		if c < '0' || c > '9' {
			break
		}
		n = n*10 + int64(c-'0')
		if digits++; decimals >= 0 {
			decimals++
		}
		if digits > 15 {
			return q.longNumber(from)
		}
	}
	if digits == 0 || decimals == 0 || decimals < 0 && digits > 1 && q.b[first] == '0' {
		q.odd = true
		return 0
	}
	if q.i < len(q.b) && (q.b[q.i] == 'e' || q.b[q.i] == 'E') {
		return q.longNumber(from)
	}
	x := float64(n)
	if decimals > 0 {
		x /= powersOfTen[decimals]
	}
	if neg {
		x = -x
	}
	return x
}

// longNumber reads any number that JSON allows.
func (q *fast) longNumber(from int) float64 {
	end, err := skipValue(q.b, from)
	if err != nil || !json.Valid(q.b[from:end]) {
		q.odd = true
		return 0
	}
	x, err := strconv.ParseFloat(string(q.b[from:end]), 64)
	if err != nil {
		q.odd = true
	}
	q.i = end
	return x
}

// data reads the object of a kind's fields, in their order, none twice.
func (q *fast) data(fields []Field, v reflect.Value) {
	if q.has("{}") {
		for i := 0; q.judged && i < len(fields); i++ {
			q.without(fields[i])
		}
		return
	}
	q.eat("{")
	for next := 0; !q.odd; {
		q.eat(`"`)
		name := q.text()
		for next < len(fields) && fields[next].Name != string(name) {
			q.without(fields[next])
			next++
		}
		if next == len(fields) {
			q.odd = true
			return
		}
		q.eat(":")
		from := q.i
		q.value(v.FieldByIndex(fields[next].index).Addr().Interface())
		q.judge(fields[next], from)
		next++
		if q.has("}") {
			for ; q.judged && next < len(fields); next++ {
				q.without(fields[next])
			}
			return
		}
		q.eat(",")
	}
}

func (q *fast) value(dst any) {
	if q.odd {
		return
	}
	switch p := dst.(type) {
	case *string:
		q.eat(`"`)
		*p = string(q.text())
	case *float64:
		*p = q.number()
	case **float64:
		x := q.number()
		*p = &x
	case *int:
		*p = int(q.whole())
	case **int:
		n := int(q.whole())
		*p = &n
	case *int64:
		*p = q.whole()
	default:
		end, err := skipValue(q.b, q.i)
		if err != nil || json.Unmarshal(q.b[q.i:end], dst) != nil {
			q.odd = true
			return
		}
		q.i = end
	}
}

// fastJudged reads the stored bytes of an entry and holds them against every rule that ParseLine holds a whole line
// against, but for its hashes, by the same functions. False says nothing: the slow way has to be asked.
func fastJudged(stored []byte) (Entry, bool) {
	if len(stored)+lineTail > MaxLine || !plainText(stored) {
		return Entry{}, false
	}
	q := fast{b: stored, judged: true}
	e, ok := q.entry()
	return e, ok && e.BookSeq >= 1 && outsideFits(&e) && Validate(e.Data) == nil
}

// fastLine is ParseLine for lines of the usual shape; false says nothing.
func fastLine(raw []byte) (Line, bool) {
	if stored, prev, hash, whole := partLine(raw); whole {
		e, ok := fastJudged(stored)
		e.Prev, e.Hash = prev, hash
		return Line{Entry: e, Whole: true, HasID: true}, ok && HashOf(prev, stored) == hash
	}
	if !plainText(raw) {
		return Line{}, false
	}
	q := fast{b: raw, judged: true}
	l, ok := q.plain()
	return l, ok && outsideFits(&l.Entry)
}

// plainText says whether bytes are UTF-8 in which nothing is escaped and no line is broken.
func plainText(b []byte) bool {
	return bytes.IndexByte(b, '\\') < 0 && bytes.IndexByte(b, '\n') < 0 && bytes.IndexByte(b, '\r') < 0 && utf8.Valid(b)
}

// outsideFits holds what stands outside of an entry's data against the rules of lines.
func outsideFits(e *Entry) bool { return (e.Zone == "" || isZone(e.Zone)) && checkYear(e.At) == nil }

// judge holds the value of a field, which begins at from and was just read, against the rules of lines.
func (q *fast) judge(f Field, from int) {
	if !q.judged || q.odd {
		return
	}
	raw := q.b[from:q.i]
	q.odd = string(raw) == "null" || checkInside("", f, raw) != nil
}

// without is told of each field that is not there.
func (q *fast) without(f Field) {
	q.odd = q.odd || q.judged && f.mustStand()
}
