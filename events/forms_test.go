package events

import (
	"bytes"
	"encoding/hex"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The forms read by hand are those of their patterns.
func TestFormsAreThoseOfTheirPatterns(t *testing.T) {
	sheet := regexp.MustCompile(`^([0-9]{4}-[0-9]{3,9})(n|p[1-9][0-9]{0,5})(@[0-9]{1,3})?$`)
	for name, c := range map[string]struct {
		pattern, near string
		is            func(string) bool
	}{
		"name":     {`^[a-z0-9][a-z0-9._-]{0,39}$`, `[a-z0-9._A-]{0,42}`, isNameForm},
		"picture":  {`^[0-9]{4}-[0-9]{3,9}(@[0-9]{1,3})?$`, `[0-9]{3,5}-?[0-9]{1,11}(@[0-9]{0,4})?[n@]?`, isPictureForm},
		"sheet":    {sheet.String(), `[0-9]{3,5}-?[0-9]{2,11}[nps]?[0-9]{0,8}(@[0-9]{0,4})?n?`, func(s string) bool { _, _, _, ok := sheetForm(s); return ok }},
		"ranked":   {`^[a-z0-9][a-z0-9._-]{0,39}(@[0-9]{1,3})?$`, `[a-z0-9._A-]{0,42}@?[0-9x]{0,4}@?`, isRankedForm},
		"sitter":   {`^sitter-[1-9][0-9]{0,8}(@[0-9]{1,3})?$`, `(sitter|siter|Sitter)-?[0-9x]{0,11}@?[0-9]{0,4}`, isSitterForm},
		"currency": {`^[A-Z]{3}$`, `[A-Za-z0-9]{0,5}`, isCurrencyForm},
		"hex":      {`^[0-9a-f]+$`, `[0-9a-fA-G]{0,8}`, isHex[string]},
		"time": {`^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?(Z|[+-][0-9]{2}:[0-9]{2})$`,
			`[0-9]{4}-[0-9]{2}-[0-9]{1,2}[T ]?[0-9]{2}:[0-9]{2}:?[0-9]{1,2}(\.[0-9]{0,10})?(Z|z|[+-][0-9]{1,2}:?[0-9]{2})?`, isTimeForm},
	} {
		t.Run(name, func(t *testing.T) {
			pattern := regexp.MustCompile(c.pattern)
			some := rapid.OneOf(rapid.StringMatching(c.pattern), rapid.StringMatching(c.near), rapid.String(),
				rapid.Map(rapid.StringMatching(c.pattern), func(s string) string { return s + "\n" }))
			rapid.Check(t, func(t *rapid.T) {
				s := some.Draw(t, "s")
				require.Equal(t, pattern.MatchString(s), c.is(s), "%q", s)
			})
		})
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(sheet.String()).Draw(t, "sheet")
		number, part, rank, ok := sheetForm(s)
		require.Equal(t, sheet.FindStringSubmatch(s), []string{s, number, part, rank})
		require.True(t, ok)
	})
}

func TestTailOfAWholeLineIsThatOfItsPattern(t *testing.T) {
	pattern := regexp.MustCompile(`^,"prev":"([0-9a-f]{64})","hash":"([0-9a-f]{64})"}$`)
	good := []byte(`,"prev":"` + hex.EncodeToString(bytes.Repeat([]byte{0xa1}, 32)) + `","hash":"` + hex.EncodeToString(bytes.Repeat([]byte{7}, 32)) + `"}`)
	rapid.Check(t, func(t *rapid.T) {
		raw := bytes.Clone(good)
		if rapid.Bool().Draw(t, "changed") {
			raw[rapid.IntRange(0, len(raw)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "to")
		}
		raw = raw[rapid.IntRange(0, 1).Draw(t, "cut off before"):]
		raw = append(raw, rapid.SampledFrom([]string{"", "\n", "}", " "}).Draw(t, "after")...)
		want := pattern.FindSubmatch(raw)
		prev, hash, ok := tailForm(raw)
		require.Equal(t, want != nil, ok, "%s", raw)
		if ok {
			require.Equal(t, string(want[1]), string(prev))
			require.Equal(t, string(want[2]), string(hash))
		}
	})
}

// A time is taken as written here, to the nanosecond at most and with its offset; nothing near it is.
func TestTheFormOfATime(t *testing.T) {
	for text, want := range map[string]bool{
		"2026-05-03T14:05:10Z": true, "2026-05-03T14:05:10+02:00": true, "2026-05-03T14:05:10-11:30": true, "2026-05-03T14:05:10.5Z": true, "2026-05-03T14:05:10.123456789+02:00": true,
		"2026-05-03T14:05:10.Z": false, "2026-05-03T14:05:10.+02:00": false, "2026-05-03T14:05:10.1234567891Z": false, "2026-05-03T14:05:10": false, "2026-05-03T14:05:10z": false,
		"2026-05-03 14:05:10Z": false, "2026-05-03T14:05Z": false, "2026-5-03T14:05:10Z": false, "2026-05-03T14:05:10+0200": false, "2026-05-03T14:05:10 02:00": false, "2026-05-03T14:05:10+02:0": false, "2026/05/03T14:05:10Z": false, "": false,
	} {
		assert.Equal(t, want, isTimeForm(text), text)
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
