package events

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	plainLine = `{"kind":"sheet.exposed","at":"2026-05-03T14:05:10+02:00","data":{"picture":"2026-014","box":"box-3","f":8,"time_s":4}}`
	noteLine  = `{"kind":"note.written","at":"2026-05-03T14:05:10+02:00","data":{"about":"box-3","text":"x"}}`
)

func TestParseLinePlain(t *testing.T) {
	l, err := ParseLine([]byte(plainLine))
	require.NoError(t, err)
	assert.False(t, l.Whole)
	assert.False(t, l.HasID)
	assert.Equal(t, SheetExposed, l.Kind)
	assert.Equal(t, 1, l.V)
	assert.Equal(t, "2026-05-03T14:05:10+02:00", FormatTime(l.At))
	d := l.Data.(*SheetExposedData)
	assert.Equal(t, 8.0, d.F)
	assert.Equal(t, "box-3", d.Box)
	assert.Empty(t, d.Sheet, "what the book fills in may be left out")

	l, err = ParseLine([]byte(" " + strings.Replace(plainLine, `"kind"`, `"id":"0000000000000000000000000000000a","batch":"0000000000000000000000000000000b","zone":"Europe/Oslo","v":1,"\u006bind"`, 1) + "\t"))
	require.NoError(t, err)
	assert.True(t, l.HasID)
	assert.Equal(t, id(10), l.ID)
	assert.Equal(t, id(11), l.Batch)
	assert.Equal(t, "Europe/Oslo", l.Zone)
}

func TestParseLineRefuses(t *testing.T) {
	with := func(old, new string) string { return strings.Replace(plainLine, old, new, 1) }
	note := func(text string) string { return strings.Replace(noteLine, `"x"`, text, 1) }
	for _, c := range []struct{ name, line, want string }{
		{"cut off", plainLine[:len(plainLine)-9], "the line is not whole JSON; it may have been cut off"},
		{"empty", "", "the line is not whole JSON; it may have been cut off"},
		{"two objects", plainLine + plainLine, "the line is not whole JSON; it may have been cut off"},
		{"no object", `["kind"]`, "the line is no JSON object"},
		{"line break", with(`,"at"`, ",\n\"at\""), "the line holds a line break"},
		{"carriage return", with(`,"at"`, ",\r\"at\""), "the line holds a line break"},
		{"line break in a list", "{\"kind\":\"strip.exposed\",\"at\":\"2026-05-03T14:05:10Z\",\"data\":{\"strip\":\"strip-1\",\"on\":\"scene\",\"times_s\":[2,\n4]}}", "the line holds a line break"},
		{"carriage return in a list", "{\"kind\":\"strip.exposed\",\"at\":\"2026-05-03T14:05:10Z\",\"data\":{\"strip\":\"strip-1\",\"on\":\"scene\",\"times_s\":[2,\r4]}}", "the line holds a line break"},
		{"too long", note(`"` + strings.Repeat("a", MaxLine) + `"`), "the line has 65627 bytes; at most 65536"},
		{"broken UTF-8", note("\"\xff\""), "the line is not valid UTF-8"},
		{"high half of a pair", note(`"\ud83d"`), "the line holds half of a surrogate pair"},
		{"high half before a letter", note(`"\ud83d\u0041"`), "the line holds half of a surrogate pair"},
		{"low half of a pair", note(`"\udc00"`), "the line holds half of a surrogate pair"},
		{"misspelt key", with(`"at"`, `"att"`), `the key "att" is not known`},
		{"key in capitals", with(`"at"`, `"At"`), `the key "At" is not known`},
		{"doubled key", with(`"at"`, `"kind":"note.written","at"`), `the line holds the key "kind" twice`},
		{"doubled key, escaped", with(`"at"`, `"k\u0069nd":"note.written","at"`), `the line holds the key "kind" twice`},
		{"no kind", with(`"kind":"sheet.exposed",`, ``), `the key "kind" is missing`},
		{"no at", with(`"at":"2026-05-03T14:05:10+02:00",`, ``), `the key "at" is missing`},
		{"no data", `{"kind":"sheet.exposed","at":"2026-05-03T14:05:10+02:00"}`, `the key "data" is missing`},
		{"misspelt kind", with("sheet.exposed", "sheet.exposd"), `the kind "sheet.exposd" is not known`},
		{"kind is a number", with(`"sheet.exposed"`, `7`), `the key "kind" is 7; that does not fit`},
		{"zone is null", with(`"at"`, `"zone":null,"at"`), `the key "zone" is null; that does not fit`},
		{"id is null", with(`"at"`, `"id":null,"at"`), `the key "id" is null; that does not fit`},
		{"id is empty", with(`"at"`, `"id":"","at"`), `the key "id" is ""; that does not fit`},
		{"id is short", with(`"at"`, `"id":"12ab","at"`), `the key "id" is "12ab"; that does not fit`},
		{"batch in capitals", with(`"at"`, `"batch":"0000000000000000000000000000000B","at"`), `the key "batch" is "0000000000000000000000000000000B"; that does not fit`},
		{"v is a text", with(`"at"`, `"v":"1","at"`), `the key "v" is "1"; that does not fit`},
		{"v is zero", with(`"at"`, `"v":0,"at"`), `sheet.exposed: version 0 is not known to this version of traybook`},
		{"v from the future", with(`"at"`, `"v":2,"at"`), `sheet.exposed: version 2 is not known to this version of traybook`},
		{"zone", with(`"at"`, `"zone":"Europe/Atlantis","at"`), `zone: "Europe/Atlantis" is no time zone such as Europe/Oslo`},
		{"zone Local", with(`"at"`, `"zone":"Local","at"`), `zone: "Local" is no time zone such as Europe/Oslo`},
		{"no such day", with("05-03", "02-30"), `at: "2026-02-30T14:05:10+02:00" is no time: there is no such day, hour or offset`},
		{"no offset", with("+02:00", ""), `at: "2026-05-03T14:05:10" is no time; write it as 2026-05-03T14:05:10+02:00`},
		{"offset of a day", with("+02:00", "+24:00"), `at: "2026-05-03T14:05:10+24:00" is no time: there is no such day, hour or offset`},
		{"year", with("2026-05", "1799-05"), `at: the year 1799 is outside 1800 to 9000`},
		{"data is null", with(plainLine[strings.Index(plainLine, `{"picture"`):], `null}`), `sheet.exposed: data is no JSON object`},
		{"misspelt field", with("time_s", "times_s"), `sheet.exposed: times_s is not a field of this kind`},
		{"field in capitals", with(`"f"`, `"F"`), `sheet.exposed: F is not a field of this kind`},
		{"field twice", with(`"f":8`, `"f":8,"f":8`), `sheet.exposed: data holds the key "f" twice`},
		{"field is null", with(`"f":8`, `"f":8,"text":null`), `sheet.exposed: text is null; leave out what is not known`},
		{"field missing", with(`,"time_s":4`, ``), `sheet.exposed: time_s is missing`},
		{"field of another sort", with(`"f":8`, `"f":"8"`), `sheet.exposed: f is a JSON string; that does not fit`},
		{"number too large", with(`"f":8`, `"f":1e999`), `sheet.exposed: f is a JSON number 1e999; that does not fit`},
		{"half a sheet", `{"kind":"paper.counted","at":"2026-05-03T14:05:10+02:00","data":{"sheets":1.5}}`, `paper.counted: sheets is a JSON number 1.5; that does not fit`},
		{"null in a list", `{"kind":"strip.read","at":"2026-05-03T14:05:10+02:00","data":{"strip":"s","densities":[0.1,null]}}`, `strip.read: densities holds a null`},
		{"density key", `{"kind":"sheet.judged","at":"2026-05-03T14:05:10+02:00","data":{"verdict":"keep","density":{"low":1}}}`, `sheet.judged: density holds "low"; it takes min, mid, max`},
		{"density null", `{"kind":"sheet.judged","at":"2026-05-03T14:05:10+02:00","data":{"verdict":"keep","density":{"min":null}}}`, `sheet.judged: density holds a null`},
		{"density list", `{"kind":"sheet.judged","at":"2026-05-03T14:05:10+02:00","data":{"verdict":"keep","density":[1]}}`, `sheet.judged: density is no JSON object`},
		{"set is a list", `{"kind":"entry.amended","at":"2026-05-03T14:05:10+02:00","data":{"entry":"00000000000000000000000000000001","set":["f"]}}`, `entry.amended: set: is no JSON object`},
		{"set twice", `{"kind":"entry.amended","at":"2026-05-03T14:05:10+02:00","data":{"entry":"00000000000000000000000000000001","set":{"f":1,"f":2}}}`, `entry.amended: set: holds the key "f" twice`},
		{"book without hash", with(`"at"`, `"book":"0000000000000000000000000000000a","at"`), `the line brings "book" but no hash; a line is either plain or whole`},
		{"prev without hash", with(`"at"`, `"prev":"","at"`), `the line brings "prev" but no hash; a line is either plain or whole`},
		{"hash without prev", with(`"at"`, `"hash":"0a","at"`), `the line brings a hash but no "id"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ParseLine([]byte(c.line))
			assert.EqualError(t, err, c.want)
		})
	}
}

func TestParseLineWholeRefuses(t *testing.T) {
	good := string(vectors(t)["sheet.exposed.v1.ndjson"][0])
	_, err := ParseLine([]byte(good))
	require.NoError(t, err)
	with := func(old, new string) string {
		require.Contains(t, good, old)
		return strings.Replace(good, old, new, 1)
	}
	for _, c := range []struct{ name, line, want string }{
		{"changed", with(`"f":8`, `"f":9`), "the line was changed: its hash is 61ec95b9…, its bytes give "},
		{"changed prev", with(`"prev":"2`, `"prev":"4`), "the line was changed: its hash is 61ec95b9…, its bytes give "},
		{"space before prev", with(`,"prev"`, `, "prev"`), `the line brings a hash, but does not end with "prev" and "hash"`},
		{"space after", good + " ", `the line brings a hash, but does not end with "prev" and "hash" of 64 hex digits`},
		{"short hash", good[:len(good)-3] + `"}`, `does not end with "prev" and "hash" of 64 hex digits`},
		{"book_seq 0", with(`"book_seq":19`, `"book_seq":0`), `book_seq is 0; chains count from 1`},
		{"book_seq 1.5", with(`"book_seq":19`, `"book_seq":1.5`), `the key "book_seq" is 1.5; that does not fit`},
		{"recorded_at", with(`"recorded_at":"2026-05-03T14:18:07+02:00"`, `"recorded_at":"yesterday"`), `recorded_at: "yesterday" is no time; write it as 2026-05-03T14:05:10+02:00`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ParseLine([]byte(c.line))
			assert.ErrorContains(t, err, c.want)
		})
	}
	t.Run("hash fits, data does not", func(t *testing.T) {
		l := vector(t, SheetExposed)
		l.Data.(*SheetExposedData).TimeS = -1
		require.NoError(t, l.encode(l.Prev))
		_, err := ParseLine(l.AppendLine(nil))
		assert.EqualError(t, err, "sheet.exposed: time_s is -1; it must be more than 0")
	})
}

func TestDecodeRefuses(t *testing.T) {
	good := string(vector(t, SheetExposed).Stored)
	for _, c := range []struct{ name, stored, want string }{
		{"no object", "x", "the stored bytes: is no JSON object"},
		{"cut", good[:50], "the stored bytes: is no JSON object"},
		{"id", strings.Replace(good, `"id":"0`, `"id":"X`, 1), `the stored bytes: the key "id" is`},
		{"at", strings.Replace(good, `"at":"2026`, `"at":"202`, 1), "the stored bytes hold no time"},
		{"recorded_at", strings.Replace(good, `"recorded_at":"2026`, `"recorded_at":"202`, 1), "the stored bytes hold no recorded time"},
		{"kind", strings.Replace(good, "sheet.exposed", "sheet.eaten", 1), `the kind "sheet.eaten" is not known to this version of traybook; a newer one may read it`},
		{"version", strings.Replace(good, `"v":1`, `"v":9`, 1), `sheet.exposed: version 9 is not known to this version of traybook; a newer one may read it`},
		{"data", strings.Replace(good, `"f":8`, `"f":{}`, 1), "sheet.exposed: f is a JSON object; that does not fit"},
		{"data is a list, and a key of later times is passed over", strings.Replace(good, `"data":{`, `"data":[],"x":{`, 1), "sheet.exposed: data is a JSON array; it takes an object"},
		{"data is cut inside", strings.Replace(good, `"f":8`, `"f":08`, 1), "sheet.exposed: invalid character"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Decode([]byte(c.stored))
			assert.ErrorContains(t, err, c.want)
		})
	}
}

func TestReadLines(t *testing.T) {
	read := func(text string) (got []Line, err error) {
		for l, e := range ReadLines(strings.NewReader(text)) {
			if e != nil {
				return got, e
			}
			got = append(got, l)
		}
		return got, nil
	}
	t.Run("OK", func(t *testing.T) {
		var b strings.Builder
		b.WriteString("\ufeff")
		for range 2000 {
			b.WriteString(plainLine + "\r\n\n")
		}
		b.WriteString(noteLine)
		got, err := read(b.String())
		require.NoError(t, err)
		require.Len(t, got, 2001)
		assert.Equal(t, 1, got[0].N)
		assert.Equal(t, 3, got[1].N)
		assert.Equal(t, NoteWritten, got[len(got)-1].Kind)
	})
	t.Run("nothing", func(t *testing.T) {
		got, err := read("")
		require.NoError(t, err)
		assert.Empty(t, got)
	})
	t.Run("a bad line", func(t *testing.T) {
		got, err := read(plainLine + "\n\n" + plainLine[:40] + "\n" + plainLine)
		assert.EqualError(t, err, "line 3: the line is not whole JSON; it may have been cut off")
		assert.Len(t, got, 1)
	})
	t.Run("a line without end", func(t *testing.T) {
		_, err := read(plainLine + "\n" + strings.Repeat("x", 10*MaxLine))
		assert.EqualError(t, err, "line 2: the line is longer than 65536 bytes")
	})
	t.Run("mixed", func(t *testing.T) {
		_, err := read(string(vectors(t)["book.opened.v1.ndjson"][0]) + "\n" + plainLine)
		assert.EqualError(t, err, "line 2: plain lines and lines with a hash stand in one file; part them")
	})
	t.Run("a failing disk", func(t *testing.T) {
		var err error
		for _, e := range ReadLines(failing{}) {
			err = e
		}
		assert.ErrorContains(t, err, "line 1: cannot be read")
		var at *LineError
		require.ErrorAs(t, err, &at)
		assert.Equal(t, 1, at.N)
		assert.ErrorIs(t, err, errDisk)
	})
	t.Run("stopped early", func(t *testing.T) {
		n := 0
		for range ReadLines(strings.NewReader(strings.Repeat(plainLine+"\n", 2000))) {
			if n++; n == 3 {
				break
			}
		}
		assert.Equal(t, 3, n)
	})
}

func FuzzParseLine(f *testing.F) {
	for _, lines := range vectors(f) {
		for _, l := range lines {
			f.Add(l)
		}
	}
	f.Add([]byte(plainLine[:70]))
	f.Add([]byte(`{"kind":"note.written","at":"2026-05-03T14:05:10+02:00","data":{"about":"x","text":"\ud83d\ude00"}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		l, err := ParseLine(raw)
		if err != nil {
			assert.NotEmpty(t, err.Error())
			return
		}
		assert.LessOrEqual(t, len(raw), MaxLine)
		if l.Whole {
			assert.Equal(t, string(raw), string(l.AppendLine(nil)))
			assert.Equal(t, handHash(t, raw), l.Hash.String())
			return
		}
		// What was read can be written and read again to the same.
		a, err := MadeID(l.Kind, l.At, l.Data)
		require.NoError(t, err)
		e := l.Entry
		e.RecordedAt, e.BookSeq = noon, 1
		if e.encode(Hash{}) != nil {
			return // escapes may grow past the limit
		}
		back, err := Decode(e.Stored)
		require.NoError(t, err)
		b, err := MadeID(back.Kind, back.At, back.Data)
		require.NoError(t, err)
		assert.Equal(t, a, b)
		PlacesOf(l.Data)
		_ = Validate(l.Data)
	})
}
