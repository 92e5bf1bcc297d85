package events

import (
	"math"
	"reflect"
	"strconv"
	"unicode/utf8"
)

// marshalData writes d as encoding/json does, with nothing escaped that need not be. What takes one look to write is
// written here, which is three times as fast; all else is left to the library, which writes the same bytes.
func marshalData(d Data) ([]byte, error) {
	if b, ok := fastEncode(d); ok {
		return b, nil
	}
	return marshal(d)
}

func fastEncode(d Data) ([]byte, bool) {
	p := reflect.ValueOf(d)
	if p.Kind() != reflect.Pointer || p.IsNil() {
		return nil, false
	}
	v := p.Elem()
	b := append(make([]byte, 0, 320), '{')
	for _, f := range Fields(d.Kind()) {
		var ok bool
		if b, ok = appendField(b, f, v.FieldByIndex(f.index).Addr().Interface()); !ok {
			return nil, false
		}
	}
	return append(b, '}'), true
}

// appendField writes one field, or nothing where it is left out; false where the library must write it.
func appendField(b []byte, f Field, at any) ([]byte, bool) {
	switch p := at.(type) {
	case *string:
		if *p == "" && f.leftOut {
			return b, true
		}
		return appendPlainText(appendKey(b, f), *p)
	case *float64:
		if *p == 0 && f.leftOut {
			return b, true
		}
		return appendNumber(appendKey(b, f), *p)
	case **float64:
		if *p == nil {
			return b, f.leftOut
		}
		return appendNumber(appendKey(b, f), **p)
	case *int:
		if *p == 0 && f.leftOut {
			return b, true
		}
		return strconv.AppendInt(appendKey(b, f), int64(*p), 10), true
	case **int:
		if *p == nil {
			return b, f.leftOut
		}
		return strconv.AppendInt(appendKey(b, f), int64(**p), 10), true
	case *int64:
		if *p == 0 && f.leftOut {
			return b, true
		}
		return strconv.AppendInt(appendKey(b, f), *p, 10), true
	}
	v := reflect.ValueOf(at).Elem()
	if (v.Kind() == reflect.Pointer && v.IsNil() || v.Kind() == reflect.Slice && v.Len() == 0) && f.leftOut {
		return b, true
	}
	raw, err := marshal(v.Interface())
	return append(appendKey(b, f), raw...), err == nil
}

func appendKey(b []byte, f Field) []byte {
	if len(b) > 1 {
		b = append(b, ',')
	}
	b = append(b, '"')
	b = append(b, f.Name...)
	return append(b, `":`...)
}

// appendPlainText writes a text that holds nothing to escape.
func appendPlainText(b []byte, s string) ([]byte, bool) {
	high := false
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c < 0x20 || c == '"' || c == '\\':
			return b, false
		case c >= utf8.RuneSelf:
			high = true
		}
	}
	if high {
		for _, r := range s { // the line separators of Unicode are escaped, and so is what is no character
			if r == '\u2028' || r == '\u2029' || r == utf8.RuneError {
				return b, false
			}
		}
	}
	b = append(b, '"')
	b = append(b, s...)
	return append(b, '"'), true
}

// appendNumber writes a number as the library does: like ECMAScript, in plain digits unless it is very small or large.
func appendNumber(b []byte, x float64) ([]byte, bool) {
	if a := math.Abs(x); a != 0 && (a < 1e-6 || a >= 1e21) || math.IsNaN(x) || math.IsInf(x, 0) {
		return b, false
	}
	return strconv.AppendFloat(b, x, 'f', -1, 64), true
}
