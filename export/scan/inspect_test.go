package scan

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func inspect(b []byte) (Info, error) { return Inspect(bytes.NewReader(b), int64(len(b))) }

func decode(b []byte) (image.Image, Info, error) { return Decode(bytes.NewReader(b), int64(len(b))) }

func TestInspectWhatFilesSay(t *testing.T) {
	scene := quay(60, 40)
	little, big := binary.LittleEndian, binary.BigEndian
	for name, c := range map[string]struct {
		file  []byte
		media string
		ext   string
		turn  int
		taken string
	}{
		"plain JPEG":         {asJPEG(t, scene), JPEG, ".jpg", 1, ""},
		"grey JPEG":          {asJPEG(t, grey(scene)), JPEG, ".jpg", 1, ""},
		"plain PNG":          {asPNG(t, scene), PNG, ".png", 1, ""},
		"plain TIFF":         {asTIFF(t, scene), TIFF, ".tif", 1, ""},
		"JPEG, little":       {withEXIF(asJPEG(t, scene), describe(little, 6, "2026:05:03 14:05:00", "+02:00")), JPEG, ".jpg", 6, "2026-05-03T14:05:00+02:00"},
		"JPEG, big":          {withEXIF(asJPEG(t, scene), describe(big, 8, "2026:05:03 14:05:00", "")), JPEG, ".jpg", 8, "2026-05-03T14:05:00"},
		"PNG":                {withEXIF(asPNG(t, scene), describe(big, 3, "2024:02:29 23:59:59", "-03:30")), PNG, ".png", 3, "2024-02-29T23:59:59-03:30"},
		"no such day":        {withEXIF(asJPEG(t, scene), describe(big, 1, "2026:02:30 14:05:00", "")), JPEG, ".jpg", 1, ""},
		"clock never set":    {withEXIF(asJPEG(t, scene), describe(big, 1, "0000:00:00 00:00:00", "")), JPEG, ".jpg", 1, ""},
		"blanks for a time":  {withEXIF(asJPEG(t, scene), describe(big, 1, "    :  :     :  :  ", "   :  ")), JPEG, ".jpg", 1, ""},
		"no such zone":       {withEXIF(asJPEG(t, scene), describe(big, 1, "2026:05:03 14:05:00", "+25:00")), JPEG, ".jpg", 1, "2026-05-03T14:05:00"},
		"no such turn":       {withEXIF(asJPEG(t, scene), describe(big, 9, "", "")), JPEG, ".jpg", 1, ""},
		"EXIF that is none":  {withEXIF(asJPEG(t, scene), []byte("what is this, no directory")), JPEG, ".jpg", 1, ""},
		"EXIF too short":     {withEXIF(asJPEG(t, scene), []byte("II")), JPEG, ".jpg", 1, ""},
		"first block counts": {withEXIF(withEXIF(asJPEG(t, scene), describe(big, 3, "", "")), describe(big, 6, "", "")), JPEG, ".jpg", 6, ""},
		"fill bytes":         {append([]byte("\xff\xd8\xff\xff"), withEXIF(asJPEG(t, scene), describe(big, 6, "", ""))[3:]...), JPEG, ".jpg", 6, ""},
	} {
		t.Run(name, func(t *testing.T) {
			i, err := inspect(c.file)
			require.NoError(t, err)
			assert.Equal(t, c.media, i.MediaType)
			assert.Equal(t, c.ext, i.Ext())
			assert.Equal(t, []int{60, 40}, []int{i.Width, i.Height})
			assert.Equal(t, c.turn, i.Orientation)
			assert.Equal(t, c.taken, i.Taken)
			assert.EqualValues(t, len(c.file), i.Size)
			w, h := i.Upright()
			assert.Equal(t, c.turn >= 5, w < h)
			_, whole, err := decode(c.file)
			require.NoError(t, err)
			assert.Equal(t, i, whole)
		})
	}
}

// A TIFF is itself made of the directories that EXIF uses.
func TestInspectTIFFOrientation(t *testing.T) {
	file := asTIFF(t, quay(60, 40))
	order := binary.LittleEndian
	at := int(order.Uint32(file[4:]))
	n := int(order.Uint16(file[at:]))
	order.PutUint32(file[4:], uint32(len(file))) // a new directory behind the old one
	entries := bytes.Clone(file[at+2 : at+2+12*n])
	file = order.AppendUint16(file, uint16(n+1))
	for placed := false; len(entries) > 0; entries = entries[12:] {
		if !placed && order.Uint16(entries) > tagOrientation {
			placed = true
			file = append(file, 0x12, 0x01, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0)
		}
		file = append(file, entries[:12]...)
	}
	file = append(file, 0, 0, 0, 0)
	i, err := inspect(file)
	require.NoError(t, err)
	assert.Equal(t, 6, i.Orientation)
}

func TestRefusedHeads(t *testing.T) {
	scene := asJPEG(t, quay(60, 40))
	progressive := bytes.Clone(scene)
	sof := bytes.Index(progressive, []byte("\xff\xc0"))
	progressive[sof+1] = 0xc2
	binary.BigEndian.PutUint16(progressive[sof+5:], 14000)
	binary.BigEndian.PutUint16(progressive[sof+7:], 14000)
	for name, c := range map[string]struct {
		file []byte
		says string
	}{
		"empty":            {nil, "the file is empty"},
		"text":             {[]byte("sheet,dev\r\n"), "not a JPEG, PNG or TIFF picture"},
		"one byte":         {[]byte("\xff"), "not a JPEG, PNG or TIFF picture"},
		"GIF":              {[]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00"), "not a JPEG, PNG or TIFF picture"},
		"phone":            {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00"), "save it as JPEG"},
		"large TIFF":       {[]byte("II+\x00\x08\x00\x00\x00"), "large kind"},
		"JPEG head alone":  {scene[:20], "the JPEG breaks off before its end"},
		"PNG head alone":   {[]byte("\x89PNG\r\n\x1a\n"), "the PNG breaks off"},
		"TIFF head alone":  {[]byte("II*\x00\x08\x00\x00\x00"), "the TIFF"},
		"damaged PNG":      {append([]byte("\x89PNG\r\n\x1a\n"), make([]byte, 40)...), "the PNG is damaged"},
		"damaged TIFF":     {append([]byte("II*\x00\x08\x00\x00\x00\x01\x00"), make([]byte, 40)...), "TIFF"},
		"too wide":         {pngHead(20_001, 1, 8, 0), "20001 × 1 pixels, more than 20000 on a side"},
		"too high":         {pngHead(1, 1<<31-1, 8, 0), "on a side"},
		"bomb":             {pngHead(20_000, 20_000, 8, 0), "400 megapixels, more than 200"},
		"progressive bomb": {progressive, "MB of memory"},
		"huge file":        {nil, "larger than 1024 MB"},
	} {
		t.Run(name, func(t *testing.T) {
			size := int64(len(c.file))
			if name == "huge file" {
				size = MaxFile + 1
			}
			_, err := Inspect(bytes.NewReader(c.file), size)
			require.ErrorContains(t, err, c.says)
			assert.NotContains(t, err.Error(), "\n")
			img, _, err := Decode(bytes.NewReader(c.file), size)
			require.Error(t, err)
			assert.Nil(t, img)
		})
	}
}

func TestPicturesThatBreakOff(t *testing.T) {
	scene := quay(300, 200)
	for name, file := range map[string][]byte{"JPEG": asJPEG(t, scene), "PNG": asPNG(t, scene), "TIFF": asTIFF(t, scene)} {
		t.Run(name, func(t *testing.T) {
			_, _, err := decode(file)
			require.NoError(t, err)
			for cut := 0; cut < len(file)-12; cut += 1 + len(file)/200 {
				_, _, err := decode(file[:cut])
				require.Error(t, err, "cut at %d of %d", cut, len(file))
				require.NotContains(t, err.Error(), "\n")
			}
			if name == "TIFF" {
				return // its directory stands at the end, so a cut file has no head
			}
			_, _, err = decode(file[:len(file)/2])
			require.EqualError(t, err, "the "+name+" breaks off before its end: copy the file again")
		})
	}
}

func TestTIFFThatIsNotRead(t *testing.T) {
	file := asTIFF(t, quay(60, 40))
	at := binary.LittleEndian.Uint32(file[4:])
	for i := range int(binary.LittleEndian.Uint16(file[at:])) {
		e := file[int(at)+2+12*i:]
		if binary.LittleEndian.Uint16(e) == 0x0103 { // compression
			binary.LittleEndian.PutUint32(e[8:], 7) // a JPEG inside
		}
	}
	_, _, err := decode(file)
	require.ErrorContains(t, err, "save a JPEG of it and attach both")
}

func TestPanicsOfDecodersAreErrors(t *testing.T) {
	call := func() (err error) {
		defer recovered(&err)
		panic("nil reader closed")
	}
	require.ErrorIs(t, call(), errDamaged)
	assert.Equal(t, "the PNG is damaged: scan again or find another copy", refused(PNG, &source{}, errDamaged).Error())
}

func TestMemoryIsCalculateed(t *testing.T) {
	for name, c := range map[string]struct {
		media string
		model color.Model
		l     layout
		want  int // bytes of a pixel
	}{
		"grey": {PNG, color.GrayModel, layout{}, 1}, "grey 16": {PNG, color.Gray16Model, layout{}, 2},
		"colour": {PNG, color.NRGBAModel, layout{}, 4}, "colour 16": {PNG, color.NRGBA64Model, layout{}, 8},
		"keyed grey": {PNG, color.GrayModel, layout{keyed: true}, 4}, "keyed grey 16": {PNG, color.Gray16Model, layout{keyed: true}, 8},
		"interlaced":      {PNG, color.NRGBA64Model, layout{interlaced: true}, 16},
		"keyed colour 16": {PNG, color.NRGBA64Model, layout{keyed: true}, 8},
		"one strip":       {TIFF, color.RGBAModel, layout{packed: true}, 28}, "a file of 9 bytes": {TIFF, color.GrayModel, layout{}, 1},
	} {
		i := Info{MediaType: c.media, Width: 100, Height: 100}
		assert.Equal(t, 10_000*c.want, need(i, c.model, c.l), name)
	}
	i := Info{MediaType: JPEG, Width: 97, Height: 97}
	for model, want := range map[color.Model][2]int{color.GrayModel: {1, 5}, color.YCbCrModel: {3, 15}, color.RGBAModel: {7, 19}, color.CMYKModel: {8, 24}} {
		assert.Equal(t, 128*128*want[0], need(i, model, layout{}))
		assert.Equal(t, 128*128*want[1], need(i, model, layout{progressive: true}))
	}
}

func TestNoWayInCircles(t *testing.T) {
	// A directory that names itself as the second one.
	block := describe(binary.BigEndian, 6, "2026:05:03 14:05:00", "")
	binary.BigEndian.PutUint32(block[8+2+12+8:], 8)
	e := readEXIF(bytes.NewReader(block))
	assert.Equal(t, 6, e.orientation)
	assert.Empty(t, e.taken())
	// More segments than any picture has.
	file := append([]byte("\xff\xd8"), strings.Repeat("\xff\xfe\x00\x02", maxSegments+5)...)
	file = append(file, withEXIF(asJPEG(t, quay(60, 40)), describe(binary.BigEndian, 6, "", ""))[2:]...)
	i, err := inspect(file)
	require.NoError(t, err)
	assert.Equal(t, 1, i.Orientation)
}

func FuzzEXIF(f *testing.F) {
	f.Add(describe(binary.LittleEndian, 6, "2026:05:03 14:05:00", "+02:00"))
	f.Add(describe(binary.BigEndian, 3, "2026:05:03 14:05:00", "")[:50])
	f.Add([]byte("MM\x00*\x00\x00\x00\x00"))
	f.Add([]byte("II*\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, b []byte) {
		e := readEXIF(bytes.NewReader(b))
		require.True(t, e.orientation >= 1 && e.orientation <= 8)
		taken := e.taken()
		require.True(t, taken == "" || len(taken) == 19 || len(taken) == 25, taken)
	})
}

func FuzzInspect(f *testing.F) {
	scene := quay(20, 10)
	for _, file := range [][]byte{
		asJPEG(f, scene), asJPEG(f, grey(scene)), asPNG(f, scene), asTIFF(f, scene), pngHead(30_000, 30_000, 8, 0),
		withEXIF(asJPEG(f, scene), describe(binary.LittleEndian, 6, "2026:05:03 14:05:00", "+02:00")),
		withEXIF(asPNG(f, scene), describe(binary.BigEndian, 6, "2026:05:03 14:05:00", "")),
	} {
		f.Add(file)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		i, err := inspect(b)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			return
		}
		require.NotEmpty(t, i.Ext())
		require.True(t, i.Width >= 1 && i.Height >= 1 && i.Width <= MaxSide && i.Height <= MaxSide && i.Width*i.Height <= MaxPixels)
		if i.Width*i.Height > 1<<20 {
			return // allowed, but too slow to open ten thousand times
		}
		img, _, err := decode(b)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			return
		}
		thumb, err := Thumbnail(img, i.Orientation)
		require.NoError(t, err)
		require.LessOrEqual(t, max(thumb.Width, thumb.Height), ThumbSide)
		_, _ = Measure(img)
	})
}
