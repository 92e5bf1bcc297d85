package scan

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	stddraw "image/draw"
	"image/jpeg"

	"golang.org/x/image/draw"
)

const (
	// ThumbSide bounds width and height of a thumbnail, in pixels.
	ThumbSide = 400
	// ThumbQuality is the JPEG quality of a thumbnail, of 100.
	ThumbQuality = 84
	// halfway is how many times as long the side is to which a picture is
	// averaged before it is resampled, so that the resampling has something to
	// work on and little to do.
	halfway = 2
)

// Thumb is a small upright copy of a picture.
type Thumb struct {
	JPEG          []byte
	Width, Height int // pixels
}

// Thumbnail makes the small copy: at most ThumbSide on a side. Its bytes depend
// on the program's make; it is made once and kept, never made again to be
// compared.
//
// orientation is the EXIF number, as Info has it.
//
// Errors: a picture without pixels.
func Thumbnail(img image.Image, orientation int) (Thumb, error) {
	return Reduced(img, orientation, ThumbSide, ThumbQuality)
}

// Reduced makes a copy of at most side pixels on its longer side: upright, never
// larger than the picture, grey or colour as the picture is, what is transparent
// laid on white. quality is that of the JPEG, of 100.
//
// Errors: as for Thumbnail.
func Reduced(img image.Image, orientation, side, quality int) (t Thumb, err error) {
	defer recovered(&err)
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	if w < 1 || h < 1 {
		return Thumb{}, errors.New("the picture has no pixels")
	}
	small := average(img, within(w, h, halfway*side))
	size := within(w, h, side)
	out := small
	if size != small.Bounds().Size() {
		scaled := canvas(small, size)
		draw.CatmullRom.Scale(scaled, scaled.Bounds(), small, small.Bounds(), draw.Src, nil)
		out = scaled
	}
	out = upright(out, orientation)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, out, &jpeg.Options{Quality: quality}); err != nil {
		return Thumb{}, err
	}
	return Thumb{b.Bytes(), out.Bounds().Dx(), out.Bounds().Dy()}, nil
}

// Turned is the orientation of a picture that is laid on its side besides, its
// top to the left.
func Turned(orientation int) int {
	if orientation < 1 || orientation > 8 {
		orientation = 1
	}
	return [...]int{1: 8, 2: 5, 3: 6, 4: 7, 5: 4, 6: 1, 7: 2, 8: 3}[orientation]
}

// within is w × h reduced, in proportion, until no side exceeds the limit.
func within(w, h, limit int) image.Point {
	long := max(w, h)
	if long <= limit {
		return image.Pt(w, h)
	}
	return image.Pt(max(1, (w*limit+long/2)/long), max(1, (h*limit+long/2)/long))
}

// canvas is an empty picture of the given size, grey if img is.
func canvas(img image.Image, size image.Point) stddraw.Image {
	r := image.Rectangle{Max: size}
	if _, grey := img.(*image.Gray); grey {
		return image.NewGray(r)
	}
	return image.NewRGBA(r)
}

// average reduces a picture to size by plain averages. What JPEG files decode
// to is averaged plane by plane, before it becomes colours: it is most of what
// comes, and the quickest.
func average(img image.Image, size image.Point) image.Image {
	b := img.Bounds()
	switch src := img.(type) {
	case *image.Gray:
		out := image.NewGray(image.Rectangle{Max: size})
		reduce(out.Pix, out.Stride, size, src.Pix[src.PixOffset(b.Min.X, b.Min.Y):], src.Stride, b.Size(), 1)
		return out
	case *image.Gray16:
		out := image.NewGray(image.Rectangle{Max: size})
		// The upper byte of each pixel: what a grey of 8 bits keeps.
		reduce(out.Pix, out.Stride, size, src.Pix[src.PixOffset(b.Min.X, b.Min.Y):], src.Stride, b.Size(), 2)
		return out
	case *image.YCbCr:
		if b.Min == (image.Point{}) {
			return averageYCbCr(src, size)
		}
	}
	return averageBands(img, size)
}

func averageYCbCr(src *image.YCbCr, size image.Point) image.Image {
	out := image.NewYCbCr(image.Rectangle{Max: size}, image.YCbCrSubsampleRatio444)
	b := src.Bounds()
	chroma := image.Pt(src.COffset(b.Dx()-1, 0)+1, src.COffset(0, b.Dy()-1)/src.CStride+1)
	reduce(out.Y, out.YStride, size, src.Y, src.YStride, b.Size(), 1)
	reduce(out.Cb, out.CStride, size, src.Cb, src.CStride, chroma, 1)
	reduce(out.Cr, out.CStride, size, src.Cr, src.CStride, chroma, 1)
	rgb := image.NewRGBA(out.Bounds())
	stddraw.Draw(rgb, rgb.Bounds(), out, image.Point{}, stddraw.Src)
	return rgb
}

// reduce averages one plane of from pixels, step bytes apart, into one of to
// pixels. A plane that is smaller than to is repeated instead.
func reduce(dst []byte, dstStride int, to image.Point, src []byte, srcStride int, from image.Point, step int) {
	sums := make([]uint32, to.X)
	edges := make([]int, to.X+1)
	for x := range edges {
		edges[x] = x * from.X / to.X
	}
	for y := range to.Y {
		y0 := y * from.Y / to.Y
		y1 := max(y0+1, (y+1)*from.Y/to.Y)
		clear(sums)
		for row := y0; row < y1; row++ {
			line := src[row*srcStride:]
			for x := range sums {
				x0, x1 := edges[x], max(edges[x]+1, edges[x+1])
				sum := uint32(0)
				if step == 1 {
					for _, v := range line[x0:x1] {
						sum += uint32(v)
					}
				} else {
					for i := x0; i < x1; i++ {
						sum += uint32(line[i*step])
					}
				}
				sums[x] += sum
			}
		}
		out := dst[y*dstStride:]
		for x, sum := range sums {
			n := uint32((y1 - y0) * max(1, edges[x+1]-edges[x]))
			out[x] = uint8((sum + n/2) / n)
		}
	}
}

// averageBands reduces any other picture, a band of rows at a time, laid on
// white.
func averageBands(img image.Image, size image.Point) image.Image {
	b := img.Bounds()
	out := image.NewRGBA(image.Rectangle{Max: size})
	var band *image.RGBA
	for y := range size.Y {
		y0 := y * b.Dy() / size.Y
		y1 := max(y0+1, (y+1)*b.Dy()/size.Y)
		r := image.Rect(0, 0, b.Dx(), y1-y0)
		if band == nil || band.Bounds() != r {
			band = image.NewRGBA(r)
		}
		stddraw.Draw(band, r, image.NewUniform(color.White), image.Point{}, stddraw.Src)
		stddraw.Draw(band, r, img, image.Pt(b.Min.X, b.Min.Y+y0), stddraw.Over)
		row := out.Pix[y*out.Stride:]
		for x := range size.X {
			x0 := x * b.Dx() / size.X
			x1 := max(x0+1, (x+1)*b.Dx()/size.X)
			var sum [3]uint32
			for by := range y1 - y0 {
				line := band.Pix[by*band.Stride:]
				for i := 4 * x0; i < 4*x1; i += 4 {
					sum[0] += uint32(line[i])
					sum[1] += uint32(line[i+1])
					sum[2] += uint32(line[i+2])
				}
			}
			n := uint32((x1 - x0) * (y1 - y0))
			for c, s := range sum {
				row[4*x+c] = uint8((s + n/2) / n)
			}
			row[4*x+3] = 0xff
		}
	}
	return out
}

// upright turns a small picture by its EXIF orientation: 2 mirrored left to
// right, 3 upside down, 4 both, 5 to 8 lying on a side.
func upright(img image.Image, orientation int) image.Image {
	if orientation < 2 || orientation > 8 {
		return img
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	size := image.Pt(w, h)
	if orientation >= 5 {
		size = image.Pt(h, w)
	}
	out := canvas(img, size)
	for y := range size.Y {
		for x := range size.X {
			from := image.Pt(x, y)
			switch orientation {
			case 2:
				from = image.Pt(w-1-x, y)
			case 3:
				from = image.Pt(w-1-x, h-1-y)
			case 4:
				from = image.Pt(x, h-1-y)
			case 5:
				from = image.Pt(y, x)
			case 6:
				from = image.Pt(y, h-1-x)
			case 7:
				from = image.Pt(w-1-y, h-1-x)
			case 8:
				from = image.Pt(w-1-y, x)
			}
			out.Set(x, y, img.At(from.X, from.Y))
		}
	}
	return out
}
