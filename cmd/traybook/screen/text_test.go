package screen_test

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/screen"
)

func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"plain":                 "plain",
		"\x1b[2Jgone":           "␛[2Jgone",
		"bell\a null\x00":       "bell␇ null␀",
		"a\tb\nc\r":             "a b␊c␍",
		"del\x7f":               "del␡",
		"\u009b31m":             "‹009B›31m",
		"safe\u202egpj.exe":     "safe‹202E›gpj.exe",
		"\u2066x\u2069":         "‹2066›x‹2069›",
		"soft\u00adhyphen":      "softhyphen",
		"bad \xff byte":         "bad \uFFFD byte",
		"line\u2028end":         "line␊end",
		"ærfugl Ωmega Жук 港の写真": "ærfugl Ωmega Жук 港の写真",
		"👩‍👧":                   "👩‍👧",
		"tag\U000e0041":         "tag‹E0041›",
	} {
		assert.Equal(t, want, screen.Clean(in), "%q", in)
	}
}

func TestTruncate(t *testing.T) {
	for _, tt := range []struct {
		in      string
		columns int
		want    string
	}{
		{"ferry", 5, "ferry"}, {"ferryman", 5, "ferr…"}, {"港の写真", 8, "港の写真"}, {"港の写真", 7, "港の写…"}, {"港の写真", 6, "港の…"},
		{"ferry", 1, "…"}, {"ferry", 0, ""}, {"ferry", -3, ""}, {"e\u0301e\u0301e\u0301", 2, "e\u0301…"}, {"👩‍👧👩‍👧", 3, "👩‍👧…"},
	} {
		got := screen.Truncate(tt.in, tt.columns)
		assert.Equal(t, tt.want, got, "%q in %d", tt.in, tt.columns)
		assert.LessOrEqual(t, screen.Width(got), max(tt.columns, 0))
	}
}

func TestPad(t *testing.T) {
	assert.Equal(t, "港  ", screen.Pad("港", 4, false))
	assert.Equal(t, "   7", screen.Pad("7", 4, true))
	assert.Equal(t, "wide", screen.Pad("wide", 2, true))
}

func TestWrap(t *testing.T) {
	assert.Equal(t, []string{"the ferry was", "late"}, screen.Wrap("the  ferry was late", 13))
	assert.Equal(t, []string{"one", "", "two"}, screen.Wrap("one\r\n\ntwo", 20))
	assert.Equal(t, []string{"abcde", "fghij", "k l"}, screen.Wrap("abcdefghijk l", 5))
	assert.Equal(t, []string{"港の", "写真"}, screen.Wrap("港の写真", 5))
	assert.Equal(t, []string{""}, screen.Wrap("", 5))
	assert.Equal(t, []string{"4\u00a0s"}, screen.Wrap("4\u00a0s", 3), "a hard space does not break")
	assert.Equal(t, []string{"called for", "50 s", "(−0.46 stop)"}, screen.Wrap("called for 50 s (−0.46 stop)", 13))
	assert.Equal(t, []string{"2", "min", "30", "s"}, screen.Wrap("2 min 30 s", 3), "unless a line cannot hold both")
}

// words are drawn so that wide, combining, joined and hostile characters meet.
func words() *rapid.Generator[string] {
	part := rapid.SampledFrom([]string{"a", "ferry", " ", "  ", "港", "写真", "Ω", "Жук", "e\u0301", "\u0301", "👩‍👧", "🇳🇴", "🇳", "\x1b[31m", "\n", "\t", "\u202e", "\xff", "\ufe0f", "\u200d", "각", "ᄀ", "ᆨ", "©\ufe0f", "1\ufe0f\u20e3", "-"})
	return rapid.Custom(func(t *rapid.T) string {
		return strings.Join(rapid.SliceOfN(part, 0, 20).Draw(t, "parts"), "")
	})
}

func harmless(t require.TestingT, s string) {
	require.True(t, utf8.ValidString(s))
	for _, r := range s {
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
			require.Fail(t, "a control character is let through", "%q in %q", r, s)
		}
	}
}

func TestTextFitsWhateverItHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text, columns := words().Draw(t, "text"), rapid.IntRange(2, 40).Draw(t, "columns")
		clean := screen.Clean(text)
		harmless(t, clean)
		require.Equal(t, clean, screen.Clean(clean))
		require.LessOrEqual(t, screen.Width(screen.Truncate(clean, columns)), columns)
		for _, line := range screen.Wrap(text, columns) {
			harmless(t, line)
			require.LessOrEqual(t, screen.Width(line), columns, "%q", line)
		}
	})
}

func FuzzClean(f *testing.F) {
	for _, s := range []string{"\x1b]0;title\a", "\x9b2J", "a\u202eb", "港", "\xff\xfe", "e\u0301"} {
		f.Add(s, 12)
	}
	f.Fuzz(func(t *testing.T, s string, columns int) {
		clean := screen.Clean(s)
		harmless(t, clean)
		require.Equal(t, clean, screen.Clean(clean))
		if columns = columns % 200; columns < 2 {
			columns = 2
		}
		require.LessOrEqual(t, screen.Width(screen.Truncate(clean, columns)), columns)
		for _, line := range screen.Wrap(s, columns) {
			require.LessOrEqual(t, screen.Width(line), columns)
		}
	})
}
