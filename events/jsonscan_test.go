package events

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	noon    = time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC)
	errDisk = errors.New("the disk failed")
)

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errDisk }

func TestObjectMembers(t *testing.T) {
	got, err := objectMembers([]byte(" { \"a\" : 1 ,\"b\\u0062\":[1,{\"}\":\"]\"}],\"c\":\"\\\\\\\"}\" } "))
	require.NoError(t, err)
	require.Len(t, got, 3)
	assert.Equal(t, "a", got[0].name)
	assert.Equal(t, "1", string(got[0].value))
	assert.Equal(t, "bb", got[1].name)
	assert.Equal(t, `[1,{"}":"]"}]`, string(got[1].value))
	assert.Equal(t, `"\\\"}"`, string(got[2].value))
	for _, bad := range []string{``, ` `, `1`, `{`, `{"a"`, `{"a":`, `{"a":}`, `{"a":1`, `{"a":1,`, `{"a":1,}`, `{,}`, `{"a" 1}`, `{"a":1 "b":2}`, `{}x`, `{"a":1}}`, `{"a":"`, `{"a":"\`, `{"a\`, `{"a":[1}`, `{a:1}`, `{1:1}`} {
		_, err := objectMembers([]byte(bad))
		assert.Error(t, err, bad)
	}
}

// Where encoding/json sees valid JSON, the scan sees an object exactly where it does, with the same keys and values.
func FuzzObjectMembers(f *testing.F) {
	for _, s := range []string{`{}`, `{"a":1}`, `{"a":{"b":[1,2,"}"]},"c":null}`, `[1]`, `{"a":1,"a":2}`, `{"a":`, `"x"`, ` {"\u0061":"\ud800"} `, "{\"\xff\":1}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		got, err := objectMembers(raw)
		_ = checkUnicode(raw)
		if !json.Valid(raw) {
			return
		}
		want, twice, isObject := members(raw)
		if !isObject {
			assert.Error(t, err)
			return
		}
		if twice {
			assert.ErrorContains(t, err, "twice")
			return
		}
		require.NoError(t, err)
		require.Len(t, got, len(want))
		for i := range want {
			assert.Equal(t, want[i].name, got[i].name)
			assert.Equal(t, string(want[i].value), string(bytes.TrimSpace(got[i].value)))
		}
	})
}

// members takes valid JSON apart with encoding/json's own tokens.
func members(raw []byte) (out []member, twice, isObject bool) {
	dec := json.NewDecoder(bytes.NewReader(raw))
	if tok, _ := dec.Token(); tok != json.Delim('{') {
		return nil, false, false
	}
	for dec.More() {
		tok, _ := dec.Token()
		name, _ := tok.(string)
		var v json.RawMessage
		if dec.Decode(&v) != nil {
			return out, twice, true
		}
		for _, m := range out {
			twice = twice || m.name == name
		}
		out = append(out, member{name, v})
	}
	return out, twice, true
}

func TestCheckUnicode(t *testing.T) {
	for _, good := range []string{``, `\\ud800`, `😀`, `\ud83d\ude00`, `\u00e5`, `\n`, `\u12`} {
		assert.NoError(t, checkUnicode([]byte(good)), good)
	}
	for _, bad := range []string{`\ud83d`, `\ud83dx`, `\ud83d\ud83d`, `\udc00`, `\ud83d\u12`} {
		assert.EqualError(t, checkUnicode([]byte(bad)), "holds half of a surrogate pair", bad)
	}
	assert.Error(t, checkUnicode([]byte("\xc3")))
}

func TestArrayValues(t *testing.T) {
	join := func(raw string) string { return string(bytes.Join(arrayValues([]byte(raw)), []byte("|"))) }
	assert.Equal(t, `1|null|"a,]"|[2]`, join(`[ 1 , null,"a,]", [2] ]`))
	assert.Empty(t, join(`[]`))
	assert.Empty(t, join(`null`))
	assert.Empty(t, join(`["`))
	assert.Equal(t, "1", join(`[1`))
	assert.True(t, strings.HasPrefix(join(`[1,"`), "1"))
}

func TestStringOf(t *testing.T) {
	for raw, want := range map[string]string{`"a"`: "a", `"å"`: "å", `"a\"b"`: `a"b`, `""`: ""} {
		got, err := stringOf([]byte(raw))
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	for _, bad := range []string{``, `"`, `1`, `null`, "\"a\nb\"", "\"a\x1fb\"", "\"a\x00b\"", `"a"b"`} {
		_, err := stringOf([]byte(bad))
		assert.Error(t, err, bad)
	}
}
