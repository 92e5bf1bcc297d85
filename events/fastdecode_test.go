package events

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// sealedEntries are the stored bytes of every entry of the told cases.
func sealedEntries(tb testing.TB) [][]byte {
	files, err := filepath.Glob("../testdata/cases/*.ndjson")
	require.NoError(tb, err)
	require.NotEmpty(tb, files)
	var out [][]byte
	for _, f := range files {
		raw, err := os.ReadFile(f)
		require.NoError(tb, err)
		for _, line := range bytes.Split(bytes.TrimSpace(raw), []byte("\n")) {
			l, err := ParseLine(line)
			require.NoError(tb, err)
			l.ID, l.Book, l.BookSeq, l.RecordedAt, l.V = ID{1, 2}, ID{9}, int64(len(out)+1), l.At.Add(time.Hour), Version
			if len(out)%3 == 0 {
				l.Batch, l.Zone = ID{7}, ""
			}
			require.NoError(tb, l.encode(Hash{})) // lines that the book has not filled in
			out = append(out, l.Stored)
		}
	}
	return out
}

// Whatever the quick way takes, the slow way takes too, with the same values.
func fastAgrees(t require.TestingT, stored []byte) bool {
	fast, ok := fastDecode(stored)
	if !ok {
		return false
	}
	slow, err := plainDecode(stored)
	require.NoError(t, err, "%s", stored)
	require.Equal(t, slow, fast, "%s", stored)
	return true
}

func TestTheBooksOwnBytesAreReadTheQuickWay(t *testing.T) {
	for _, stored := range sealedEntries(t) {
		assert.True(t, fastAgrees(t, stored), "%s", stored)
	}
}

func TestWhatIsNotOfTheUsualShapeIsReadTheSlowWay(t *testing.T) {
	good := `{"kind":"sheet.developed","at":"2026-05-03T14:05:10+02:00","zone":"Europe/Oslo","data":{"sheet":"2026-014n","bath":"dev-2","time_s":60.25,"temp_c":-0.5},"id":"000102030405060708090a0b0c0d0e0f","book":"000102030405060708090a0b0c0d0e0f","book_seq":17,"recorded_at":"2026-05-03T14:05:10Z","v":1}`
	require.True(t, fastAgrees(t, []byte(good)))
	for name, change := range map[string][2]string{
		"spaces":           {`"data":{`, `"data": {`},
		"another order":    {`"sheet":"2026-014n","bath":"dev-2"`, `"bath":"dev-2","sheet":"2026-014n"`},
		"a doubled field":  {`"bath":"dev-2"`, `"bath":"dev-2","bath":"dev-3"`},
		"capitals":         {`"bath"`, `"Bath"`},
		"an escape":        {`dev-2`, `dev\u002d2`},
		"a text as number": {`60.25`, `"60.25"`},
		"a null":           {`-0.5`, `null`},
		"leading zeros":    {`60.25`, `060.25`},
		"a bare point":     {`60.25`, `60.`},
		"no digits":        {`60.25`, `-`},
		"a book_seq of 0…": {`"book_seq":17`, `"book_seq":017`},
		"another version":  {`"v":1`, `"v":2`},
		"a later key":      {`"v":1`, `"v":1,"w":1`},
		"an empty zone":    {`Europe/Oslo`, ``},
		"a wrong time":     {`14:05:10+02:00`, `14:65:10+02:00`},
		"an unknown kind":  {`sheet.developed`, `sheet.folded`},
		"capitals in hex":  {`0c0d0e0f","book"`, `0C0D0E0F","book"`},
		"broken UTF-8":     {`dev-2`, "dev-\xff"},
		"a cut end":        {`,"v":1}`, ``},
		"more after it":    {`"v":1}`, `"v":1}}`},
	} {
		t.Run(name, func(t *testing.T) {
			require.Contains(t, good, change[0])
			stored := []byte(strings.Replace(good, change[0], change[1], 1))
			assert.False(t, fastAgrees(t, stored))
			got, gotErr := Decode(stored)
			want, wantErr := plainDecode(stored)
			assert.Equal(t, wantErr, gotErr)
			assert.Equal(t, want, got)
		})
	}
}

func TestNumbersReadTheQuickWayAreTheNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-1e4, 1e4),
			rapid.Map(rapid.Int64Range(-1e15, 1e15), func(n int64) float64 { return float64(n) / 1000 })).Draw(t, "x")
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return
		}
		text := []byte(num(x))
		if rapid.Bool().Draw(t, "as JSON") {
			raw, err := marshal(x)
			require.NoError(t, err)
			text = raw
		}
		q := fast{b: append(text, ',')}
		require.Equal(t, math.Float64bits(x), math.Float64bits(q.number()), "%s", text)
		require.False(t, q.odd)
		require.Equal(t, len(text), q.i)
	})
}

// Whatever the number of decimals, the number is the nearest one.
func TestEveryNumberOfDecimals(t *testing.T) {
	const digits = "123456789012345"
	for n := range len(digits) {
		for _, text := range []string{digits[:len(digits)-n] + "." + digits[:n], "0." + digits[:n], "-" + digits[:1] + "." + digits[:n]} {
			if n == 0 {
				text = strings.TrimSuffix(text, ".")
			}
			want, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			q := fast{b: []byte(text + ",")}
			assert.Equal(t, want, q.number(), text)
			assert.False(t, q.odd, text)
		}
	}
}

// A number with an exponent, or with more digits than are exact, is read as JSON reads it; what is none is odd.
func TestLongNumbersAreReadAsJSONReadsThem(t *testing.T) {
	for _, text := range []string{"1e3", "1E3", "1.5e-7", "-2e+2", "1234567890123456", "0.1234567890123456", "12345678901234567890"} {
		var want float64
		require.NoError(t, json.Unmarshal([]byte(text), &want))
		q := fast{b: []byte(text + ",")}
		assert.Equal(t, want, q.number(), text)
		assert.False(t, q.odd, text)
		assert.Equal(t, len(text), q.i, text)
	}
	for _, text := range []string{"1e", "1e+", "1.e3", "01e3", "1e999", "-", ".5", "1e3x", "1x", "1.5.5"} {
		q := fast{b: []byte(text + ",")}
		q.number()
		assert.True(t, q.odd || q.b[q.i] != ',', text)
	}
}

func FuzzQuickDecode(f *testing.F) {
	for _, stored := range sealedEntries(f) {
		f.Add(stored)
	}
	f.Add([]byte(`{"kind":"moment.marked","at":"2026-05-03T14:05:10Z","data":{},"id":"000102030405060708090a0b0c0d0e0f","book":"000102030405060708090a0b0c0d0e0f","book_seq":1,"recorded_at":"2026-05-03T14:05:10.123Z","v":1}`))
	f.Fuzz(func(t *testing.T, stored []byte) { fastAgrees(t, stored) })
}

func BenchmarkDecode(b *testing.B) {
	stored := sealedEntries(b)
	for _, way := range []struct {
		name string
		f    func([]byte) (Entry, error)
	}{{"quick", Decode}, {"slow", plainDecode}} {
		b.Run(way.name, func(b *testing.B) {
			b.ReportAllocs()
			for i := range b.N {
				if _, err := way.f(stored[i%len(stored)]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
