package page_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/export/page"
)

func TestSameBytesWithManyPicturesOfOneWidth(t *testing.T) {
	pictures := make([][]byte, 40)
	for i := range pictures {
		pictures[i] = thumbnail(t, 60, 40, i)
	}
	sheet := func() []byte {
		d := page.New(options())
		d.NewPage()
		each(d, len(pictures), page.Grid{Box: d.Area(), Cols: 4, Rows: 5, Gap: 3}, func(i int, cell page.Rect) {
			_, err := d.Image(fmt.Sprint(i), pictures[i], cell)
			require.NoError(t, err)
		})
		return finished(t, d)
	}
	first := sheet()
	for range 5 { // the order of a map differs within a few runs
		require.True(t, bytes.Equal(first, sheet()))
	}
	assert.Equal(t, len(pictures), bytes.Count(first, []byte("/Subtype /Image")))
	assert.Equal(t, len(pictures), bytes.Count(first, []byte("/Width 60\n")))
}

func TestOnePictureTwiceIsStoredOnce(t *testing.T) {
	d := page.New(options())
	picture := thumbnail(t, 30, 20, 1)
	for i := range 3 {
		_, err := d.Image(fmt.Sprint("name ", i), picture, page.Rect{X: 20, Y: 20 + 30*float64(i), W: 30, H: 20})
		require.NoError(t, err)
	}
	assert.Equal(t, 1, bytes.Count(finished(t, d), []byte("/Subtype /Image")))
}

func TestPictureStandsInTheMiddleOfItsBox(t *testing.T) {
	d := page.New(options())
	at, err := d.Image("wide", thumbnail(t, 40, 20, 1), page.Rect{X: 10, Y: 10, W: 60, H: 60})
	require.NoError(t, err)
	assert.InDelta(t, 60, at.W, 1e-9)
	assert.InDelta(t, 30, at.H, 1e-9)
	assert.InDelta(t, 10, at.X, 1e-9)
	assert.InDelta(t, 25, at.Y, 1e-9)
}

func TestForeignPicturesAreRefused(t *testing.T) {
	good := thumbnail(t, 30, 20, 1)
	var asPNG bytes.Buffer
	require.NoError(t, png.Encode(&asPNG, image.NewGray(image.Rect(0, 0, 4, 4))))
	exif := append([]byte{0xFF, 0xD8, 0xFF, 0xE1, 0, 8, 'E', 'x', 'i', 'f', 0, 0}, good[2:]...)
	progressive := bytes.Replace(good, []byte{0xFF, 0xC0}, []byte{0xFF, 0xC2}, 1)
	var large bytes.Buffer
	require.NoError(t, jpeg.Encode(&large, image.NewGray(image.Rect(0, 0, 4001, 2)), nil))
	for name, data := range map[string][]byte{
		"nothing": nil, "two bytes": {0xFF, 0xD8}, "a PNG": asPNG.Bytes(), "cut off": good[:len(good)/2],
		"cut in its headers": append(append([]byte{}, good[:40]...), 0xFF, 0xD9), "with an orientation": exif,
		"progressive": progressive, "too wide": large.Bytes(), "too many bytes": make([]byte, 9<<20),
	} {
		t.Run(name, func(t *testing.T) {
			d := page.New(options())
			_, err := d.Image("sheet 12", data, page.Rect{X: 20, Y: 20, W: 30, H: 20})
			require.ErrorContains(t, err, `"sheet 12"`)
			require.NoError(t, d.Err(), "the document goes on without the picture")
			_, err = d.Image("sheet 13", good, page.Rect{X: 20, Y: 20, W: 30, H: 20})
			require.NoError(t, err)
			finished(t, d)
		})
	}
}

// Both bytes of either mark are looked at, before anything is decoded.
func TestAJPEGBeginsAndEnds(t *testing.T) {
	good := thumbnail(t, 30, 20, 1)
	n := len(good)
	const none, noEnd = "it is not a JPEG: make a thumbnail of it", "the JPEG has no end: it is cut off, make its thumbnail anew"
	for _, c := range []struct {
		data []byte
		says string
	}{
		{good[:3], none}, {append([]byte{0xFE}, good[1:]...), none}, {append([]byte{0xFF, 0xD9}, good[2:]...), none},
		{append(bytes.Clone(good[:n-2]), 0xFE, 0xD9), noEnd}, {append(bytes.Clone(good[:n-1]), 0xD8), noEnd},
	} {
		_, err := page.New(options()).Image("sheet 12", c.data, page.Rect{X: 20, Y: 20, W: 30, H: 20})
		require.ErrorContains(t, err, c.says)
	}
}

func TestColourPictureOfTheEncoderIsTaken(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 8, 6))
	img.Set(1, 1, color.RGBA{200, 10, 10, 255})
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, nil))
	at, err := page.New(options()).Image("ferry", b.Bytes(), page.Rect{X: 20, Y: 20, W: 40, H: 40})
	require.NoError(t, err)
	assert.Equal(t, page.Rect{X: 20, Y: 25, W: 40, H: 30}, at)
}

// The least picture and the largest are taken.
func TestPicturesOfEverySizeThatIsAllowed(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {1, 4000}, {4000, 1}} {
		var b bytes.Buffer
		require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rectangle{Max: size}), nil))
		_, err := page.New(options()).Image("ferry", b.Bytes(), page.Rect{X: 20, Y: 20, W: 40, H: 40})
		require.NoError(t, err, size)
	}
}

// aside keeps pictures as a file would, and fails where it is told to.
type aside struct {
	bytes.Buffer
	writes, reads error
}

func (a *aside) Write(p []byte) (int, error) {
	if a.writes != nil {
		return 0, a.writes
	}
	return a.Buffer.Write(p)
}

func (a *aside) ReadAt(p []byte, off int64) (int, error) {
	if a.reads != nil {
		return 0, a.reads
	}
	return bytes.NewReader(a.Bytes()).ReadAt(p, off)
}

// Pictures that wait outside memory give the same document, and what fails them fails it.
func TestPicturesMayWaitOutsideMemory(t *testing.T) {
	draw := func(a *aside) *page.Doc {
		o := options()
		if a != nil {
			o.Pictures = a
		}
		d := page.New(o)
		for i := range 3 {
			d.Image("one", thumbnail(t, 40, 30, i), page.Rect{X: 20, Y: 20, W: 60, H: 60})
			d.Image("the first again", thumbnail(t, 40, 30, 0), page.Rect{X: 100, Y: 20, W: 60, H: 60})
		}
		return d
	}
	var a aside
	d, waited := draw(&a), a.Len()
	assert.Positive(t, waited)
	assert.Equal(t, finished(t, draw(nil)), finished(t, d))
	assert.Equal(t, waited, a.Len(), "each picture once")

	_, err := draw(&aside{writes: errors.New("no room")}).Bytes()
	require.ErrorContains(t, err, "no room")
	_, err = draw(&aside{reads: errors.New("gone")}).Bytes()
	require.ErrorContains(t, err, "gone")
	pipe, far := io.Pipe()
	pipe.CloseWithError(errors.New("nobody reads"))
	require.ErrorContains(t, draw(nil).Finish(far), "nobody reads")
}
