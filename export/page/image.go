package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"fmt"
	"image/color"
	"image/jpeg"
	"io"
	"math"
	"slices"
	"sync"

	"github.com/jung-kurt/gofpdf"
)

// The bounds of a picture on a page. A thumbnail has 400 pixels a side; these
// leave room for a whole page at 300 dpi.
const (
	maxPixels = 4000
	maxBytes  = 8 << 20
)

// Picture is a JPEG that can stand on a page. It is read by ReadPicture.
type Picture struct {
	data          []byte
	width, height int // pixels
	in            segments
	sum           [sha256.Size]byte
}

// ReadPicture looks at a JPEG. It takes only what a thumbnail is: baseline, in grey or YCbCr, upright, without metadata, at
// most 4000 pixels a side and 8 MB. Anything else is an error.
func ReadPicture(data []byte) (*Picture, error) {
	p := &Picture{data: data}
	var err error
	if p.width, p.height, p.in, err = inspect(data); err != nil {
		return nil, err
	}
	p.sum = sha256.Sum256(data)
	return p, nil
}

// Shape is the picture's width over its height.
func (p *Picture) Shape() float64 { return float64(p.width) / float64(p.height) }

// Image reads a JPEG and draws it by Picture. One that cannot be read is an error that names the picture and leaves the
// document as it was, so that a caller can draw something in its place.
func (d *Doc) Image(name string, data []byte, box Rect) (Rect, error) {
	if d.err != nil {
		return Rect{}, d.err
	}
	p, err := ReadPicture(data)
	if err != nil {
		return Rect{}, fmt.Errorf("picture %q cannot go on the page: %w", Clean(name), err)
	}
	return d.Picture(name, p, box), d.err
}

// Picture draws a picture as large as the box allows with its sides kept in proportion, in the middle of it, and returns
// where it stands. The name says what it shows, for it is told in its place.
func (d *Doc) Picture(name string, p *Picture, box Rect) Rect {
	w, h := float64(p.width), float64(p.height)
	scale := math.Min(box.W/w, box.H/h)
	r := Rect{W: w * scale, H: h * scale}
	r.X, r.Y = box.X+(box.W-r.W)/2, box.Y+(box.H-r.H)/2
	d.Figure(r, name, func() {
		d.draw("a picture", []float64{r.X, r.Y, r.W, r.H}, func() {
			key, err := d.register(p)
			if err != nil {
				d.fail(err)
				return
			}
			d.pdf.ImageOptions(key, r.X, r.Y, r.W, r.H, false, gofpdf.ImageOptions{ImageType: "jpg"}, 0, "")
		})
	})
	return r
}

// gob numbers a type that is not built in when a process first writes one, and
// the library names a picture by the sum of such bytes. Writing one before the
// first picture keeps the name the same in every program.
var numberTypes = sync.OnceValue(func() error { return gob.NewEncoder(io.Discard).Encode([]int{}) })

// register makes a picture known to the library once, under the digest of its bytes. The library copies a picture some
// nine times on its way into the document, so it is given a stand-in: the picture's headers, of which it reads the size,
// and the digest, by which the picture is put in its place when the document is written.
//
// The library sorts pictures by pixel width alone, starting from the order of a map, so pictures of one width would change
// places from run to run: a stand-in is as many pixels wide as pictures came before it, and the width is put right with the
// picture.
func (d *Doc) register(p *Picture) (string, error) {
	key := hex.EncodeToString(p.sum[:])
	if d.pdf.GetImageInfo(key) != nil {
		return key, nil
	}
	if err := numberTypes(); err != nil {
		return "", err
	}
	if len(d.images) == math.MaxUint16 {
		return "", fmt.Errorf("a document takes %d pictures at most: draw a shorter time", math.MaxUint16)
	}
	standIn := slices.Concat(p.data[:p.in.headers], p.sum[:])
	binary.BigEndian.PutUint16(standIn[p.in.width:], uint16(len(d.images)+1))
	info := d.pdf.RegisterImageOptionsReader(key, gofpdf.ImageOptions{ImageType: "jpg"}, bytes.NewReader(standIn))
	if info == nil || d.pdf.Err() {
		return "", fmt.Errorf("the PDF library refuses a picture: %w", d.pdf.Error())
	}
	size := int64(len(p.data))
	at := laidAside{data: io.NewSectionReader(bytes.NewReader(p.data), 0, size), width: p.width, sum: p.sum}
	if keep := d.options.Pictures; keep != nil {
		if _, err := keep.Write(p.data); err != nil {
			return "", fmt.Errorf("a picture cannot be laid aside until the document is written: %w", err)
		}
		at.data = io.NewSectionReader(keep, d.kept, size)
		d.kept += size
	}
	d.images[string(standIn)] = at
	return key, nil
}

// laidAside is a JPEG where it lies until the document is written, how many pixels wide it is, and its digest.
type laidAside struct {
	data  *io.SectionReader
	width int
	sum   [sha256.Size]byte
}

// inspect checks a JPEG, and says how its headers lie.
func inspect(data []byte) (width, height int, in segments, err error) {
	if len(data) > maxBytes {
		return 0, 0, in, fmt.Errorf("it has %d bytes, more than %d: use its thumbnail", len(data), maxBytes)
	}
	if in, err = checkSegments(data); err != nil {
		return 0, 0, in, err
	}
	config, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return 0, 0, in, fmt.Errorf("it is not a JPEG that can be read (%v): make its thumbnail anew", err)
	}
	if config.ColorModel != color.GrayModel && config.ColorModel != color.YCbCrModel {
		return 0, 0, in, errors.New("it is neither grey nor YCbCr: make its thumbnail anew")
	}
	if config.Width < 1 || config.Height < 1 || config.Width > maxPixels || config.Height > maxPixels {
		return 0, 0, in, fmt.Errorf("it has %d × %d pixels: 1 to %d a side are allowed", config.Width, config.Height, maxPixels)
	}
	return config.Width, config.Height, in, nil
}

// segments says of a JPEG how many of its bytes are headers, its scan's included, and where in its frame's header the width
// stands, in two bytes.
type segments struct{ headers, width int }

// checkSegments walks the headers of a JPEG (ITU-T T.81, annex B) up to its
// scan, and sees that the file is whole to its end mark.
func checkSegments(data []byte) (in segments, err error) {
	if len(data) < 4 || data[0] != 0xFF || data[1] != 0xD8 {
		return in, errors.New("it is not a JPEG: make a thumbnail of it")
	}
	if data[len(data)-2] != 0xFF || data[len(data)-1] != 0xD9 {
		return in, errors.New("the JPEG has no end: it is cut off, make its thumbnail anew")
	}
	for at := 2; at+4 <= len(data); {
		marker := data[at+1]
		length := int(data[at+2])<<8 | int(data[at+3])
		if data[at] != 0xFF || length < 2 || at+2+length > len(data) {
			break
		}
		switch {
		case marker == 0xDA && in.width > 0:
			in.headers = at + 2 + length
			return in, nil
		case marker == 0xC0:
			in.width = at + 7 // behind mark, length, precision and height
		case marker == 0xDB, marker == 0xC4, marker == 0xDD, marker == 0xE0, marker == 0xFE:
		case marker >= 0xC1 && marker <= 0xCF:
			return in, errors.New("the JPEG is not a baseline one: make its thumbnail anew")
		default:
			// An orientation kept in a segment would not be heeded.
			return in, fmt.Errorf("the JPEG holds a segment %02X that a thumbnail does not: make its thumbnail anew", marker)
		}
		at += 2 + length
	}
	return in, errors.New("the JPEG's headers are damaged: make its thumbnail anew")
}
