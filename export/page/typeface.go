package page

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/shaping"
)

// MostTypeface is how long the file of a typeface may be, in bytes. Faces of all of East Asia's characters have some
// twenty million, a collection of them four times as many.
const MostTypeface = 100 << 20

// Typeface is a face of the reader's choosing: foreign bytes, of which nothing but outlines of glyphs gets into a document.
type Typeface struct{ font *font.Font }

// ErrRestricted is told of a typeface that must not be put into documents.
var ErrRestricted = errors.New("its maker does not allow that it is embedded (fsType in its table OS/2)")

var (
	errNoFont     = errors.New("it is no TrueType or OpenType font")
	errNoOutlines = errors.New("it holds pictures of glyphs and no outlines")
)

// OpenTypeface reads a font in the format TrueType or OpenType, of either kind of outlines; of a collection its first face.
//
// Errors: what is no font, what is damaged, what its maker forbids to embed, what holds no outlines.
func OpenTypeface(data []byte) (t *Typeface, err error) {
	if len(data) > MostTypeface {
		return nil, fmt.Errorf("it is longer than %d MB", MostTypeface>>20)
	}
	defer func() {
		if r := recover(); r != nil {
			t, err = nil, errNoFont
		}
	}()
	loaders, err := opentype.NewLoaders(bytes.NewReader(data))
	if err != nil || len(loaders) == 0 {
		return nil, errNoFont
	}
	if err := mayEmbed(loaders[0]); err != nil {
		return nil, err
	}
	if !slices.ContainsFunc([]string{"glyf", "CFF ", "CFF2"}, func(tag string) bool { return loaders[0].HasTable(opentype.MustNewTag(tag)) }) {
		return nil, errNoOutlines
	}
	f, err := font.NewFont(loaders[0])
	if err != nil {
		return nil, fmt.Errorf("it is damaged: %w", err)
	}
	return &Typeface{font: f}, nil
}

// mayEmbed asks the rights of embedding. OpenType 1.9, table OS/2, fsType: of bits 0 to 3 the value 2 forbids it, bit 8 forbids
// that a part is embedded, bit 9 allows no outlines. A font without the table says nothing against it.
func mayEmbed(l *opentype.Loader) error {
	const at = 8
	table, err := l.RawTable(opentype.MustNewTag("OS/2"))
	if err != nil || len(table) < at+2 {
		return nil
	}
	if rights := binary.BigEndian.Uint16(table[at:]); rights&0xF == 2 || rights&0x300 != 0 {
		return ErrRestricted
	}
	return nil
}

// Faces is what documents are drawn with: the built-in faces and those of the reader's choosing, of which the first that
// holds a character draws it. It keeps what none could draw. A nil *Faces holds those built in.
type Faces struct {
	lock    sync.Mutex
	readers []*font.Face
	builtIn [faces]*font.Face // for shaping; nil before it is asked for
	shaper  shaping.HarfbuzzShaper
	wrapped map[wrapping][]string
	undrawn []rune // in the order in which they came, each once
	damaged bool   // one was found to be, and no document drawn with them is whole
}

// NewFaces returns the built-in faces and those of the reader's choosing.
func NewFaces(readers ...*Typeface) *Faces {
	f := &Faces{}
	for _, t := range readers {
		f.readers = append(f.readers, font.NewFace(t.font))
	}
	return f
}

// parsed holds the built-in faces as the shaper wants them.
var parsed [faces]func() *font.Font

func init() {
	for f := Regular; f < faces; f++ {
		parsed[f] = sync.OnceValue(func() *font.Font {
			face, err := font.ParseTTF(bytes.NewReader(f.bytes()))
			if err != nil {
				panic(err) // the faces are part of the program, and a test shapes with each
			}
			return face.Font
		})
	}
}

// errDamaged is told of a document in which a typeface was found to be.
var errDamaged = errors.New("a typeface is damaged: some of its tables contradict each other; name another one")

// surviving keeps a damaged typeface, in which the shaper lost itself, from being more than the document's error.
func (f *Faces) surviving() {
	if recover() != nil {
		f.damaged, f.shaper = true, shaping.HarfbuzzShaper{}
	}
}

// face gives a built-in face, or one of the reader's, behind them.
func (f *Faces) face(n Face) *font.Face {
	if n >= faces {
		return f.readers[n-faces]
	}
	if f.builtIn[n] == nil {
		f.builtIn[n] = font.NewFace(parsed[n]())
	}
	return f.builtIn[n]
}

// has says whether a face can draw every rune of a cluster; what is invisible every face can.
func (f *Faces) has(n Face, cluster string) bool {
	return strings.IndexFunc(cluster, func(r rune) bool { return !inkless(r) && !f.draws(n, r) }) < 0
}

// draws says whether a face holds a rune, of a reader's face with an outline.
func (f *Faces) draws(n Face, r rune) bool {
	if n < faces && r < 1<<16 {
		return n.has(r)
	}
	face := f.face(n)
	glyph, ok := face.NominalGlyph(r)
	if !ok || glyph == 0 {
		return false
	}
	outline, ok := face.GlyphDataOutline(glyph)
	return ok && (len(outline.Segments) > 0 || unicode.IsSpace(r))
}

// lacks keeps what could not be drawn.
func (f *Faces) lacks(clusters []string) {
	f.lock.Lock()
	defer f.lock.Unlock()
	for _, r := range strings.Join(clusters, "") {
		if !inkless(r) && !slices.Contains(f.undrawn, r) {
			f.undrawn = append(f.undrawn, r)
		}
	}
}

// Undrawn gives the characters that no face could draw so far, each once, in the order in which they came.
func (f *Faces) Undrawn() string {
	f.lock.Lock()
	defer f.lock.Unlock()
	return string(f.undrawn)
}

// Unprintable gives the letters of s, each once, for which no face has a glyph; "" where all of it can be printed.
func (f *Faces) Unprintable(s string) string {
	if f == nil {
		f = NewFaces()
	}
	f.lock.Lock()
	defer f.lock.Unlock()
	defer f.surviving()
	var out strings.Builder
	for _, r := range Clean(s) {
		if _, lacking := f.choose(Regular, string(r)); lacking && !strings.ContainsRune(out.String(), r) {
			out.WriteRune(r)
		}
	}
	return out.String()
}
