package events

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"unicode/utf8"
)

// encoding/json takes keys in any case, lets the last of two equal keys win and turns broken UTF-8 into U+FFFD, all in
// silence. What is hashed for ever must not depend on such kindness, so foreign lines pass through here first.

type member struct {
	name  string
	value []byte
}

var errNoObject = errors.New("is no JSON object")

// objectMembers takes a JSON object apart, in order. Keys, colons, commas and braces must be where JSON has them; what
// the values hold is for those who read them. A key that stands twice is refused.
func objectMembers(raw []byte) ([]member, error) {
	i := skipSpace(raw, 0)
	if i >= len(raw) || raw[i] != '{' {
		return nil, errNoObject
	}
	i = skipSpace(raw, i+1)
	if i < len(raw) && raw[i] == '}' {
		return nil, atEnd(raw, i+1)
	}
	out := make([]member, 0, 12)
	for {
		if i >= len(raw) || raw[i] != '"' {
			return nil, errNoObject
		}
		end, err := skipValue(raw, i)
		if err != nil {
			return nil, err
		}
		name, err := stringOf(raw[i:end])
		if err != nil {
			return nil, errNoObject
		}
		for _, m := range out {
			if m.name == name {
				return nil, fmt.Errorf("holds the key %q twice", short(name))
			}
		}
		i = skipSpace(raw, end)
		if i >= len(raw) || raw[i] != ':' {
			return nil, errNoObject
		}
		i = skipSpace(raw, i+1)
		if end, err = skipValue(raw, i); err != nil {
			return nil, err
		}
		if end == i {
			return nil, errNoObject
		}
		out = append(out, member{name, raw[i:end]})
		i = skipSpace(raw, end)
		if i >= len(raw) {
			return nil, errNoObject
		}
		switch raw[i] {
		case ',':
			i = skipSpace(raw, i+1)
		case '}':
			return out, atEnd(raw, i+1)
		default:
			return nil, errNoObject
		}
	}
}

func atEnd(raw []byte, i int) error {
	if skipSpace(raw, i) != len(raw) {
		return errNoObject
	}
	return nil
}

// stringOf reads a JSON string.
func stringOf(raw []byte) (string, error) {
	if n := len(raw); n >= 2 && raw[0] == '"' && raw[n-1] == '"' && isPlain(raw[1:n-1]) {
		return string(raw[1 : n-1]), nil
	}
	var s string
	if len(raw) == 0 || raw[0] != '"' {
		return "", errors.New("is no JSON string")
	}
	err := json.Unmarshal(raw, &s)
	return s, err
}

// isPlain says whether the inside of a JSON string stands for itself.
func isPlain(b []byte) bool {
	for _, c := range b {
		if c < 0x20 || c == '\\' || c == '"' || c >= 0x80 {
			return false
		}
	}
	return true
}

// arrayValues takes a JSON array apart. raw must be valid JSON.
func arrayValues(raw []byte) [][]byte {
	if len(raw) == 0 || raw[0] != '[' {
		return nil
	}
	var out [][]byte
	for i := skipSpace(raw, 1); i < len(raw) && raw[i] != ']'; {
		end, err := skipValue(raw, i)
		if err != nil {
			return out
		}
		if end == i {
			i = skipSpace(raw, i+1)
			continue
		}
		out = append(out, raw[i:end])
		i = skipSpace(raw, end)
	}
	return out
}

func skipSpace(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\t' || b[i] == '\n' || b[i] == '\r') {
		i++
	}
	return i
}

// skipValue gives the end of the value that begins at i.
func skipValue(b []byte, i int) (int, error) {
	depth := 0
	for i < len(b) {
		switch b[i] {
		case '"':
			i++
			for i < len(b) && b[i] != '"' {
				if b[i] == '\\' {
					i++
				}
				i++
			}
		case '{', '[':
			depth++
		case '}', ']':
			if depth == 0 {
				return i, nil
			}
			depth--
		case ',', ':', ' ', '\t', '\n', '\r':
			if depth == 0 {
				return i, nil
			}
		}
		i++
		if depth == 0 && i < len(b) && (b[i-1] == '"' || b[i-1] == '}' || b[i-1] == ']') {
			return i, nil
		}
	}
	if i > len(b) || depth != 0 {
		return 0, errNoObject
	}
	return i, nil
}

// checkUnicode refuses broken UTF-8 and half surrogate pairs.
func checkUnicode(raw []byte) error {
	if !utf8.Valid(raw) {
		return errors.New("is not valid UTF-8")
	}
	for i := 0; i+1 < len(raw); i++ {
		if raw[i] != '\\' {
			continue
		}
		if raw[i+1] != 'u' {
			i++
			continue
		}
		r := escaped(raw, i)
		switch {
		case r >= 0xd800 && r < 0xdc00:
			if low := escaped(raw, i+6); low < 0xdc00 || low > 0xdfff {
				return errors.New("holds half of a surrogate pair")
			}
			i += 11
		case r >= 0xdc00 && r < 0xe000:
			return errors.New("holds half of a surrogate pair")
		default:
			i += 5
		}
	}
	return nil
}

// escaped reads the \uXXXX at i, -1 where none stands.
func escaped(raw []byte, i int) int {
	if i+6 > len(raw) || raw[i] != '\\' || raw[i+1] != 'u' {
		return -1
	}
	v, err := strconv.ParseUint(string(raw[i+2:i+6]), 16, 32)
	if err != nil {
		return -1
	}
	return int(v)
}
