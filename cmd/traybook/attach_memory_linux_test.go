package main

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/trial"
)

func pngOf(w, h int, depth, sort, interlaced byte, bytesPerPixel float64, keyed bool) []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk := func(name string, data []byte) {
		binary.Write(&b, binary.BigEndian, uint32(len(data)))
		b.WriteString(name)
		b.Write(data)
		binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(append([]byte(name), data...)))
	}
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h))
	chunk("IHDR", append(head, depth, sort, 0, 0, interlaced))
	if keyed {
		chunk("tRNS", make([]byte, 2))
	}
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	row := make([]byte, 1+int(float64(w)*bytesPerPixel))
	for range h + int(interlaced)*h/2 { // passes have rows of their own
		z.Write(row)
	}
	z.Close()
	chunk("IDAT", packed.Bytes())
	chunk("IEND", nil)
	return b.Bytes()
}

// tiffOf is a grey TIFF in one packed strip or tile that brings as much as a decoder lets it.
func tiffOf(w, h int, tiled bool) []byte {
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	z.Write(make([]byte, 8*w*h))
	z.Close()
	type entry struct {
		tag, kind uint16
		value     int
	}
	entries := []entry{{256, 4, w}, {257, 4, h}, {258, 3, 8}, {259, 3, 8}, {262, 3, 1}}
	cut := []entry{{273, 4, 0}, {278, 4, h}, {279, 4, packed.Len()}}
	if tiled {
		cut = []entry{{322, 4, w}, {323, 4, h}, {324, 4, 0}, {325, 4, packed.Len()}}
	}
	entries = append(entries, cut...)
	data := 8 + 2 + 12*len(entries) + 4
	b := []byte("II*\x00\x08\x00\x00\x00")
	b = binary.LittleEndian.AppendUint16(b, uint16(len(entries)))
	for _, e := range entries {
		if e.tag == 273 || e.tag == 324 {
			e.value = data
		}
		b = binary.LittleEndian.AppendUint16(b, e.tag)
		b = binary.LittleEndian.AppendUint16(b, e.kind)
		b = binary.LittleEndian.AppendUint32(b, 1)
		b = binary.LittleEndian.AppendUint32(b, uint32(e.value))
	}
	return append(append(b, 0, 0, 0, 0), packed.Bytes()...)
}

// Pictures made to take much memory, several at once: what the program holds stays below half a gigabyte, whether it takes
// them or refuses them in a line. With TRAYBOOK_LONG they are of the largest size that is taken, and beyond it.
func TestHostilePicturesTakeLittleMemory(t *testing.T) {
	scales := []int{1000}
	if os.Getenv("TRAYBOOK_LONG") != "" {
		scales = []int{4800, 7000, 9000}
	}
	book := caseBook(t, "good-picture")
	program := asProgram(t, "traybook")
	taken, refused, most := 0, 0, int64(0)
	for _, n := range scales {
		var files []string
		for name, content := range map[string][]byte{
			"colour-16.png": pngOf(n, n, 16, 2, 0, 6, false), "interlaced.png": pngOf(n, n, 16, 6, 1, 8, false), "keyed.png": pngOf(n, n, 16, 0, 0, 2, true),
			"strip.tif": tiffOf(n/2, n/2, false), "tile.tif": tiffOf(n/2, n/2, true),
		} {
			files = append(files, putFile(t, name, content))
		}
		cmd := trial.Command(t, program, append([]string{"attach", "2026-001n"}, files...)...)
		cmd.Env = append(cmd.Env, "TRAYBOOK_BOOK="+book)
		var errs bytes.Buffer
		cmd.Stderr = &errs
		cmd.Run() // some are refused
		t.Log(strings.TrimSpace(errs.String()))
		no := strings.Count(errs.String(), "MB of memory") + strings.Count(errs.String(), "damaged") + strings.Count(errs.String(), "breaks off")
		taken, refused = taken+len(files)-no, refused+no
		peak := peakOf(cmd.ProcessState)
		most = max(most, peak)
		assert.Less(t, peak, int64(roomForAll), "%d pixels a side: %s", n, errs.String())
	}
	t.Logf("%d pictures taken, %d refused; %d MB at most", taken, refused, most>>20)
	require.NotZero(t, taken+refused)
}
