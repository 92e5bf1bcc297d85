package scan

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func thumb(t testing.TB, img image.Image, orientation int) image.Image {
	t.Helper()
	th, err := Thumbnail(img, orientation)
	require.NoError(t, err)
	out, err := jpeg.Decode(bytes.NewReader(th.JPEG))
	require.NoError(t, err)
	require.Equal(t, image.Pt(th.Width, th.Height), out.Bounds().Size())
	return out
}

// near asserts a colour within a tolerance: two makes of the program may differ
// by a level, and JPEG is not exact.
func near(t testing.TB, want color.Color, got color.Color, tolerance int, msg ...any) {
	t.Helper()
	w, g := color.RGBAModel.Convert(want).(color.RGBA), color.RGBAModel.Convert(got).(color.RGBA)
	for _, d := range [][2]uint8{{w.R, g.R}, {w.G, g.G}, {w.B, g.B}} {
		assert.InDelta(t, d[0], d[1], float64(tolerance), msg...)
	}
}

func TestThumbnailSize(t *testing.T) {
	for _, c := range []struct{ w, h, tw, th, orientation int }{
		{4000, 3000, 400, 300, 1},
		{3000, 4000, 300, 400, 1},
		{4000, 3000, 300, 400, 6},
		{1000, 999, 400, 400, 1},
		{401, 400, 400, 399, 1},
		{400, 300, 400, 300, 1},
		{30, 20, 30, 20, 1},
		{30, 20, 20, 30, 8},
		{1, 1, 1, 1, 1},
		{20000, 3, 400, 1, 1},
		{3, 20000, 1, 400, 1},
		{700, 7, 400, 4, 1},
	} {
		got := thumb(t, image.NewGray(image.Rect(0, 0, c.w, c.h)), c.orientation)
		assert.Equal(t, image.Pt(c.tw, c.th), got.Bounds().Size(), "%+v", c)
	}
}

// Each sort of picture keeps its tones, whichever way it is averaged.
func TestThumbnailKeepsTones(t *testing.T) {
	scene := quay(2000, 1200)
	jpegged, err := jpeg.Decode(bytes.NewReader(asJPEG(t, scene)))
	require.NoError(t, err)
	pngged, _, err := decode(asPNG(t, scene))
	require.NoError(t, err)
	tiffed, _, err := decode(asTIFF(t, scene))
	require.NoError(t, err)
	nrgba64 := image.NewNRGBA64(scene.Bounds())
	cmyk := image.NewCMYK(scene.Bounds())
	paletted := image.NewPaletted(scene.Bounds(), color.Palette{color.White, scene.At(0, 0), scene.At(0, 1199), scene.At(1999, 1199)})
	for y := range 1200 {
		for x := range 2000 {
			nrgba64.Set(x, y, scene.At(x, y))
			cmyk.Set(x, y, scene.At(x, y))
			paletted.Set(x, y, scene.At(x, y))
		}
	}
	require.IsType(t, &image.YCbCr{}, jpegged)
	for name, img := range map[string]image.Image{
		"RGBA": scene, "JPEG": jpegged, "PNG": pngged, "TIFF": tiffed, "16 bits": nrgba64, "CMYK": cmyk, "palette": paletted,
		"part of a JPEG": jpegged.(*image.YCbCr).SubImage(image.Rect(2, 2, 1998, 1198)),
	} {
		got := thumb(t, img, 1)
		require.Equal(t, 400, got.Bounds().Dx(), name)
		near(t, scene.At(100, 100), got.At(20, 20), 4, name)
		near(t, scene.At(100, 1100), got.At(20, 220), 4, name)
		near(t, scene.At(1900, 1100), got.At(380, 220), 4, name)
	}
}

func TestThumbnailOfGreyIsGrey(t *testing.T) {
	g := grey(quay(2000, 1200))
	g16 := image.NewGray16(g.Bounds())
	for y := range 1200 {
		for x := range 2000 {
			g16.Set(x, y, g.At(x, y))
		}
	}
	for _, img := range []image.Image{g, g16} {
		for _, turn := range []int{1, 3} {
			got := thumb(t, img, turn)
			require.IsType(t, &image.Gray{}, got)
			at := image.Pt(20, 20)
			if turn == 3 {
				at = image.Pt(379, 219)
			}
			near(t, g.At(100, 100), got.At(at.X, at.Y), 3)
		}
	}
}

// The mark in the corner ends where EXIF says: orientation 6, for one, is a
// camera held so that its right side was up; the stored picture is turned
// clockwise.
func TestUpright(t *testing.T) {
	stored := image.NewGray(image.Rect(0, 0, 30, 20))
	for i := range stored.Pix {
		stored.Pix[i] = 255
	}
	for y := range 8 {
		for x := range 8 {
			stored.SetGray(x, y, color.Gray{}) // top left
		}
	}
	for y := range 8 {
		for x := 22; x < 30; x++ {
			stored.SetGray(x, y, color.Gray{128}) // top right
		}
	}
	// Where the stored top left and top right corner come to lie, by the
	// table of TIFF 6.0, tag 274.
	const tl, tr, bl, br = 0, 1, 2, 3
	for orientation, want := range map[int][2]int{
		1: {tl, tr}, 2: {tr, tl}, 3: {br, bl}, 4: {bl, br},
		5: {tl, bl}, 6: {tr, br}, 7: {br, tr}, 8: {bl, tl},
	} {
		got := thumb(t, stored, orientation)
		b := got.Bounds()
		corners := []image.Point{{3, 3}, {b.Dx() - 4, 3}, {3, b.Dy() - 4}, {b.Dx() - 4, b.Dy() - 4}}
		for i, c := range corners {
			tone := 255
			switch i {
			case want[0]:
				tone = 0
			case want[1]:
				tone = 128
			}
			near(t, color.Gray{uint8(tone)}, got.At(c.X, c.Y), 12, orientation, i)
		}
	}
}

func TestTransparentIsWhite(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 50, 50))
	near(t, color.White, thumb(t, img, 1).At(25, 25), 1)
	for i := range img.Pix {
		img.Pix[i] = 0
		if i%4 == 3 {
			img.Pix[i] = 128 // half of black
		}
	}
	near(t, color.Gray{127}, thumb(t, img, 1).At(25, 25), 3)
}

func TestNoPixels(t *testing.T) {
	_, err := Thumbnail(image.NewGray(image.Rectangle{}), 1)
	require.ErrorContains(t, err, "no pixels")
}

// Averaging keeps the mean: a fine checker becomes its grey, not a pattern.
func TestAverageOfAChecker(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 3203, 2401))
	for y := range 2401 {
		for x := range 3203 {
			img.Pix[y*img.Stride+x] = uint8((x + y) % 2 * 255)
		}
	}
	got := thumb(t, img, 1)
	for x := range got.Bounds().Dx() {
		near(t, color.Gray{128}, got.At(x, 150), 24, x)
	}
}

// twelve is a JPEG of twelve megapixels with detail and grain everywhere.
func twelve(b *testing.B, colour bool) []byte {
	img := image.NewYCbCr(image.Rect(0, 0, 4000, 3000), image.YCbCrSubsampleRatio420)
	r := rand.New(rand.NewPCG(1, 2))
	for y := range 3000 {
		for x := range 4000 {
			img.Y[y*img.YStride+x] = uint8(64 + x/40 + (y/30)%40 + r.IntN(12))
		}
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(120+i%17), uint8(130+i%13)
	}
	if colour {
		return asJPEG(b, img)
	}
	return asJPEG(b, &image.Gray{Pix: img.Y, Stride: img.YStride, Rect: img.Rect})
}

func BenchmarkTwelveMegapixels(b *testing.B) {
	for name, colour := range map[string]bool{"grey": false, "colour": true} {
		file := twelve(b, colour)
		b.Run(name+"/decode", func(b *testing.B) {
			for b.Loop() {
				if _, err := jpeg.Decode(bytes.NewReader(file)); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(name+"/inspect", func(b *testing.B) {
			for b.Loop() {
				if _, err := inspect(file); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(name+"/decode and thumbnail", func(b *testing.B) {
			for b.Loop() {
				img, info, err := decode(file)
				if err != nil {
					b.Fatal(err)
				}
				if _, err := Thumbnail(img, info.Orientation); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(name+"/measure", func(b *testing.B) {
			img, _, err := decode(file)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				_, _ = Measure(img)
			}
		})
	}
}

// A picture is turned pixel for pixel, edges and all (EXIF 2.32, orientation: where the first row and the first column lie).
func TestEveryPixelIsTurned(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 2, 3))
	copy(img.Pix, []byte{'a', 'b', 'c', 'd', 'e', 'f'}) // ab, cd, ef from above
	for orientation, want := range []string{1: "ab cd ef", 2: "ba dc fe", 3: "fe dc ba", 4: "ef cd ab", 5: "ace bdf", 6: "eca fdb", 7: "fdb eca", 8: "bdf ace"} {
		if want == "" {
			continue
		}
		got := upright(img, orientation)
		var rows []string
		for y := range got.Bounds().Dy() {
			row := ""
			for x := range got.Bounds().Dx() {
				row += string(rune(got.At(x, y).(color.Gray).Y))
			}
			rows = append(rows, row)
		}
		assert.Equal(t, want, strings.Join(rows, " "), "orientation %d", orientation)
	}
}

// A picture that is laid on its side besides stands as it would after a quarter turn to the left, whichever way it was stored.
func TestTurnedIsAQuarterTurn(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 3, 2))
	for i := range img.Pix {
		img.Pix[i] = uint8(10 + i)
	}
	for orientation := 0; orientation <= 8; orientation++ {
		up := upright(img, orientation)
		turned := upright(img, Turned(orientation))
		w, h := up.Bounds().Dx(), up.Bounds().Dy()
		require.Equal(t, image.Pt(h, w), turned.Bounds().Size(), orientation)
		for y := range w {
			for x := range h {
				assert.Equal(t, up.At(w-1-y, x), turned.At(x, y), "orientation %d at %d, %d", orientation, x, y)
			}
		}
	}
}
