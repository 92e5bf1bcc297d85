package events

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each form takes its shortest and its longest, and neither a bit less nor more.
func TestForms(t *testing.T) {
	long := strings.Repeat("a", 40)
	for name, c := range map[string]struct {
		form     func() *regexp.Regexp
		are, not []string
	}{
		"name":     {nameForm, []string{"a", "7", "dev-1", "a._-", long}, []string{"", "-a", ".a", "_a", "A", "a b", "a@2", "é", long + "a", "a\n"}},
		"ranked":   {rankedForm, []string{"a", long, "dev-1@2", long + "@999"}, []string{"", "@2", "a@", "a@x", "a@1000", long + "a@2", "a@2\n"}},
		"picture":  {pictureForm, []string{"2026-014", "0000-123456789", "2026-014@2", "2026-014@999"}, []string{"", "2026-14", "026-014", "12026-014", "2026014", "2026-1234567890", "2026-014n", "2026-014@", "2026-014@1000", "2026-014\n"}},
		"sheet":    {sheetForm, []string{"2026-014n", "2026-014p1", "2026-123456789p123456", "2026-014n@2", "2026-014p10@999"}, []string{"", "2026-014", "2026-014p", "2026-014p0", "2026-014p01", "2026-014p1234567", "2026-014nn", "2026-014s1", "2026-14n", "2026-014@2n", "2026-014n@1000", "2026-014n\n"}},
		"sitter":   {sitterForm, []string{"sitter-1", "sitter-123456789", "sitter-7@2", "sitter-7@999"}, []string{"", "sitter-", "sitter-0", "sitter-01", "sitter-1234567890", "Sitter-1", "sitter7", "sitter-7@", "sitter-7@1000", "sitter-7\n"}},
		"currency": {currencyForm, []string{"NOK"}, []string{"", "NO", "NOKK", "nok", "N0K", "NOK\n"}},
		"date":     {dateForm, []string{"2026", "2026-05", "2026-05-03"}, []string{"", "226", "20266", "2026-5", "2026-05-3", "2026-05-033", "2026-05-03\n"}},
		"dilution": {dilutionForm, []string{"stock", "1+9", "1+9+90", "1.5+20.25"}, []string{"", "1", "stocks", "1+", "+1", "1.+9", "1+.9", "1:9", "1+9\n"}},
		"tail": {tailForm, []string{`,"prev":"` + strings.Repeat("0af9", 16) + `","hash":"` + strings.Repeat("be17", 16) + `"}`},
			[]string{`,"prev":"` + strings.Repeat("0af9", 16) + `","hash":"` + strings.Repeat("BE17", 16) + `"}`, `,"prev":"` + strings.Repeat("0", 63) + `","hash":"` + strings.Repeat("0", 64) + `"}`,
				`,"prev":"` + strings.Repeat("0", 64) + `","hash":"` + strings.Repeat("0", 65) + `"}`, `,"prev":"` + strings.Repeat("0", 64) + `","hash":"` + strings.Repeat("0", 64) + `"} `}},
	} {
		for _, s := range c.are {
			assert.True(t, c.form().MatchString(s), "%s: %q", name, s)
		}
		for _, s := range c.not {
			assert.False(t, c.form().MatchString(s), "%s: %q", name, s)
		}
	}
}

func TestHexDigits(t *testing.T) {
	for s, want := range map[string]bool{"0": true, "09af": true, "": false, "g": false, "A": false, "/": false, ":": false, "`": false, "0 ": false} {
		assert.Equal(t, want, isHex(s), "%q", s)
		assert.Equal(t, want, isHex([]byte(s)), "%q", s)
	}
}

// A time is taken as written here, to the nanosecond at most and with its offset; nothing near it is.
func TestTheFormOfATime(t *testing.T) {
	for text, want := range map[string]bool{
		"2026-05-03T14:05:10Z": true, "2026-05-03T14:05:10+02:00": true, "2026-05-03T14:05:10-11:30": true, "2026-05-03T14:05:10.5Z": true, "2026-05-03T14:05:10.123456789+02:00": true,
		"2026-05-03T14:05:10.Z": false, "2026-05-03T14:05:10.+02:00": false, "2026-05-03T14:05:10.1234567891Z": false, "2026-05-03T14:05:10": false, "2026-05-03T14:05:10z": false,
		"2026-05-03 14:05:10Z": false, "2026-05-03T14:05Z": false, "2026-5-03T14:05:10Z": false, "2026-05-03T14:05:10+0200": false, "2026-05-03T14:05:10 02:00": false, "2026-05-03T14:05:10+02:0": false, "2026/05/03T14:05:10Z": false, "": false,
	} {
		assert.Equal(t, want, timeForm().MatchString(text), text)
	}
}

// What an amendment sets must be JSON; nothing else is written.
func TestASetOfNoJSONIsNotWritten(t *testing.T) {
	raw, err := Set{{Name: "time_s", Value: []byte(" 8 ")}, {Name: "text", Value: []byte(`"a"`)}}.MarshalJSON()
	require.NoError(t, err)
	assert.Equal(t, `{"time_s":8,"text":"a"}`, string(raw))
	for _, bad := range []string{"", "{", "8 9", "eight"} {
		_, err := Set{{Name: "time_s", Value: []byte(bad)}}.MarshalJSON()
		assert.Error(t, err, bad)
	}
}
