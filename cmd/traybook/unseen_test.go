package main

import (
	"bytes"
	"encoding/json"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every character below U+10000, and some beyond, passes through JSON and comes back; what a terminal obeys is escaped.
func TestJSONHoldsNothingThatATerminalObeys(t *testing.T) {
	t.Parallel()
	text := []rune("x")
	for r := rune(1); r < 0x10000; r++ {
		if r < 0xd800 || r > 0xdfff {
			text = append(text, r)
		}
	}
	text = append(text, 0x1f600, 0xe0001)
	var b bytes.Buffer
	require.NoError(t, writeJSON(&b, map[string]string{string(text): string(text)}))
	for _, r := range b.String() {
		require.False(t, r != '\n' && unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r), "U+%04X stands raw", r)
	}
	var back map[string]string
	require.NoError(t, json.Unmarshal(b.Bytes(), &back))
	assert.Equal(t, map[string]string{string(text): string(text)}, back)

	b.Reset()
	require.NoError(t, writeJSON(&b, "a\u009b2J\u007f\u202egnp \u2067x\u200f"))
	assert.Equal(t, `"a\u009b2J\u007f\u202egnp \u2067x\u200f"`+"\n", b.String())
}
