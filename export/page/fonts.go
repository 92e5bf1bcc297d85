package page

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"io"
	"math"
	"sync"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Face names one of the built-in faces.
type Face int

// The faces, whose licences lie in licences/ and alegreya/. All but Regular fall back to it, rune by rune, where they
// lack a glyph.
const (
	Regular Face = iota // DejaVu Sans Condensed
	Bold                // DejaVu Sans Condensed Bold
	Mono                // Go Mono, for codes and columns of figures
	Serif               // Alegreya, for text that is read: its figures stand among small letters as one of them
	Italic              // Alegreya Italic
	faces
)

// The files of Alegreya as their makers give them away, packed: their figures are old-style without a font feature, which
// the PDF library could not ask for.
var (
	//go:embed alegreya/Alegreya-Regular.ttf.gz
	alegreya []byte
	//go:embed alegreya/Alegreya-Italic.ttf.gz
	alegreyaItalic []byte
)

// unpacked gives a packed face. It panics when the file is damaged, as measure does.
func unpacked(packed []byte) []byte {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		panic(err)
	}
	ttf, err := io.ReadAll(z)
	if err != nil {
		panic(err)
	}
	return ttf
}

// placeholder stands for a character no built-in face holds.
const placeholder = '▯'

// family gives the font's name in the document.
func (f Face) family() string {
	switch f {
	case Bold:
		return "traybold"
	case Mono:
		return "traymono"
	case Serif:
		return "trayserif"
	case Italic:
		return "trayitalic"
	}
	return "traytext"
}

// bytes gives the TrueType file.
func (f Face) bytes() []byte {
	switch f {
	case Bold:
		return dejavusanscondensedbold.TTF
	case Mono:
		return gomono.TTF
	case Serif:
		return unpacked(alegreya)
	case Italic:
		return unpacked(alegreyaItalic)
	}
	return dejavusanscondensed.TTF
}

// absent marks a code point without a glyph in a metrics table.
const absent = math.MaxUint16

// metrics holds, for every code point of the basic plane, the advance in
// thousandths of the em, or absent.
type metrics [1 << 16]uint16

var measured [faces]func() *metrics

func init() {
	for f := Regular; f < faces; f++ {
		measured[f] = sync.OnceValue(func() *metrics { return measure(f.bytes()) })
	}
}

// measure reads coverage and advances out of a TrueType file. It panics when
// the file is damaged: the faces are part of the program, and a test loads
// each of them.
func measure(ttf []byte) *metrics {
	var m metrics
	parsed, err := sfnt.Parse(ttf)
	if err != nil {
		panic(err)
	}
	var buf sfnt.Buffer
	upem := int(parsed.UnitsPerEm())
	ppem := fixed.Int26_6(upem << 6)
	for r := range m {
		m[r] = absent
		glyph, err := parsed.GlyphIndex(&buf, rune(r))
		if err != nil || glyph == 0 {
			continue
		}
		advance, err := parsed.GlyphAdvance(&buf, glyph, ppem, font.HintingNone)
		if err != nil {
			continue
		}
		// The same rounding as in the document's table of widths, so that
		// what is measured here is what a reader will draw.
		m[r] = uint16(math.Round(float64(advance) / 64 * 1000 / float64(upem)))
	}
	return &m
}

// has says whether the face can draw the rune.
func (f Face) has(r rune) bool {
	return r >= 0x20 && r < 1<<16 && measured[f]()[r] != absent
}

// advance gives the width of a covered string in thousandths of the em.
func (f Face) advance(s string) int {
	table, sum := measured[f](), 0
	for _, r := range s {
		if r < 1<<16 && table[r] != absent {
			sum += int(table[r])
		}
	}
	return sum
}
