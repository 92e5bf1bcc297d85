package scan

import (
	"bytes"
	"encoding/binary"
	"errors"
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
	arithmetic := bytes.Clone(scene)
	arithmetic[sof+1] = 0xc9
	for name, c := range map[string]struct {
		file  []byte
		media string
		kept  bool // though it cannot be shown
		says  string
	}{
		"empty":            {nil, "", false, "the file is empty"},
		"text":             {[]byte("sheet,dev\r\n"), "text/plain", false, "this is a text, not a picture"},
		"entries":          {[]byte("{\"kind\":\"note.written\"}\n{\"kind\":\"note.written\"}\n"), "text/plain", false, "this is a text, not a picture"},
		"film":             {append([]byte("\x00\x00\x00\x18ftypmp42"), make([]byte, 200)...), "video/mp4", false, "by its bytes this is video/mp4, not a picture"},
		"raw in a box":     {append([]byte("\x00\x00\x00\x18ftypcrx \x00\x00\x00\x01crx isom"), make([]byte, 200)...), "application/octet-stream", true, "attach a JPEG of it beside it"},
		"two bytes":        {[]byte("\xff\x00"), "application/octet-stream", true, "by its bytes it is application/octet-stream"},
		"GIF":              {[]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00"), "image/gif", true, "by its bytes it is image/gif"},
		"phone":            {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00"), "image/heic", true, "attach a JPEG of it beside it"},
		"large TIFF":       {[]byte("II+\x00\x08\x00\x00\x00"), "application/octet-stream", true, "attach a JPEG of it beside it"},
		"raw, own sort":    {[]byte("RAWFILE 0201\x00\x01\x02\x03"), "application/octet-stream", true, "attach a JPEG of it beside it"},
		"raw, TIFF":        {reduced(t), TIFF, true, "its first picture is a small version of another"},
		"CMYK in TIFF":     {separated(t), TIFF, true, "this sort of TIFF is not read"},
		"arithmetic JPEG":  {arithmetic, JPEG, true, "this sort of JPEG is not read"},
		"JPEG head alone":  {scene[:20], JPEG, false, "the JPEG breaks off before its end"},
		"PNG head alone":   {[]byte("\x89PNG\r\n\x1a\n"), PNG, false, "the PNG breaks off"},
		"TIFF head alone":  {[]byte("II*\x00\x08\x00\x00\x00"), TIFF, false, "the TIFF"},
		"damaged PNG":      {append([]byte("\x89PNG\r\n\x1a\n"), make([]byte, 40)...), PNG, false, "the PNG is damaged"},
		"damaged TIFF":     {append([]byte("II*\x00\x08\x00\x00\x00\x01\x00"), make([]byte, 40)...), TIFF, false, "TIFF"},
		"too wide":         {pngHead(20_001, 1, 8, 0), PNG, true, "20001 × 1 pixels, more than 20000 on a side"},
		"too high":         {pngHead(1, 1<<31-1, 8, 0), PNG, true, "on a side"},
		"bomb":             {pngHead(20_000, 20_000, 8, 0), PNG, true, "400 megapixels, more than 200"},
		"progressive bomb": {progressive, JPEG, true, "MB of memory"},
		"huge file":        {scene, JPEG, true, "larger than 1024 MB"},
	} {
		t.Run(name, func(t *testing.T) {
			size := int64(len(c.file))
			if name == "huge file" {
				size = MaxFile + 1
			}
			info, err := Inspect(bytes.NewReader(c.file), size)
			require.ErrorContains(t, err, c.says)
			assert.Equal(t, c.media, info.MediaType)
			var unseen *UnseenError
			var slip *SlipError
			assert.Equal(t, []bool{c.kept, !c.kept && size > 0}, []bool{errors.As(err, &unseen), errors.As(err, &slip)})
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

// tagged is a TIFF in which one entry of its directory says something else.
func tagged(t testing.TB, tag uint16, value uint32) []byte {
	file := asTIFF(t, quay(60, 40))
	at := binary.LittleEndian.Uint32(file[4:])
	for i := range int(binary.LittleEndian.Uint16(file[at:])) {
		if e := file[int(at)+2+12*i:]; binary.LittleEndian.Uint16(e) == tag {
			binary.LittleEndian.PutUint32(e[8:], value)
			return file
		}
	}
	require.Fail(t, "no such entry")
	return nil
}

// reduced says of its first picture that it is a small version of another.
func reduced(t testing.TB) []byte { return withSubfile(asTIFF(t, quay(60, 40))) }

// separated is of four inks (TIFF 6.0, section 16).
func separated(t testing.TB) []byte { return tagged(t, 0x0106, 5) }

// withSubfile puts the entry of the sort of picture before the others, in a new directory behind the old one.
func withSubfile(file []byte) []byte {
	order := binary.LittleEndian
	at := int(order.Uint32(file[4:]))
	n := int(order.Uint16(file[at:]))
	entries := bytes.Clone(file[at+2 : at+2+12*n])
	order.PutUint32(file[4:], uint32(len(file)))
	file = order.AppendUint16(file, uint16(n+1))
	file = append(file, 0xfe, 0, 4, 0, 1, 0, 0, 0, 1, 0, 0, 0)
	return append(append(file, entries...), 0, 0, 0, 0)
}

func TestTIFFThatIsNotRead(t *testing.T) {
	_, _, err := decode(tagged(t, 0x0103, 7)) // a JPEG inside
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
