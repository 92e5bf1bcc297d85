package scan

import (
	"encoding/binary"
	"image/color"
	"io"
)

// layout is how a file stores its picture, as far as decoding takes more memory
// for it than the pixels. Where the head does not tell, it is taken for the
// costliest.
type layout struct {
	progressive bool // JPEG: a coefficient for each sample is held until the end
	interlaced  bool // PNG: each pass is a picture of its own beside the whole
	keyed       bool // PNG: one colour is transparent, for which greys become colours
	packed      bool // TIFF: its blocks are compressed
	reduced     bool // TIFF: its first picture says that it is a small version of another
	block       int  // TIFF: pixels of one strip or tile, 0 for the whole picture
}

// need is the most that the decoders of the standard library and of x/image
// hold at once, in bytes.
func need(i Info, model color.Model, l layout) int {
	pixels := i.Width * i.Height
	pixel, samples := pixelSize(model)
	switch i.MediaType {
	case JPEG:
		pixels = (i.Width + 31) * (i.Height + 31) // whole blocks
		switch model {
		case color.RGBAModel, color.CMYKModel: // made from planes that are still there
			pixel += samples
		}
		if l.progressive {
			pixel += 4 * samples // of 32 bits
		}
	case PNG:
		if l.keyed {
			pixel = max(4*pixel/samples, pixel)
		}
		if l.interlaced {
			pixel *= 2
		}
	case TIFF:
		block := l.block
		if block == 0 {
			block = pixels
		}
		// A block may bring up to 8 bytes for each of its pixels. Its buffer grows by doubling, the old beside the new.
		held := 8 * block
		if !l.packed {
			held = min(held, int(i.Size))
		}
		return pixels*pixel + 3*held
	}
	return pixels * pixel
}

// pixelSize is the bytes of a decoded pixel, and how many samples it has.
func pixelSize(m color.Model) (bytes, samples int) {
	switch m {
	case color.GrayModel, color.AlphaModel:
		return 1, 1
	case color.Gray16Model, color.Alpha16Model:
		return 2, 1
	case color.YCbCrModel:
		return 3, 3
	case color.RGBAModel:
		return 4, 3
	case color.RGBA64Model, color.NRGBA64Model:
		return 8, 4
	}
	return 4, 4
}

// The entries of a TIFF that say how its picture is cut (TIFF 6.0).
const (
	tagSubfile     = 0x00fe
	tagCompression = 0x0103
	tagRows        = 0x0116
	tagTileWidth   = 0x0142
	tagTileHeight  = 0x0143
	tagWidth       = 0x0100
)

// readTIFF reads how the picture is cut into strips or tiles. The entries stand
// in rising order, so that those asked for are among the first maxEntries.
func readTIFF(r io.ReaderAt) layout {
	l := layout{packed: true}
	head := make([]byte, 8)
	if _, err := r.ReadAt(head, 0); err != nil {
		return l
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	at := int64(order.Uint32(head[4:]))
	if _, err := r.ReadAt(head[:2], at); err != nil {
		return l
	}
	entries := make([]byte, 12*min(int(order.Uint16(head)), maxEntries))
	n, _ := r.ReadAt(entries, at+2)
	found, odd := map[uint16]int{}, false
	for entries = entries[:n]; len(entries) >= 12; entries = entries[12:] {
		switch tag := order.Uint16(entries); tag {
		case tagSubfile, tagCompression, tagRows, tagTileWidth, tagTileHeight, tagWidth:
			kind, length := order.Uint16(entries[2:]), order.Uint32(entries[4:])
			switch {
			case length == 1 && kind == 3:
				found[tag] = int(order.Uint16(entries[8:]))
			case length == 1 && kind == 4:
				found[tag] = int(order.Uint32(entries[8:]))
			default:
				odd = true
			}
		}
	}
	if odd {
		return l
	}
	l.packed = found[tagCompression] > 1
	l.reduced = found[tagSubfile]&1 != 0
	width, height := found[tagWidth], found[tagRows]
	if found[tagTileWidth] > 0 {
		width, height = found[tagTileWidth], found[tagTileHeight]
	}
	if width > 0 && height > 0 && width <= 2*MaxSide && height <= 2*MaxSide {
		l.block = width * height
	}
	return l
}
