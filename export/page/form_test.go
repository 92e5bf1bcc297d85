package page

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// raw is a small document as the library leaves it, with two levels of bookmarks.
func raw(t *testing.T) ([]byte, *Doc) {
	d := New(Options{Title: "the quay", Created: time.Date(2026, 5, 17, 14, 30, 0, 0, time.UTC)})
	d.Bookmark("first", 0)
	d.Bookmark("second", 1)
	d.Text(20, 20, 0, Set(9, Mono), "low water")
	d.unmark()
	d.Decoration(d.finishPages)
	var b bytes.Buffer
	require.NoError(t, d.pdf.Output(&b))
	return b.Bytes(), d
}

// A document that the library builds otherwise than is known is refused, wherever it differs, and never written half.
func TestAFormNotKnownIsRefused(t *testing.T) {
	doc, d := raw(t)
	_, err := d.complete(doc)
	require.NoError(t, err)
	cross := bytes.LastIndex(doc, []byte("\nxref\n")) + 1
	first := regexp.MustCompile(`0 \d+\n0000000000 65535 f \n`).FindIndex(doc[cross:])
	require.NotNil(t, first)
	line := cross + first[1] // of the first object
	put := func(old, with string) func([]byte) []byte {
		return func(b []byte) []byte {
			i := bytes.LastIndex(b, []byte(old))
			require.Positive(t, i, old)
			return append(append(bytes.Clone(b[:i]), with...), b[i+len(old):]...)
		}
	}
	digits := func(key, with string) func([]byte) []byte {
		return func(b []byte) []byte {
			m := regexp.MustCompile(key+`\d+`).FindAllIndex(b, -1)
			require.NotEmpty(t, m, key)
			at := m[len(m)-1]
			return append(append(bytes.Clone(b[:at[0]]), key+with...), b[at[1]:]...)
		}
	}
	size := string(regexp.MustCompile(`/Size (\d+)\n`).FindSubmatch(doc)[1])
	for name, harm := range map[string]func([]byte) []byte{
		"nothing at all":                         func([]byte) []byte { return nil },
		"no end":                                 func(b []byte) []byte { return b[:len(b)-1] },
		"something behind its end":               func(b []byte) []byte { return append(bytes.Clone(b), '\n') },
		"a trailer of another form":              put("trailer\n<<", "trailer <<"),
		"a catalog beyond the last object":       digits("/Root ", size),
		"an information beyond the last object":  digits("/Info ", size),
		"fewer objects than there must be":       digits("/Size ", "2"),
		"more objects than there are":            digits("/Size ", "9999"),
		"a cross-reference beyond the end":       digits("startxref\n", "99999999"),
		"a cross-reference elsewhere":            digits("startxref\n", "9"),
		"an object behind the cross-reference":   func(b []byte) []byte { b = bytes.Clone(b); copy(b[line:], "9999999999"); return b },
		"an object that has no number for place": func(b []byte) []byte { b = bytes.Clone(b); copy(b[line:], "00000x0000"); return b },
		"an object elsewhere":                    func(b []byte) []byte { b = bytes.Clone(b); copy(b[line:], "0000000001"); return b },
		"an object of another number":            func(b []byte) []byte { return bytes.Replace(b, []byte("\n3 0 obj"), []byte("\n4 0 obj"), 1) },
		"an object without an end": func(b []byte) []byte {
			return bytes.Replace(b, []byte("endobj\n4 0 obj"), []byte("endobx\n4 0 obj"), 1)
		},
		"an outline that is counted":        put("/Count 0>>", "/Count 1>>"),
		"an outline's root of another form": put("/Type /Outlines /First", "/Type /Outlines  /First"),
		"an outline that is not there": func(b []byte) []byte {
			return regexp.MustCompile(`\n/Outlines \d\d `).ReplaceAll(b, []byte("\n/Outlines 99 "))
		},
		"a page of another form":                        put("<</Type /Page\n", "<</Type /Page "),
		"a font of another name than its description":   put("/BaseFont /utf8", "/BaseFont /utf9"),
		"a font's description of a file beyond the end": digits("/FontFile2 ", "99"),
		"a stream without an end": func(b []byte) []byte {
			return bytes.Replace(b, []byte("\nendstream\nendobj"), []byte("\nendstrxxm\nendobj"), 1)
		},
	} {
		_, err := d.complete(harm(doc))
		assert.ErrorIs(t, err, errForm, name)
	}
	known := *d
	d.bookmarks = make([]bookmark, 99)
	_, err = d.complete(doc)
	assert.ErrorIs(t, err, errForm, "more bookmarks than objects")
	*d = known
	d.images = map[string]laidAside{"a stand-in": {}}
	_, err = d.complete(doc)
	assert.ErrorIs(t, err, errForm, "a picture that stands nowhere")
}

// Rows of the Unicode consortium's test of the algorithm: levels, and the order in which runes stand.
func TestBidirectionalLinesByTheUnicodeAlgorithm(t *testing.T) {
	rows, err := os.ReadFile("testdata/bidi.txt")
	require.NoError(t, err)
	numbers := func(field string) (out []int) {
		for text := range strings.FieldsSeq(field) {
			n, err := strconv.Atoi(text)
			if err != nil {
				n = -1 // x
			}
			out = append(out, n)
		}
		return out
	}
	tried := 0
	for row := range strings.Lines(string(rows)) {
		fields := strings.Split(strings.TrimSpace(row), ";")
		if len(fields) != 5 {
			continue
		}
		tried++
		var runes []rune
		for text := range strings.FieldsSeq(fields[0]) {
			r, err := strconv.ParseInt(text, 16, 32)
			require.NoError(t, err)
			runes = append(runes, rune(r))
		}
		if fields[1] == "2" {
			assert.Equal(t, fields[2] == "1", beginsToTheLeft(string(runes)), row)
		}
		got := levels(runes, fields[2] == "1")
		if got == nil {
			got = make([]int, len(runes))
		}
		var parts []stretch
		for i, level := range numbers(fields[3]) {
			if level >= 0 {
				assert.Equal(t, level, got[i], "rune %d of %s", i, row)
				parts = append(parts, stretch{start: i, level: got[i]})
			}
		}
		var order []int
		for _, p := range inSight(parts) {
			order = append(order, p.start)
		}
		assert.Equal(t, numbers(fields[4]), order, row)
	}
	assert.Greater(t, tried, 100)
}

// The profile's primaries are those of IEC 61966-2-1 (x, y: red 0.64, 0.33; green 0.30, 0.60; blue 0.15, 0.06; white D65,
// 0.3127, 0.3290) adapted to D50 by the matrix that the profile itself bears, and together they are that white.
func TestTheProfileIsSRGB(t *testing.T) {
	p := sRGB()
	columns := map[string][]float64{}
	for i := range int(binary.BigEndian.Uint32(p[128:])) {
		entry := p[132+12*i:]
		data := p[binary.BigEndian.Uint32(entry[4:])+8:][:binary.BigEndian.Uint32(entry[8:])-8]
		for ; len(data) >= 4; data = data[4:] {
			columns[string(entry[:4])] = append(columns[string(entry[:4])], float64(int32(binary.BigEndian.Uint32(data)))/65536)
		}
	}
	chad := columns["chad"]
	adapted := func(x, y, luminance float64) (out [3]float64) {
		xyz := [3]float64{x / y * luminance, luminance, (1 - x - y) / y * luminance}
		for row := range out {
			for column, v := range xyz {
				out[row] += chad[3*row+column] * v
			}
		}
		return out
	}
	for tag, want := range map[string][3]float64{"rXYZ": adapted(0.64, 0.33, 0.2126), "gXYZ": adapted(0.30, 0.60, 0.7152), "bXYZ": adapted(0.15, 0.06, 0.0722), "wtpt": adapted(0.3127, 0.3290, 1)} {
		assert.InDeltaSlice(t, want[:], columns[tag], 0.0005, tag)
	}
	for i, white := range columns["wtpt"] {
		assert.InDelta(t, white, columns["rXYZ"][i]+columns["gXYZ"][i]+columns["bXYZ"][i], 0.0002)
	}
	assert.InDeltaSlice(t, []float64{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045}, columns["rTRC"][1:], 1e-4, "the curve")
}

// What has no ink is left out, up to the edges of each range, and nothing else is.
func TestInkless(t *testing.T) {
	var without []string
	for r := rune(0); r < 0x10000; r++ {
		if inkless(r) {
			without = append(without, fmt.Sprintf("%04X", r))
		}
	}
	assert.Equal(t, "00AD 061C 200B 200C 200D 200E 200F 2060 2066 2067 2068 2069 FE00 FE01 FE02 FE03 FE04 FE05 FE06 FE07 FE08 FE09 FE0A FE0B FE0C FE0D FE0E FE0F FEFF", strings.Join(without, " "))
}

// What is taken to run as it is written is laid out so by the rules for any script, whatever stands before and behind it.
func TestWhatRunsAsWrittenIsLaidOutSo(t *testing.T) {
	var f Faces
	seen := 0
	for _, face := range []Face{Regular, Bold, Mono} {
		for r := rune(0xA0); r < 0x2400; r++ {
			for _, line := range []string{"a" + string(r) + " 1.5 (b", string(r), "12" + string(r) + "34 " + string(r) + string(r)} {
				if !runsAsWritten(face, line) {
					continue
				}
				seen++
				spans, missing := f.layOutAny(face, line, false)
				require.Empty(t, missing, "%q", line)
				require.Equal(t, []span{{face: face, text: line, width: face.advance(line)}}, spans, "%q", line)
			}
		}
	}
	require.Greater(t, seen, 2000)
	for _, line := range []string{"a\u00adb", "שלום", "a\u0301", "a\u200eb", "a\u202eb", "\u0915", "日"} {
		require.False(t, runsAsWritten(Regular, line), "%q", line)
	}
}
