package main

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
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

// Pictures made to take much memory, several at once: what the program holds stays below half a gigabyte, whether it decodes
// them, keeps them unseen or refuses them in a line. With TRAYBOOK_LONG they are of the largest size that is decoded, and
// beyond it.
func TestHostilePicturesTakeLittleMemory(t *testing.T) {
	scales := []int{1000}
	if os.Getenv("TRAYBOOK_LONG") != "" {
		scales = []int{4800, 7000, 9000}
	}
	book := caseBook(t, "good-picture")
	program := asProgram(t, "traybook")
	taken, unseen, refused, most := 0, 0, 0, int64(0)
	for _, n := range scales {
		var files []string
		for name, content := range map[string][]byte{
			"colour-16.png": pngOf(n, n, 16, 2, 0, 6, false), "interlaced.png": pngOf(n, n, 16, 6, 1, 8, false), "keyed.png": pngOf(n, n, 16, 0, 0, 2, true),
			"strip.tif": tiffOf(n/2, n/2, false), "tile.tif": tiffOf(n/2, n/2, true),
		} {
			files = append(files, putFile(t, name, content))
		}
		cmd := eventstest.Command(t, program, append([]string{"attach", "2026-001n"}, files...)...)
		cmd.Env = append(cmd.Env, "TRAYBOOK_BOOK="+book)
		var said, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &said, &errs
		cmd.Run() // some are refused
		t.Log(strings.TrimSpace(errs.String()))
		no := strings.Count(errs.String(), "damaged") + strings.Count(errs.String(), "breaks off")
		blind := strings.Count(said.String(), "without a small picture")
		taken, unseen, refused = taken+len(files)-no-blind, unseen+blind, refused+no
		peak := peakOf(cmd.ProcessState)
		most = max(most, peak)
		assert.Less(t, peak, int64(roomForAll), "%d pixels a side: %s", n, errs.String())
	}
	t.Logf("%d pictures decoded, %d kept unseen, %d refused; %d MB at most", taken, unseen, refused, most>>20)
	require.NotZero(t, taken)
}

// A scan that is too large to be decoded is kept as it is, and what depends on its small picture goes on without.
func TestALargeScanIsKeptUnseen(t *testing.T) {
	t.Parallel()
	large := pngOf(10, 10, 16, 6, 1, 8, false)
	head := large[12:29] // the name and the data of the first part, then its sum
	binary.BigEndian.PutUint32(head[4:], 7000)
	binary.BigEndian.PutUint32(head[8:], 7000)
	binary.BigEndian.PutUint32(large[29:], crc32.ChecksumIEEE(head))
	book := caseBook(t, "good-picture")
	file := putFile(t, "2026-001n.png", large)

	code, _, errs := obeyed(t, book, "attach", file, "--by-reference")
	require.Equal(t, codeRefused, code)
	require.Contains(t, errs, "747 MB of memory")
	require.Contains(t, errs, "attach it without --by-reference")
	code, out, errs := obeyed(t, book, "attach", file)
	require.Zero(t, code, errs)
	said := strings.Join(strings.Fields(out), " ")
	require.Contains(t, said, "7000 × 7000 pixels")
	require.Contains(t, said, "kept without a small picture, and not looked through, for decoding it would take 747 MB of memory, more than 384: attach a smaller copy")
	code, out, errs = obeyed(t, book, "attach", file)
	require.Zero(t, code, errs)
	require.Contains(t, out, "is attached already, its copy is whole")

	code, out, errs = obeyed(t, book, "verify")
	require.Zero(t, code, errs)
	require.Contains(t, strings.Join(strings.Fields(out), " "), "no small picture of the scan of 2026-001n, ")
	bag := archived(t, book)
	require.Empty(t, checkedArchive(t, bag).Problems)
	kept, err := filepath.Glob(filepath.Join(bag, "data", "scans", "2026-001n.png"))
	require.NoError(t, err)
	require.Len(t, kept, 1)
	whole, err := os.ReadFile(kept[0])
	require.NoError(t, err)
	require.Equal(t, large, whole)
}
