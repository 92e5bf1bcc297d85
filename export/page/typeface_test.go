package page_test

import (
	"bytes"
	"encoding/binary"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/export/page"
)

// fontFile gives a font of the tests: east.otf has outlines of CFF, nagari.ttf of TrueType.
func fontFile(t testing.TB, name string) []byte {
	data, err := os.ReadFile("../../testdata/typefaces/" + name)
	require.NoError(t, err)
	return data
}

func typefaces(t testing.TB, names ...string) *page.Faces {
	var out []*page.Typeface
	for _, name := range names {
		opened, err := page.OpenTypeface(fontFile(t, name))
		require.NoError(t, err, name)
		out = append(out, opened)
	}
	return page.NewFaces(out...)
}

const (
	chinese    = "老码头上的渡轮船长，低潮时分。"
	devanagari = "घाट पर नाविक की पत्नी"
)

func TestATypefaceOfTheReadersDrawsWhatTheBuiltInOnesLack(t *testing.T) {
	draw := func(faces *page.Faces) []byte {
		o := options()
		o.Uncompressed, o.Faces = true, faces
		d := page.New(o)
		set := page.Set(10, page.Regular)
		d.NewPage()
		d.Text(20, 20, 0, set, chinese)
		d.Para(20, 30, 30, set, devanagari, 0)
		d.Text(20, 50, 0, set, "بحر")
		return finished(t, d)
	}
	bare := page.NewFaces()
	draw(bare)
	assert.Equal(t, "老码头上的渡轮船长，低潮时分。घाटपरनविकीत्", bare.Undrawn())
	faces := typefaces(t, "east.otf", "nagari.ttf")
	with := draw(faces)
	assert.Empty(t, faces.Undrawn())
	assert.Equal(t, with, draw(typefaces(t, "east.otf", "nagari.ttf")), "the same bytes")
	assert.Contains(t, string(with), "+NotoSansCJKJP ")
	assert.Contains(t, string(with), "+NotoSansDevanagari ")
	set := page.Set(10, page.Regular)
	assert.InDelta(t, 10*15*25.4/72, faces.Width(set, chinese), 1e-6, "an ideograph is as wide as its type is high")
	assert.Equal(t, []string{"老码头上", "的渡轮船", "长，低潮", "时分。"}, faces.Wrap(4.5*10*25.4/72, set, chinese), "no line begins with a comma")
	assert.Equal(t, "老码头…", faces.Fit(4.5*10*25.4/72, set, chinese))
}

// Letters that join are narrower together than apart, and a line is measured as it is drawn.
func TestLettersAreMeasuredJoined(t *testing.T) {
	set := page.Set(10, page.Regular)
	apart := builtIn.Width(set, "ب") + builtIn.Width(set, "ح") + builtIn.Width(set, "ر")
	joined := builtIn.Width(set, "بحر")
	assert.Less(t, joined, 0.9*apart)
	assert.Equal(t, []string{"بحر بحر", "بحر"}, builtIn.Wrap(2*joined+builtIn.Width(set, " ")+0.1, set, "بحر بحر بحر"))
	assert.InDelta(t, builtIn.Width(set, "q"), builtIn.Width(set, "q\u0331"), 1e-6, "a mark has no width of its own")
}

// Lines that run to the left begin at the right end; one alone stays beside what it is about.
func TestLinesThatRunToTheLeftBeginAtTheRight(t *testing.T) {
	o := options()
	o.Uncompressed = true
	for text, atTheLeft := range map[string]bool{"בחר": true, "בחר בחר בחר בחר בחר": false} {
		d := page.New(o)
		d.Para(20, 20, 12, page.Set(10, page.Regular), text, 0)
		assert.Equal(t, atTheLeft, bytes.Contains(finished(t, d), []byte("q BT /S0 10.00 Tf 56.69 ")), text)
	}
}

func TestATypefaceThatCannotServeIsRefused(t *testing.T) {
	nagari := fontFile(t, "nagari.ttf")
	table := func(font []byte, tag string) (entry []byte, content []byte) {
		at := bytes.Index(font[:400], []byte(tag))
		entry = font[at : at+16]
		return entry, font[binary.BigEndian.Uint32(entry[8:]):][:binary.BigEndian.Uint32(entry[12:])]
	}
	rights := func(bits uint16) []byte {
		font := slices.Clone(nagari)
		_, os2 := table(font, "OS/2")
		binary.BigEndian.PutUint16(os2[8:], bits)
		return font
	}
	for _, bits := range []uint16{0, 4, 8} {
		_, err := page.OpenTypeface(rights(bits))
		assert.NoError(t, err, bits)
	}
	for _, bits := range []uint16{2, 0x100, 0x104, 0x200} {
		_, err := page.OpenTypeface(rights(bits))
		assert.ErrorIs(t, err, page.ErrRestricted, bits)
	}
	noOutlines := slices.Clone(nagari)
	entry, _ := table(noOutlines, "glyf")
	copy(entry, "glxf")
	for says, data := range map[string][]byte{
		"no TrueType or OpenType font": []byte("a remark"),
		"longer than 100 MB":           make([]byte, page.MostTypeface+1),
		"no outlines":                  noOutlines,
	} {
		_, err := page.OpenTypeface(data)
		assert.ErrorContains(t, err, says)
	}
	collection := slices.Concat([]byte("ttcf\x00\x01\x00\x00\x00\x00\x00\x01\x00\x00\x00\x10"), nagari)
	for n := range binary.BigEndian.Uint16(nagari[4:]) { // offsets count from the beginning of the collection
		at := 16 + 12 + 16*int(n) + 8
		binary.BigEndian.PutUint32(collection[at:], binary.BigEndian.Uint32(collection[at:])+16)
	}
	first, err := page.OpenTypeface(collection)
	require.NoError(t, err)
	assert.Empty(t, page.NewFaces(first).Unprintable(devanagari), "the first face of a collection")
}

// useTorn draws with a font that may be anything: it is refused, or the document is written or refused; nothing else happens.
func useTorn(t *testing.T, data []byte, text string) {
	opened, err := page.OpenTypeface(data)
	if err != nil {
		return
	}
	o := options()
	o.Faces = page.NewFaces(opened)
	d := page.New(o)
	d.Para(20, 20, 60, page.Set(9, page.Regular), text, 3)
	_, _ = d.Bytes()
}

// A font is foreign bytes: each byte of its tables may be another, and it may end anywhere.
func TestATornTypefaceHarmsNothing(t *testing.T) {
	for name, text := range map[string]string{"east.otf": chinese, "nagari.ttf": devanagari} {
		whole := fontFile(t, name)
		for at := 0; at < len(whole); at += 1 + len(whole)/25 {
			useTorn(t, whole[:at], text)
			torn := slices.Clone(whole)
			torn[at] ^= 0xFF
			useTorn(t, torn, text)
		}
	}
}

func FuzzTypeface(f *testing.F) {
	f.Add(fontFile(f, "east.otf"), chinese)
	f.Add(fontFile(f, "nagari.ttf"), devanagari)
	f.Fuzz(func(t *testing.T, data []byte, text string) {
		if len(text) > 200 {
			return
		}
		useTorn(t, data, text)
	})
}
