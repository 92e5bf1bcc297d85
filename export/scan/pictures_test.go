package scan

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

// quay is a small scene that is not the same upside down or mirrored: a light
// sky, dark water, a red boat in the lower left.
func quay(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{210, 220, 230, 255}
			switch {
			case y > h/2 && x < w/4:
				c = color.RGBA{180, 40, 30, 255}
			case y > h/2:
				c = color.RGBA{40, 60, 70, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func grey(img image.Image) *image.Gray {
	out := image.NewGray(img.Bounds())
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			out.Set(x, y, img.At(x, y))
		}
	}
	return out
}

func asJPEG(t testing.TB, img image.Image) []byte {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 90}))
	return b.Bytes()
}

func asPNG(t testing.TB, img image.Image) []byte {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

func asTIFF(t testing.TB, img image.Image) []byte {
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, img, nil))
	return b.Bytes()
}

// describe makes an EXIF block: a directory with the orientation, and a second
// one with the times.
func describe(order binary.AppendByteOrder, orientation int, original, zone string) []byte {
	b := []byte("II")
	if order.String() == "BigEndian" {
		b = []byte("MM")
	}
	entry := func(tag, kind uint16, count, value uint32) {
		b = order.AppendUint16(b, tag)
		b = order.AppendUint16(b, kind)
		b = order.AppendUint32(b, count)
		if kind == 3 { // a short stands at the beginning of its four bytes
			b = order.AppendUint16(b, uint16(value))
			b = append(b, 0, 0)
			return
		}
		b = order.AppendUint32(b, value)
	}
	b = order.AppendUint16(b, 42)
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 2)
	entry(tagOrientation, 3, 1, uint32(orientation))
	entry(tagDirectory, 4, 1, 38)
	b = order.AppendUint32(b, 0)
	b = order.AppendUint16(b, 2) // at 38
	texts := uint32(38 + 2 + 24 + 4)
	entry(tagOriginal, 2, uint32(len(original)+1), texts)
	entry(tagOriginalZone, 2, uint32(len(zone)+1), texts+uint32(len(original)+1))
	b = order.AppendUint32(b, 0)
	return append(append(append(b, original...), 0), append([]byte(zone), 0)...)
}

// withEXIF puts an EXIF block behind the head of a JPEG or PNG.
func withEXIF(file, block []byte) []byte {
	if file[0] == 0xff {
		segment := append([]byte{0xff, 0xe1, byte((len(block) + 8) >> 8), byte(len(block) + 8)}, "Exif\x00\x00"...)
		return append(append(append([]byte{}, file[:2]...), append(segment, block...)...), file[2:]...)
	}
	chunk := append([]byte("eXIf"), block...)
	out := append([]byte{}, file[:33]...) // signature and IHDR
	out = binary.BigEndian.AppendUint32(out, uint32(len(block)))
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, file[33:]...)
}

// pngHead is the head of a PNG of any size, without a picture.
func pngHead(w, h uint32, depth, kind byte) []byte {
	b := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d")
	chunk := []byte("IHDR")
	chunk = binary.BigEndian.AppendUint32(chunk, w)
	chunk = binary.BigEndian.AppendUint32(chunk, h)
	chunk = append(chunk, depth, kind, 0, 0, 0)
	b = append(b, chunk...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(chunk))
}

// print is the scan of a print: a border of one reflectance around a picture
// given by a function of the place, 0 to 1 across and down.
func printScan(w, h, deep int, border float64, picture func(x, y float64) float64) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := border
			if x >= deep && y >= deep && x < w-deep && y < h-deep {
				v = picture(float64(x-deep)/float64(w-2*deep), float64(y-deep)/float64(h-2*deep))
			}
			img.Pix[y*img.Stride+x] = uint8(math.Round(255 * coded(v)))
		}
	}
	return img
}
