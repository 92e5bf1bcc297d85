package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"math"
	"regexp"
	"slices"
	"strconv"
	"sync"
	"unicode/utf16"
)

// colourSpace is what the greys of a document are numbers of (IEC 61966-2-1).
const colourSpace = "sRGB IEC61966-2.1"

// sRGB is an ICC profile of that space (ISO 15076-1, version 4.2), made from the numbers of the standard: the chromaticities
// of its primaries adapted to D50, the white that profiles connect by, and its curve.
var sRGB = sync.OnceValue(func() []byte {
	curve := append([]byte("para\x00\x00\x00\x00\x00\x03\x00\x00"), inFixed(2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045)...)
	white := inFixed(0.9642, 1, 0.8249)
	tags := []struct {
		name string
		data []byte
	}{
		{"desc", englishTag(colourSpace)}, {"cprt", englishTag("made by traybook; anyone may use it for anything")},
		{"wtpt", tag("XYZ ", white)}, {"rXYZ", tag("XYZ ", inFixed(0.43606, 0.22249, 0.01392))},
		{"gXYZ", tag("XYZ ", inFixed(0.38515, 0.71687, 0.09708))}, {"bXYZ", tag("XYZ ", inFixed(0.14307, 0.06061, 0.71410))},
		{"chad", tag("sf32", inFixed(1.04788, 0.02292, -0.05022, 0.02959, 0.99048, -0.01707, -0.00925, 0.01508, 0.75168))},
		{"rTRC", curve}, {"gTRC", curve}, {"bTRC", curve},
	}
	const head, entry = 128, 12
	at := head + 4 + entry*len(tags)
	table := binary.BigEndian.AppendUint32(nil, uint32(len(tags)))
	var data []byte
	for _, t := range tags {
		table = append(table, t.name...)
		table = binary.BigEndian.AppendUint32(table, uint32(at+len(data)))
		table = binary.BigEndian.AppendUint32(table, uint32(len(t.data)))
		data = append(data, t.data...)
	}
	profile := make([]byte, head, at+len(data))
	binary.BigEndian.PutUint32(profile, uint32(at+len(data)))
	copy(profile[8:], "\x04\x20\x00\x00mntrRGB XYZ ")
	copy(profile[24:], "\x07\xEA\x00\x01\x00\x01") // 1 January 2026, for a profile has a date
	copy(profile[36:], "acsp")
	copy(profile[68:], white)
	return append(append(profile, table...), data...)
})

// tag is an element of a profile: its type, four bytes of nothing, its data.
func tag(kind string, data []byte) []byte { return append([]byte(kind+"\x00\x00\x00\x00"), data...) }

// inFixed writes numbers with sixteen bits behind the point.
func inFixed(numbers ...float64) (b []byte) {
	for _, v := range numbers {
		b = binary.BigEndian.AppendUint32(b, uint32(int32(math.Round(v*65536))))
	}
	return b
}

// englishTag is an element of English words, filled up to four bytes.
func englishTag(s string) []byte {
	units := utf16.Encode([]rune(s))
	const records, size, at = 1, 12, 28
	b := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, records), size)
	b = binary.BigEndian.AppendUint32(append(b, "enUS"...), uint32(2*len(units)))
	b = binary.BigEndian.AppendUint32(b, at)
	for _, u := range units {
		b = binary.BigEndian.AppendUint16(b, u)
	}
	return tag("mluc", append(b, make([]byte, (4-len(b)%4)%4)...))
}

var fontDescriptor = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^<</Type /FontDescriptor /FontName /(utf8(\S+))\n(?s:.*)/FontFile2 (\d+) 0 R`)
})

// nameFonts puts six letters before the name of each font, by which one subset is known from another (ISO 32000-1, 9.6.4).
// They follow from what the subset holds. The name stands in the font, in what it is made from, and in the descriptor.
func (p parts) nameFonts() error {
	for i, body := range p.objects {
		m := fontDescriptor().FindSubmatch(body)
		if m == nil {
			continue
		}
		file, _ := strconv.Atoi(string(m[3]))
		if i < 5 || file >= len(p.objects) {
			return errForm
		}
		sum := sha256.Sum256(p.objects[file])
		for i := range 6 {
			sum[i] = 'A' + sum[i]%26
		}
		for _, at := range []int{i - 4, i - 3, i} {
			before, after, found := bytes.Cut(p.objects[at], m[1])
			if !found {
				return errForm
			}
			p.objects[at] = slices.Concat(before, sum[:6], []byte("+"), m[2], after)
		}
	}
	return nil
}
