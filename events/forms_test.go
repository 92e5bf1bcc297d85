package events

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Each form takes its shortest and its longest, and neither a bit less nor more.
func TestForms(t *testing.T) {
	long := strings.Repeat("a", 40)
	for name, c := range map[string]struct {
		form     func(string) bool
		are, not []string
	}{
		"name":     {IsName, []string{"a", "7", "dev-1", "a._-", long}, []string{"", "-a", ".a", "_a", "A", "a b", "a@2", "é", long + "a", "a\n"}},
		"ranked":   {isRankedName, []string{"a", long, "dev-1@2", long + "@999"}, []string{"", "@2", "a@", "a@x", "a@1000", long + "a@2", "a@2\n"}},
		"picture":  {IsPicture, []string{"2026-014", "0000-123456789", "2026-014@2", "2026-014@999"}, []string{"", "2026-14", "026-014", "12026-014", "2026014", "2026-1234567890", "2026-014n", "2026-014@", "2026-014@1000", "2026-014\n"}},
		"sheet":    {isSheet, []string{"2026-014n", "2026-014p1", "2026-123456789p123456", "2026-014n@2", "2026-014p10@999"}, []string{"", "2026-014", "2026-014p", "2026-014p0", "2026-014p01", "2026-014p1234567", "2026-014nn", "2026-014s1", "2026-14n", "2026-014@2n", "2026-014n@1000", "2026-014n\n"}},
		"sitter":   {sitterForm().MatchString, []string{"sitter-1", "sitter-123456789", "sitter-7@2", "sitter-7@999"}, []string{"", "sitter-", "sitter-0", "sitter-01", "sitter-1234567890", "Sitter-1", "sitter7", "sitter-7@", "sitter-7@1000", "sitter-7\n"}},
		"currency": {currencyForm().MatchString, []string{"NOK"}, []string{"", "NO", "NOKK", "nok", "N0K", "NOK\n"}},
		"date":     {dateForm().MatchString, []string{"2026", "2026-05", "2026-05-03"}, []string{"", "226", "20266", "2026-5", "2026-05-3", "2026-05-033", "2026-05-03\n"}},
		"dilution": {dilutionForm().MatchString, []string{"stock", "1+9", "1+9+90", "1.5+20.25"}, []string{"", "1", "stocks", "1+", "+1", "1.+9", "1+.9", "1:9", "1+9\n"}},
		"tail": {tailForm().MatchString, []string{`,"prev":"` + strings.Repeat("0af9", 16) + `","hash":"` + strings.Repeat("be17", 16) + `"}`},
			[]string{`,"prev":"` + strings.Repeat("0af9", 16) + `","hash":"` + strings.Repeat("BE17", 16) + `"}`, `,"prev":"` + strings.Repeat("0", 63) + `","hash":"` + strings.Repeat("0", 64) + `"}`,
				`,"prev":"` + strings.Repeat("0", 64) + `","hash":"` + strings.Repeat("0", 65) + `"}`, `,"prev":"` + strings.Repeat("0", 64) + `","hash":"` + strings.Repeat("0", 64) + `"} `}},
	} {
		for _, s := range c.are {
			assert.True(t, c.form(s), "%s: %q", name, s)
		}
		for _, s := range c.not {
			assert.False(t, c.form(s), "%s: %q", name, s)
		}
	}
}

func isSheet(s string) bool {
	_, _, ok := SplitSheet(s)
	return ok
}

// What is looked at byte by byte is what its pattern takes, and nothing near it.
func TestFormsAreTheirPatterns(t *testing.T) {
	for name, is := range map[string]func(string) bool{"name": isRankedName, "picture": IsPicture, "sheet": isSheet, "time": isTime} {
		form := regexp.MustCompile(Forms[name])
		rapid.Check(t, func(t *rapid.T) {
			s := []byte(rapid.StringMatching(Forms[name]).Draw(t, name))
			require.True(t, is(string(s)), "%q", s)
			for range rapid.IntRange(1, 2).Draw(t, "slips") {
				at, c := rapid.IntRange(0, len(s)-1).Draw(t, "at"), rapid.SampledFrom([]byte("0159az@n.p-+:TZ _/A\n\xff")).Draw(t, "byte")
				switch rapid.IntRange(0, 2).Draw(t, "slip") {
				case 0:
					s[at] = c
				case 1:
					s = slices.Insert(s, at, c)
				default:
					s = append(s[:at:at], s[at+1:]...)
				}
				require.Equal(t, form.Match(s), is(string(s)), "%q", s)
				if len(s) == 0 {
					return
				}
			}
		})
	}
}

// A sheet's name is taken apart into what its pattern tells apart.
func TestASheetIsTakenApart(t *testing.T) {
	form := regexp.MustCompile(Forms["sheet"])
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(Forms["sheet"]).Draw(t, "sheet")
		m := form.FindStringSubmatch(s)
		picture, part, ok := SplitSheet(s)
		require.True(t, ok)
		require.Equal(t, m[1]+m[3], picture)
		require.Equal(t, m[2], part)
		require.Equal(t, s, Sheet(picture, part))
	})
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
		assert.Equal(t, want, isTime(text), text)
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
