// Package scan reads the pictures that people bring: scans of negatives and
// prints, made by any scanner or camera. Nothing in them is believed before it
// is checked, nothing of them is changed, and a picture that would take too
// much memory is refused before it is opened.
package scan

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/tiff"
)

// The limits of a picture that is read.
const (
	// MaxFile bounds the file, in bytes.
	MaxFile = 1 << 30
	// MaxPixels bounds width × height: 200 megapixels.
	MaxPixels = 200_000_000
	// MaxSide bounds width and height, in pixels.
	MaxSide = 20_000
	// MaxMemory bounds the bytes that decoding needs at once. With what the
	// program needs beside it stays below half a gigabyte.
	MaxMemory = 384 << 20
)

// The media types that are read.
const (
	JPEG = "image/jpeg"
	PNG  = "image/png"
	TIFF = "image/tiff"
)

// Info is what the head of a picture file says.
type Info struct {
	MediaType string
	// Size is that of the file, in bytes.
	Size int64
	// Width and Height are in pixels as stored, before Orientation is applied.
	Width, Height int
	// Orientation is the EXIF number 1 to 8 of how the stored picture must be
	// turned to stand upright; 1, which is upright, when the file does not say.
	Orientation int
	// Taken is the capture time, 2026-05-03T14:05:00, with an offset such as
	// +02:00 only if the file gives one: no zone is ever guessed. "" when the
	// file does not say.
	Taken string

	// Memory is what decoding takes at most, in bytes; see need.
	Memory int
}

// Upright is the width and height after Orientation is applied, in pixels.
func (i Info) Upright() (width, height int) {
	if i.Orientation >= 5 {
		return i.Height, i.Width
	}
	return i.Width, i.Height
}

// Ext is the ending of a file of this media type.
func (i Info) Ext() string {
	return map[string]string{JPEG: ".jpg", PNG: ".png", TIFF: ".tif"}[i.MediaType]
}

// Inspect reads the head of a picture of size bytes, without decoding it.
//
// Errors, in one line each: not a JPEG, PNG or TIFF; beyond a limit of this
// package, of which a *MemoryError comes with the whole Info; a sort of TIFF
// that is not read; a head that is damaged or cut off.
// A picture that breaks off later is found by Decode.
func Inspect(r io.ReaderAt, size int64) (Info, error) {
	info := Info{Size: size, Orientation: 1}
	if size > MaxFile {
		return info, fmt.Errorf("the file is larger than %d MB: attach a smaller copy", MaxFile>>20)
	}
	var err error
	if info.MediaType, err = mediaType(r); err != nil {
		return info, err
	}
	in := &source{SectionReader: io.NewSectionReader(r, 0, size)}
	config, err := readConfig(info.MediaType, in)
	if err != nil {
		return info, refused(info.MediaType, in, err)
	}
	info.Width, info.Height = config.Width, config.Height
	var found exif
	var l layout
	switch info.MediaType {
	case JPEG:
		found, l = readJPEG(r, size)
	case PNG:
		found, l = readPNG(r, size)
	case TIFF:
		in := io.NewSectionReader(r, 0, size)
		found, l = readEXIF(in), readTIFF(in)
	}
	info.Orientation, info.Taken = found.orientation, found.taken()
	if err := info.withinSize(); err != nil {
		return info, err
	}
	info.Memory = need(info, config.ColorModel, l)
	if info.Memory > MaxMemory {
		return info, &MemoryError{info.Memory}
	}
	return info, nil
}

// MemoryError says that decoding a picture would take more than MaxMemory. It can
// be kept, and what its head says holds; it cannot be shown or measured.
type MemoryError struct{ Need int }

func (e *MemoryError) Error() string {
	return fmt.Sprintf("decoding it would take %d MB of memory, more than %d: attach a smaller copy, of 8 bits, a JPEG that is not progressive or a TIFF of many strips",
		e.Need>>20, MaxMemory>>20)
}

func (i Info) withinSize() error {
	switch {
	case i.Width < 1 || i.Height < 1:
		return errors.New("the picture has no size: the file is damaged")
	case i.Width > MaxSide || i.Height > MaxSide:
		return fmt.Errorf("the picture is %d × %d pixels, more than %d on a side: attach a smaller copy", i.Width, i.Height, MaxSide)
	case i.Width*i.Height > MaxPixels:
		return fmt.Errorf("the picture has %d megapixels, more than %d: attach a smaller copy", i.Width*i.Height/1_000_000, MaxPixels/1_000_000)
	}
	return nil
}

func mediaType(r io.ReaderAt) (string, error) {
	head := make([]byte, 16)
	n, _ := r.ReadAt(head, 0)
	head = head[:n]
	switch {
	case n == 0:
		return "", errors.New("the file is empty: copy it again")
	case bytes.HasPrefix(head, []byte("\xff\xd8\xff")):
		return JPEG, nil
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")):
		return PNG, nil
	case bytes.HasPrefix(head, []byte("II*\x00")), bytes.HasPrefix(head, []byte("MM\x00*")):
		return TIFF, nil
	case bytes.HasPrefix(head, []byte("II+\x00")), bytes.HasPrefix(head, []byte("MM\x00+")):
		return "", errors.New("this is a TIFF of the large kind, which is not read: save it as plain TIFF or JPEG")
	case n >= 8 && string(head[4:8]) == "ftyp":
		return "", errors.New("this is a HEIC, AVIF or film file, not a JPEG, PNG or TIFF: save it as JPEG")
	}
	return "", errors.New("this is not a JPEG, PNG or TIFF picture: save the scan as one of these")
}

func readConfig(mediaType string, r io.Reader) (c image.Config, err error) {
	defer recovered(&err)
	switch mediaType {
	case JPEG:
		return jpeg.DecodeConfig(r)
	case PNG:
		return png.DecodeConfig(r)
	}
	return tiff.DecodeConfig(r)
}

// Decode reads a picture whole, after Inspect has let it pass. Who decodes
// several at a time adds up their Memory.
//
// Errors: as for Inspect; a picture that is damaged or breaks off.
func Decode(r io.ReaderAt, size int64) (image.Image, Info, error) {
	info, err := Inspect(r, size)
	if err != nil {
		return nil, info, err
	}
	in := &source{SectionReader: io.NewSectionReader(r, 0, size)}
	img, err := readImage(info.MediaType, in)
	if err != nil {
		return nil, info, refused(info.MediaType, in, err)
	}
	if b := img.Bounds(); b.Dx() != info.Width || b.Dy() != info.Height {
		return nil, info, errors.New("the picture is not of the size its head gives: the file is damaged")
	}
	return img, info, nil
}

func readImage(mediaType string, r io.Reader) (img image.Image, err error) {
	defer recovered(&err)
	switch mediaType {
	case JPEG:
		return jpeg.Decode(r)
	case PNG:
		return png.Decode(r)
	}
	return tiff.Decode(r)
}

var errDamaged = errors.New("damaged")

// recovered turns a panic of a decoder, which foreign bytes may bring about,
// into an error.
func recovered(err *error) {
	if recover() != nil {
		*err = errDamaged
	}
}

// source remembers whether a decoder asked for more than the file has: each
// has its own words for that.
type source struct {
	*io.SectionReader
	ended bool
}

func (s *source) Read(p []byte) (int, error) {
	n, err := s.SectionReader.Read(p)
	s.ended = s.ended || err == io.EOF
	return n, err
}

// refused says in one line for people what a decoder said.
func refused(mediaType string, in *source, err error) error {
	kind := map[string]string{JPEG: "JPEG", PNG: "PNG", TIFF: "TIFF"}[mediaType]
	var jpegSort jpeg.UnsupportedError
	var pngSort png.UnsupportedError
	var tiffSort tiff.UnsupportedError
	switch {
	case in.ended, errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return fmt.Errorf("the %s breaks off before its end: copy the file again", kind)
	case errors.As(err, &tiffSort):
		return errors.New("this sort of TIFF is not read (a JPEG inside it, CMYK or another): save a JPEG of it and attach both")
	case errors.As(err, &jpegSort), errors.As(err, &pngSort):
		return fmt.Errorf("this sort of %s is not read: save it as a plain JPEG", kind)
	}
	return fmt.Errorf("the %s is damaged: scan again or find another copy", kind)
}
