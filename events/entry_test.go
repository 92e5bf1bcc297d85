package events

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func id(n int) ID {
	v, err := ParseID(fmt.Sprintf("%032x", n))
	if err != nil {
		panic(err)
	}
	return v
}

func TestIDsAndHashes(t *testing.T) {
	got, err := ParseID("00000000000000000000000000000abc")
	require.NoError(t, err)
	assert.Equal(t, "00000000000000000000000000000abc", got.String())
	assert.False(t, got.IsZero())
	assert.True(t, ID{}.IsZero())
	for _, bad := range []string{"", "abc", strings.Repeat("A", 32), strings.Repeat("g", 32), strings.Repeat("a", 33)} {
		_, err := ParseID(bad)
		assert.EqualError(t, err, fmt.Sprintf("%q is no id; an id is 32 hex digits", bad))
	}
	h, err := ParseHash(strings.Repeat("0f", 32))
	require.NoError(t, err)
	assert.Equal(t, strings.Repeat("0f", 32), h.String())
	_, err = ParseHash("0f")
	assert.EqualError(t, err, `"0f" is no hash; a hash is 64 hex digits`)
}

func TestSealRefusesWhatIsTooLong(t *testing.T) {
	e := Entry{Kind: NoteWritten, At: noon, RecordedAt: noon, V: 1, Data: &NoteWrittenData{About: "box-1", Text: strings.Repeat("ü", MaxLine)}}
	assert.EqualError(t, e.Seal(Hash{}), "note.written: the entry is longer than 65536 bytes; shorten its texts")
}

func TestSealRefusesWhatIsNoJSON(t *testing.T) {
	e := Entry{Kind: EntryAmended, At: noon, RecordedAt: noon, V: 1, Data: &EntryAmendedData{Entry: id(1).String(), Set: Set{{"time_s", json.RawMessage("{")}}}}
	assert.ErrorContains(t, e.Seal(Hash{}), "entry.amended: cannot be written as JSON")
}

// What is sealed, written as a line and parsed again is the same entry, and the hash fits an independent computation.
func TestSealThenParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		loc := time.FixedZone("", rapid.IntRange(-56, 56).Draw(t, "quarter hours")*900)
		e := Entry{
			Kind:       NoteWritten,
			At:         time.Unix(rapid.Int64Range(-4e9, 2e11).Draw(t, "at"), rapid.Int64Range(0, 999999999).Draw(t, "ns")).In(loc),
			Data:       &NoteWrittenData{About: rapid.StringMatching(`[a-z0-9][a-z0-9._-]{0,39}`).Draw(t, "about"), Text: drawText(t)},
			ID:         id(rapid.IntRange(1, 1<<40).Draw(t, "id")),
			Book:       id(rapid.IntRange(1, 1<<40).Draw(t, "book")),
			BookSeq:    rapid.Int64Range(1, 1<<50).Draw(t, "book_seq"),
			RecordedAt: time.Unix(rapid.Int64Range(0, 2e11).Draw(t, "recorded"), 0).In(loc),
			V:          1,
		}
		if rapid.Bool().Draw(t, "batch") {
			e.Batch = id(7)
		}
		if rapid.Bool().Draw(t, "zone") {
			e.Zone = "Europe/Oslo"
		}
		prev := HashOf(Hash{}, []byte(rapid.String().Draw(t, "before")))
		if err := e.Seal(prev); err != nil {
			t.Fatal(err)
		}
		line := e.AppendLine(nil)
		if got := handHash2(line); got != e.Hash.String() {
			t.Fatalf("hash %s, by hand %s", e.Hash, got)
		}
		l, err := ParseLine(line)
		if err != nil {
			t.Fatalf("%v\n%s", err, line)
		}
		if string(l.Stored) != string(e.Stored) || l.Hash != e.Hash || l.Prev != prev || l.ID != e.ID || l.Batch != e.Batch ||
			!l.At.Equal(e.At) || l.Data.(*NoteWrittenData).Text != e.Data.(*NoteWrittenData).Text {
			t.Fatalf("came back otherwise: %s", line)
		}
	})
}

func drawText(t *rapid.T) string {
	s := strings.ReplaceAll(rapid.StringN(1, 200, -1).Draw(t, "text"), "\x00", "")
	if s == "" {
		return "x"
	}
	return s
}

func handHash2(line []byte) string { return handHash(nopTB{}, line) }

// nopTB lets the hand computation run inside a property.
type nopTB struct{ testing.TB }

func (nopTB) Helper()               {}
func (nopTB) Errorf(string, ...any) {}
func (nopTB) FailNow()              { panic("the line has no prev") }

func TestMadeID(t *testing.T) {
	d := &SheetDriedData{Sheet: "2026-014n"}
	a, err := MadeID(SheetDried, noon, d)
	require.NoError(t, err)
	b, err := MadeID(SheetDried, noon, &SheetDriedData{Sheet: "2026-014n"})
	require.NoError(t, err)
	assert.Equal(t, a, b, "the same line makes the same entry again")
	for name, other := range map[string]struct {
		k  Kind
		at time.Time
		d  Data
	}{
		"kind": {SheetRinsed, noon, d}, "at": {SheetDried, noon.Add(time.Second), d}, "data": {SheetDried, noon, &SheetDriedData{Sheet: "2026-015n"}},
	} {
		c, err := MadeID(other.k, other.at, other.d)
		require.NoError(t, err)
		assert.NotEqual(t, a, c, name)
	}
	_, err = MadeID(EntryAmended, noon, &EntryAmendedData{Set: Set{{"f", json.RawMessage("{")}}})
	assert.Error(t, err)
}

func TestFormatTimeKeepsThePlacesOffset(t *testing.T) {
	for _, s := range []string{"2026-05-03T14:05:10+02:00", "2026-05-03T14:05:10Z", "2026-05-03T14:05:10.25-03:30"} {
		at, err := ParseTime(s)
		require.NoError(t, err)
		assert.Equal(t, s, FormatTime(at))
	}
}
