package scan

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/color/palette"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// What a TIFF says of how it is cut is read in either order of bytes and of either width; of what is not said as it should
// be, nothing is.
func TestHowATIFFIsCut(t *testing.T) {
	type entry struct {
		tag, kind    uint16
		count, value uint32
	}
	for name, c := range map[string]struct {
		entries []entry
		want    layout
	}{
		"in strips":          {[]entry{{tagWidth, 4, 1, 600}, {tagCompression, 3, 1, 1}, {tagRows, 3, 1, 20}}, layout{block: 12_000}},
		"packed":             {[]entry{{tagWidth, 3, 1, 600}, {tagCompression, 3, 1, 5}, {tagRows, 4, 1, 20}}, layout{packed: true, block: 12_000}},
		"in tiles":           {[]entry{{tagWidth, 4, 1, 600}, {tagCompression, 3, 1, 1}, {tagTileWidth, 3, 1, 64}, {tagTileHeight, 3, 1, 32}}, layout{block: 2048}},
		"tiles of no height": {[]entry{{tagWidth, 4, 1, 600}, {tagCompression, 3, 1, 1}, {tagRows, 3, 1, 20}, {tagTileWidth, 3, 1, 64}}, layout{}},
		"two widths":         {[]entry{{tagWidth, 4, 2, 600}, {tagCompression, 3, 1, 1}, {tagRows, 3, 1, 20}}, layout{packed: true}},
		"a width in text":    {[]entry{{tagWidth, 2, 1, 600}, {tagCompression, 3, 1, 1}, {tagRows, 3, 1, 20}}, layout{packed: true}},
		"too wide":           {[]entry{{tagWidth, 4, 1, 2*MaxSide + 1}, {tagCompression, 3, 1, 1}, {tagRows, 3, 1, 20}}, layout{}},
		"too many rows":      {[]entry{{tagWidth, 4, 1, 600}, {tagCompression, 3, 1, 1}, {tagRows, 4, 1, 2*MaxSide + 1}}, layout{}},
		"as wide as may be":  {[]entry{{tagWidth, 4, 1, 2 * MaxSide}, {tagCompression, 3, 1, 1}, {tagRows, 4, 1, 2}}, layout{block: 4 * MaxSide}},
		"nothing":            {nil, layout{}},
		"something else":     {[]entry{{0x0106, 2, 9, 7}, {tagWidth, 4, 1, 6}, {tagCompression, 3, 1, 1}, {tagRows, 3, 1, 2}}, layout{block: 12}},
	} {
		for sign, order := range map[string]binary.AppendByteOrder{"II": binary.LittleEndian, "MM": binary.BigEndian} {
			b := order.AppendUint16([]byte(sign), 42)
			b = order.AppendUint32(b, 12)
			b = append(b, "pix!"...)
			b = order.AppendUint16(b, uint16(len(c.entries)))
			for _, e := range c.entries {
				b = order.AppendUint32(order.AppendUint16(order.AppendUint16(b, e.tag), e.kind), e.count)
				if e.kind == 3 {
					b = append(order.AppendUint16(b, uint16(e.value)), 0, 0)
				} else {
					b = order.AppendUint32(b, e.value)
				}
			}
			assert.Equal(t, c.want, readTIFF(bytes.NewReader(b)), "%s, %s", name, sign)
			for _, cut := range []int{4, 12} {
				assert.Equal(t, layout{packed: true}, readTIFF(bytes.NewReader(b[:cut])), "%s, %s cut at %d", name, sign, cut)
			}
		}
	}
}

// An EXIF chunk that claims to go on behind the end of its file is not read, nor is a second one.
func TestWhatAPNGSaysOfItself(t *testing.T) {
	file := asPNG(t, quay(8, 6))
	turned := func(orientation int) []byte {
		return describe(binary.BigEndian, orientation, "2026:05:02 10:00:00", "+02:00")
	}
	orientation := func(b []byte) int {
		e, _ := readPNG(bytes.NewReader(b), int64(len(b)))
		return e.orientation
	}
	assert.Equal(t, 1, orientation(file))
	once := withEXIF(file, turned(6))
	assert.Equal(t, 6, orientation(once))
	assert.Equal(t, 3, orientation(withEXIF(once, turned(3))), "the first")
	cut := once[:33+8+len(turned(6))]
	assert.Equal(t, 6, orientation(cut))
	assert.Equal(t, 1, orientation(cut[:len(cut)-1]))
	_, l := readPNG(bytes.NewReader(file), int64(len(file)))
	assert.Equal(t, layout{}, l)
	keyed := image.NewPaletted(image.Rect(0, 0, 4, 4), append(color.Palette{color.NRGBA{1, 2, 3, 0}}, palette.WebSafe[:4]...))
	see := asPNG(t, keyed)
	_, l = readPNG(bytes.NewReader(see), int64(len(see)))
	assert.Equal(t, layout{keyed: true}, l)
}

// Markers that stand alone, and bytes that fill, are passed over on the way to the frame.
func TestWhatAJPEGSaysOfItself(t *testing.T) {
	file := asJPEG(t, quay(8, 6))
	for name, before := range map[string][]byte{"nothing": nil, "a restart": {0xff, 0xd0}, "a temporary mark": {0xff, 0x01}, "filling": {0xff, 0xff}, "a beginning": {0xff, 0xd8}, "several": {0xff, 0x01, 0xff, 0xd8, 0xff}} {
		b := append(append(bytes.Clone(file[:2]), before...), file[2:]...)
		_, l := readJPEG(bytes.NewReader(b), int64(len(b)))
		assert.False(t, l.progressive, name)
	}
	for _, frame := range []byte{0xc1, 0xc2, 0xc0} {
		b := bytes.Replace(file, []byte{0xff, 0xc0}, []byte{0xff, frame}, 1)
		_, l := readJPEG(bytes.NewReader(b), int64(len(b)))
		assert.Equal(t, frame == 0xc2, l.progressive, "%x", frame)
	}
	for _, end := range []byte{0xd9, 0xda} { // what comes behind is no head any more
		b := append(append(bytes.Clone(file[:2]), 0xff, end, 0, 2), file[2:]...)
		_, l := readJPEG(bytes.NewReader(b), int64(len(b)))
		assert.True(t, l.progressive, "%x", end)
	}
	turned := withEXIF(file, describe(binary.LittleEndian, 8, "2026:05:02 10:00:00", "+02:00"))
	e, _ := readJPEG(bytes.NewReader(turned), int64(len(turned)))
	assert.Equal(t, 8, e.orientation)
}

// The outermost band holds each of its points once, corners too.
func TestTheRingOfAScan(t *testing.T) {
	p := plane{w: 5, h: 7}
	for i := range p.w * p.h {
		p.pix = append(p.pix, float64(i))
	}
	for d, n := range map[int]int{1: 2*5 + 2*5, 2: 35 - 1*3} { // all but the 3 × 5 points, or 1 × 3, in the middle
		got := p.ringOf(d)
		slices.Sort(got)
		assert.Len(t, slices.Compact(got), n)
	}
}
