package eventstest

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"regexp"
	"strings"
	"unicode/utf16"
)

var (
	oneObject = regexp.MustCompile(`(?s)(\d+) 0 obj\n(.*?)\nendobj`)
	shown     = regexp.MustCompile(`(?s)\(((?:\\.|[^\\)])*)\)`)
	lengths   = regexp.MustCompile(`/Length1? \d+`)
	contents  = regexp.MustCompile(`/Contents (\d+) 0 R`)
	filter    = regexp.MustCompile(`\s*/Filter /FlateDecode`)
	identity  = regexp.MustCompile(`[0-9a-f]{32,}`)

	ofStructure = regexp.MustCompile(`^<</S /|^<< /Nums |^<< /Type /StructTreeRoot|^<< /N 3 `)
)

// PDFObjects writes a document as text, for tests that hold what is drawn: its objects in their order, each
// stroke of its pages and each word that is shown there; of fonts nothing, of pictures no more than that they are there, of
// the structure nothing, which PDFStructure tells.
func PDFObjects(pdf []byte) (objects []string) {
	names, drawn := map[string]string{}, map[string]bool{}
	for _, m := range contents.FindAllSubmatch(pdf, -1) {
		drawn[string(m[1])] = true
	}
	for _, m := range oneObject.FindAllSubmatch(pdf, -1) {
		head, stream, has := bytes.Cut(m[2], []byte("stream\n"))
		text := string(head)
		switch {
		case bytes.Contains(head, []byte("/Font")) || bytes.Contains(head, []byte("/Registry")) || bytes.Contains(head, []byte("/Subtype /XML")), bytes.HasPrefix(stream, []byte("/CIDInit")):
			continue
		case ofStructure.Match(head):
			continue
		case has && bytes.Contains(head, []byte("/Image")):
			text += "…"
		case has && bytes.Contains(head, []byte("/Filter")) && !drawn[string(m[1])]:
			continue
		case has && bytes.Contains(head, []byte("/Filter")):
			text += "\n" + inflated(stream)
		case has:
			text += "\n" + string(bytes.TrimSuffix(stream, []byte("\nendstream")))
		}
		text = filter.ReplaceAllString(lengths.ReplaceAllString(text, ""), "")
		text = shown.ReplaceAllStringFunc(text, func(s string) string { return "(" + inWords(s[1:len(s)-1]) + ")" })
		text = identity.ReplaceAllStringFunc(text, func(id string) string {
			if names[id] == "" {
				names[id] = fmt.Sprintf("#%d", len(names)+1)
			}
			return names[id]
		})
		objects = append(objects, fmt.Sprintf("%s: %s\n", m[1], strings.TrimSpace(text)))
	}
	return objects
}

// inflated is what a compressed stream holds.
func inflated(stream []byte) string {
	r, err := zlib.NewReader(bytes.NewReader(stream))
	if err != nil {
		return err.Error()
	}
	raw, err := io.ReadAll(r)
	if err != nil {
		return err.Error()
	}
	return strings.TrimSuffix(string(raw), "\n")
}

// inWords reads a string of a PDF.
func inWords(s string) string {
	var raw []byte
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c == '\\' && i+1 < len(s) {
			i++
			if c = s[i]; c == 'r' {
				c = '\r'
			}
		}
		raw = append(raw, c)
	}
	raw = bytes.TrimPrefix(raw, []byte{0xfe, 0xff})
	var units []uint16
	for i := 0; i+1 < len(raw); i += 2 {
		units = append(units, uint16(raw[i])<<8|uint16(raw[i+1]))
	}
	return string(utf16.Decode(units))
}
