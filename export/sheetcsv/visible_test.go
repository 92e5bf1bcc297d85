package sheetcsv

import (
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestVisible(t *testing.T) {
	for in, want := range map[string]string{
		"":                    "",
		"Skerrow Maid":        "Skerrow Maid",
		"two\nlines\tand":     "two\nlines\tand",
		"two\r\nlines":        "two\nlines",
		"back\rover":          "back␍over",
		"\x1b[31mred\a":       "␛[31mred␇",
		"\u009b2J\x7f\u0085":  "‹009B›2J␡‹0085›",
		"safe\u202egpj.exe":   "safe‹202E›gpj.exe",
		"\u2066x\u2069\u061c": "‹2066›x‹2069›‹061C›",
		"joined 👩\u200d👧":     "joined 👩\u200d👧",
	} {
		assert.Equal(t, want, Visible(in), "%q", in)
		assert.Equal(t, want, Visible(Visible(in)), "%q", in)
	}
}

// No table holds a raw control, whatever character its texts hold.
func TestNoTableHoldsAControl(t *testing.T) {
	var b strings.Builder
	w, err := NewWriter(&b, []Column{{Name: "note"}, {Name: "more"}})
	require.NoError(t, err)
	for r := rune(0); r < 0x3000; r++ {
		require.NoError(t, w.Write([]string{string(r), "x" + string(r) + "\"y\""}))
	}
	for _, r := range strings.ReplaceAll(b.String(), "\r\n", "\n") {
		require.False(t, unicode.IsControl(r) && r != '\n' && r != '\t' || unicode.Is(unicode.Bidi_Control, r), "U+%04X stands raw", r)
	}
}
