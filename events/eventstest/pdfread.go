package eventstest

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"regexp"
	"strconv"
)

// The values of a PDF (ISO 32000-1, 7.3): besides these float64 for a number, []byte for a string, []any for an array,
// bool, and nil.
type (
	pdfName string
	pdfRef  int
	pdfDict map[string]any
	pdfWord string // an operator, or a keyword of the file
)

// pdfStream is a dictionary with its bytes as they stand in the file.
type pdfStream struct {
	pdfDict
	raw []byte
}

// pdfFile is a PDF with its objects read.
type pdfFile struct {
	data    []byte
	offsets map[int]int
	objects map[int]any
	trailer pdfDict
	pages   []pdfPage
	faults  []string
}

// pdfPage is a page with what its contents do.
type pdfPage struct {
	pdfDict
	ref       any
	operators map[string]bool
	deepest   int                     // of saved graphics states
	codes     map[string]map[int]bool // shown, by the name of the font
	marks     map[int]bool            // numbers of its marked contents
	loose     string                  // what first draws outside of marked content, "" for nothing
	torn      string                  // what is not ended as it began
}

func (f *pdfFile) fault(clause, says string, about ...any) {
	f.faults = append(f.faults, clause+" "+fmt.Sprintf(says, about...))
}

// pdfScanner reads values from bytes.
type pdfScanner struct {
	data []byte
	at   int
	odd  bool // a string in hexadecimal with something else, or an odd number of digits, was met
}

const pdfSpace = "\x00\t\n\f\r "
const pdfDelimiters = pdfSpace + "()<>[]{}/%"

func (s *pdfScanner) skip() {
	for s.at < len(s.data) {
		switch c := s.data[s.at]; {
		case bytes.IndexByte([]byte(pdfSpace), c) >= 0:
			s.at++
		case c == '%':
			for s.at < len(s.data) && s.data[s.at] != '\n' && s.data[s.at] != '\r' {
				s.at++
			}
		default:
			return
		}
	}
}

// next reads a value, an operator or a keyword; nil at the end. A reference is one value.
func (s *pdfScanner) next() any {
	s.skip()
	if s.at >= len(s.data) {
		return nil
	}
	switch c := s.data[s.at]; {
	case c == '/':
		s.at++
		return pdfName(s.regular())
	case c == '(':
		return s.literal()
	case bytes.HasPrefix(s.data[s.at:], []byte("<<")):
		s.at += 2
		return s.dict()
	case c == '<':
		return s.hexadecimal()
	case c == '[':
		s.at++
		return s.array()
	case c == ']':
		s.at++
		return pdfWord("]")
	case bytes.HasPrefix(s.data[s.at:], []byte(">>")):
		s.at += 2
		return pdfWord(">>")
	}
	return s.word()
}

var aReference = regexp.MustCompile(`^ \d+ R\b`)

func (s *pdfScanner) word() any {
	w := s.regular()
	if w == "" {
		s.at++
		return pdfWord("?")
	}
	switch w {
	case "true", "false":
		return w == "true"
	case "null":
		return nil
	}
	v, err := strconv.ParseFloat(w, 64)
	if err != nil {
		return pdfWord(w)
	}
	if m := aReference.Find(s.data[s.at:min(len(s.data), s.at+12)]); m != nil && v == float64(int(v)) {
		s.at += len(m)
		return pdfRef(int(v))
	}
	return v
}

func (s *pdfScanner) regular() string {
	from := s.at
	for s.at < len(s.data) && bytes.IndexByte([]byte(pdfDelimiters), s.data[s.at]) < 0 {
		s.at++
	}
	return string(s.data[from:s.at])
}

func (s *pdfScanner) dict() pdfDict {
	d := pdfDict{}
	for {
		key, ok := s.next().(pdfName)
		if !ok {
			return d
		}
		d[string(key)] = s.next()
	}
}

func (s *pdfScanner) array() []any {
	a := []any{}
	for {
		v := s.next()
		if v == pdfWord("]") || v == nil && s.at >= len(s.data) {
			return a
		}
		a = append(a, v)
	}
}

func (s *pdfScanner) literal() []byte {
	out := []byte{}
	depth := 0
	for ; s.at < len(s.data); s.at++ {
		c := s.data[s.at]
		switch {
		case c == '\\' && s.at+1 < len(s.data):
			s.at++
			if c = s.data[s.at]; c == 'r' {
				c = '\r'
			}
			out = append(out, c)
			continue
		case c == '(':
			if depth++; depth == 1 {
				continue
			}
		case c == ')':
			if depth--; depth == 0 {
				s.at++
				return out
			}
		}
		out = append(out, c)
	}
	return out
}

func (s *pdfScanner) hexadecimal() []byte {
	end := bytes.IndexByte(s.data[s.at:], '>')
	if end < 0 {
		s.odd, s.at = true, len(s.data)
		return nil
	}
	digits := s.data[s.at+1 : s.at+end]
	s.at += end + 1
	out := make([]byte, len(digits)/2)
	for i := range out {
		v, err := strconv.ParseUint(string(digits[2*i:2*i+2]), 16, 8)
		s.odd = s.odd || err != nil
		out[i] = byte(v)
	}
	s.odd = s.odd || len(digits)%2 != 0
	return out
}

// readPDF reads a file as the program writes it: one cross-reference table, no object in a stream of objects.
func readPDF(data []byte) *pdfFile {
	f := &pdfFile{data: data, offsets: map[int]int{}, objects: map[int]any{}}
	tail := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n?$`).FindSubmatch(data[max(0, len(data)-100):])
	if tail == nil {
		f.fault("6.1.3", "the file ends otherwise than with its end mark")
		return f
	}
	cross, _ := strconv.Atoi(string(tail[1]))
	m := regexp.MustCompile(`^xref\n0 (\d+)\n`).FindSubmatch(data[min(cross, len(data)):])
	if m == nil {
		f.fault("6.1.4", "no cross-reference table stands where the end says")
		return f
	}
	size, _ := strconv.Atoi(string(m[1]))
	at := cross + len(m[0])
	for n := range size {
		line := data[at+20*n : at+20*n+20]
		if offset, err := strconv.Atoi(string(line[:10])); err == nil && line[17] == 'n' {
			f.offsets[n] = offset
		}
	}
	s := &pdfScanner{data: data, at: at + 20*size}
	if s.next() != pdfWord("trailer") {
		f.fault("6.1.4", "no trailer stands behind the cross-reference table")
	}
	f.trailer, _ = s.next().(pdfDict)
	for n, offset := range f.offsets {
		f.objects[n] = f.object(n, offset)
	}
	for _, page := range f.array(f.dict(f.dict(f.trailer["Root"])["Pages"])["Kids"]) {
		f.pages = append(f.pages, f.page(page))
	}
	return f
}

// page reads what is drawn on one.
func (f *pdfFile) page(ref any) pdfPage {
	d := f.dict(ref)
	p := pdfPage{pdfDict: d, ref: ref, operators: map[string]bool{}, codes: map[string]map[int]bool{}, marks: map[int]bool{}}
	s := &pdfScanner{data: f.content(d["Contents"])}
	var operands []any
	var saved []string // the fonts that were chosen before
	text, font := false, ""
	var marked []bool // by how deep, whether the content has begun within a text
	for s.skip(); s.at < len(s.data); s.skip() {
		v := s.next()
		w, is := v.(pdfWord)
		if !is {
			operands = append(operands, v)
			continue
		}
		p.operators[string(w)] = true
		switch w {
		case "q":
			saved = append(saved, font)
			p.deepest = max(p.deepest, len(saved))
		case "Q":
			if n := len(saved) - 1; n < 0 {
				p.torn = "more is restored than was saved"
			} else {
				font, saved = saved[n], saved[:n]
			}
		case "BT", "ET":
			text = w == "BT"
		case "Tf":
			name, _ := operands[0].(pdfName)
			font = string(name)
		case "BMC", "BDC":
			marked = append(marked, text)
			if d, is := operands[len(operands)-1].(pdfDict); is {
				if n, is := d["MCID"].(float64); is {
					if p.marks[int(n)] {
						p.torn = fmt.Sprint("content number ", n, " stands twice")
					}
					p.marks[int(n)] = true
				}
			}
		case "EMC":
			if len(marked) == 0 || marked[len(marked)-1] != text {
				p.torn = "marked content ends where none has begun"
			} else {
				marked = marked[:len(marked)-1]
			}
		case "Tj", "TJ":
			parts, is := operands[0].([]any)
			if !is {
				parts = operands
			}
			if p.codes[font] == nil {
				p.codes[font] = map[int]bool{}
			}
			for _, part := range parts {
				shown, _ := part.([]byte)
				for i := 0; i+1 < len(shown); i += 2 {
					p.codes[font][int(shown[i])<<8|int(shown[i+1])] = true
				}
			}
		}
		if paints[string(w)] && len(marked) == 0 && p.loose == "" {
			p.loose = string(w)
		}
		operands = operands[:0]
	}
	if len(saved) != 0 || text || len(marked) != 0 {
		p.torn = "something is not ended"
	}
	return p
}

// paints are the operators that leave something on a page.
var paints = map[string]bool{"S": true, "s": true, "f": true, "F": true, "f*": true, "B": true, "B*": true, "b": true, "b*": true,
	"sh": true, "Do": true, "EI": true, "Tj": true, "TJ": true, "'": true, "\"": true}

// object reads one, and holds how it and its stream are set (6.1.7.1, 6.1.9).
func (f *pdfFile) object(n, offset int) any {
	head := fmt.Appendf(nil, "%d 0 obj\n", n)
	if offset <= 0 || offset >= len(f.data) || f.data[offset-1] != '\n' || !bytes.HasPrefix(f.data[offset:], head) {
		f.fault("6.1.9", "object %d does not begin as it must where the cross-reference says", n)
		return nil
	}
	s := &pdfScanner{data: f.data, at: offset + len(head)}
	v := s.next()
	s.skip()
	if d, is := v.(pdfDict); is && bytes.HasPrefix(f.data[s.at:], []byte("stream\n")) {
		from := s.at + len("stream\n")
		length, _ := d["Length"].(float64)
		s.at = min(len(f.data), from+int(length))
		v = pdfStream{d, f.data[from:s.at]}
		if !bytes.HasPrefix(f.data[s.at:], []byte("\nendstream\n")) {
			f.fault("6.1.7.1", "the stream %d does not end where its length says", n)
		}
		s.at += len("\nendstream\n")
	}
	if s.odd {
		f.fault("6.1.6", "a string of object %d has digits that are no whole bytes", n)
	}
	if s.at >= len(f.data) || !bytes.HasPrefix(f.data[s.at:], []byte("endobj\n")) || f.data[s.at-1] != '\n' {
		f.fault("6.1.9", "object %d does not end as it must", n)
	}
	return v
}

// get follows references.
func (f *pdfFile) get(v any) any {
	for range 8 {
		ref, is := v.(pdfRef)
		if !is {
			return v
		}
		v = f.objects[int(ref)]
	}
	return nil
}

func (f *pdfFile) dict(v any) pdfDict {
	switch v := f.get(v).(type) {
	case pdfDict:
		return v
	case pdfStream:
		return v.pdfDict
	}
	return nil
}

func (f *pdfFile) array(v any) []any { a, _ := f.get(v).([]any); return a }

// content is what a stream holds.
func (f *pdfFile) content(v any) []byte {
	s, _ := f.get(v).(pdfStream)
	if s.pdfDict["Filter"] != pdfName("FlateDecode") {
		return s.raw
	}
	r, err := zlib.NewReader(bytes.NewReader(s.raw))
	if err != nil {
		f.fault("6.1.7.1", "a stream cannot be unpacked: %v", err)
		return nil
	}
	raw, err := io.ReadAll(r)
	if err != nil {
		f.fault("6.1.7.1", "a stream cannot be unpacked: %v", err)
	}
	return raw
}
