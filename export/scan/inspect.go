// Package scan reads the pictures that people bring: scans of negatives and
// prints, made by any scanner or camera. Nothing in them is believed before it
// is checked, nothing of them is changed, and a picture that would take too
// much memory is not opened. What cannot be shown can be kept all the same.
package scan

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/gabriel-vasile/mimetype"
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

// The media types of pictures that are shown.
const (
	JPEG = "image/jpeg"
	PNG  = "image/png"
	TIFF = "image/tiff"
)

// unknown is what the bytes of many a raw file say of it.
const unknown = "application/octet-stream"

var shown = []string{JPEG, PNG, TIFF}

// Info is what the head of a picture file says.
type Info struct {
	// MediaType goes by the bytes alone: application/octet-stream where they do not tell.
	MediaType string
	// Ending is that of the file's name, without the dot, where the media type does not tell it; see Store.
	Ending string
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

var endingForm = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z0-9]{1,8}$`) })

// Ext is the ending of a file that is kept, with the dot. One that is no plain word is none.
func (i Info) Ext() string {
	if endingForm().MatchString(i.Ending) {
		return "." + i.Ending
	}
	return map[string]string{JPEG: ".jpg", PNG: ".png", TIFF: ".tif"}[i.MediaType]
}

// UnseenError says why a picture can be kept but neither shown nor measured: it is of a sort that is not read, or beyond a limit.
// What its head says holds as far as it was read.
type UnseenError struct{ Why string }

func (e *UnseenError) Error() string { return e.Why }

// SlipError says why a file is likely to be a slip, as a copy that breaks off is: what is wrong, and what to do.
type SlipError struct{ What, Do string }

func (e *SlipError) Error() string { return e.What + ": " + e.Do }

func unseen(format string, args ...any) error { return &UnseenError{fmt.Sprintf(format, args...)} }

// Inspect reads the head of a picture of size bytes, without decoding it. Its media type is told whatever is wrong.
//
// Errors, in one line each: the file is empty; an *UnseenError for a picture that can be kept without being shown; a *SlipError for
// a text, a film or another thing that is no picture, and for a head that is damaged or cut off. A picture that breaks off later is found by Decode.
func Inspect(r io.ReaderAt, size int64) (Info, error) {
	info := Info{Size: size, Orientation: 1}
	if size == 0 {
		return info, errors.New("the file is empty: copy it again")
	}
	info.MediaType = sniff(r)
	switch {
	case size > MaxFile:
		return info, unseen("the file is larger than %d MB: attach a smaller copy beside it", MaxFile>>20)
	case info.MediaType == "text/plain":
		return info, &SlipError{"this is a text, not a picture", "name the scan"}
	case !strings.HasPrefix(info.MediaType, "image/") && info.MediaType != unknown:
		return info, &SlipError{"by its bytes this is " + info.MediaType + ", not a picture", "name the scan"}
	case !slices.Contains(shown, info.MediaType):
		return info, unseen("by its bytes it is %s, and JPEG, PNG and TIFF are read: attach a JPEG of it beside it", info.MediaType)
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
		if l.reduced {
			return info, unseen("its first picture is a small version of another, as in a raw file: attach a JPEG of it beside it")
		}
	}
	info.Orientation, info.Taken = found.orientation, found.taken()
	if err := info.withinSize(); err != nil {
		return info, err
	}
	info.Memory = need(info, config.ColorModel, l)
	if info.Memory > MaxMemory {
		return info, unseen("decoding it would take %d MB of memory, more than %d: attach a smaller copy, of 8 bits, a JPEG that is not progressive or a TIFF of many strips",
			info.Memory>>20, MaxMemory>>20)
	}
	return info, nil
}

func (i Info) withinSize() error {
	switch {
	case i.Width < 1 || i.Height < 1:
		return &SlipError{"the picture has no size", "the file is damaged; scan again or find another copy"}
	case i.Width > MaxSide || i.Height > MaxSide:
		return unseen("the picture is %d × %d pixels, more than %d on a side: attach a smaller copy", i.Width, i.Height, MaxSide)
	case i.Width*i.Height > MaxPixels:
		return unseen("the picture has %d megapixels, more than %d: attach a smaller copy", i.Width*i.Height/1_000_000, MaxPixels/1_000_000)
	}
	return nil
}

// sniffed is how much of a file is looked at to tell its sort, in bytes.
const sniffed = 3072

// sniff tells the sort of a file by its bytes, without what a media type may say beside.
func sniff(r io.ReaderAt) string {
	head := make([]byte, sniffed)
	n, _ := r.ReadAt(head, 0)
	found, text := mimetype.Detect(head[:n]), false
	for kind := found; kind != nil; kind = kind.Parent() { // a moving PNG is a PNG
		if slices.Contains(shown, kind.String()) {
			return kind.String()
		}
		text = text || kind.Is("text/plain")
	}
	if text { // of whatever sort: a table, lines of entries
		return "text/plain"
	}
	if bytes.HasPrefix(head[4:], []byte("ftypcrx ")) { // a raw file in the boxes of a film, which is taken for one
		return unknown
	}
	kind, _, _ := strings.Cut(found.String(), ";")
	return kind
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

// Decode reads a picture whole, if Inspect lets it pass. Who decodes
// several at a time adds up their Memory.
//
// Errors: as for Inspect; a *SlipError for a picture that is damaged or breaks off.
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
		return nil, info, &SlipError{"the picture is not of the size its head gives", "the file is damaged; scan again or find another copy"}
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
		return &SlipError{"the " + kind + " breaks off before its end", "copy the file again"}
	case errors.As(err, &tiffSort):
		return unseen("this sort of TIFF is not read (a JPEG inside it, CMYK or another): save a JPEG of it and attach both")
	case errors.As(err, &jpegSort), errors.As(err, &pngSort):
		return unseen("this sort of %s is not read: save it as a plain JPEG and attach both", kind)
	}
	return &SlipError{"the " + kind + " is damaged", "scan again or find another copy"}
}
