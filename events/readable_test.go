package events

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever a writer is given for any field of any kind, at any time and in any zone: what Seal takes the reader of lines
// reads back byte for byte, and what it refuses leaves nothing sealed.
func TestWhatIsSealedIsRead(t *testing.T) {
	rounds := 40
	if os.Getenv("TRAYBOOK_LONG") != "" {
		rounds = 4000
	}
	taken, refused, fields := 0, 0, 0
	for _, k := range Kinds {
		kept := 0
		for i := range rounds {
			e := rapid.Custom(func(t *rapid.T) Entry { return drawEntry(t, k) }).Example(i)
			if err := e.Seal(Hash{1}); err != nil {
				refused++
				require.NotContains(t, err.Error(), "\n")
				require.Nil(t, e.Stored, "%s", k)
				continue
			}
			kept++
			readsBack(t, &e)
		}
		fields += len(Fields(k))
		taken += kept
		require.NotZero(t, kept, "nothing of the kind %s was taken, so nothing was tried", k)
	}
	require.NotZero(t, refused)
	t.Logf("%d kinds with %d fields: %d entries taken and read back, %d refused", len(Kinds), fields, taken, refused)
}

func readsBack(t require.TestingT, e *Entry) {
	line := e.AppendLine(nil)
	l, err := ParseLine(line)
	require.NoError(t, err, "%s", line)
	require.Equal(t, string(e.Stored), string(l.Stored))
	require.Equal(t, string(line), string(l.AppendLine(nil)))
	require.True(t, l.At.Equal(e.At) && l.RecordedAt.Equal(e.RecordedAt), "%s is read as %s and %s, written as %s and %s", line, l.At, l.RecordedAt, e.At, e.RecordedAt)
	back, err := Decode(e.Stored)
	require.NoError(t, err, "%s", line)
	for _, x := range []Entry{l.Entry, back} {
		again, err := marshal(x.Data)
		require.NoError(t, err)
		was, err := marshal(e.Data)
		require.NoError(t, err)
		require.Equal(t, string(was), string(again))
		require.Equal(t, e.Kind, x.Kind)
		require.Equal(t, e.Zone, x.Zone)
		require.Equal(t, e.ID, x.ID)
	}
	plain, err := e.AppendPlain(nil)
	require.NoError(t, err)
	p, err := ParseLine(plain)
	require.NoError(t, err, "%s", plain)
	again, err := p.AppendPlain(nil)
	require.NoError(t, err)
	require.Equal(t, string(plain), string(again))
	kept := *e
	require.NoError(t, kept.Readable())
}

var hardTexts = []string{"rinsed twice", "x\xffy", "\xed\xa0\x80", "a\x00b", "\u2028\u2029", "\u202egnp.exe", "\x1b[2J\x9b\u009b\x7f", `\ud83d \" \\`, "e\u0301 \U0001f600",
	strings.Repeat("ü", MaxText), strings.Repeat("ü", MaxText+1), strings.Repeat("\x01", MaxText), "-", `{"a":1}`, `,"prev":"`, "\r\n\t", "\ufeff", "\ufffd"}

var hardNumbers = []float64{0, math.Copysign(0, -1), 1, 0.1, 1.0 / 3, -1, 5e-324, 1e-7, 1e21, math.MaxFloat64, math.NaN(), math.Inf(1), math.Inf(-1), 1<<53 + 1, 100000, 86400, 1024, 0.5}

func drawEntry(t *rapid.T, k Kind) Entry {
	zones := []string{"", "Europe/Oslo", "Europe/Amsterdam", "Africa/Monrovia", "UTC", "America/St_Johns"}
	zone := rapid.SampledFrom(zones).Draw(t, "zone")
	place, err := time.LoadLocation(zone)
	if err != nil {
		place = time.UTC
	}
	if rapid.IntRange(0, 30).Draw(t, "odd zone") == 0 {
		zone = rapid.SampledFrom([]string{"Local", "Europe/Nowhere", "../x", "a\"b", "CET\xff"}).Draw(t, "no zone")
	}
	if rapid.IntRange(0, 30).Draw(t, "far off") == 0 {
		place = time.FixedZone("", rapid.IntRange(-100_000, 100_000).Draw(t, "offset"))
	}
	year := rapid.SampledFrom([]int{1800, 1829, 1830, 1905, 1936, 1971, 2026, 2026, 2026, 9000}).Draw(t, "year")
	if rapid.IntRange(0, 30).Draw(t, "odd year") == 0 {
		year = rapid.SampledFrom([]int{-1, 0, 1700, 1799, 9001, 9999, 10000, 12026}).Draw(t, "no year")
	}
	at := time.Date(year, 5, 3, rapid.IntRange(0, 23).Draw(t, "hour"), 5, 10, rapid.SampledFrom([]int{0, 1, 250_000_000, 999_999_999}).Draw(t, "ns"), place)
	e := Entry{Kind: k, At: at, Zone: zone, ID: id(3), Book: id(4), BookSeq: rapid.SampledFrom([]int64{1, 2, 1 << 40, 0}).Draw(t, "book_seq"), RecordedAt: at.Add(time.Hour), V: 1}
	if rapid.Bool().Draw(t, "batch") {
		e.Batch = id(5)
	}
	e.Data = drawData(t, k)
	return e
}

// drawData fills a kind's fields: mostly with what fits, now and then with anything that the field's Go type can hold.
func drawData(t *rapid.T, k Kind) Data {
	d, _ := New(k)
	odd := ""
	if fields := Fields(k); rapid.IntRange(0, 2).Draw(t, "odd") == 0 {
		odd = fields[rapid.IntRange(0, len(fields)-1).Draw(t, "which")].Name
	}
	for _, f := range Fields(k) {
		if f.Name != odd && !f.Required && rapid.Bool().Draw(t, "without "+f.Name) {
			continue
		}
		v := fitting(t, f)
		if f.Name == odd {
			v = anything(t, f, v)
		}
		if err := f.Put(d, v); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
	}
	if odd == "" || rapid.Bool().Draw(t, "agreeing") {
		agree(t, d)
	}
	return d
}

func fitting(t *rapid.T, f Field) any {
	switch f.Type {
	case "name", "ref":
		if f.Of == "picture" {
			return rapid.SampledFrom([]string{"2026-014", "2026-123456789", "0000-000", "2026-014@2"}).Draw(t, f.Name)
		}
		return rapid.StringMatching(`[a-z0-9][a-z0-9._-]{0,39}(@[1-9][0-9]{0,2})?`).Draw(t, f.Name)
	case "sheet":
		return rapid.SampledFrom([]string{"2026-014n", "2026-014p1", "2026-014p999999@999"}).Draw(t, f.Name)
	case "sitter":
		return rapid.SampledFrom([]string{"sitter-1", "sitter-999999999@2"}).Draw(t, f.Name)
	case "entry", "hex32":
		return strings.Repeat("0a", 16)
	case "hex64":
		return strings.Repeat("0a", 32)
	case "date":
		return rapid.SampledFrom([]string{"2026", "2026-02", "2024-02-29"}).Draw(t, f.Name)
	case "zone":
		return "Europe/Oslo"
	case "currency":
		return "NOK"
	case "dilution":
		return rapid.SampledFrom([]string{"stock", "1+9", "1+1+98.5"}).Draw(t, f.Name)
	case "one":
		return rapid.SampledFrom(f.Choices).Draw(t, f.Name)
	case "many", "symptoms":
		return rapid.SliceOfNDistinct(rapid.SampledFrom(f.Choices), 1, 3, rapid.ID).Draw(t, f.Name)
	case "flag":
		return rapid.Bool().Draw(t, f.Name)
	case "density":
		x, y := 0.1, 1.5
		return Density{Min: &x, Max: &y}
	case "set":
		return Set{{"time_s", json.RawMessage(rapid.SampledFrom([]string{"5", "null", `"x"`, `{"min":1}`, " [1, 2] "}).Draw(t, f.Name))}}
	case "nums":
		return []float64{within(t, f), within(t, f)}
	case "count":
		return int64(within(t, f))
	case "any":
		return rapid.SampledFrom([]string{"2026-014", "box-1", "sitter-3", strings.Repeat("0a", 16), "x y \u2028"}).Draw(t, f.Name)
	case "text", "word":
		return rapid.StringN(1, 60, 80).Draw(t, f.Name)
	}
	return within(t, f)
}

// within is a number between a field's bounds, often one of them.
func within(t *rapid.T, f Field) float64 {
	low, high := -1e6, 1e6
	if f.Type == "fnumber" {
		low, high = 0.5, 1024
	}
	for _, b := range f.bounds {
		switch b.op {
		case ">":
			low = math.Nextafter(b.limit, math.Inf(1))
			if f.Type == "count" {
				low = b.limit + 1
			}
		case ">=":
			low = b.limit
		case "<=":
			high = b.limit
		}
	}
	switch rapid.IntRange(0, 3).Draw(t, "edge of "+f.Name) {
	case 0:
		return low
	case 1:
		return high
	}
	return math.Floor(low+(high-low)*rapid.Float64Range(0, 1).Draw(t, f.Name)) + map[bool]float64{true: 1}[low > 0 && low < 1]
}

func anything(t *rapid.T, f Field, fits any) any {
	switch fits.(type) {
	case string:
		return rapid.OneOf(rapid.SampledFrom(hardTexts), rapid.String()).Draw(t, "any "+f.Name)
	case float64:
		return rapid.SampledFrom(hardNumbers).Draw(t, "any "+f.Name)
	case int64:
		return rapid.SampledFrom([]int64{0, -1, 1, 1001, 1 << 31, 1 << 53, math.MaxInt64, math.MinInt64}).Draw(t, "any "+f.Name)
	case []float64:
		return []float64{rapid.SampledFrom(hardNumbers).Draw(t, "any "+f.Name), 1}
	case []string:
		return []string{rapid.SampledFrom(hardTexts).Draw(t, "any "+f.Name), f.Choices[0], f.Choices[0]}
	case Set:
		return rapid.SampledFrom([]Set{nil, {{"a\xff", json.RawMessage("1")}}, {{"a", json.RawMessage("1")}, {"a", json.RawMessage("2")}}, {{"", json.RawMessage(`"\ud800"`)}},
			{{"a", json.RawMessage("\"\xff\"")}}, {{"a", json.RawMessage("{")}}, {{"text", json.RawMessage(`"` + strings.Repeat("x", MaxLine) + `"`)}}}).Draw(t, "any set")
	case Density:
		x := rapid.SampledFrom(hardNumbers).Draw(t, "any density")
		return Density{Mid: &x}
	}
	return fits
}

// agree makes the fields of one act fit each other.
func agree(t *rapid.T, d Data) {
	switch d := d.(type) {
	case *CameraDescribedData:
		d.FWidest, d.FSmallest = min(d.FWidest, d.FSmallest), max(d.FWidest, d.FSmallest)
	case *PaperReceivedData:
		d.Dmin = nil
	case *LightMeteredData:
		index, ev, f, s := 3.0, 12.0, 8.0, 4.0
		d.Index, d.EV, d.Lux, d.CdM2, d.F, d.TimeS = &index, nil, nil, nil, &f, &s
		if rapid.Bool().Draw(t, "an exposure value") {
			d.EV, d.F, d.TimeS = &ev, nil, nil
		}
	case *SheetExposedData:
		d.Sheet = Sheet(d.Picture, "n")
	case *SheetReprintedData:
		d.Sheet = Sheet(d.Picture, "p1")
	case *EntryVoidedData:
		if d.Entry != "" {
			d.Batch = ""
		} else if d.Batch == "" {
			d.Batch = strings.Repeat("0a", 16)
		}
	}
}

// A whole line that its hash bears out and that breaks a rule comes as it is, with the rule; one whose bytes were changed
// does not.
func TestAnUnfitLineIsNamedAndRead(t *testing.T) {
	e := Entry{Kind: SheetDried, At: noon, RecordedAt: noon, V: 1, ID: id(1), Book: id(2), BookSeq: 1, Data: &SheetDriedData{Sheet: "2026-014n"}}
	for name, bend := range map[string]func(*Entry){
		"a year": func(e *Entry) { e.At = time.Date(1700, 1, 1, 0, 0, 0, 0, time.UTC) },
		"a zone": func(e *Entry) { e.Zone = "Europe/Nowhere" },
		"a value": func(e *Entry) {
			e.Kind, e.Data = SheetFixed, &SheetFixedData{Sheet: "2026-014n", Bath: "fix-1", TimeS: -1}
		},
		"a name": func(e *Entry) { e.Data = &SheetDriedData{Sheet: "no sheet"} },
	} {
		t.Run(name, func(t *testing.T) {
			e := e
			bend(&e)
			require.NoError(t, e.encode(Hash{}))
			line := e.AppendLine(nil)
			l, err := ParseLine(line)
			var unfit *UnfitError
			require.True(t, errors.As(err, &unfit), "%v", err)
			assert.NotEmpty(t, unfit.Error())
			assert.Equal(t, e.Stored, l.Stored)
			assert.Equal(t, e.Hash, l.Hash)
			assert.True(t, l.Whole && l.HasID)
			require.ErrorAs(t, e.Readable(), &unfit)
			judged, wrong, err := DecodeJudged(e.Stored, e.Prev, e.Hash)
			require.NoError(t, err)
			require.ErrorAs(t, wrong, &unfit)
			require.Equal(t, e.Hash, judged.Hash)
			require.Error(t, e.Seal(Hash{}))
			_, err = ParseLine([]byte(strings.Replace(string(line), `"book_seq":1`, `"book_seq":2`, 1)))
			require.Error(t, err)
			assert.False(t, errors.As(err, &unfit), "its hash does not bear it out")
		})
	}
}

// What is read and judged in one is what Decode reads, and is judged as Readable judges it, its hash too.
func TestReadAndJudgedInOneIsReadThenJudged(t *testing.T) {
	for _, stored := range sealedEntries(t) {
		read, err := Decode(stored)
		require.NoError(t, err)
		for _, hash := range []Hash{HashOf(Hash{7}, stored), {1}} {
			read.Prev, read.Hash = Hash{7}, hash
			e, unfit, err := DecodeJudged(stored, Hash{7}, hash)
			require.NoError(t, err)
			require.Equal(t, read, e)
			if want := read.Readable(); want == nil {
				require.NoError(t, unfit, "%s", stored)
			} else {
				require.EqualError(t, unfit, want.Error())
			}
		}
	}
	_, _, err := DecodeJudged([]byte(`{"kind":"sheet.dried"}`), Hash{}, Hash{})
	require.Error(t, err)
}

// What the quick judge takes, the slow reader of lines takes to the same, whatever was done to the stored bytes or to a plain
// line; and it takes what is commonly written, so that it is asked at all.
func TestTheQuickJudgeIsAsStrictAsTheReader(t *testing.T) {
	t.Run("whole", func(t *testing.T) {
		judgedAlike(t, sealedEntries(t), func(stored []byte) []byte {
			e := Entry{Stored: stored}
			e.Hash = HashOf(e.Prev, stored)
			return e.AppendLine(nil)
		})
	})
	t.Run("plain", func(t *testing.T) {
		lines := sealedEntries(t)
		for i, stored := range lines {
			e, err := Decode(stored)
			require.NoError(t, err)
			if i%2 == 0 {
				e.ID = ID{}
			}
			lines[i], err = e.AppendPlain(nil)
			require.NoError(t, err)
		}
		judgedAlike(t, lines, func(line []byte) []byte { return line })
	})
}

// judgedAlike changes each value of the texts in turn, and holds the quick judge against the slow reader in the lines made of
// them.
func judgedAlike(t *testing.T, entries [][]byte, line func([]byte) []byte) {
	agrees := func(text []byte) bool {
		raw := line(text)
		quick, ok := fastLine(raw)
		if !ok {
			return false
		}
		slow, err := parseLine(raw)
		require.NoError(t, err, "%s", raw)
		require.Equal(t, slow, quick, "%s", raw)
		return true
	}
	taken, tried, took := 0, 0, 0
	every := 11
	if os.Getenv("TRAYBOOK_LONG") != "" {
		every = 1
	}
	for i, stored := range entries {
		if agrees(stored) {
			taken++
		}
		if i%every != 0 {
			continue
		}
		for from := 0; ; { // each value in turn
			next := bytes.Index(stored[from:], []byte(`":`))
			if next < 0 {
				break
			}
			from += next + 2
			end, err := skipValue(stored, from)
			require.NoError(t, err)
			for _, other := range []string{"null", `""`, "0", "-1", "1e3", "[]", "[null]", "{}", `{"min":null}`, `"1799-01-01T00:00:00Z"`, `"2026-05-03T14:05:10.5+19:00"`,
				`"2026-05-03T14:05:10.5+02:00"`, `"2026-05-03T14:05:10,5Z"`, `"Local"`, `"Nowhere/At-all"`, `"x\u0000"`, "\"\xff\"", `"a\"b"`, "1 ",
				"9999999999999999999999", "[\n]", "[\r1]", `"` + strings.Repeat("x", MaxText+1) + `"`} {
				tried++
				if agrees(append(append(append([]byte{}, stored[:from]...), other...), stored[end:]...)) {
					took++
				}
			}
			if comma := bytes.LastIndexByte(stored[:from], ','); comma > 0 { // and the field left out
				tried++
				agrees(append(append([]byte{}, stored[:comma]...), stored[end:]...))
			}
		}
	}
	require.Greater(t, taken*10, len(entries)*8, "of what is commonly written")
	require.NotZero(t, took)
	t.Logf("%d of %d entries judged quickly, %d of %d changed ones", taken, len(entries), took, tried)
}

// BenchmarkSeal tells what the judging costs beside the writing, and what it would if each line were read.
func BenchmarkSeal(b *testing.B) {
	var entries []Entry
	for _, stored := range sealedEntries(b) {
		e, err := Decode(stored)
		require.NoError(b, err)
		if e.Seal(Hash{}) == nil { // a line may leave out what the book fills in
			entries = append(entries, e)
		}
	}
	for _, way := range []struct {
		name string
		f    func(e *Entry) error
	}{{"encode", func(e *Entry) error { return e.encode(Hash{}) }}, {"sealed", func(e *Entry) error { return e.Seal(Hash{}) }},
		{"read", func(e *Entry) error { return e.Readable() }}} {
		b.Run(way.name, func(b *testing.B) {
			for i := range b.N {
				if err := way.f(&entries[i%len(entries)]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
